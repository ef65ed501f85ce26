// Notes everything a page does that no page of ours should do.

import assert from 'node:assert/strict';

const noted = new WeakMap();
const LOOKED_AT = ['request', 'pageerror', 'dialog', 'response', 'console'];

/** Begins to note; called once for each page, before it goes anywhere. `network_fails`: it is part of the test. */
export function watch(page, address, { network_fails = false } = {}) {
  const notes = { elsewhere: [], console: [], visited: new Set() };
  noted.set(page, notes);
  const own = new URL(address).origin;
  page.on('request', (request) => {
    const url = new URL(request.url());
    const inPage = ['data:', 'blob:'].includes(url.protocol);
    if (!inPage && url.origin !== own) notes.elsewhere.push(request.url());
  });
  page.on('pageerror', (error) => notes.console.push({ text: `script: ${error.message}` }));
  page.on('dialog', (dialog) => {
    notes.console.push({ text: `a dialog opened: ${dialog.message()}` });
    dialog.dismiss();
  });
  page.on('response', (answer) => {
    // A page that rightly says "not found" or "not saved" is an error to the browser, but not to us.
    if (answer.request().isNavigationRequest() && answer.status() < 500) notes.visited.add(answer.url());
  });
  page.on('console', (message) => {
    if (message.type() !== 'error') return;
    const { url } = message.location();
    const of_answer = message.text().startsWith('Failed to load resource');
    if (of_answer && network_fails) return;
    notes.console.push({ text: `${message.text()} (${url})`, visited: of_answer ? url : undefined });
  });
}

/** Begins anew with a page that is used again. Until then nobody listens, so that it may be left with a form half filled in. */
export function watchNoMore(page) {
  for (const event of LOOKED_AT) page.removeAllListeners(event);
}

export function noThirdParty(page) {
  assert.deepEqual(notesOf(page).elsewhere, [], 'the page asked another server for something');
}

export function noConsoleErrors(page) {
  const { console, visited } = notesOf(page);
  const complaints = console.filter((note) => !visited.has(note.visited)).map(({ text }) => text);
  assert.deepEqual(complaints, [], 'the page complained');
}

function notesOf(page) {
  const notes = noted.get(page);
  assert.ok(notes, 'this page is not watched');
  return notes;
}
