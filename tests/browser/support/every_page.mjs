// What holds for every page. Each kind of screen has a test file of its own, so that they run side by side.

import assert from 'node:assert/strict';
import { describe, test } from 'node:test';
import { PAGES, visit } from '../pages.mjs';
import { axe } from './axe.mjs';
import { useBench } from './bench.mjs';
import { tabStopsAreSeen } from './keyboard.mjs';
import { noSidewaysScroll } from './reflow.mjs';
import { choose, isTablet, LOOKS, SCREENS } from './screen.mjs';
import { targetsAreBigEnough } from './target.mjs';
import { wordsArePlain } from './word.mjs';

/** What a machine says it cannot judge, and why that is good enough. Anything else of that kind fails. */
const LEFT_TO_PEOPLE = [
  // Text on a drawn ground, such as the ticked rule of the head; the style sheet's own test works out the pairs of colours.
  { rule: 'color-contrast', where: /./ },
  { rule: 'color-contrast-enhanced', where: /./ },
  // Keys that show a sign and are named in words.
  { rule: 'label-content-name-mismatch', where: /button/ },
];

/**
 * Every page on these screens, in all looks: accessibility, reflow, sizes under a glove. In the short run a page comes
 * once, on the first screen, and is then given the size of the others. `share` is [which, of how many]: a file of its own
 * for every so many pages, so that they run side by side.
 */
export function everyPageOn(screens, [which, of_how_many] = [1, 1]) {
  const pages = PAGES.filter((_, index) => index % of_how_many === which - 1);
  describe(`every page on the screens ${screens.join(' and ')}, in ${LOOKS.join(', ')}: ${which} of ${of_how_many}`, () => {
    const bench = useBench('shared', { only_looks: true });
    for (const entry of pages) test(entry.name, () => looksAt(bench, entry, screens));
  });
}

async function looksAt(bench, entry, screens) {
  let page;
  for (const screen of screens) {
    const comes = !page || Boolean(process.env.LONG_RUNS);
    if (comes) page = await bench.another({ screen, as: entry.as });
    else await page.setViewportSize(SCREENS[screen].viewport);
    for (const look of LOOKS) {
      await show(page, bench, { entry, look, comes: comes && (look === LOOKS[0] || Boolean(process.env.LONG_RUNS)) });
      const only_colours = look !== LOOKS[0] && !process.env.LONG_RUNS;
      assert.deepEqual((await axe(page, { only_colours })).flatMap(notLeftToPeople), [], `axe could not judge these on ${page.url()}`);
      await noSidewaysScroll(page);
    }
    if (isTablet(screen)) await targetsAreBigEnough(page);
  }
}

/** A look is one attribute of the page: it is asked of the server where the page comes anew, and else set here. */
async function show(page, bench, { entry, look, comes }) {
  if (comes) {
    await choose(page.context(), look, bench.server.address);
    await visit(page, bench.server, entry);
    assert.equal(await page.locator('html').getAttribute('data-look'), look, 'the page has the look that was chosen');
  } else {
    await page.evaluate((code) => (document.documentElement.dataset.look = code), look);
  }
}

function notLeftToPeople({ rule, targets }) {
  const known = LEFT_TO_PEOPLE.find((left) => left.rule === rule);
  return targets.filter((target) => !known?.where.test(target)).map((target) => `${rule}: ${target}`);
}

/** Every page by keyboard alone, in plain words, and with script switched off. */
export function everyPageInOtherHands() {
  describe('every page by keyboard and in plain words', () => {
    const bench = useBench('shared', { only_looks: true });
    for (const entry of PAGES) test(entry.name, () => walks(bench, entry));
  });
  describe('every page without script', () => {
    const bench = useBench('shared', { only_looks: true });
    for (const entry of PAGES) test(entry.name, () => readsWithoutScript(bench, entry));
  });
}

async function walks(bench, entry) {
  const page = await bench.another({ as: entry.as });
  await visit(page, bench.server, entry);
  await wordsArePlain(page);
  assert.match(await page.locator('body').innerText(), /Demonstration, invented/);
  await tabStopsAreSeen(page);
}

async function readsWithoutScript(bench, entry) {
  const page = await bench.another({ screen: 'narrow', as: entry.as, script: false });
  await visit(page, bench.server, entry);
  await noSidewaysScroll(page);
  assert.equal(await page.getByRole('heading', { level: 1 }).count(), 1);
}
