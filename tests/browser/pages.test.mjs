// What holds for every page, on every screen and in every look.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { PAGES, visit } from './pages.mjs';
import { axe } from './support/axe.mjs';
import { useBench } from './support/bench.mjs';
import { tabStopsAreSeen } from './support/keyboard.mjs';
import { noSidewaysScroll } from './support/reflow.mjs';
import { choose, isTouched, LOOKS } from './support/screen.mjs';
import { targetsAreBigEnough } from './support/target.mjs';
import { wordsArePlain } from './support/word.mjs';

const SCREENS = process.env.LONG_RUNS ? ['tablet', 'upright', 'desk', 'narrow'] : ['tablet', 'narrow'];
// A machine cannot judge these by itself, and these only: text on a drawn ground. The pairs of colours are worked
// out by a test of the style sheet.
const LEFT_TO_PEOPLE = ['color-contrast', 'color-contrast-enhanced'];

const bench = useBench('shared');

for (const entry of PAGES) {
  for (const screen of SCREENS) {
    test(`${entry.name} on the screen "${screen}", in ${LOOKS.join(', ')}`, async () => {
      const page = await bench.open({ screen, as: entry.as });
      for (const look of LOOKS) {
        await choose(page.context(), look, bench.server.address);
        await visit(page, bench.server, entry);
        const unjudged = await axe(page);
        assert.deepEqual(unjudged.filter(({ rule }) => !LEFT_TO_PEOPLE.includes(rule)), [], 'axe could not judge these');
        await noSidewaysScroll(page);
      }
      if (isTouched(screen)) await targetsAreBigEnough(page);
    });
  }

  test(`${entry.name} by keyboard, in plain words`, async () => {
    const page = await bench.open({ as: entry.as });
    await visit(page, bench.server, entry);
    await wordsArePlain(page);
    assert.match(await page.locator('body').innerText(), /Demonstration, invented/);
    await tabStopsAreSeen(page);
  });

  if (entry.then) continue;
  test(`${entry.name} without script`, async () => {
    const page = await bench.open({ screen: 'narrow', as: entry.as, script: false });
    await visit(page, bench.server, entry);
    await noSidewaysScroll(page);
    assert.equal(await page.getByRole('heading', { level: 1 }).count(), 1);
  });
}
