// What a whole run shares: one browser, one demonstration folder to copy, one server for pages that are only read.

import { cpSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { chromium } from 'playwright-core';
import { startServer } from './program.mjs';

export const CHROMIUM = process.env.CHROMIUM ?? '/usr/bin/chromium';
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

    const template = join(folder, 'template');
    await (await startServer('demo', template)).stop();
    const data = join(folder, 'shared');
    cpSync(template, data, { recursive: true });
    const server = await startServer('demo', data);
    toEnd.push(() => server.stop());

    const notes = join(folder, 'notes.json');
    const shared = { address: server.address, lines: server.lines, data };
    writeFileSync(notes, JSON.stringify({ folder, template, shared, browser: browser.wsEndpoint() }));
    return { notes, end };
  } catch (cause) {
    await end();
    throw cause;
  }
}
