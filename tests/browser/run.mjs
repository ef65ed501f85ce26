// Runs the browser tests: node run.mjs [--all] [FILE...]. Every test file has a process of its own; all share one browser.

import { spawn } from 'node:child_process';
import { readdirSync } from 'node:fs';
import { basename } from 'node:path';
import { startAll } from './support/start.mjs';

const TESTS_AT_ONCE = 2;

const words = process.argv.slice(2);
const all = words.includes('--all') || Boolean(process.env.LONG_RUNS);
// Holds for a file as a whole too, and one file looks at half of the pages in three looks on two screens; in the long run
// each of them comes anew.
const ONE_TEST_WITHIN_MS = all ? 5_400_000 : 1_200_000;
const asked = words.filter((word) => word !== '--all').map((word) => basename(word));
const there = readdirSync(import.meta.dirname).filter((name) => name.endsWith('.test.mjs')).sort();
const unknown = asked.filter((name) => !there.includes(name));
if (unknown.length > 0) {
  console.error(`no such test: ${unknown.join(', ')}; there are ${there.join(', ')}`);
  process.exit(2);
}

const { notes, end } = await startAll();
process.exitCode = await new Promise((resolve) => {
  const flags = ['--test', `--test-concurrency=${TESTS_AT_ONCE}`, `--test-timeout=${ONE_TEST_WITHIN_MS}`, '--test-reporter=spec'];
  const tests = spawn(process.execPath, [...flags, ...(asked.length > 0 ? asked : there)], {
    cwd: import.meta.dirname,
    stdio: 'inherit',
    env: { ...process.env, BROWSER_TEST_NOTES: notes, ...(all ? { LONG_RUNS: '1' } : {}) },
  });
  for (const signal of ['SIGINT', 'SIGTERM']) process.once(signal, () => tests.kill(signal));
  tests.once('error', (cause) => {
    console.error(String(cause));
    resolve(1);
  });
  tests.once('exit', (code) => resolve(code ?? 1));
});
await end();
