// What a browser writes for paper: the pages of a PDF, what is drawn on them, and the words that another program reads.

import { execFileSync } from 'node:child_process';
import { inflateSync } from 'node:zlib';

const POINTS_A_MM = 72 / 25.4;
/** Sizes in mm (ISO 216 for A4, ANSI/ASME Y14.1 for Letter, both from memory). */
export const PAPERS = { A4: [210, 297], Letter: [215.9, 279.4] };

/** The shop prints on this paper from now on; whoever is on the page may set that. */
export async function choosePaper(page, server, paper) {
  await page.goto(server.at('/settings/shop'));
  await page.locator('label.choice', { hasText: paper }).click();
  await Promise.all([page.waitForEvent('load'), page.getByRole('button', { name: /^Save/ }).click()]);
}

/** The words on each page of a PDF, line by line as they lie, read by poppler. */
export const wordsOf = (pdf) => execFileSync('pdftotext', ['-layout', '-', '-'], { input: pdf, encoding: 'utf8' })
  .split('\f').slice(0, -1);

/** The size in mm of each page of a PDF. */
export const pagesOf = (pdf) => [...pdf.toString('latin1').matchAll(/\/MediaBox\s*\[0 0 ([\d.]+) ([\d.]+)\]/g)]
  .map(([, wide, high]) => [wide, high].map((points) => points / POINTS_A_MM));

/** The words of the drawing of each stream that is one. */
export const drawings = (pdf) => {
  const found = [];
  for (let at = pdf.indexOf('stream\n'); at >= 0; at = pdf.indexOf('stream\n', at + 7)) {
    if (pdf.subarray(at - 3, at).toString() === 'end') continue;
    try {
      found.push(inflateSync(pdf.subarray(at + 7), { finishFlush: 2 }).toString('latin1'));
    } catch { /* A font or picture in another packing. */ }
  }
  return found.filter((text) => / cm\n/.test(text));
};

/** Lengths in mm of flat bars, and sizes in mm of the letters, with the scale that they are drawn in (ISO 32000: cm, re, Tf; from memory). */
export function drawnIn(text) {
  const scales = [1];
  const [lines, fonts] = [[], []];
  for (const row of text.split('\n')) {
    const words = row.split(' ');
    const numbers = words.map(Number);
    const scale = scales.at(-1) / POINTS_A_MM;
    if (row === 'q') scales.push(scales.at(-1));
    else if (row === 'Q') scales.pop();
    else if (words.at(-1) === 'cm') scales.push(scales.pop() * numbers[0]);
    else if (words.at(-1) === 're' && numbers[3] <= 2) lines.push(numbers[2] * scale);
    else if (words.at(-1) === 'Tf') fonts.push(numbers[1] * scale);
  }
  return { lines, fonts };
}
