// Pictures of every page on every screen, to look at: SHOTS=folder node shots.mjs [PART OF A NAME...] [--looks]
// With --looks in all looks, otherwise by day.

import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { PAGES, visit } from './pages.mjs';
import { Bench } from './support/bench.mjs';
import { LOOKS, SCREENS } from './support/screen.mjs';
import { shot } from './support/shot.mjs';
import { startAll } from './support/start.mjs';

process.env.SHOTS ??= join(import.meta.dirname, 'shots');
mkdirSync(process.env.SHOTS, { recursive: true });
const words = process.argv.slice(2);
const looks = words.includes('--looks') ? LOOKS : ['day'];
const parts = words.filter((word) => word !== '--looks');
const pages = PAGES.filter(({ name }) => parts.length === 0 || parts.some((part) => name.includes(part)));

if (pages.length === 0) {
  console.error(`no page has ${parts.join(' or ')} in its name; there are ${PAGES.map(({ name }) => name).join(', ')}`);
  process.exit(2);
}

const { notes, end } = await startAll();
process.env.BROWSER_TEST_NOTES = notes;
const bench = new Bench();
const failed = [];
try {
  await bench.start('shared');
  for (const entry of pages) {
    for (const look of looks) {
      for (const screen of Object.keys(SCREENS)) await picture(entry, screen, look);
    }
  }
} finally {
  await bench.end();
  await end();
}
console.log(`${pages.length} pages in ${process.env.SHOTS}`);
for (const line of failed) console.error(line);
process.exitCode = failed.length === 0 ? 0 : 1;

/** One page that cannot be reached must not keep back the others. */
async function picture(entry, screen, look) {
  try {
    const page = await bench.open({ screen, look, as: entry.as });
    await visit(page, bench.server, entry);
    await shot(page, `${entry.name}-${SCREENS[screen].viewport.width}-${look}`);
    await page.context().close();
  } catch (cause) {
    failed.push(`${entry.name} on ${screen}: ${cause.message.split('\n')[0]}`);
  }
}
