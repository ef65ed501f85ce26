// A pressure test on the tablet with its timer and a reading in between, judged before it is saved; and the same with
// script switched off, where every reading has its place on the page.

import assert from 'node:assert/strict';
import { describe, test } from 'node:test';
import { useBench } from './support/bench.mjs';
import { Hand } from './support/hand.mjs';
import { linkOn } from './pages.mjs';

describe('a pressure test', () => {
  const bench = useBench('own');
  const sheetOf = async (page, number) => {
    const unit = await linkOn(`/units?text=${number.slice(0, 3)}`, number)(page, bench.server);
    await page.goto(bench.server.at(`${unit}/jobs/pressure_test`));
  };

  test('by finger: a reading is added while the timer runs, and the verdict stands before and after saving', async () => {
    const page = await bench.open({ screen: 'tablet', as: 'technician', script: true });
    await sheetOf(page, '3305');
    const hand = new Hand(page, 'finger');
    await hand.type('pressure_start', '105');
    await hand.type('temperature_start', '20');
    await page.getByRole('button', { name: 'Continue', exact: true }).tap();
    assert.equal(await page.locator('.reading:visible').count(), 0);
    await page.getByRole('button', { name: 'Start timer' }).tap();
    await page.waitForFunction(() => document.querySelector('.timer-face').textContent !== '0:00');
    await page.getByRole('button', { name: 'Add reading' }).tap();
    assert.equal(await page.locator('.reading:visible').count(), 1);
    // It knows its minute; a hold of some seconds rounds to none, so this one is put by hand.
    assert.match(await page.locator('[name="between1_after"]').inputValue(), /^0\.\d$/);
    await page.locator('[name="between1_after"]').fill('5');
    await page.locator('[name="between1_pressure"]').fill('102');
    await page.getByRole('button', { name: 'Stop timer' }).tap();
    await page.locator('[name="hold"]').fill('10');
    await hand.type('pressure_end', '99');
    await hand.type('temperature_end', '20');
    await hand.type('gauge_step', '0.5');
    for (let step = 0; step < 2; step += 1) {
      await page.getByRole('button', { name: 'Continue', exact: true }).tap();
      await page.waitForTimeout(450);
    }
    await Promise.all([page.waitForEvent('load'), page.getByRole('button', { name: 'Judge it' }).tap()]);
    const judged = await page.locator('main').innerText();
    assert.match(judged, /What it proved\s+Leaks/);
    assert.match(judged, /Nothing is saved yet/);
    assert.ok(await page.getByRole('img', { name: 'Gauge pressure over time' }).isVisible());
    await hand.save();
    assert.match(await page.locator('main').innerText(), /What it proved\s+Leaks[\s\S]*after 5 min: 102\.0 kPa/);
  });

  test('without script: all readings are there, and empty ones are no readings', async () => {
    const page = await bench.open({ screen: 'desk', as: 'technician', script: false });
    await sheetOf(page, '3316');
    assert.equal(await page.locator('.reading:visible').count(), 4);
    const hand = new Hand(page, 'no script');
    for (const [name, text] of Object.entries({
      pressure_start: '90', temperature_start: '20', hold: '10', pressure_end: '90', temperature_end: '20', gauge_step: '0.5',
    })) await hand.type(name, text);
    await Promise.all([page.waitForEvent('load'), page.getByRole('button', { name: 'Judge it' }).click()]);
    assert.match(await page.locator('main').innerText(), /What it proved\s+Tight/);
    await hand.save();
    const saved = await page.locator('main').innerText();
    assert.match(saved, /What it proved\s+Tight/);
    assert.doesNotMatch(saved, /Read between/);
  });
});
