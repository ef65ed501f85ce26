// How somebody fills in a form: a gloved finger on the tablet's own keys, Tab and typing alone, or with script switched off.

import assert from 'node:assert/strict';

const MOST_STOPS = 300;
// The same button pressed again sooner than this is taken for a touch of a wet screen.
const BETWEEN_PRESSES_MS = 450;
const BETWEEN_KEYS_MS = 90;

/** `as` is 'finger', 'keyboard' or 'no script'. */
export class Hand {
  #page;
  #as;

  constructor(page, as) {
    this.#page = page;
    this.#as = as;
  }

  /** Types into a field, on whichever step it stands. */
  async type(name, text) {
    const field = this.#page.locator(`#job [name="${name}"]`);
    await this.#reach(field);
    if (this.#as === 'no script') return field.fill(text);
    if (this.#as === 'keyboard') {
      await this.#tabTo(`[name="${name}"]`);
      return this.#page.keyboard.type(text);
    }
    await field.tap();
    const pad = this.#page.getByRole('group', { name: /^Number pad/ });
    for (const sign of text) {
      await pad.getByRole('button', { name: sign === '.' ? 'decimal point' : sign, exact: true }).tap();
      await this.#page.waitForTimeout(BETWEEN_KEYS_MS);
    }
    assert.equal(await field.inputValue(), text, `the pad typed ${name}`);
  }

  /** Chooses an answer by the words of its box. */
  async choose(name, words) {
    const box = this.#page.locator('#job label.choice', { has: this.#page.locator(`[name="${name}"]`), hasText: words }).first();
    await this.#reach(box);
    if (this.#as === 'no script') return box.click();
    if (this.#as === 'finger') return box.tap();
    const wanted = box.locator('input');
    await this.#tabTo(`[name="${name}"]`);
    const entries = await this.#page.locator(`#job [name="${name}"]`).count();
    await this.#page.keyboard.press('Space');
    for (let turn = 0; turn < entries && !(await wanted.isChecked()); turn += 1) await this.#page.keyboard.press('ArrowDown');
    assert.ok(await wanted.isChecked(), `arrows come to "${words}"`);
  }

  /** Saves the job and waits for its page. */
  async save() {
    const save = this.#page.getByRole('button', { name: 'Save job', exact: true });
    await this.#reach(save);
    const load = this.#page.waitForEvent('load');
    if (this.#as === 'finger') await save.tap();
    else if (this.#as === 'keyboard') await this.#tabTo('button.main', save);
    else await save.click();
    if (this.#as === 'keyboard') await this.#page.keyboard.press('Enter');
    await load;
  }

  /** Goes on from step to step until something is seen. With script off everything is. */
  async #reach(what) {
    for (let step = 0; step < 10; step += 1) {
      if (await what.isVisible()) return;
      const next = this.#page.getByRole('button', { name: 'Continue', exact: true });
      if (this.#as === 'keyboard') {
        await this.#tabTo('button', next);
        await this.#page.keyboard.press('Enter');
      } else await next.tap();
      await this.#page.waitForTimeout(BETWEEN_PRESSES_MS);
    }
    assert.fail(`no step shows it on ${this.#page.url()}`);
  }

  /** Tab, and nothing else, until the focus is on what fits. */
  async #tabTo(selector, wanted) {
    for (let stop = 0; stop < MOST_STOPS; stop += 1) {
      const here = wanted
        ? await wanted.evaluate((element) => element === document.activeElement)
        : await this.#page.evaluate((fits) => document.activeElement?.matches(fits) ?? false, selector);
      if (here) return;
      await this.#page.keyboard.press('Tab');
    }
    assert.fail(`Tab never comes to ${selector} on ${this.#page.url()}`);
  }
}
