// What a test file works with: a browser, a server, and pages that are watched from their first moment.

import { cpSync, mkdtempSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { after, afterEach, before } from 'node:test';
import { chromium } from 'playwright-core';
import { bookIsClosed, startServer } from './program.mjs';
import { serveSamples } from './sample.mjs';
import { choose, SCREENS } from './screen.mjs';
import { enrolTablet, findPerson, signOn } from './signing_on.mjs';
import { noConsoleErrors, noThirdParty, watch, watchNoMore } from './watch.mjs';

const PATIENCE_MS = 10_000;
/** Nobody is taken for signed on who has done nothing for longer; a tablet signs them off after five minutes. */
const IDLE_MS = 200_000;
/** The cookies of people this process has signed on, by server and person. */
const signedOn = new Map();

/**
 * Sets up a test file. `shop` is
 * - 'shared': the demonstration all files look at; nothing may be written to it,
 * - 'own': a copy of the demonstration for this file; afterwards its book must close,
 * - 'empty': a server with nothing on record; afterwards its book must close,
 * - an object with the HTML of each path: made-up pages, to test the checks themselves.
 * `only_looks`: it looks at pages and does nothing that needs more of a browser.
 */
export function useBench(shop, { only_looks = false } = {}) {
  const bench = new Bench();
  before(() => bench.start(shop, only_looks));
  afterEach(() => bench.clear());
  after(() => bench.end());
  return bench;
}

export class Bench {
  server;
  /** The folder of the demonstration that all files look at. */
  sharedData;
  browser;
  #own = false;
  #contexts = [];
  /** Browsers that are used again, each with one page. */
  #kept = new Map();
  #pages = [];

  async start(shop, only_looks = false) {
    const notes = readNotes();
    this.browser = await chromium.connect(only_looks ? notes.browser_for_pages : notes.browser);
    this.sharedData = notes.shared.data;
    if (shop === 'shared') {
      this.server = { ...notes.shared, at: (path) => new URL(path, notes.shared.address).href, stop: () => {} };
    } else if (typeof shop === 'object') {
      this.server = await serveSamples(shop);
    } else {
      this.#own = true;
      this.server = await startOwn(shop, notes);
    }
  }

  /**
   * A page in a browser of its own. `as` is a role, a handle, 'nobody', or 'tablet' for a tablet of the shop on
   * which nobody is signed on. Who was signed on once in this file stays so in further pages, as on one device.
   * With a `road` the page reaches the server over it, keeps pages as a tablet does, and may complain of the network.
   */
  async open({ screen = 'desk', look = 'day', as = 'nobody', script = true, road } = {}) {
    const context = await this.#context({ screen, look, as, script, workers: road !== undefined });
    this.#contexts.push(context);
    const page = await context.newPage();
    watch(page, road?.address ?? this.server.address, { network_fails: road !== undefined });
    return page;
  }

  /**
   * The page of a browser that was used before, or of a new one: for whoever looks at many pages and changes nothing. The
   * browser keeps what browsers keep, so that style, script and fonts come once, and the checks are compiled once.
   */
  async another({ screen = 'desk', as = 'nobody', script = true } = {}) {
    const key = `${screen} ${as} ${script}`;
    const before = this.#kept.get(key);
    if (before && isIdle(before)) {
      await before.context.close();
      this.#kept.delete(key);
    }
    if (!this.#kept.has(key)) {
      const context = await this.#context({ screen, as, script });
      this.#kept.set(key, { context, page: await context.newPage() });
    }
    const { page } = used(this.#kept.get(key));
    await page.setViewportSize(SCREENS[screen].viewport);
    this.#pages.push(page);
    watch(page, this.server.address);
    return page;
  }

  async #context({ screen, look = 'day', as, script, workers = false }) {
    // A page that a worker answers is not the server's; only the tests of that want it.
    const serviceWorkers = workers ? 'allow' : 'block';
    const context = await this.browser.newContext({ ...SCREENS[screen], javaScriptEnabled: script, reducedMotion: 'reduce', serviceWorkers });
    context.setDefaultTimeout(PATIENCE_MS);
    await choose(context, look, this.server.address);
    if (as !== 'nobody') await context.addCookies(await this.#cookiesOf(as));
    return context;
  }

  async #cookiesOf(as) {
    const key = `${this.server.address} ${as}`;
    if (!signedOn.has(key) || isIdle(signedOn.get(key))) signedOn.set(key, { cookies: this.#signOnOnce(as) });
    return used(signedOn.get(key)).cookies;
  }

  async #signOnOnce(as) {
    const context = await this.browser.newContext(SCREENS.desk);
    try {
      const page = await context.newPage();
      page.setDefaultTimeout(PATIENCE_MS);
      const person = as === 'tablet' ? undefined : findPerson(this.server, as);
      if (person?.password === undefined) await enrolTablet(page, this.server, person?.yard);
      if (person) await signOn(page, this.server, person);
      return (await context.cookies()).filter(({ name }) => name !== 'look');
    } finally {
      await context.close();
    }
  }

  /** Starts an own server again, on what the one that ended left behind. */
  async startAgain() {
    this.server = await startServer('demo', this.server.data);
  }

  /** After each test: whatever was opened behaved, and is closed unless it is used again. */
  async clear() {
    const contexts = this.#contexts.splice(0);
    const used_again = this.#pages.splice(0);
    const pages = [...contexts.flatMap((context) => context.pages()), ...used_again];
    await Promise.all(contexts.map((context) => context.close()));
    used_again.forEach(watchNoMore);
    for (const page of pages) {
      noThirdParty(page);
      noConsoleErrors(page);
    }
  }

  async end() {
    try {
      if (this.#own && this.server) await bookIsClosed(this.server);
    } finally {
      await Promise.all([...this.#kept.values()].map(({ context }) => context.close()));
      await this.server?.stop();
      await this.browser?.close();
    }
  }
}

function used(it) {
  it.used_at = Date.now();
  return it;
}

function isIdle({ used_at }) {
  return Date.now() - used_at > IDLE_MS;
}

async function startOwn(shop, notes) {
  const data = join(mkdtempSync(join(notes.folder, 'own-')), 'data');
  if (shop === 'empty') return startServer('serve', data);
  cpSync(notes.template, data, { recursive: true });
  return startServer('demo', data);
}

function readNotes() {
  const file = process.env.BROWSER_TEST_NOTES;
  if (!file) throw new Error('browser tests are started by: node run.mjs [FILE...]');
  return JSON.parse(readFileSync(file, 'utf8'));
}
