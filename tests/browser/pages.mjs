// Every page, for the tests that look at all of them and for the pictures. A new page is one entry here.
//
// name    names the page in tests and pictures
// as      a role, a handle, 'nobody', or 'tablet' for a tablet of the shop on which nobody is signed on
// path    an address, or a function of a page and the server that finds one, for subjects whose ids nobody knows
//         beforehand; `linkOn` is of help
// status  what it is answered with, 200 if not given
// then    what is done on the page before it is looked at, to bring it into another state

import { enrolLink } from './support/signing_on.mjs';

export const PAGES = [
  { name: 'not-found', as: 'nobody', path: '/no-such-page', status: 404 },
  { name: 'problem-explained', as: 'nobody', path: '/problems/not-found' },
  { name: 'help', as: 'nobody', path: '/help' },
  { name: 'sign-on', as: 'nobody', path: '/sign-on' },
  { name: 'sign-on-refused', as: 'nobody', path: '/sign-on', then: press('Sign on') },
  { name: 'sign-on-tablet', as: 'tablet', path: '/sign-on' },
  { name: 'sign-on-tablet-refused', as: 'tablet', path: '/sign-on', then: press('Sign on') },
  { name: 'enrol', as: 'nobody', path: (page, server) => enrolLink(server) },
  { name: 'prove', as: 'manager', path: '/prove?next=/' },
  { name: 'shops', as: 'reader', path: '/shops' },
  { name: 'board', as: 'technician', path: '/' },
];

/** Goes to a page of the list, as far as its state; fails if it is not answered as it should be. */
export async function visit(page, server, { name, path, status = 200, then }) {
  const address = typeof path === 'function' ? await path(page, server) : path;
  const answer = await page.goto(server.at(address));
  if (answer.status() !== status) throw new Error(`${name}: ${address} is answered with ${answer.status()}, not ${status}`);
  const came_to = new URL(page.url()).pathname;
  const asked_for = new URL(server.at(address)).pathname;
  if (came_to !== asked_for) throw new Error(`${name}: ${asked_for} led to ${came_to}`);
  await then?.(page, server);
  // Words take up another space in the font that stands in until ours is there.
  await page.evaluate(() => document.fonts.ready.then(() => undefined));
}

/** Where a link on another page leads; a `path` is made with it: path: linkOn('/units', '3307'). */
export function linkOn(path, name) {
  return async (page, server) => {
    await page.goto(server.at(path));
    return page.getByRole('link', { name }).first().getAttribute('href');
  };
}

/** Presses a button and waits for the page that answers; a `then` is made with it. */
export function press(name) {
  return async (page) => {
    await Promise.all([page.waitForEvent('load'), page.getByRole('button', { name, exact: true }).click()]);
  };
}
