// The main job from beginning to end, by a finger on the tablet, by keyboard alone, and with script switched off: a unit is
// drained into a cart and filled from it, another is topped up and tested, fluid is moved and dipped, a mistake is undone.

import assert from 'node:assert/strict';
import { describe, test } from 'node:test';
import { useBench } from './support/bench.mjs';
import { Hand } from './support/hand.mjs';

const WAYS = [
  { as: 'finger', screen: 'tablet', script: true, unit: '3307' },
  { as: 'keyboard', screen: 'desk', script: true, unit: '3316' },
  { as: 'no script', screen: 'desk', script: false, unit: '3313' },
];

for (const way of WAYS) {
  describe(`the main job, ${way.as}`, () => {
    const bench = useBench('own');

    test('every kind of sheet is opened, filled in and saved, and what follows is shown', async () => {
      const page = await bench.open({ screen: way.screen, as: 'technician', script: way.script });
      const unit = await addressOn(page, bench.server, `/units?text=${way.unit.slice(0, 3)}`, way.unit);
      const cart = await addressOn(page, bench.server, '/vessels', 'Cart A');
      const held = async () => Number((await readout(page, bench.server, cart, 'Holds')).match(/[\d.]+/)[0]);
      const before = await held();

      const log = async (place, kind, fill) => {
        await page.goto(bench.server.at(`${place}/jobs/${kind}`));
        const hand = new Hand(page, way.as);
        await fill(hand);
        await hand.save();
        const main = await page.locator('main').innerText();
        assert.match(new URL(page.url()).pathname, /^\/jobs\//, main);
        assert.match(main, /Saved/, kind);
        return main;
      };

      const recovered = await log(unit, 'recover', async (hand) => {
        await hand.type('gate_temperature', '31');
        await hand.type('gate_pressure', '0');
        await hand.choose('to', 'Cart A');
        await hand.type('volume', '12.5');
      });
      assert.match(recovered, /12\.5 L/);
      assert.ok(Math.abs((await held()) - before - 12.5) < 0.3, 'the cart holds what came out, cooled to 20 °C');

      await log(unit, 'fill', async (hand) => {
        await hand.choose('how', /poured/i);
        await hand.choose('source', 'Cart A');
        await hand.type('volume', '12');
      });
      await log(unit, 'top_up', async (hand) => {
        await hand.choose('source', 'D-1');
        await hand.type('volume', '0.5');
      });
      const tested = await log(unit, 'condition_test', (hand) => hand.type('freeze', '43'));
      assert.match(tested, /\u221243/);
      const held_pressure = await log(unit, 'pressure_test', async (hand) => {
        await hand.type('pressure_start', '100');
        await hand.type('temperature_start', '20');
        await hand.type('hold', '5');
        await hand.type('pressure_end', '99');
        await hand.type('temperature_end', '20');
        await hand.type('gauge_step', '1');
      });
      assert.match(held_pressure, /What it proved\s+Tight/);
      await log(cart, 'move', async (hand) => {
        await hand.type('volume', '2');
        await hand.choose('to', 'D-6');
      });
      const stood = await held();
      await log(cart, 'dip', (hand) => hand.type('volume', String(stood)));

      const mistake = await log(unit, 'top_up', async (hand) => {
        await hand.choose('source', 'D-1');
        await hand.type('volume', '3');
        await hand.choose('mark', 'No');
      });
      assert.match(mistake, /3\.0 L/);
      const undo = page.getByRole('button', { name: /^Undo/ });
      await Promise.all([page.waitForEvent('load'), way.screen === 'tablet' ? undo.tap() : undo.press('Enter')]);
      assert.match(await page.locator('main').innerText(), /[Uu]ndo|[Vv]oided/);
    });

    test('what cannot be saved comes back with what was typed, and says what to put right', async () => {
      const page = await bench.open({ screen: way.screen, as: 'technician', script: way.script });
      const unit = await addressOn(page, bench.server, `/units?text=${way.unit.slice(0, 3)}`, way.unit);
      await page.goto(bench.server.at(`${unit}/jobs/top_up`));
      const hand = new Hand(page, way.as);
      await hand.type('volume', '0');
      await hand.save();
      assert.match(await page.title(), /^Not saved: /);
      assert.match(await page.locator('#problems').innerText(), /Not saved yet: 1 thing to put right/);
      assert.equal(await page.locator('[name="volume"]').inputValue(), '0');
    });
  });
}

describe('after signing off', () => {
  const bench = useBench('own');
  test('the back button shows nothing of the shop', async () => {
    const page = await bench.open({ as: 'manager' });
    await page.goto(bench.server.at('/vessels'));
    await Promise.all([page.waitForURL(/sign-on/), page.getByRole('button', { name: 'Sign off' }).click()]);
    await page.goBack({ waitUntil: 'load' });
    await page.waitForURL(/sign-on/);
    assert.doesNotMatch(await page.locator('body').innerText(), /Cart A/);
  });
});

async function addressOn(page, server, list, name) {
  await page.goto(server.at(list));
  return page.getByRole('link', { name }).first().getAttribute('href');
}

async function readout(page, server, place, label) {
  await page.goto(server.at(place));
  return page.locator('.readout', { hasText: label }).first().locator('.figure').innerText();
}
