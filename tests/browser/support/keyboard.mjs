// A person without a pointer: Tab, Enter, Space, arrows and typing, nothing else.

import assert from 'node:assert/strict';

const MOST_STOPS = 400;

export class Keyboard {
  #page;

  constructor(page) {
    this.#page = page;
  }

  /** Presses Tab until the control has the focus; fails when the whole page has been walked through. */
  async to(role, name) {
    const wanted = this.#page.getByRole(role, { name }).first();
    await wanted.waitFor({ state: 'attached' });
    const passed = [];
    let wrapped = 0;
    while (wrapped < 2) {
      if (await wanted.evaluate((element) => element === document.activeElement)) return this;
      if (passed.length > MOST_STOPS) break;
      await this.#page.keyboard.press('Tab');
      const stop = await whereTheFocusIs(this.#page);
      passed.push(stop.name);
      if (stop.outside) wrapped += 1;
    }
    assert.fail(`Tab never comes to the ${role} "${name}" on ${this.#page.url()}; it passed: ${passed.join(' → ')}`);
  }

  async press(key) {
    await this.#page.keyboard.press(key);
    return this;
  }

  async type(text) {
    await this.#page.keyboard.type(text);
    return this;
  }

  /** Presses a button or follows a link, and waits for the page it leads to. */
  async enter() {
    await Promise.all([this.#page.waitForEvent('load'), this.#page.keyboard.press('Enter')]);
    return this;
  }
}

/**
 * Walks a page with Tab: the way to the content comes first, and every stop is seen when it has the focus. A page that
 * tells problems starts at their summary.
 */
export async function tabStopsAreSeen(page) {
  const stops = [];
  const told_problems = await page.evaluate(() => document.activeElement?.matches('.problems') ?? false);
  for (;;) {
    await page.keyboard.press('Tab');
    const stop = await whereTheFocusIs(page);
    if (stop.outside) break;
    stops.push(stop);
    assert.ok(stops.length <= MOST_STOPS, `${page.url()} has more than ${MOST_STOPS} stops, or Tab goes round in it`);
  }
  assert.ok(stops.length > 0, `${page.url()} has nothing to come to by Tab`);
  if (!told_problems) assert.match(stops[0].name, /content/i, 'the first stop leads to the content');
  const wrong = stops.flatMap(({ name, problems }) => problems.map((problem) => `${name}: ${problem}`));
  assert.deepEqual(wrong, [], page.url());
  return stops.map((stop) => stop.name);
}

function whereTheFocusIs(page) {
  return page.evaluate(() => {
    const element = document.activeElement;
    if (!element || element === document.body || element === document.documentElement) return { outside: true, name: '(end)' };
    const words = element.getAttribute('aria-label') ?? element.labels?.[0]?.textContent ?? element.textContent;
    const name = `${element.localName} "${words.trim().replaceAll(/\s+/g, ' ').slice(0, 40)}"`;
    const problems = [];

    const before = globalThis.focusWasAt;
    globalThis.focusWasAt = element;
    if (before?.isConnected && before.compareDocumentPosition(element) & Node.DOCUMENT_POSITION_PRECEDING) {
      problems.push('comes earlier in the text than the stop before it');
    }

    const box = element.getBoundingClientRect();
    const inside = box.bottom > 0 && box.top < innerHeight && box.right > 0 && box.left < innerWidth && box.width > 1 && box.height > 1;
    if (!inside) problems.push('is not on the screen when it has the focus');
    else if (isCovered(element, box)) problems.push('is covered by something else');

    // What shows the focus may be the box drawn beside a control that is itself not seen.
    const shown = [element, element.nextElementSibling, element.parentElement].some((it) => {
      const style = it && getComputedStyle(it);
      return style && style.outlineStyle !== 'none' && Number.parseFloat(style.outlineWidth) >= 3;
    });
    if (!shown) problems.push('does not show that it has the focus');
    return { outside: false, name, problems };

    function isCovered(under, { left, right, top, bottom }) {
      const x = (Math.max(left, 0) + Math.min(right, innerWidth)) / 2;
      const y = (Math.max(top, 0) + Math.min(bottom, innerHeight)) / 2;
      const upper = document.elementFromPoint(x, y);
      return upper !== null && !under.contains(upper) && !upper.contains(under) && !upper.closest('label')?.contains(under);
    }
  });
}
