// What a whole run shares: a browser, one more for looking at every page, one demonstration folder to copy, one server for pages that are only read.

import { cpSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { chromium } from 'playwright-core';
import { startServer } from './program.mjs';

export const CHROMIUM = process.env.CHROMIUM ?? '/usr/bin/chromium';
/**
 * The same engine without the window around it: two thirds of the processor time. It knows no camera, wakes no worker and
 * sets paper differently, so it looks at pages only, and the long run does without it.
 */
const CHROMIUM_FOR_PAGES = (!process.env.LONG_RUNS && process.env.CHROMIUM_FOR_PAGES) || CHROMIUM;
export const FLAGS = [
  '--no-sandbox',
  '--disable-gpu',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
];

/** Starts all of it. `notes` is a file from which the tests' processes learn where everything is. */
export async function startAll() {
  const folder = mkdtempSync(join(tmpdir(), 'coolant-ledger-browser-'));
  const toEnd = [() => rmSync(folder, { recursive: true, force: true })];
  const end = async () => {
    for (const step of toEnd.splice(0).reverse()) await step();
  };
  try {
    const browser = await chromium.launchServer({ executablePath: CHROMIUM, args: FLAGS });
    toEnd.push(() => browser.close());
    const browser_for_pages = await chromium.launchServer({ executablePath: CHROMIUM_FOR_PAGES, args: FLAGS });
    toEnd.push(() => browser_for_pages.close());

    const template = join(folder, 'template');
    await (await startServer('demo', template)).stop();
    const data = join(folder, 'shared');
    cpSync(template, data, { recursive: true });
    const server = await startServer('demo', data);
    toEnd.push(() => server.stop());

    const notes = join(folder, 'notes.json');
    const shared = { address: server.address, lines: server.lines, data };
    const browsers = { browser: browser.wsEndpoint(), browser_for_pages: browser_for_pages.wsEndpoint() };
    writeFileSync(notes, JSON.stringify({ folder, template, shared, ...browsers }));
    return { notes, end };
  } catch (cause) {
    await end();
    throw cause;
  }
}
