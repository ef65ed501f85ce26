// What is on record, read from beside the running server.

import { readFileSync, rmSync, mkdtempSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { run } from './program.mjs';

/** How often each key stands on record. */
export async function countByKey(server) {
  const folder = mkdtempSync(join(tmpdir(), 'record-'));
  const file = join(folder, 'record.jsonl');
  try {
    await run('export-record', '--data', server.data, '--out', file);
    const counts = new Map();
    for (const line of readFileSync(file, 'utf8').split('\n').filter(Boolean)) {
      const { key } = JSON.parse(line);
      if (key !== undefined) counts.set(key, (counts.get(key) ?? 0) + 1);
    }
    return counts;
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}
