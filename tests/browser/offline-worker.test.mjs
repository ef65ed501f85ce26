// What goes on without a page of ours, and what is left when a tablet's storage is cleared.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { setTimeout as pause } from 'node:timers/promises';
import { useBench } from './support/bench.mjs';
import { countByKey } from './support/record.mjs';
import { useTablets } from './support/tablet.mjs';
import { rowsAre } from './support/tablet_storage.mjs';

const SENT_WITHIN_MS = 20_000;
/** The browser wakes the worker by itself within this, if it noticed that the network is back. */
const WAKES_WITHIN_MS = 3_000;
const bench = useBench('own');
const tablets = useTablets(bench);

/** Whether a job is on record before long. */
async function arrives(page, key, within_ms) {
  const until = Date.now() + within_ms;
  while (Date.now() < until) {
    if ((await page.request.get(bench.server.at(`/jobs/${key}`))).status() === 200) return true;
    await pause(50);
  }
  return false;
}

/** Wakes the worker of an address as the browser does when it has noticed that the network is back. */
async function wake(page, address) {
  const browser = await page.context().newCDPSession(page);
  const registration = new Promise((then) => browser.on('ServiceWorker.workerRegistrationUpdated', ({ registrations }) => {
    const ours = registrations.find(({ scopeURL, isDeleted }) => scopeURL === `${address}/` && !isDeleted);
    if (ours) then(ours.registrationId);
  }));
  await browser.send('ServiceWorker.enable');
  await browser.send('ServiceWorker.dispatchSyncEvent', { origin: address, registrationId: await registration, tag: 'outbox', lastChance: false });
}

test('with every page of ours closed, the worker sends what waits when the network is back', async (t) => {
  const page = await tablets.open();
  const { road } = tablets;
  const context = page.context();
  const other = await context.newPage();
  await context.setOffline(true);
  const key = await tablets.save(page, '0.2');
  const tags = await page.evaluate(() => navigator.serviceWorker.ready.then(({ sync }) => sync.getTags()));
  assert.deepEqual(tags, ['outbox'], 'the worker is to be woken');
  // The page itself has tried and failed.
  await rowsAre(page, ([row]) => row.tries > 0);
  // Its page is gone before the network is back; nothing but the browser can begin to send.
  await page.close();
  await context.setOffline(false);
  // Offline is put on here tab by tab, so the browser does not always notice its end; its call is then made for it.
  const by_itself = await arrives(other, key, WAKES_WITHIN_MS);
  if (!by_itself) await wake(other, road.address);
  assert.ok(await arrives(other, key, SENT_WITHIN_MS), 'the worker did not send it');
  t.diagnostic(by_itself ? 'the browser woke the worker by itself' : 'the worker was woken through the developer interface');
  const counts = await countByKey(bench.server);
  assert.equal(counts.get(key), 1);
  await other.goto(road.at('/waiting'));
  await rowsAre(other, ([row]) => row.state === 'sent');
  await other.close();
});

test('a tablet whose storage was cleared: the list of tablets says how many jobs it lost', async () => {
  const page = await tablets.open();
  const { road } = tablets;
  await page.context().setOffline(true);
  await tablets.save(page, '0');
  await tablets.save(page, '0');
  await page.context().setOffline(false);
  await rowsAre(page, (found) => found.length === 2 && found.every(({ state }) => state === 'returned'));
  const manager = await bench.open({ as: 'manager' });
  const told = async (words) => {
    const until = Date.now() + SENT_WITHIN_MS;
    for (;;) {
      await manager.goto(bench.server.at('/tablets'));
      if ((await manager.locator('main').innerText()).includes(words)) return;
      assert.ok(Date.now() < until, `never "${words}":\n${await manager.locator('main').innerText()}`);
      await pause(200);
    }
  };
  await told('2 jobs wait to be sent');
  const browser = await page.context().newCDPSession(page);
  await browser.send('Storage.clearDataForOrigin', { origin: road.address, storageTypes: 'indexeddb,cache_storage,service_workers,local_storage' });
  await page.goto(road.at('/'));
  await told('This tablet lost 2 jobs');
});
