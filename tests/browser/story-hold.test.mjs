// A hold that runs while somebody signs off: the tablet goes on showing it, and the sheet goes on with it. And a screen
// whose pixels are of another size.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { useBench } from './support/bench.mjs';
import { Hand } from './support/hand.mjs';
import { findPerson, signOn } from './support/signing_on.mjs';
import { linkOn } from './pages.mjs';

const bench = useBench('own');
const seconds = (face) => face.split(':').map(Number).reduce((minutes, rest) => minutes * 60 + rest);

test('a hold stays on the page where people sign on, and runs on in its sheet', async () => {
  const page = await bench.open({ screen: 'tablet', as: 'technician', script: true });
  const unit = await linkOn('/units?text=330', '3305')(page, bench.server);
  const sheet = bench.server.at(`${unit}/jobs/pressure_test`);
  await page.goto(sheet);
  const hand = new Hand(page, 'finger');
  await hand.type('pressure_start', '105');
  await hand.type('temperature_start', '20');
  await page.getByRole('button', { name: 'Continue', exact: true }).tap();
  await page.getByRole('button', { name: 'Start timer' }).tap();
  await page.waitForFunction(() => document.querySelector('.timer-face').textContent !== '0:00');
  await page.waitForTimeout(400);
  await Promise.all([page.waitForURL(/\/sign-on/), page.getByRole('button', { name: 'Sign off' }).tap()]);
  const holds = page.locator('#holds');
  await holds.getByText(/The hold of "Pressure test/).waitFor();
  const said = await holds.innerText();
  assert.match(said, /^\d+:\d\d The hold of "Pressure test[^"]*" runs since \d\d:\d\d, P\d+\. Sign on to stop it\.$/);
  const before = seconds(said.split(' ')[0]);
  assert.ok(before >= 1, said);
  await page.waitForFunction((shown) => document.querySelector('#holds strong').textContent !== shown, said.split(' ')[0]);

  const { handle, pin } = findPerson(bench.server, 'technician');
  await signOn(page, bench.server, { handle, pin });
  await page.goto(sheet);
  await page.locator('#draft').getByRole('button', { name: 'Go on with it' }).tap();
  await page.waitForFunction(() => document.querySelector('.timer-face').textContent !== '0:00');
  assert.ok(seconds(await page.locator('.timer-face').textContent()) > before);
  assert.equal(await page.locator('[name="pressure_start"]').inputValue(), '105');
});

test('a line that was measured makes every button the size of a glove', async () => {
  const page = await bench.open({ screen: 'tablet', as: 'technician', script: true });
  await page.goto(bench.server.at('/screen-size'));
  const line = () => page.getByRole('img', { name: 'A line of 40 mm' }).evaluate((drawn) => drawn.getBoundingClientRect().width);
  const button = () => page.getByRole('button', { name: 'Save screen size' }).evaluate((drawn) => drawn.getBoundingClientRect().height);
  const [before, high] = [await line(), await button()];
  await page.locator('[name=measured]').fill('4000');
  await Promise.all([page.waitForEvent('load'), page.getByRole('button', { name: 'Save screen size' }).tap()]);
  assert.match(await page.locator('main').innerText(), /is no length this line can have/);
  // The line came out a quarter too short, so there are that many more pixels in a millimetre.
  await page.locator('[name=measured]').fill('32');
  await Promise.all([page.waitForURL(/saved=yes/), page.getByRole('button', { name: 'Save screen size' }).tap()]);
  assert.ok(Math.abs((await line()) / before - 40 / 32) < 0.002, `${before} became ${await line()}`);
  assert.ok(Math.abs((await button()) / high - 40 / 32) < 0.02, `${high} became ${await button()}`);
  await page.goto(bench.server.at('/'));
  const applied = await page.evaluate(() => getComputedStyle(document.documentElement).getPropertyValue('--mm').trim());
  assert.equal(applied, '6.50px');
});
