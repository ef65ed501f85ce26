// Names and notes that want to run: stored in a shop, then seen on every page that shows them. Nothing runs, nothing is
// asked of elsewhere, and no page has an element in it that a text brought along.

import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { describe, test } from 'node:test';
import { useBench } from './support/bench.mjs';
import { nothingBroughtAlong } from './support/strangers.mjs';

const TEXTS = JSON.parse(readFileSync(new URL('../e2e/data/hostile_texts.json', import.meta.url), 'utf8'));

describe('forty hostile texts', () => {
  const bench = useBench('own');

  test('are text wherever they are shown', { timeout: 300_000 }, async () => {
    const page = await bench.open({ screen: 'desk', as: 'manager' });
    const ran = [];
    page.on('dialog', (dialog) => {
      ran.push(`${page.url()}: ${dialog.message()}`);
      dialog.dismiss();
    });
    await page.goto(bench.server.at('/'));
    const made = [];
    for (const [n, text] of TEXTS.entries()) {
      const name = `${n} ${text}`;
      const vessel = await sent(page, '/vessels/new', {
        name, kind: 'cart', holds: 'recovered', base: 'EG', class: 'OAT', capacity: '200', opening: '1', opening_strength: '50',
      });
      const unit = await sent(page, '/units/new', {
        number: name, kind: text, engine_family: text, loop1_name: text, loop1_base: 'EG', loop1_class: 'OAT', loop1_capacity: '40', loop1_opening: '30',
      });
      // More than the vessel ever held: a question on which the texts meet.
      const job = await sent(page, `${unit}/jobs/top_up`, { source: vessel.split('/').at(-1), volume: '5', note: text });
      made.push({ name, text, vessel, unit, job });
    }
    assert.equal(made.length, 40);

    const look = async (path, words = []) => {
      await page.goto(bench.server.at(path));
      const main = (await page.locator('main').innerText()).replace(/\s+/g, ' ');
      for (const expected of words) assert.ok(main.includes(expected.replace(/\s+/g, ' ')), `${path} shows ${expected}: ${main.slice(0, 400)}`);
      await nothingBroughtAlong(page);
    };
    const names = made.map(({ name }) => name);
    for (const { name, text, vessel, unit, job } of made) {
      await look(unit, [name, text]);
      await look(`${unit}/edit`);
      await look(vessel, [name]);
      await look(job, [text, name]);
      await look(`/units?text=${encodeURIComponent(text)}&status=ready`);
    }
    await look('/vessels', names);
    for (const path of ['/', '/units', '/checking', '/records', `${made[0].unit}/jobs/top_up`]) await look(path);
    await look('/checking', [names[0]]);
    assert.deepEqual(ran, [], 'no script ran');
  });
});

/** Opens a form and sends it with some of its fields changed, as its page would; hands back where the answer leads. */
async function sent(page, path, values) {
  return page.evaluate(async ({ path, values }) => {
    const html = await (await fetch(path)).text();
    const form = new DOMParser().parseFromString(html, 'text/html').querySelector(`form[action="${path}"]`);
    const fields = new URLSearchParams(new FormData(form));
    for (const [name, value] of Object.entries(values)) fields.set(name, value);
    const answer = await fetch(path, { method: 'POST', body: fields });
    if (!answer.redirected) {
      const problems = new DOMParser().parseFromString(await answer.text(), 'text/html').querySelector('#problems');
      throw new Error(`${path} ${JSON.stringify(values)}: ${answer.status} ${problems?.textContent}`);
    }
    return new URL(answer.url).pathname;
  }, { path, values });
}
