// Pictures for people to look at; never compared by a machine, never committed.

import { mkdirSync } from 'node:fs';
import { join } from 'node:path';

const MOST_HIGH_PX = 12_000;

/** Writes the whole page to SHOTS/NAME.png; without SHOTS nothing is written. */
export async function shot(page, name) {
  const folder = process.env.SHOTS;
  if (!folder) return;
  mkdirSync(folder, { recursive: true });
  // The driver's own way to picture a whole page forgets for that moment that the screen is touched.
  const screen = page.viewportSize();
  const height = await page.evaluate(() => document.documentElement.scrollHeight);
  await page.setViewportSize({ width: screen.width, height: Math.min(Math.max(height, screen.height), MOST_HIGH_PX) });
  await page.screenshot({ path: join(folder, `${name}.png`) });
  await page.setViewportSize(screen);
}
