// Signing on as a person does: at the page, with what the program told about its demonstration people.

import assert from 'node:assert/strict';
import { saidAbout } from './said.mjs';

/** The people of the demonstration: { role, handle, password | pin, badge }. */
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

/** Signs on with whichever secret is given, and ends on the page that follows. */
export async function signOn(page, server, { handle, pin, badge, password }) {
  if (password === undefined) await enrolTablet(page, server);
  await page.goto(server.at('/sign-on'));
  if (password !== undefined) {
    await page.getByLabel(/^short name/i).fill(handle);
    await page.getByLabel(/^password/i).fill(password);
    await page.getByRole('button', { name: 'Sign on' }).click();
  } else if (pin !== undefined) {
    await tile(page, handle).check();
    await page.getByLabel(/^PIN/).fill(pin);
    await page.getByRole('button', { name: 'Sign on' }).click();
  } else {
    // A scanner types what it reads and ends with Enter.
    const field = page.getByLabel(/badge/i);
    await field.focus();
    await page.keyboard.type(badge);
    await page.keyboard.press('Enter');
  }
  await signedOn(page, handle);
}

function tile(page, handle) {
  return page.getByRole('radio', { name: new RegExp(`^${handle}\\b`) });
}

/** Waits for the page on which somebody is signed on; otherwise tells what the sign-on page says. */
async function signedOn(page, handle) {
  try {
    await page.getByRole('button', { name: 'Sign off' }).waitFor();
  } catch {
    assert.fail(`${handle} could not sign on; ${page.url()} says:\n${await page.locator('main').innerText()}`);
  }
}

/** Makes this browser a tablet of the shop by the link the program told; afterwards again by the cookie it left. */
export async function enrolTablet(page, server) {
  server.tabletCookies ??= enrolOnce(page, server);
  await page.context().addCookies(await server.tabletCookies);
}

async function enrolOnce(page, server) {
  const [told] = saidAbout(server.lines, 'tablet');
  assert.ok(told?.fields.enrol, 'the program told of no link that makes a browser a tablet of the shop');
  const { pathname, search } = new URL(told.fields.enrol);
  await page.goto(server.at(pathname + search));
  await page.locator('main form').getByRole('button').first().click();
  const find = async () => (await page.context().cookies()).filter(({ name }) => name.endsWith('tablet'));
  for (let tries = 0; (await find()).length === 0; tries += 1) {
    assert.ok(tries < 50, `the browser was given no tablet cookie; ${page.url()} says:\n${await page.locator('main').innerText()}`);
    await page.waitForTimeout(100);
  }
  return find();
}
