// A server that is slow, becomes another version, or dies while a tablet sends: every job arrives, and arrives once.

import assert from 'node:assert/strict';
import { describe, test } from 'node:test';
import { setTimeout as pause } from 'node:timers/promises';
import { useBench } from './support/bench.mjs';
import { countByKey } from './support/record.mjs';
import { SENT, sendNow, useTablets } from './support/tablet.mjs';
import { copyRow, rows, rowsAre } from './support/tablet_storage.mjs';

const GIVES_UP_MS = 10_000;
const UNTOUCHED_MS = 2_000;
const TAKEN_OVER_WITHIN_MS = 30_000;
const ROUNDS = process.env.LONG_RUNS ? 50 : 5;
const JOBS_A_ROUND = 8;
/** Later than this after the job that it cuts, most of the others are through. */
const CUT_WITHIN_MS = 40;

const bench = useBench('own');
const tablets = useTablets(bench);

const onlyOnce = async (keys) => {
  const counts = await countByKey(bench.server);
  assert.deepEqual(keys.filter((key) => counts.get(key) !== 1).map((key) => `${key}: ${counts.get(key) ?? 0}`), [], 'lost or doubled');
};

test('a server slower than 10 s is given up on and asked again, and the job it had taken meanwhile is not doubled', async () => {
  const page = await tablets.open();
  const { road } = tablets;
  road.only = SENT;
  road.state = { slow_ms: GIVES_UP_MS + 3_000 };
  const begun = Date.now();
  const key = await tablets.save(page, '0.1');
  await rowsAre(page, ([row]) => row.state === 'waiting' && row.tries === 1, 20_000);
  const given_up_ms = Date.now() - begun;
  assert.ok(given_up_ms >= GIVES_UP_MS, `given up after ${given_up_ms} ms`);
  await page.getByText('The server was not reached yet.').waitFor();
  road.state = 'open';
  const [row] = await rowsAre(page, ([one]) => one.state === 'sent');
  assert.equal(row.tries, 2, 'it went by itself with the next try');
  await onlyOnce([key]);
});

test('a new version waits while a page is open, takes over at the sign-on page, and sends what the old one kept', async () => {
  const page = await tablets.open();
  const { road } = tablets;
  road.only = SENT;
  road.state = 'dead';
  const key = await tablets.save(page, '0.1');
  const scripts = () => page.evaluate(() => caches.open('files').then((files) => files.keys()).then((all) => all.map(({ url }) => new URL(url).pathname)));
  const waits = () => page.evaluate(() => navigator.serviceWorker.getRegistration().then(({ waiting }) => waiting !== null));
  const old_outbox = (await scripts()).find((name) => name.startsWith('/static/outbox-'));

  road.later_version = true;
  await page.evaluate(() => navigator.serviceWorker.getRegistration().then((worker) => worker.update()));
  while (!(await waits())) await page.waitForTimeout(50);
  // The new worker has its files, and the old one goes on with its own: a sheet still opens out of what was kept.
  const outboxes = (await scripts()).filter((name) => name.startsWith('/static/outbox-'));
  assert.equal(outboxes.length, 2, `${outboxes}`);
  await page.context().setOffline(true);
  await page.goto(road.at(`${tablets.unit}/jobs/top_up`));
  await page.locator('#stored', { hasText: 'No network' }).waitFor();
  assert.ok(await waits(), 'it does not take over under a form');
  await page.context().setOffline(false);

  await page.goto(road.at('/sign-on'));
  const begun = Date.now();
  const hasTakenOver = () =>
    page.evaluate(() => navigator.serviceWorker.getRegistration().then(({ waiting, active }) => !waiting && active?.state === 'activated'));
  while (Date.now() < begun + UNTOUCHED_MS) assert.ok(!(await hasTakenOver()), 'it does not take over while somebody may be signing on');
  while (!(await hasTakenOver())) {
    assert.ok(Date.now() < begun + TAKEN_OVER_WITHIN_MS, 'it takes over at the sign-on page');
    await page.waitForTimeout(50);
  }
  const [row] = await rows(page);
  assert.deepEqual([row.key, row.state], [key, 'waiting'], 'the job is still there');
  road.state = 'open';
  await page.goto(road.at('/waiting'));
  assert.ok(await page.evaluate((old) => !performance.getEntriesByType('resource').some(({ name }) => name.endsWith(old)), old_outbox), 'the page is of the new version');
  await rowsAre(page, ([one]) => one.state === 'sent');
  await onlyOnce([key]);
});

describe('a server that is killed while a tablet sends', () => {
  test(`${ROUNDS} times at a random moment: nothing is lost and nothing doubled`, async (t) => {
    const page = await tablets.open();
    const { road } = tablets;
    const keys = [];
    let cut = 0;
    for (let round = 0; round < ROUNDS; round += 1) {
      const straight = round % 2 === 1;
      const killed = killAt(road, straight ? 1 : 1 + Math.floor(Math.random() * JOBS_A_ROUND), Math.random() * CUT_WITHIN_MS);
      if (straight) keys.push(await tablets.save(page, '0.001'));
      else if (round === 0) {
        road.only = SENT;
        road.state = 'dead';
        keys.push(await tablets.save(page, '0.001'));
        keys.push(...(await copyRow(page, JOBS_A_ROUND - 1)));
        road.state = 'open';
        await sendNow(page);
      } else {
        await page.goto(road.at('/waiting'));
        keys.push(...(await copyRow(page, JOBS_A_ROUND)));
        await sendNow(page);
      }
      await killed;
      await pause(100);
      cut += (await rows(page)).filter(({ state }) => state !== 'sent').length;
      await bench.startAgain();
      road.leadTo(bench.server);
      await page.goto(road.at('/waiting'));
      await sendNow(page);
      await rowsAre(page, (found) => found.length >= keys.length && found.every(({ state }) => state === 'sent'), 30_000);
    }
    t.diagnostic(`${ROUNDS} rounds, ${keys.length} jobs, ${cut} of them cut off`);
    assert.ok(cut > 0, 'no kill came while something was under way');
    const found = await rows(page);
    assert.deepEqual(found.map(({ key }) => key).toSorted(), keys.toSorted());
    await onlyOnce(keys);
  });
});

/** Kills the server `after_ms` after the `count`th job from now came by. */
function killAt(road, count, after_ms) {
  return new Promise((then, or) => {
    let left = count;
    road.onpassed = (method, path) => {
      if (method !== 'POST' || !SENT.test(path)) return;
      left -= 1;
      if (left > 0) return;
      road.onpassed = undefined;
      pause(after_ms).then(() => bench.server.kill()).then(then, or);
    };
  });
}
