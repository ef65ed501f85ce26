// A label is read by the camera of a tablet; where there is none, or it may not be used, the number is typed.

import assert from 'node:assert/strict';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, describe, test } from 'node:test';
import { chromium } from 'playwright-core';
import { useBench } from './support/bench.mjs';
import { filmOf, pictureOfLabel } from './support/camera.mjs';
import { SCREENS } from './support/screen.mjs';
import { CHROMIUM, FLAGS } from './support/start.mjs';
import { noConsoleErrors, noThirdParty, watch } from './support/watch.mjs';

const READ_WITHIN_MS = 30_000;

describe('Scan unit label', () => {
  const bench = useBench('shared');
  const folder = mkdtempSync(join(tmpdir(), 'camera-'));
  const film = join(folder, 'label.y4m');
  let browser, label, cookies;

  before(async () => {
    const page = await bench.open({ as: 'lead_hand' });
    label = await pictureOfLabel(page, bench.server, '33');
    await filmOf(page, label.png, film);
    cookies = await (await bench.open({ screen: 'tablet', as: 'technician' })).context().cookies();
    const camera = ['--use-fake-device-for-media-stream', `--use-file-for-fake-video-capture=${film}`];
    browser = await chromium.launch({ executablePath: CHROMIUM, args: [...FLAGS, ...camera] });
  });
  after(async () => {
    await browser?.close();
    rmSync(folder, { recursive: true, force: true });
  });

  const board = async (permissions) => {
    const context = await browser.newContext({ ...SCREENS.tablet, permissions, serviceWorkers: 'block' });
    await context.addCookies(cookies);
    const page = await context.newPage();
    watch(page, bench.server.address);
    await page.goto(bench.server.at('/'));
    return page;
  };
  const typedStillFinds = async (page) => {
    await page.getByLabel('Find unit').fill(label.number);
    await Promise.all([page.waitForEvent('load'), page.getByRole('button', { name: 'Find unit' }).tap()]);
    assert.match(await page.locator('main').innerText(), new RegExp(label.number));
  };

  test('the label of the product before the camera leads to its unit, by the decoder that comes with the pages', async () => {
    const page = await board(['camera']);
    assert.ok(await page.evaluate(() => !('BarcodeDetector' in window)), 'this browser reads no codes itself');
    const asked = [];
    page.on('request', (request) => asked.push(new URL(request.url()).pathname));
    await page.getByRole('button', { name: 'Scan unit label' }).tap();
    await page.waitForURL(/\/units\//, { timeout: READ_WITHIN_MS });
    assert.match(await page.getByRole('heading', { level: 1 }).innerText(), new RegExp(`\\b${label.number}\\b`));
    assert.ok(asked.includes(label.address), 'the code on the label was followed');
    assert.ok(asked.some((path) => /^\/static\/jsqr-/.test(path)));
    noThirdParty(page);
    noConsoleErrors(page);
    await page.context().close();
  });

  test('a camera that may not be used says what to do, and the number is typed', async () => {
    const page = await board([]);
    await page.getByRole('button', { name: 'Scan unit label' }).tap();
    await page.getByText('The camera is not allowed on this page. Allow it in the browser').waitFor();
    await page.getByRole('button', { name: 'Stop scanning' }).tap();
    await typedStillFinds(page);
    noConsoleErrors(page);
    await page.context().close();
  });

  test('while the camera looks, the number can be typed as well', async () => {
    const page = await board(['camera']);
    await page.evaluate(() => {
      // It films, but nothing that is read.
      navigator.mediaDevices.getUserMedia = async () => document.createElement('canvas').captureStream();
    });
    await page.getByRole('button', { name: 'Scan unit label' }).tap();
    await page.getByText('Hold the camera on the label of the unit.').waitFor();
    await typedStillFinds(page);
    await page.context().close();
  });
});
