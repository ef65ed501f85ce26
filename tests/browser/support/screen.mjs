// The screens and looks that pages are tested on.

const touch = { hasTouch: true, isMobile: true };

/** Sizes in CSS pixels. Fingers on a tablet and on a narrow phone, a mouse on a desk. */
export const SCREENS = {
  tablet: { viewport: { width: 1080, height: 810 }, ...touch },
  upright: { viewport: { width: 810, height: 1080 }, ...touch },
  desk: { viewport: { width: 1280, height: 900 } },
  narrow: { viewport: { width: 320, height: 640 }, ...touch },
};

export const LOOKS = ['day', 'night', 'bright'];

/** Tablets of the shop are used with gloves, so sizes in millimetres count there. */
export const isTablet = (screen) => ['tablet', 'upright'].includes(screen);

/** The look is a cookie of the device. */
export async function choose(context, look, address) {
  await context.addCookies([{ name: 'look', value: look, url: address }]);
}
