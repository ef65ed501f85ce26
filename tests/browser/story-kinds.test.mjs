// Every kind of job, from its sheet to its page, on a tablet: with a network, and saved without one and sent later.

import assert from 'node:assert/strict';
import { describe, test } from 'node:test';
import { useBench } from './support/bench.mjs';
import { countByKey } from './support/record.mjs';
import { sendNow, useTablets } from './support/tablet.mjs';
import { rows, rowsAre } from './support/tablet_storage.mjs';

const SENT_WITHIN_MS = 60_000;
const GATE = { gate_temperature: '31', gate_pressure: '0' };

/** What is typed, or the words of the answer that is chosen. */
const ON_A_UNIT = {
  recover: { ...GATE, to: 'Cart A', volume: '1.5' },
  fill: { how: 'Poured', source: 'D-1', volume: '1.5' },
  top_up: { source: 'D-1', volume: '0.5' },
  exchange: { ...GATE, to: 'Cart A', drain_volume: '1', source: 'D-1', volume: '1' },
  correct: { ...GATE, to: 'Cart A', drain_volume: '0.5', source: 'D-1', volume: '0.5' },
  flush: { ...GATE, rinses: '1', water: '1', to: 'D-6', volume: '1' },
  condition_test: { freeze: '43' },
  pressure_test: { pressure_start: '100', hold: '5', pressure_end: '100' },
  cap_test: { ...GATE, stamped: '110', opened_at: '108', holds: 'Yes' },
  leak_repair: { part: 'upper hose', cause: 'worn' },
  filter_change: { ...GATE, charged: 'No' },
  fit_coupling: { ...GATE, alike: 'another', port: 'radiator drain', thread_found: '3/8-18 NPT', leak_class: '0' },
  sample: { bottle: 'B-17', tests: 'pH' },
  spill: { volume: '0.1' },
};
const ON_A_VESSEL = {
  move: ['Cart A', { to: 'D-6', volume: '1' }],
  dip: ['Cart A', { volume: '20' }],
  inspect: ['Cart A', { passed: 'Yes', next_due: '2027-10-05' }],
  receive: ['D-1', { fluid: 'premix EG 55 % OAT', volume: '1' }],
  clean_out: ['Cart A', { rinses: '1', volume: '1', to: 'D-6', happened: 'yes' }],
};

describe('every kind of job', () => {
  const bench = useBench('own');
  const tablets = useTablets(bench);

  /** [kind, address of its sheet, what is filled in] */
  const sheets = async (page) => {
    const { road, unit } = tablets;
    await page.goto(road.at('/vessels'));
    const vessels = new Map();
    for (const [name] of Object.values(ON_A_VESSEL)) vessels.set(name, await page.getByRole('link', { name, exact: false }).first().getAttribute('href'));
    return [
      ...Object.entries(ON_A_UNIT).map(([kind, values]) => [kind, `${unit}/jobs/${kind}`, values]),
      ...Object.entries(ON_A_VESSEL).map(([kind, [name, values]]) => [kind, `${vessels.get(name)}/jobs/${kind}`, values]),
    ];
  };

  /** Fills in a sheet and saves it, on whatever step each field stands. */
  const save = async (page, kind, values) => {
    const load = page.waitForEvent('load', { timeout: 20_000 });
    const missing = await page.locator('form#job').evaluate((form, values) => {
      const missing = [];
      const change = (input) => input.dispatchEvent(new Event('change', { bubbles: true }));
      for (const [name, value] of Object.entries(values)) {
        const inputs = [...form.querySelectorAll(`[name="${name}"]`)];
        const tile = inputs.find((input) => ['radio', 'checkbox'].includes(input.type)
          && (input.value === value || input.closest('label').textContent.trim().toLowerCase().startsWith(value.toLowerCase())));
        if (tile) tile.checked = true;
        else if (inputs.length === 1 && inputs[0].type !== 'radio') inputs[0].value = value;
        else missing.push(`${name} ${value}: ${inputs.map((input) => input.closest('label')?.textContent.trim() ?? input.type)}`);
        for (const input of inputs) change(input);
      }
      if (!missing.length) form.requestSubmit(form.querySelector('button.main[type=submit]:not([name])'));
      return missing;
    }, values);
    assert.deepEqual(missing, [], `${kind} has no such answers`);
    await load;
  };

  test('with a network', async () => {
    const page = await tablets.open();
    for (const [kind, address, values] of await sheets(page)) {
      await page.goto(tablets.road.at(address));
      await save(page, kind, values);
      const main = await page.locator('main').innerText();
      assert.match(new URL(page.url()).pathname, /^\/jobs\//, `${kind}: ${main.slice(0, 600)}`);
      assert.match(main, /Saved/, kind);
    }
  });

  test('without one: all wait, and all arrive once, as what they are', async () => {
    const page = await tablets.open();
    const { road } = tablets;
    const all = await sheets(page);
    for (const [, address] of all) await page.goto(road.at(address));
    // Cut on the road: a browser that was told to do without a network forgets so when its worker starts anew.
    road.state = 'dead';
    for (const [kind, address, values] of all) {
      await page.goto(road.at(address));
      await page.locator('#stored', { hasText: 'No network' }).waitFor();
      await save(page, kind, values);
      assert.equal(new URL(page.url()).pathname, '/waiting', kind);
    }
    assert.equal((await rows(page)).length, all.length);
    road.state = 'open';
    await page.goto(road.at('/waiting'));
    await sendNow(page);
    const done = await rowsAre(page, (found) => found.every(({ state }) => ['sent', 'returned', 'stopped'].includes(state)), SENT_WITHIN_MS);
    assert.deepEqual(done.filter(({ state }) => state !== 'sent').map(({ title, problems }) => [title, problems]), []);
    const counts = await countByKey(bench.server);
    for (const [at, { key, title }] of done.entries()) {
      assert.equal(counts.get(key), 1, title);
      await page.goto(road.at(`/jobs/${key}`));
      const heading = await page.getByRole('heading', { level: 1 }).innerText();
      const kind = title.split(':')[0].toLowerCase();
      assert.ok(heading.toLowerCase().startsWith(kind), `${all[at][0]} became "${heading}"`);
    }
  });
});
