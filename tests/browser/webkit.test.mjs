// The tablet's storage and sending in another engine, one that wakes no worker: what waits goes out when a page is opened.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { setTimeout as pause } from 'node:timers/promises';
import { useBench } from './support/bench.mjs';
import { countByKey } from './support/record.mjs';
import { SENT, useTablets } from './support/tablet.mjs';
import { openWebKit } from './support/webkit.mjs';

const LONG_ENOUGH_MS = 4_000;
const skip = process.env.LONG_RUNS ? false : 'only in tests/run --all';
const bench = useBench('own');
const tablets = useTablets(bench);

test('WebKit: a job waits while the server is away, goes when a page is opened next, and is on record once', { skip }, async () => {
  const page = await tablets.open();
  const { road, unit } = tablets;
  const webkit = await openWebKit();
  try {
    await webkit.goto(road.at('/help'));
    await webkit.addCookies(await page.context().cookies());
    await webkit.goto(road.at(`${unit}/jobs/top_up`));
    assert.ok(!(await webkit.evaluate(() => 'SyncManager' in window)), 'this engine is here because it has no background sync');
    await webkit.waitFor('the tablet has what it needs', async () => Boolean(navigator.serviceWorker.controller && (await caches.match('/waiting'))));
    road.only = SENT;
    road.state = 'dead';
    await webkit.evaluate(() => {
      const form = document.getElementById('job');
      form.querySelector('[name=volume]').value = '0.1';
      [...form.querySelectorAll('label.choice')].find((label) => label.querySelector('[name=source]') && label.textContent.includes('D-1')).click();
      form.querySelector('button.main[type=submit]').click();
    });
    await webkit.waitFor('it says where the job is', () => document.getElementById('sending')?.textContent.includes('Saved on this tablet. Waiting to send.'));
    assert.match(await webkit.evaluate(() => document.getElementById('warnings').textContent), /Keep this page open until it says All sent/);
    const key = await webkit.evaluate(() => new URLSearchParams(location.search).get('saved'));
    await webkit.goto('about:blank');
    road.state = 'open';
    await pause(LONG_ENOUGH_MS);
    assert.equal((await countByKey(bench.server)).get(key), undefined, 'nothing goes without a page');
    await webkit.goto(road.at('/'));
    await webkit.waitFor('all is sent', () => document.querySelector('[data-send-state]')?.textContent === 'All sent');
    assert.equal((await countByKey(bench.server)).get(key), 1);
  } finally {
    await webkit.end();
  }
});
