// What a visit costs on a slow network: the pages people enter by.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { PAGES } from './pages.mjs';
import { useBench } from './support/bench.mjs';
import { weigh } from './support/weight.mjs';

const FIRST_BYTES = 120_000;
const AFTER_BYTES = 15_000;
const ENTRIES = ['sign-on', 'board'];

const bench = useBench('shared');

for (const name of ENTRIES) {
  test(`${name} is light on the first visit and lighter after`, async (t) => {
    const entry = PAGES.find((page) => page.name === name);
    const page = await bench.open({ as: entry.as });
    const address = bench.server.at(entry.path);
    const first = await weigh(page, address);
    const after = await weigh(page, address);
    t.diagnostic(`${name}: ${first.bytes} bytes, then ${after.bytes}`);
    assert.ok(first.bytes > 0 && first.bytes < FIRST_BYTES, JSON.stringify(first));
    assert.ok(after.bytes > 0 && after.bytes < AFTER_BYTES, JSON.stringify(after));
  });
}
