// Unit labels on paper: so many pages of the right size, the line for the ruler 50 mm long, digits at least 20 mm high.

import assert from 'node:assert/strict';
import { writeFileSync } from 'node:fs';
import { describe, test } from 'node:test';
import { inflateSync } from 'node:zlib';
import { useBench } from './support/bench.mjs';

const POINTS_A_MM = 72 / 25.4;
/** Sizes in mm (ISO 216 for A4, ANSI/ASME Y14.1 for Letter, both from memory), and how many labels there is room for. */
const PAPERS = { A4: { size: [210, 297], labels: 6 }, Letter: { size: [215.9, 279.4], labels: 6 } };
const LINE_MM = 50;
const LEAST_DIGIT_MM = 20;
const LABELS = 15;

/** The size in mm of each page of a PDF. */
const pagesOf = (pdf) => [...pdf.toString('latin1').matchAll(/\/MediaBox\s*\[0 0 ([\d.]+) ([\d.]+)\]/g)]
  .map(([, wide, high]) => [wide, high].map((points) => points / POINTS_A_MM));

/** The words of the drawing of each stream that is one. */
const drawings = (pdf) => {
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
function drawnIn(text) {
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

describe('unit labels on paper', () => {
  const bench = useBench('own');

  for (const paper of ['A4', 'Letter']) {
    test(paper, async (t) => {
      const page = await bench.open({ as: 'manager' });
      await page.goto(bench.server.at('/settings/shop'));
      await page.locator('label.choice', { hasText: paper }).click();
      await Promise.all([page.waitForEvent('load'), page.getByRole('button', { name: /^Save/ }).click()]);
      await page.goto(bench.server.at('/labels'));
      for (let n = 0; n < LABELS; n += 1) await page.locator('label:has(input[name="unit[]"])').nth(n).click();
      await Promise.all([page.waitForEvent('load'), page.getByRole('button', { name: 'Show labels' }).click()]);
      await page.evaluate(() => document.fonts.ready.then(() => undefined));
      const pdf = await page.pdf({ preferCSSPageSize: true });
      if (process.env.SHOTS) writeFileSync(`${process.env.SHOTS}/labels-${paper}.pdf`, pdf);

      const pages = pagesOf(pdf);
      assert.equal(pages.length, Math.ceil(LABELS / PAPERS[paper].labels));
      for (const size of pages) size.forEach((mm, at) => assert.ok(Math.abs(mm - PAPERS[paper].size[at]) < 0.5, `${size}`));

      // As it is drawn in the file: a browser that makes a page smaller to fit the paper shows here and nowhere else.
      const { lines, fonts } = drawnIn(drawings(pdf)[0]);
      const ratio = await page.evaluate(() => {
        const pen = document.createElement('canvas').getContext('2d');
        const { fontFamily, fontWeight } = getComputedStyle(document.querySelector('.labels strong'));
        pen.font = `${fontWeight} 1000px ${fontFamily}`;
        const { actualBoundingBoxAscent, actualBoundingBoxDescent } = pen.measureText('0');
        return (actualBoundingBoxAscent + actualBoundingBoxDescent) / 1000;
      });
      const line = lines.reduce((one, other) => (Math.abs(one - LINE_MM) < Math.abs(other - LINE_MM) ? one : other), 0);
      const digit = Math.max(...fonts) * ratio;
      t.diagnostic(`${pages.length} pages, line ${line.toFixed(2)} mm, digits ${digit.toFixed(2)} mm`);
      assert.ok(Math.abs(line - LINE_MM) < 0.2, `the line is ${line} mm long`);
      assert.ok(digit >= LEAST_DIGIT_MM, `digits are ${digit} mm high`);
    });
  }
});
