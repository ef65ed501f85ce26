// A gloved finger that counts what it touches.

import assert from 'node:assert/strict';

// The same button again sooner than this is taken for a touch of a wet screen; so is a key.
const BETWEEN_PRESSES_MS = 450;
const BETWEEN_KEYS_MS = 90;

export class CountedFinger {
  taps = 0;
  /** Digits of temperatures and gauge values, counted apart. */
  readings = 0;
  page;

  constructor(page) {
    this.page = page;
  }

  async tap(what) {
    await what.tap();
    this.taps += 1;
  }

  /** Taps what leads to another page, and waits for that. */
  async follow(what) {
    await Promise.all([this.page.waitForEvent('load'), this.tap(what)]);
  }

  button(name) {
    return this.page.getByRole('button', { name, exact: true });
  }

  link(name) {
    return this.page.locator('main').getByRole('link', { name });
  }

  async goOn() {
    const at = this.page.locator('.step-at');
    const before = await at.innerText();
    await this.tap(this.button('Continue'));
    await this.page.waitForFunction((text) => document.querySelector('.step-at').innerText !== text, before);
    await this.page.waitForTimeout(BETWEEN_PRESSES_MS);
  }

  choose(name, words) {
    return this.tap(this.page.locator('#job label.choice:visible', { has: this.page.locator(`[name="${name}"]`), hasText: words }).first());
  }

  /** Types with the pad; the field is tapped first only where the pad stands at another one. */
  async type(name, text, within) {
    this.taps += await this.#keys(name, text, within);
  }

  /** As above, for a temperature or a gauge: its digits are counted apart, the tap on its field is not. */
  async read(name, text, within) {
    this.readings += await this.#keys(name, text, within);
  }

  async #keys(name, text, within = '#job') {
    const field = this.page.locator(`${within} [name="${name}"]:visible`);
    if (!(await field.evaluate((input) => input.classList.contains('typing')))) await this.tap(field);
    const pad = this.page.getByRole('group', { name: /^Number pad/ });
    for (const sign of text) {
      await pad.getByRole('button', { name: sign === '.' ? 'decimal point' : sign, exact: true }).tap();
      await this.page.waitForTimeout(BETWEEN_KEYS_MS);
    }
    // A PIN sends itself with its last digit.
    if (within === '#job') assert.equal(await field.inputValue(), text, `the pad typed ${name}`);
    return text.length;
  }
}
