// Harder things that happen to a tablet: a browser that is killed, a full disk, many jobs, two tabs, two tablets, another
// version of the program, data that is cleared, and an enrolment that ends.

import assert from 'node:assert/strict';
import { spawn } from 'node:child_process';
import { existsSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, describe, test } from 'node:test';
import { chromium } from 'playwright-core';
import { useBench } from './support/bench.mjs';
import { openRoad } from './support/road.mjs';
import { CHROMIUM, FLAGS } from './support/start.mjs';
import { copyRow, isReady, rows, rowsAre, textOf } from './support/tablet_storage.mjs';

const MANY = 200;
/** How long it takes is told; the build of the tests and a busy machine say little about it. */
const MANY_WITHIN_MS = 120_000;
const bench = useBench('own');
let road;
after(() => road?.end());

let unit;
async function tablet({ as = 'technician' } = {}) {
  road ??= await openRoad(bench.server);
  road.state = 'open';
  road.only = /./;
  const page = await bench.open({ screen: 'tablet', as, road });
  await page.goto(road.at('/units?text=330'));
  unit ??= await page.getByRole('link', { name: '3307' }).first().getAttribute('href');
  await isReady(page);
  return page;
}

async function saveOne(page, volume) {
  await page.goto(road.at(`${unit}/jobs/top_up`));
  await page.locator('#job [name=volume]').fill(volume);
  await page.locator('#job label.choice', { has: page.locator('[name=source]'), hasText: 'D-1' }).first().click();
  const load = page.waitForEvent('load', { timeout: 20_000 });
  await page.getByRole('button', { name: 'Save job', exact: true }).click();
  await load;
}

const bodiesSent = () => road.passed.filter(([how, where]) => how === 'POST' && where === '/tablet/jobs').length;

describe('a tablet in trouble', () => {
  test(`${MANY} jobs that waited go in order, by one of two tabs, while the page can be used`, async (t) => {
    const page = await tablet();
    await page.context().setOffline(true);
    await saveOne(page, '0.001');
    await copyRow(page, MANY - 1);
    const second = await page.context().newPage();
    await second.goto(road.at('/waiting'));
    const before = bodiesSent();
    const begun = Date.now();
    await page.context().setOffline(false);
    await page.getByText('All sent at').waitFor({ timeout: MANY_WITHIN_MS });
    t.diagnostic(`${MANY} jobs in ${Date.now() - begun} ms`);
    const done = await rowsAre(page, (found) => found.every(({ state }) => state === 'sent'));
    assert.equal(done.length, MANY);
    assert.equal(bodiesSent() - before, MANY, 'each was sent once');
    const times = done.map(({ sent_at }) => sent_at);
    assert.deepEqual(times, times.toSorted((one, other) => one - other), 'in the order they were saved');
    await second.close();
  });

  test('two tablets that were out of reach keep a job each on one unit; both arrive', async () => {
    const [one, other] = [await tablet(), await tablet({ as: 'lead_hand' })];
    for (const page of [one, other]) {
      await page.context().setOffline(true);
      await saveOne(page, '0.3');
    }
    for (const page of [one, other]) {
      await page.context().setOffline(false);
      const [row] = await rowsAre(page, ([found]) => found.state === 'sent');
      assert.equal((await page.request.get(bench.server.at(`/jobs/${row.key}`))).status(), 200);
    }
  });

  test('a disk that is full keeps the form, and offers the file', async () => {
    const page = await tablet();
    await page.goto(road.at(`${unit}/jobs/top_up`));
    await page.locator('#job [name=volume]').fill('0.7');
    await page.locator('#job label.choice', { has: page.locator('[name=source]'), hasText: 'D-1' }).first().click();
    road.only = /top_up$|^\/tablet\//;
    road.state = 'dead';
    // Chromium itself says "full" to the write that puts a job in.
    await page.evaluate(() => {
      const add = IDBObjectStore.prototype.add;
      IDBObjectStore.prototype.add = function full(...words) {
        if (this.name !== 'outbox') return add.apply(this, words);
        throw new DOMException('full', 'QuotaExceededError');
      };
    });
    await page.getByRole('button', { name: 'Save job', exact: true }).click();
    await page.locator('#not-kept', { hasText: "storage is full" }).waitFor();
    assert.equal(await page.locator('#job [name=volume]').inputValue(), '0.7');
    const downloaded = page.waitForEvent('download');
    await page.getByRole('button', { name: 'Save to file' }).click();
    const { jobs } = JSON.parse(await textOf(await downloaded));
    assert.equal(new URLSearchParams(jobs.at(-1).fields).get('volume'), '0.7');
  });

  test('an enrolment that ended keeps every job and says whom to ask', async () => {
    const page = await tablet();
    await page.context().setOffline(true);
    await saveOne(page, '0.2');
    const cookies = (await page.context().cookies()).filter(({ name }) => name.endsWith('tablet'));
    await page.context().clearCookies({ name: cookies[0].name });
    await page.context().setOffline(false);
    await page.locator('#warnings', { hasText: 'Ask a manager to enrol this tablet' }).waitFor();
    const asked = bodiesSent();
    assert.equal((await rows(page))[0].state, 'waiting');
    await page.context().addCookies(cookies);
    assert.equal(bodiesSent(), asked, 'it is not asked again and again');
    await page.getByRole('button', { name: 'Send now' }).click();
    await rowsAre(page, ([row]) => row.state === 'sent');
  });

  test('twenty jobs on one tablet are a warning', async () => {
    const page = await tablet();
    await page.context().setOffline(true);
    await saveOne(page, '0.001');
    await copyRow(page, 19);
    await page.reload();
    await page.locator('#warnings', { hasText: '20 jobs are on this tablet alone' }).waitFor();
  });
});

describe('a browser that is killed after "Saved"', () => {
  test('has the job when it is opened again, and sends it', async () => {
    const rounds = process.env.LONG_RUNS ? 50 : 5;
    const cookies = await (await tablet()).context().cookies();
    const folder = mkdtempSync(join(tmpdir(), 'tablet-'));
    let browser;
    const open = async () => {
      browser = await openBrowser(folder, cookies);
      return browser.page;
    };
    try {
      const left = [];
      for (let round = 0; round < rounds; round += 1) {
        road.state = 'open';
        road.only = /./;
        const page = await open();
        await page.goto(road.at(`${unit}/jobs/top_up`));
        await isReady(page);
        await rowsAre(page, (found) => left.every((key) => found.some((row) => row.key === key && row.state === 'sent')), 20_000);
        road.only = /top_up$|^\/tablet\/jobs/;
        road.state = 'dead';
        await saveOne(page, '0.01');
        await page.locator('#sending', { hasText: 'Saved on this tablet' }).waitFor();
        left.push(new URL(page.url()).searchParams.get('saved'));
        await browser.kill();
      }
      road.state = 'open';
      const page = await open();
      await page.goto(road.at('/waiting'));
      const found = await rowsAre(page, (all) => all.length > 0 && all.every(({ state }) => state === 'sent'), 20_000);
      assert.deepEqual(found.map(({ key }) => key), left);
    } finally {
      await browser?.kill();
      rmSync(folder, { recursive: true, force: true, maxRetries: 20, retryDelay: 100 });
    }
  });
});

/** A browser with a folder of its own, which outlives it. */
async function openBrowser(folder, cookies) {
  rmSync(join(folder, 'DevToolsActivePort'), { force: true });
  const child = spawn(CHROMIUM, [...FLAGS, '--headless', '--remote-debugging-port=0', `--user-data-dir=${folder}`, 'about:blank'], { stdio: 'ignore', detached: true });
  const ended = new Promise((then) => child.once('exit', then));
  const port = join(folder, 'DevToolsActivePort');
  for (let n = 0; n < 200 && !(existsSync(port) && readFileSync(port, 'utf8').includes('\n')); n += 1) await new Promise((then) => setTimeout(then, 50));
  const browser = await chromium.connectOverCDP(`http://127.0.0.1:${readFileSync(port, 'utf8').split('\n')[0]}`);
  const [context] = browser.contexts();
  await context.addCookies(cookies);
  const page = await context.newPage();
  return {
    page,
    kill: async () => {
      if (!isThere(-child.pid)) return;
      // The whole group: Debian's chromium starts from a script.
      process.kill(-child.pid, 'SIGKILL');
      await ended;
      for (let n = 0; n < 250 && isThere(-child.pid); n += 1) await new Promise((then) => setTimeout(then, 20));
    },
  };
}

/** Whether a process, or one of a group, is left. */
function isThere(pid) {
  try {
    return process.kill(pid, 0);
  } catch {
    return false;
  }
}
