// Sizes under a gloved finger, in millimetres of the screen.

import assert from 'node:assert/strict';

const LIMITS = { any_mm: 15, main_mm: 17, danger_mm: 23, apart_mm: 3, danger_apart_mm: 6 };

/** Every control can be hit with a glove, and none beside it by mistake. For screens that are touched. */
export async function targetsAreBigEnough(page) {
  const problems = await page.evaluate(measure, LIMITS);
  assert.ok(problems.length === 0, `${page.url()}\n  ${problems.join('\n  ')}`);
}

/** Runs inside the page. */
function measure(limits) {
  const px_per_mm = Number.parseFloat(getComputedStyle(document.documentElement).getPropertyValue('--mm'));
  if (!(px_per_mm > 0)) return ['the page does not take this for a screen that is touched: --mm is not set'];

  const SELECTOR = 'a[href], button, input:not([type=hidden]), select, textarea, summary, [role=button], [tabindex="0"][role]';
  const targets = [...document.querySelectorAll(SELECTOR)].filter(isTouched).map(target);
  return [...targets.flatMap(tooSmall), ...tooClose(targets)];

  function isTouched(element) {
    const box = element.getBoundingClientRect();
    const away = box.bottom + scrollY <= 0 || box.right + scrollX <= 0;
    return element.checkVisibility({ visibilityProperty: true }) && !element.disabled && !element.closest('.unseen') && !away && !isInText(element);
  }

  /** A link within a sentence is as high as its line. */
  function isInText(element) {
    if (element.localName !== 'a' || getComputedStyle(element).display !== 'inline') return false;
    const around = element.closest('p, li, dd, dt, td, th, caption, figcaption');
    return around !== null && around.textContent.trim() !== element.textContent.trim();
  }

  function target(element) {
    const parts = [element];
    if (['radio', 'checkbox'].includes(element.type)) parts.push(...element.labels);
    const boxes = parts.map((part) => part.getBoundingClientRect());
    const box = {
      left: Math.min(...boxes.map((it) => it.left)),
      right: Math.max(...boxes.map((it) => it.right)),
      top: Math.min(...boxes.map((it) => it.top)),
      bottom: Math.max(...boxes.map((it) => it.bottom)),
    };
    const words = element.getAttribute('aria-label') ?? element.labels?.[0]?.textContent ?? element.textContent;
    const name = `<${element.localName}> "${words.trim().replaceAll(/\s+/g, ' ').slice(0, 40)}"`;
    return { element, box, name, danger: element.matches('.danger'), main: element.matches('.main, .key') };
  }

  function tooSmall({ element, box, name, danger, main }) {
    const wanted = danger ? limits.danger_mm : main ? limits.main_mm : limits.any_mm;
    const height = (box.bottom - box.top) / px_per_mm;
    const width = (box.right - box.left) / px_per_mm;
    // A short word as a link may be narrow, where it is as high as the rest.
    const wide_enough = element.localName === 'a' ? width * px_per_mm >= 23.9 : width >= wanted - 0.1;
    if (height >= wanted - 0.1 && wide_enough) return [];
    return [`${name} is ${width.toFixed(1)} × ${height.toFixed(1)} mm, wanted ${wanted} mm`];
  }

  function tooClose(all) {
    return all.flatMap((one, index) =>
      all.slice(index + 1).flatMap((other) => {
        if (one.element.contains(other.element) || other.element.contains(one.element)) return [];
        const wanted = one.danger || other.danger ? limits.danger_apart_mm : limits.apart_mm;
        const across = Math.max(other.box.left - one.box.right, one.box.left - other.box.right, 0);
        const down = Math.max(other.box.top - one.box.bottom, one.box.top - other.box.bottom, 0);
        const apart = Math.hypot(across, down) / px_per_mm;
        return apart >= wanted - 0.1 ? [] : [`${one.name} and ${other.name} are ${apart.toFixed(1)} mm apart, wanted ${wanted} mm`];
      }),
    );
  }
}
