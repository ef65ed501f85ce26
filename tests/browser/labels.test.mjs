// Labels on paper: so many pages of the right size, the line for the ruler 50 mm long, digits and words as high as meant.

import assert from 'node:assert/strict';
import { writeFileSync } from 'node:fs';
import { describe, test } from 'node:test';
import { useBench } from './support/bench.mjs';
import { choosePaper, drawings, drawnIn, PAPERS, pagesOf } from './support/paper.mjs';

/** How many labels of units there is room for. */
const ROOM = { A4: 6, Letter: 6 };
/** The size of the letters of a container's words, and the widths of its two labels. */
const WORDS_MM = 8;
const WIDTHS_MM = [180, 88];
const LINE_MM = 50;
const LEAST_DIGIT_MM = 20;
const LABELS = 15;

describe('unit labels on paper', () => {
  const bench = useBench('own');

  for (const paper of ['A4', 'Letter']) {
    test(paper, async (t) => {
      const page = await bench.open({ as: 'manager' });
      await choosePaper(page, bench.server, paper);
      await page.goto(bench.server.at('/labels'));
      for (let n = 0; n < LABELS; n += 1) await page.locator('label:has(input[name="unit[]"])').nth(n).click();
      await Promise.all([page.waitForEvent('load'), page.getByRole('button', { name: 'Show labels' }).click()]);
      await page.evaluate(() => document.fonts.ready.then(() => undefined));
      const pdf = await page.pdf({ preferCSSPageSize: true });
      if (process.env.SHOTS) writeFileSync(`${process.env.SHOTS}/labels-${paper}.pdf`, pdf);

      const pages = pagesOf(pdf);
      assert.equal(pages.length, Math.ceil(LABELS / ROOM[paper]));
      for (const size of pages) size.forEach((mm, at) => assert.ok(Math.abs(mm - PAPERS[paper][at]) < 0.5, `${size}`));

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

  test('a container, for a drum and for a small cart', async (t) => {
    const page = await bench.open({ as: 'manager' });
    await choosePaper(page, bench.server, 'A4');
    await page.goto(bench.server.at('/vessels'));
    await page.getByRole('link', { name: 'D-8', exact: true }).first().click();
    await page.getByRole('link', { name: /^Print a label/ }).click();
    await page.evaluate(() => document.fonts.ready.then(() => undefined));
    const pdf = await page.pdf({ preferCSSPageSize: true });
    if (process.env.SHOTS) writeFileSync(`${process.env.SHOTS}/label-container.pdf`, pdf);
    assert.equal(pagesOf(pdf).length, 1);
    const { lines, fonts } = drawnIn(drawings(pdf)[0]);
    const line = lines.reduce((one, other) => (Math.abs(one - LINE_MM) < Math.abs(other - LINE_MM) ? one : other), 0);
    assert.ok(Math.abs(line - LINE_MM) < 0.2, `the line is ${line} mm long`);
    assert.ok(Math.abs(Math.max(...fonts) - WORDS_MM) < 0.1, `letters of ${fonts} mm`);
    // Nothing is made smaller on the way, so what the style says in mm is what is printed.
    await page.emulateMedia({ media: 'print' });
    const widths = await page.evaluate(() => [...document.querySelectorAll('.labels > li')]
      .map((label) => (label.getBoundingClientRect().width * 25.4) / 96));
    t.diagnostic(`line ${line.toFixed(2)} mm, letters ${Math.max(...fonts).toFixed(2)} mm, labels ${widths.map((mm) => mm.toFixed(1))} mm`);
    widths.forEach((mm, at) => assert.ok(Math.abs(mm - WIDTHS_MM[at]) < 0.5, `${mm} mm`));
    const cut = await page.evaluate(() => [...document.querySelectorAll('.labels > li')]
      .some((label) => label.scrollHeight > label.clientHeight + 1));
    assert.ok(!cut, 'a label grows with its words');
  });
});
