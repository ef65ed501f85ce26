// Signing on as a person does: at the page, with what the program told about its demonstration people.

import assert from 'node:assert/strict';
import { saidAbout } from './said.mjs';

/** The cookies of tablets that this process has enrolled, by the link that did it. */
const enrolled = new Map();

/** The people of the demonstration: { role, handle, yard, password } or { role, handle, yard, pin, badge }. */
export function listPeople(server) {
  return saidAbout(server.lines, 'sign-on').map(({ fields }) => fields);
}

/** By role ('technician') or handle ('P3'). */
export function findPerson(server, as) {
  const people = listPeople(server);
  const found = people.find(({ role, handle }) => role === as || handle === as);
  const known = people.map(({ role, handle }) => `${handle} (${role})`).join(', ');
  assert.ok(found, `the program told of nobody who is "${as}"; it told of ${known || 'nobody at all'}`);
  return found;
}

/** Signs on with the secret that is given, and ends on the page that follows. PINs and badges want an enrolled tablet. */
export async function signOn(page, server, { handle, pin, badge, password }) {
  await page.goto(server.at('/sign-on'));
  if (password !== undefined) await byPassword(page, handle, password);
  else if (pin !== undefined) await byPin(page, handle, pin);
  else await byBadge(page, badge);
  await signedOn(page, handle);
}

async function byPassword(page, handle, password) {
  // On a tablet this way is folded up.
  const fold = page.getByText('Sign on with a password', { exact: true });
  if (await fold.isVisible()) await fold.click();
  await page.getByLabel(/^short name/i).fill(handle);
  await page.getByLabel('Password').fill(password);
  await page.getByLabel('Password').press('Enter');
}

async function byPin(page, handle, pin) {
  // The box is what is seen and touched; the radio button in it is not.
  const tile = page.locator('label', { has: page.getByRole('radio', { name: new RegExp(`^${handle}\\b`) }) });
  if ((await tile.count()) === 0) await page.getByRole('link', { name: 'Somebody else' }).click();
  await tile.click();
  const runs_script = await page.evaluate(() => matchMedia('(scripting: enabled)').matches);
  await page.getByLabel(/^PIN/).fill(pin);
  // With script the last digit sends it.
  if (!runs_script) await page.getByRole('button', { name: 'Sign on', exact: true }).click();
}

/** A scanner types what it reads and ends with Enter. */
async function byBadge(page, badge) {
  await page.getByLabel(/^badge/i).focus();
  await page.keyboard.type(badge);
  await page.keyboard.press('Enter');
}

/** Waits for the page that comes after signing on; otherwise tells what the sign-on page says. */
async function signedOn(page, handle) {
  const elsewhere = page.waitForURL((url) => url.pathname !== '/sign-on', { waitUntil: 'load' });
  await Promise.race([elsewhere, page.locator('.problems').waitFor()]).catch(() => undefined);
  if (new URL(page.url()).pathname !== '/sign-on') return;
  const text = await page.locator('main').innerText();
  assert.fail(`${handle} could not sign on; the page says:\n${text.slice(0, 600)}`);
}

/** Makes this browser a tablet of a yard, by the link the program told; further browsers get the cookie it left. */
export async function enrolTablet(page, server, yard) {
  const link = enrolLink(server, yard);
  if (!enrolled.has(link)) enrolled.set(link, enrolOnce(page, server, link));
  await page.context().addCookies(await enrolled.get(link));
}

/** The link that makes a device a tablet of a yard, or of the first one. */
export function enrolLink(server, yard) {
  const told = saidAbout(server.lines, 'tablet').find(({ fields }) => yard === undefined || fields.yard === yard);
  assert.ok(told, `the program told of no tablet ${yard === undefined ? '' : `in ${yard}`}`);
  const { pathname, search } = new URL(told.fields.enrol);
  return pathname + search;
}

async function enrolOnce(page, server, link) {
  await page.goto(server.at(link));
  await page.getByRole('button', { name: 'Enrol this tablet' }).click();
  await page.waitForURL((url) => url.pathname !== '/tablets/enrol');
  const cookies = (await page.context().cookies()).filter(({ name }) => name.endsWith('tablet'));
  assert.equal(cookies.length, 1, `the browser was given no tablet cookie; it is on ${page.url()}`);
  return cookies;
}
