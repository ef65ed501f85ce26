// Photos of a job, taken on its page: made smaller in the browser, seen on the job. Without a network they are kept
// beside the job that waits, and follow it.

import assert from 'node:assert/strict';
import { describe, test } from 'node:test';
import { useBench } from './support/bench.mjs';
import { photograph } from './support/photo.mjs';
import { sendNow, useTablets } from './support/tablet.mjs';
import { keptBy, movePhoto, rowsAre } from './support/tablet_storage.mjs';

const LONGEST_SIDE = 2048;
/** A build for tests takes seconds to draw a photo anew. */
const SENT_WITHIN_MS = 60_000;

describe('photos of a job', () => {
  const bench = useBench('own');
  const tablets = useTablets(bench);

  test('a large one is made smaller before it is sent, and stands on the job with what it shows', async () => {
    const page = await tablets.open();
    await tablets.save(page, '0.3');
    assert.match(new URL(page.url()).pathname, /^\/jobs\//);
    const large = await photograph(page, { width: 3200, height: 2400 });
    await page.getByLabel('Photo', { exact: true }).setInputFiles(large);
    await page.getByText(`Ready to send: ${LONGEST_SIDE} × 1536 pixels`).waitFor();
    await page.getByLabel('What does it show?').fill('Upper hose, invented');
    await Promise.all([page.waitForEvent('load'), page.getByRole('button', { name: 'Add photo' }).tap()]);
    const [, , went] = tablets.road.passed.find(([method, path]) => method === 'POST' && path.endsWith('/photos'));
    assert.ok(went > 10_000 && went < large.buffer.length, `${went} bytes went out of ${large.buffer.length}`);
    const photo = page.getByRole('img', { name: /^Photo 1 of 1: Upper hose/ });
    await photo.scrollIntoViewIfNeeded();
    await page.waitForFunction(() => document.querySelector('figure.photo img').complete);
    assert.deepEqual(await photo.evaluate((img) => [img.naturalWidth, img.naturalHeight]), [LONGEST_SIDE, 1536]);
  });

  const input = (page) => page.locator('#waiting input[type=file]').first();
  const shown = async (page, job, count) => {
    await page.goto(tablets.road.at(`/jobs/${job}`));
    await page.getByRole('img', { name: `Photo 1 of ${count}` }).waitFor();
  };

  test('of a job that waits are kept, outlive a reload, and go after their job, each once', async () => {
    const page = await tablets.open();
    const { road } = tablets;
    await page.context().setOffline(true);
    const job = await tablets.save(page, '0.2');
    for (const count of [1, 2]) {
      await input(page).setInputFiles(await photograph(page, { width: 1200, height: 900 }));
      await page.getByText(count === 1 ? '1 photo goes with it' : '2 photos go with it').waitFor();
    }
    await page.reload();
    await page.getByText('2 photos go with it').waitFor();
    await page.locator('[data-send-state]').getByText('1 waiting to send, 2 photos').waitFor();
    // The first one's answer is lost, so it goes twice.
    road.only = /^\/tablet\/photos\//;
    road.state = 'answer lost';
    const from = road.passed.length;
    await page.context().setOffline(false);
    await rowsAre(page, ([row]) => row.state === 'sent');
    await page.locator('[data-send-state]').getByText('2 photos waiting to send').waitFor();
    while (road.count('POST', road.passed.slice(from).find(([, path]) => road.only.test(path))?.[1]) === 0) await page.waitForTimeout(50);
    road.state = 'open';
    await sendNow(page);
    await page.locator('[data-send-state]').getByText('All sent').waitFor({ timeout: SENT_WITHIN_MS });
    const posts = road.passed.slice(from).filter(([method, path]) => method === 'POST' && /^\/tablet\/(jobs|photos)/.test(path)).map(([, path]) => path.split('/')[2].split('?')[0]);
    assert.equal(posts[0], 'jobs', 'the job goes first');
    assert.ok(posts.filter((what) => what === 'photos').length >= 3, `${posts}`);
    // Each is proved by its own moment, not by its job's.
    const [{ saved_at }] = await rowsAre(page, ([row]) => row.key === job);
    const times = new Set(road.passed.slice(from).filter(([, path]) => road.only.test(path)).map(([, path]) => Number(new URL(path, road.address).searchParams.get('saved_at'))));
    assert.equal(times.size, 2);
    assert.ok([...times].every((at) => at > saved_at), `${[...times]} after ${saved_at}`);
    await shown(page, job, 2);
  });

  test('one that the server does not take holds up neither those after it nor jobs', async () => {
    const page = await tablets.open();
    await page.context().setOffline(true);
    const job = await tablets.save(page, '0.2');
    for (const count of [1, 2]) {
      await input(page).setInputFiles(await photograph(page, { width: 800, height: 600 }));
      await page.getByText(count === 1 ? '1 photo goes with it' : '2 photos go with it').waitFor();
    }
    // The first one belongs to a job that the server does not have.
    await movePhoto(page, crypto.randomUUID());
    await page.context().setOffline(false);
    await page.getByText('Photo not taken: the server does not know its job.').waitFor({ timeout: SENT_WITHIN_MS });
    await page.locator('[data-send-state]').getByText('1 photo waiting to send').waitFor({ timeout: SENT_WITHIN_MS });
    // Jobs are held up by nothing.
    while ((await keptBy(page, 'hold')) !== undefined) await page.waitForTimeout(50);
    await page.getByRole('button', { name: 'Take the photo off' }).click();
    await page.locator('[data-send-state]').getByText('All sent').waitFor();
    await shown(page, job, 1);
  });

  test('a storage that is full says so, and the job goes all the same', async () => {
    const page = await tablets.open();
    await page.context().setOffline(true);
    await tablets.save(page, '0.2');
    await page.evaluate(() => {
      const add = IDBObjectStore.prototype.add;
      IDBObjectStore.prototype.add = function full(...words) {
        if (this.name !== 'photo') return add.apply(this, words);
        throw new DOMException('full', 'QuotaExceededError');
      };
    });
    await input(page).setInputFiles(await photograph(page, { width: 800, height: 600 }));
    await page.getByText("The photo is not kept: this tablet's storage is full.").waitFor();
    await page.context().setOffline(false);
    await rowsAre(page, ([row]) => row.state === 'sent');
  });

  test('of a job that is put right go with the one that takes its place', async () => {
    const page = await tablets.open();
    await page.context().setOffline(true);
    await tablets.save(page, '0');
    await input(page).setInputFiles(await photograph(page, { width: 800, height: 600 }));
    await page.getByText('1 photo goes with it').waitFor();
    await page.context().setOffline(false);
    await rowsAre(page, ([row]) => row.state === 'returned');
    await page.getByRole('button', { name: 'Fix' }).click();
    await page.waitForFunction(() => document.querySelector('#job [name=volume]')?.value === '0');
    await page.locator('#job [name=volume]').fill('0.15');
    await Promise.all([page.waitForEvent('load'), page.getByRole('button', { name: 'Save job', exact: true }).click()]);
    const [row] = await rowsAre(page, ([found]) => found.state === 'sent');
    await page.locator('[data-send-state]').getByText('All sent').waitFor({ timeout: SENT_WITHIN_MS });
    await shown(page, row.key, 1);
  });
});
