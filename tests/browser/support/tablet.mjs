// A tablet of the shop behind a road that can be broken, and the job that most tests of it save.

import { after } from 'node:test';
import { openRoad } from './road.mjs';
import { isReady, rows } from './tablet_storage.mjs';

const UNIT = '3307';
const SAVED_WITHIN_MS = 20_000;

/** What is sent when a top-up is saved, straight or later. */
export const SENT = /\/jobs\/top_up$|^\/tablet\/jobs/;

/** Tablets of the shop that a bench has set up; `road` and `unit` are there once the first one is. */
export function useTablets(bench) {
  const tablets = new Tablets(bench);
  after(() => tablets.road?.end());
  return tablets;
}

class Tablets {
  road;
  /** Where the unit of the jobs has its page. */
  unit;
  #bench;

  constructor(bench) {
    this.#bench = bench;
  }

  /** A page of a tablet that has all it needs to go on without a network. */
  async open({ as = 'technician', shells } = {}) {
    this.road ??= await openRoad(this.#bench.server);
    Object.assign(this.road, { state: 'open', only: /./, later_version: false });
    const page = await this.#bench.open({ screen: 'tablet', as, road: this.road });
    await page.goto(this.road.at(`/units?text=${UNIT.slice(0, -1)}`));
    this.unit ??= await page.getByRole('link', { name: UNIT }).first().getAttribute('href');
    await isReady(page, shells);
    return page;
  }

  /** Fills in a top-up and saves it; ends on the page that follows. Gives its key. */
  async save(page, volume) {
    await page.goto(this.road.at(`${this.unit}/jobs/top_up`));
    await page.locator('#job [name=volume]').fill(volume);
    await page.locator('#job label.choice', { has: page.locator('[name=source]'), hasText: 'D-1' }).first().click();
    const load = page.waitForEvent('load', { timeout: SAVED_WITHIN_MS });
    await page.getByRole('button', { name: 'Save job', exact: true }).click();
    await load;
    // A sheet out of a kept copy took a key of its own.
    return (await rows(page)).at(-1).key;
  }
}

/** Presses Send now; it may have gone by itself a moment before, and the button with it. */
export const sendNow = (page) => page.locator('#send-now').evaluate((button) => button.click());
