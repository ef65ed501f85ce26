// A shop of a file's own: a copy that can be written to, and the copy alone.

import assert from 'node:assert/strict';
import { randomUUID } from 'node:crypto';
import { describe, test } from 'node:test';
import { useBench } from './support/bench.mjs';
import { run } from './support/program.mjs';

const jobs = async (data) => (await run('show', 'unit', '3307', '--csv', '--data', data)).trim().split('\n').length;

describe('a copy of the demonstration', () => {
  const bench = useBench('own');

  test('takes a job, and no other copy has it', async () => {
    const before = await jobs(bench.server.data);
    const job = { key: randomUUID(), when: '2026-10-05 06:50', kind: 'top_up', unit: '3307', from: 'D-5', volume: '0.5 L', at_mark: 'yes', who: 'P1' };
    const answer = await fetch(bench.server.at('/api/v1/jobs'), {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body: JSON.stringify(job),
    });
    assert.ok([201, 202].includes(answer.status), `${answer.status}: ${await answer.text()}`);
    assert.equal(await jobs(bench.server.data), before + 1);
    assert.equal(await jobs(bench.sharedData), before);
  });
});

describe('an empty shop', () => {
  const bench = useBench('empty');

  test('is served with nothing on record', async () => {
    assert.equal((await fetch(bench.server.at('/readyz'))).status, 200);
    assert.equal((await run('show', 'record', '--csv', '--data', bench.server.data)).trim().split('\n').length, 1);
  });
});
