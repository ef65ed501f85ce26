// Pictures for people to look at; never compared by a machine, never committed.

import { mkdirSync } from 'node:fs';
import { join } from 'node:path';

/** Writes the whole page to SHOTS/NAME.png; without SHOTS nothing is written. */
export async function shot(page, name) {
  const folder = process.env.SHOTS;
  if (!folder) return;
  mkdirSync(folder, { recursive: true });
  await page.screenshot({ path: join(folder, `${name}.png`), fullPage: true });
}
