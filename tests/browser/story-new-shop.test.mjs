// A shop that begins with nothing: set up, somebody let in, a tablet enrolled, the first vessel, unit and job.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { useBench } from './support/bench.mjs';
import { Hand } from './support/hand.mjs';

const PASSWORD = 'violet trams hum at noon';
const bench = useBench('empty');

test('from the set-up code to the first job on a tablet', { timeout: 120_000 }, async () => {
  const code = bench.server.lines.map((line) => /^set-up code: (\S+)$/.exec(line)?.[1]).find(Boolean);
  assert.ok(code, 'the program printed a set-up code');
  const office = await bench.open({ screen: 'desk' });
  const press = (page, name) => Promise.all([page.waitForEvent('load'), page.getByRole('button', { name, exact: true }).click()]);
  const goTo = (page, path) => page.goto(bench.server.at(path));
  const main = (page) => page.locator('main').innerText();

  await goTo(office, '/set-up');
  await office.getByLabel('Set-up code').fill(code);
  await press(office, 'Continue');
  await office.getByLabel('Site', { exact: true }).fill('North depot (invented)');
  await office.getByLabel('Shop', { exact: true }).fill('North Yard (invented)');
  await office.getByLabel('Time zone of the shop').selectOption('America/Denver');
  await office.locator('[name=altitude]').fill('1500');
  await office.getByLabel('Your name').fill('Ilse Pemberly (invented)');
  await office.getByLabel('Password', { exact: true }).fill(PASSWORD);
  await office.getByLabel('Password again').fill(PASSWORD);
  await press(office, 'Set up and sign on');
  assert.match(await office.locator('.top').innerText(), /P1 Ilse Pemberly/);

  await goTo(office, '/settings/shop');
  await office.locator('[name=winter_low]').fill('-25');
  await press(office, 'Save shop');

  await goTo(office, '/people/new');
  await office.getByLabel('Short name').fill('P2');
  await office.getByLabel('Name', { exact: true }).fill('Torben Ashlock (invented)');
  await office.locator('label.choice', { hasText: 'North Yard' }).click();
  await office.locator('label.choice', { hasText: /^\s*technician/ }).click();
  await press(office, 'Save person');
  assert.match(await main(office), /P2 Torben Ashlock/);
  await press(office, 'Issue a PIN');
  const pin = await office.locator('.once strong').innerText();
  assert.match(pin, /^\d{6}$/);

  await goTo(office, '/tablets');
  await office.getByLabel('What is the tablet called?').fill('Bay 1');
  await press(office, 'Make a link');
  const link = (await office.locator('.once').innerText()).trim();

  await goTo(office, '/vessels/new');
  await office.getByLabel('Name on it').fill('D-1');
  await office.locator('label.choice', { hasText: 'drum' }).click();
  await office.locator('label.choice', { hasText: 'fresh' }).click();
  await office.getByLabel('Base of its coolant').selectOption('EG');
  await office.getByLabel('Inhibitor class').selectOption('OAT');
  await office.locator('[name=capacity]').fill('208');
  await office.locator('[name=opening]').fill('200');
  await office.locator('[name=opening_strength]').fill('50');
  await press(office, 'Save vessel');
  await goTo(office, '/units/new');
  await office.getByLabel('Unit number').fill('101');
  await office.getByLabel('Kind of unit').fill('transit bus');
  await office.locator('[name=loop1_name]').fill('engine');
  await office.locator('[name=loop1_base]').selectOption('EG');
  await office.locator('[name=loop1_class]').selectOption('OAT');
  await office.locator('[name=loop1_capacity]').fill('45');
  await press(office, 'Save unit');
  const unit = new URL(office.url()).pathname;

  const tablet = await bench.open({ screen: 'tablet' });
  await tablet.goto(link);
  await press(tablet, 'Enrol this tablet');
  await tablet.getByRole('link', { name: 'Somebody else' }).tap().catch(() => {});
  await tablet.locator('label', { has: tablet.getByRole('radio', { name: /^P2\b/ }) }).tap();
  await Promise.all([tablet.waitForURL((url) => url.pathname === '/'), tablet.getByLabel(/^PIN/).fill(pin)]);
  assert.match(await tablet.locator('.top').innerText(), /P2 Torben Ashlock/);
  await goTo(tablet, `${unit}/jobs/top_up`);
  const hand = new Hand(tablet, 'finger');
  await hand.choose('source', 'D-1');
  await hand.type('volume', '2.5');
  await hand.save();
  assert.match(await main(tablet), /Saved/);
  assert.match(await main(tablet), /2\.5 L from D-1 to 101/);
  await goTo(tablet, '/');
  assert.match(await main(tablet), /101/);
});

test('a page asks for the password again when that was shown too long ago, and goes on with what was typed', async () => {
  // Somebody who signed on with a PIN shows it again; here the same is seen where nobody is signed on any more.
  const office = await bench.open({ screen: 'desk' });
  await office.goto(bench.server.at('/sign-on'));
  await office.getByLabel(/^Short name/).fill('P1');
  await office.getByLabel('Password').fill(PASSWORD);
  await Promise.all([office.waitForEvent('load'), office.getByLabel('Password').press('Enter')]);
  await office.goto(bench.server.at('/people/new'));
  await office.getByLabel('Short name').fill('P3');
  await office.getByLabel('Name', { exact: true }).fill('Merle Oakhurst (invented)');
  await office.locator('label.choice', { hasText: 'North Yard' }).click();
  await office.context().clearCookies({ name: /session/ });
  await Promise.all([office.waitForEvent('load'), office.getByRole('button', { name: 'Save person' }).click()]);
  assert.match(await office.locator('main').innerText(), /Nothing is lost/);
  await office.getByLabel(/^Short name/).fill('P1');
  await office.getByLabel('Password').fill(PASSWORD);
  await Promise.all([office.waitForEvent('load'), office.getByRole('button', { name: 'Sign on', exact: true }).click()]);
  await Promise.all([office.waitForEvent('load'), office.getByRole('button', { name: 'Save it' }).click()]);
  assert.match(await office.locator('h1').innerText(), /P3 Merle Oakhurst/);
});
