// The checks find what they are there to find, and leave good pages alone.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { axe } from './support/axe.mjs';
import { useBench } from './support/bench.mjs';
import { Keyboard, tabStopsAreSeen } from './support/keyboard.mjs';
import { noSidewaysScroll } from './support/reflow.mjs';
import { samplePage } from './support/sample.mjs';
import { nothingBroughtAlong } from './support/strangers.mjs';
import { targetsAreBigEnough } from './support/target.mjs';
import { noConsoleErrors, noThirdParty } from './support/watch.mjs';
import { weigh } from './support/weight.mjs';
import { wordsArePlain } from './support/word.mjs';

const big = 'style="width: 120px; height: 90px; margin: 20px"';
const BAD = {
  '/unnamed': samplePage('<input type="text">'),
  '/pale': samplePage('<p style="color: #6b6b6b">Too pale for 7:1, though not for 4.5:1.</p>'),
  '/wide': samplePage('<div class="wide" style="width: 500px">Wide</div>'),
  '/flat': samplePage('<button style="width: 120px; height: 70px">Save</button>'),
  '/close': samplePage('<p><button style="width: 120px; height: 90px">Save</button><button style="width: 120px; height: 90px">Void</button></p>'),
  '/near-danger': samplePage(`<button ${big}>Save</button><button class="danger" style="width: 130px; height: 130px">Void</button>`),
  '/unscaled': samplePage(`<button ${big}>Save</button>`, { style: ':root { --mm: initial }' }),
  '/unseen-focus': samplePage('<button style="outline: none">Save</button>'),
  '/no-way-in': samplePage('<button>Save</button>', { style: '.skip { display: none }' }),
  '/covered': samplePage('<button>Save</button><div style="position: fixed; inset: 0; background: #fff"></div>'),
  '/jumps': samplePage('<button>One</button><button tabindex="1">To the content</button>'),
  '/elsewhere': samplePage('<img alt="" src="http://localhost:9/picture.png">'),
  '/breaks': samplePage('<script>throw new Error("broken")</script>'),
  '/asks': samplePage('<script>alert("here")</script>'),
  '/misses': samplePage('<img alt="" src="/missing.png">'),
  '/jargon': samplePage('<p>Sync pending</p>'),
  '/brought': samplePage('<p onclick="top_up()">Unit <a href="javascript:top_up()">3307</a></p>'),
  '/leads-away': samplePage('<p><a href="//elsewhere.example/">3307</a></p>'),
};
const GOOD = samplePage(`<p>Words with <a href="/good" style="display: inline">a link</a> in them.</p><p><label for="v">Volume, L</label><br>
<input id="v" ${big}></p><button ${big}>Save</button><div style="overflow-x: auto" tabindex="0" role="region" aria-label="Table">
<div style="width: 600px; height: 90px">Wide, but in a box of its own</div></div>`);

const bench = useBench({ ...BAD, '/good': GOOD, '/heavy': samplePage('x'.repeat(50_000)) });

async function at(path, options) {
  const page = await bench.open(options);
  await page.goto(bench.server.at(path));
  return page;
}

test('a good page passes everything', async () => {
  for (const screen of ['narrow', 'desk']) {
    const page = await at('/good', { screen });
    assert.deepEqual(await axe(page), []);
    await noSidewaysScroll(page);
    await wordsArePlain(page);
    if (screen === 'narrow') await targetsAreBigEnough(page);
    else assert.equal((await tabStopsAreSeen(page)).length, 5);
  }
});

const FOUND = [
  ['/unnamed', axe, /label/],
  ['/pale', axe, /color-contrast-enhanced/],
  ['/wide', noSidewaysScroll, /class="wide"/, 'narrow'],
  ['/flat', targetsAreBigEnough, /"Save" is .* × 13\.5 mm/, 'tablet'],
  ['/close', targetsAreBigEnough, /0\.0 mm apart, wanted 3 mm/, 'tablet'],
  ['/near-danger', targetsAreBigEnough, /mm apart, wanted 6 mm/, 'tablet'],
  ['/unscaled', targetsAreBigEnough, /--mm is not set/, 'tablet'],
  ['/unseen-focus', tabStopsAreSeen, /does not show/],
  ['/no-way-in', tabStopsAreSeen, /content/],
  ['/covered', tabStopsAreSeen, /covered/],
  ['/jumps', tabStopsAreSeen, /comes earlier/],
  ['/jargon', wordsArePlain, /Sync/],
  ['/brought', nothingBroughtAlong, /onclick[^]*href javascript:/],
  ['/leads-away', nothingBroughtAlong, /elsewhere/],
];
for (const [path, check, told, screen = 'desk'] of FOUND) {
  test(`${check.name} finds what is wrong at ${path}`, async () => {
    const page = await at(path, { screen });
    await assert.rejects(check(page), told);
  });
}

for (const [path, check] of [['/elsewhere', noThirdParty], ['/breaks', noConsoleErrors], ['/asks', noConsoleErrors], ['/misses', noConsoleErrors]]) {
  test(`${check.name} finds what is wrong at ${path}, and so does the bench after the test`, async () => {
    const page = await at(path);
    assert.throws(() => check(page));
    await assert.rejects(bench.clear());
  });
}

test('a page that is rightly answered with 404 is no complaint', async () => {
  const page = await at('/good');
  await page.goto(bench.server.at('/absent'));
  noConsoleErrors(page);
});

test('weight counts what goes over the wire, and nothing that was kept', async () => {
  const page = await bench.open();
  const first = await weigh(page, bench.server.at('/heavy'));
  assert.ok(first.bytes > 50_000 && first.bytes < 52_000, JSON.stringify(first));
  const other = await weigh(page, bench.server.at('/good'));
  assert.ok(other.bytes > 500 && other.bytes < 3_000, JSON.stringify(other));
});

test('the keyboard comes to a control and uses it, and says where it went when there is none', async () => {
  const page = await at('/good');
  const keyboard = new Keyboard(page);
  await keyboard.to('textbox', 'Volume, L');
  await keyboard.type('2.5');
  assert.equal(await page.getByLabel('Volume, L').inputValue(), '2.5');
  await keyboard.to('link', 'a link');
  await keyboard.enter();
  await page.evaluate(() => (document.querySelector('button').tabIndex = -1));
  await assert.rejects(keyboard.to('button', 'Save'), /it passed: .*Volume/);
});

test('without script a page does not run any, and can still be looked at', async () => {
  const page = await at('/breaks', { script: false });
  assert.equal(await page.getByRole('heading', { level: 1 }).innerText(), 'Sample');
  await noSidewaysScroll(page);
});

test('a screen that is touched is one for the style sheet too', async () => {
  const coarse = async (screen) => (await at('/good', { screen })).evaluate(() => matchMedia('(pointer: coarse)').matches);
  assert.deepEqual([await coarse('tablet'), await coarse('narrow'), await coarse('desk')], [true, true, false]);
});
