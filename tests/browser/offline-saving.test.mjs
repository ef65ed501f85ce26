// A tablet whose network is gone, slow, or lies: every job that was saved arrives once, in order, and nothing typed is lost.

import assert from 'node:assert/strict';
import { after, describe, test } from 'node:test';
import { useBench } from './support/bench.mjs';
import { openRoad } from './support/road.mjs';
import { signOn, findPerson } from './support/signing_on.mjs';
import { hasDraft, isReady, keptBy, rows, rowsAre, textOf } from './support/tablet_storage.mjs';

const bench = useBench('own');
let road;
after(() => road?.end());

const UNIT = '3307';
let unit;

/** A tablet that has all it needs to go on without a network, on the page of a unit. */
async function tablet({ as = 'technician' } = {}) {
  road ??= await openRoad(bench.server);
  road.state = 'open';
  road.only = /./;
  const page = await bench.open({ screen: 'tablet', as, road });
  await page.goto(road.at(`/units?text=${UNIT.slice(0, -1)}`));
  unit ??= await page.getByRole('link', { name: UNIT }).first().getAttribute('href');
  await isReady(page);
  return page;
}

const form = (page) => page.goto(road.at(`${unit}/jobs/top_up`));

async function fill(page, volume) {
  await page.locator('#job [name=volume]').fill(volume);
  await page.locator('#job label.choice', { has: page.locator('[name=source]'), hasText: 'D-1' }).first().click();
}

const save = async (page) => {
  const load = page.waitForEvent('load', { timeout: 20_000 });
  await page.getByRole('button', { name: 'Save job', exact: true }).click();
  await load;
};

const stands = (page) => page.locator('[data-send-state]');
const allAre = (state) => (found) => found.length > 0 && found.every((row) => row.state === state);

/** What the server has of a job, or nothing. */
async function onRecord(page, key) {
  const answer = await page.request.get(bench.server.at(`/jobs/${key}`));
  return answer.status() === 200;
}

describe('Save on a tablet', () => {
  test('with a network it goes straight, and the head says so', async () => {
    const page = await tablet();
    await form(page);
    await fill(page, '0.4');
    await save(page);
    assert.match(new URL(page.url()).pathname, /^\/jobs\//);
    assert.match(await page.locator('main').innerText(), /Saved/);
    const [row] = await rowsAre(page, allAre('sent'));
    assert.ok(await onRecord(page, row.key));
    await stands(page).getByText('All sent').waitFor();
  });

  test('what must be put right comes back as always, and nothing is left in the outbox', async () => {
    const page = await tablet();
    await form(page);
    await page.locator('#job [name=volume]').fill('0');
    await save(page);
    assert.match(await page.title(), /^Not saved: /);
    assert.deepEqual(await rows(page), []);
  });

  test('without a network it waits; a page that is reloaded opens; back in reach it goes by itself, once', async () => {
    const page = await tablet();
    await form(page);
    await page.context().setOffline(true);
    await page.reload();
    await page.locator('#stored', { hasText: 'No network' }).waitFor();
    await fill(page, '0.3');
    await save(page);
    assert.equal(new URL(page.url()).pathname, '/waiting');
    await page.locator('#sending', { hasText: 'Saved on this tablet. Waiting to send.' }).waitFor();
    const [row] = await rowsAre(page, allAre('waiting'));
    assert.equal(await onRecord(page, row.key), false, 'nothing has reached the server');
    await stands(page).getByText('1 waiting to send').waitFor();
    await page.context().setOffline(false);
    await rowsAre(page, allAre('sent'));
    await page.locator('#sending', { hasText: /All sent at \d\d:\d\d/ }).waitFor();
    assert.ok(await onRecord(page, row.key));
  });

  test('a unit whose page was never opened can be named on the form', async () => {
    const page = await tablet();
    await page.context().setOffline(true);
    await page.goto(road.at('/offline/jobs/top_up'));
    await page.locator('#offline-unit').fill('no such unit');
    await fill(page, '0.2');
    await page.getByRole('button', { name: 'Save job', exact: true }).click();
    await page.locator('#not-yet', { hasText: 'is no unit this tablet knows' }).waitFor();
    await page.locator('#offline-unit').fill(UNIT);
    await page.waitForTimeout(450);
    await save(page);
    const [row] = await rowsAre(page, allAre('waiting'));
    assert.equal(row.address, `${unit}/jobs/top_up`);
    await page.context().setOffline(false);
    await rowsAre(page, allAre('sent'));
  });

  test('a unit that nobody knows yet keeps no job from being saved; its number goes along', async () => {
    const page = await tablet();
    await page.context().setOffline(true);
    await page.goto(road.at('/offline/jobs/top_up'));
    await page.locator('#offline-unit').fill('9977 new');
    await fill(page, '0.2');
    await page.getByRole('button', { name: 'Save job', exact: true }).click();
    const load = page.waitForEvent('load', { timeout: 20_000 });
    await page.getByRole('button', { name: 'Save it for "9977 new" all the same' }).click();
    await load;
    const [row] = await rowsAre(page, allAre('waiting'));
    assert.match(row.title, /9977 new/);
    await page.context().setOffline(false);
    await rowsAre(page, allAre('sent'));
    await page.goto(road.at(`/jobs/${row.key}`));
    const job = await page.locator('main').innerText();
    assert.match(job, /Unit as typed: 9977 new\./);
    assert.match(job, /no card|not known|without a card/i);
  });

  test('a server that hangs costs at most 3 s, a page that is no answer of ours is none, and an answer that was lost doubles nothing', async () => {
    for (const state of ['dead', 'hanging', 'sign-in', 'answer lost', { status: 503, headers: { 'retry-after': '2' } }]) {
      const page = await tablet();
      await form(page);
      await fill(page, '0.1');
      road.only = /\/jobs\/top_up$|^\/tablet\//;
      road.state = state;
      const begun = Date.now();
      await save(page);
      assert.ok(Date.now() - begun < 4_000, `${JSON.stringify(state)}: ${Date.now() - begun} ms`);
      const told = JSON.stringify(state);
      assert.equal(new URL(page.url()).pathname, '/waiting', told);
      const [row] = await rowsAre(page, allAre('waiting'));
      road.state = 'open';
      // It may have gone by itself a moment before, and the button with it.
      await page.locator('#send-now').evaluate((button) => button.click());
      await rowsAre(page, allAre('sent'));
      assert.ok(await onRecord(page, row.key), told);
      await page.context().close();
    }
  });

  test('a page that hangs is shown from what was kept within 3 s', async () => {
    const page = await tablet();
    await page.goto(road.at(unit));
    road.state = 'hanging';
    const begun = Date.now();
    await page.goto(road.at(unit));
    assert.ok(Date.now() - begun < 3_500, `${Date.now() - begun} ms`);
    await page.locator('#stored', { hasText: 'Figures as of' }).waitFor();
    road.state = 'open';
  });

  test('two touches of Save are one job', async () => {
    const page = await tablet();
    await form(page);
    await fill(page, '0.1');
    await page.context().setOffline(true);
    const load = page.waitForEvent('load');
    await page.locator('form#job').evaluate((it) => {
      const button = it.querySelector('button.main[type=submit]');
      it.requestSubmit(button);
      it.requestSubmit(button);
    });
    await load;
    assert.equal((await rows(page)).length, 1);
    await page.context().setOffline(false);
    await rowsAre(page, allAre('sent'));
  });
});

describe('Waiting to send', () => {
  test('a job that is returned lets the others go, and Fix opens it filled in, under a key of its own', async () => {
    const page = await tablet();
    await page.context().setOffline(true);
    for (const volume of ['0', '0.2']) {
      await form(page);
      await fill(page, volume);
      await save(page);
    }
    await page.context().setOffline(false);
    await rowsAre(page, ([bad, good]) => bad.state === 'returned' && good.state === 'sent');
    await stands(page).getByText('1 needs you').waitFor();
    const [bad] = await rows(page);
    await page.getByRole('button', { name: 'Fix' }).click();
    await page.waitForURL(/top_up/);
    await page.waitForFunction(() => document.querySelector('#job [name=volume]')?.value === '0');
    assert.notEqual(await page.locator('#job [name=key]').inputValue(), bad.key);
    await page.locator('#job [name=volume]').fill('0.15');
    await save(page);
    await rowsAre(page, (found) => allAre('sent')(found) && !found.some(({ key }) => key === bad.key));
  });

  test('a job that waits can be voided before it is sent, and both arrive', async () => {
    const page = await tablet();
    await page.context().setOffline(true);
    await form(page);
    await fill(page, '0.2');
    await save(page);
    await page.locator('summary', { hasText: 'Void' }).click();
    await page.getByRole('button', { name: 'Void: wrong volume' }).click();
    const [job] = await rowsAre(page, (found) => found.length === 2);
    await page.context().setOffline(false);
    await rowsAre(page, allAre('sent'));
    await page.goto(road.at(`/jobs/${job.key}`));
    await page.locator('h1.struck').waitFor();
    assert.match(await page.locator('main').innerText(), /Wrong volume/);
  });

  test('the file holds what waits, in the words it is sent in', async () => {
    const page = await tablet();
    await page.context().setOffline(true);
    await form(page);
    await fill(page, '0.2');
    await save(page);
    const [row] = await rowsAre(page, allAre('waiting'));
    const downloaded = page.waitForEvent('download');
    await page.getByRole('button', { name: 'Save to file' }).click();
    const text = await textOf(await downloaded);
    assert.equal(text, `{"format":1,"jobs":[${row.body}]}\n`);
    assert.equal(JSON.parse(text).jobs[0].key, row.key);
    await page.context().setOffline(false);
    await rowsAre(page, allAre('sent'));
  });

  test('signing off leaves what waits and the tablet where they are; it goes without anybody signed on', async () => {
    const page = await tablet();
    await form(page);
    await fill(page, '0.2');
    road.only = /top_up$|^\/tablet\//;
    road.state = 'dead';
    await save(page);
    await page.goto(road.at('/'));
    await Promise.all([page.waitForURL(/sign-on/), page.getByRole('button', { name: 'Sign off' }).click()]);
    assert.equal((await rows(page))[0].state, 'waiting');
    assert.ok(await page.locator('body').getAttribute('data-tablet'), 'it is still a tablet of the shop');
    assert.equal(await keptBy(page, 'signed_on'), undefined);
    road.state = 'open';
    await page.goto(road.at('/waiting'));
    await rowsAre(page, allAre('sent'));
    await signOn(page, { ...bench.server, address: road.address, at: (path) => road.at(path), lines: bench.server.lines }, findPerson(bench.server, 'technician'));
  });
});

describe('what is typed', () => {
  test('is offered again to the same person, under the same key', async () => {
    const page = await tablet({ as: 'lead_hand' });
    await form(page);
    await page.locator('#job [name=volume]').fill('1.7');
    const key = await page.locator('#job [name=key]').inputValue();
    while (!(await hasDraft(page, key))) await page.waitForTimeout(50);
    await page.reload();
    await page.locator('#draft').getByRole('button', { name: 'Go on with it' }).click();
    // The form is filled once its lock is had.
    await page.waitForFunction((was) => document.querySelector('#job [name=key]').value === was, key);
    assert.equal(await page.locator('#job [name=volume]').inputValue(), '1.7');
    const other = await page.context().newPage();
    await other.goto(road.at(`${unit}/jobs/top_up`));
    await other.getByText('This job is open in another tab.').waitFor();
    await other.close();
  });
});
