// Pages about waste on paper: pages of the right size with their numbers, the head of a table on each page that it goes on
// to, nothing of the screen around it, nothing cut off.

import assert from 'node:assert/strict';
import { writeFileSync } from 'node:fs';
import { describe, test } from 'node:test';
import { useBench } from './support/bench.mjs';
import { choosePaper, PAPERS, pagesOf, wordsOf } from './support/paper.mjs';

/** So many rows fill more than three pages of either paper. The demonstration has fewer, so its rows are set again and again. */
const ROWS = 160;
/** What each row says once at least, and how often a page says it that has more than the end of the table. */
const DAY = /\b20\d\d-\d\d-\d\d\b/g;
const MASS = /\bkg\b/g;
// The last line of a head that breaks into several: its lower words stand beside one another.
const SHEETS = [
  { name: 'month', path: '/waste', head: /Month\s+Recovered/, row: /\b20\d\d-\d\d\b/g, least: 11 },
  { name: 'lines', path: '/waste/lines?month=2026-09&total=became_waste', head: /Entry\s+Vessel\s+(Volume|°C)/, row: /\b20\d\d-\d\d\b/g, least: 11 },
  { name: 'containers', path: '/waste/containers', head: /Container\s+Clock/, row: MASS, least: 5 },
  { name: 'year', path: '/waste/year', head: /Month\s+(that\s+)?counts/, row: MASS, least: 30 },
  { name: 'looks', path: '/waste/looks', head: /Day\s+Person\s+Container/, row: DAY, least: 4 },
  { name: 'determinations', path: '/waste/determinations', head: /\bOf\b.*\bSays\b/, row: DAY, least: 6 },
  { name: 'close', path: '/waste/close?month=2026-07', head: /Total\s+Volume\s+Mass|Container\s+Start\s+date|Vessel\s+At\s+first/, row: MASS, least: 11 },
];
/** The shops print on paper of their own. */
const YARDS = [{ yard: 'upper', as: 'manager' }, { yard: 'harbour', as: 'P11' }];

const repeatRows = (rows) => {
  const body = [...document.querySelectorAll('table tbody')].at(0);
  const own = [...body.rows];
  for (let n = own.length; n < rows; n += 1) body.append(own[n % own.length].cloneNode(true));
};

describe('waste on paper', () => {
  const bench = useBench('own');

  for (const [paper, { yard, as }] of Object.keys(PAPERS).flatMap((paper) => YARDS.map((of) => [paper, of]))) {
    test(`${paper}, ${yard} yard`, async (t) => {
      const page = await bench.open({ as });
      await choosePaper(page, bench.server, paper);
      for (const { name, path, head, row, least } of SHEETS) {
        await page.goto(bench.server.at(path));
        await page.evaluate(repeatRows, ROWS);
        await page.evaluate(() => document.fonts.ready.then(() => undefined));
        const pdf = await page.pdf({ preferCSSPageSize: true });
        if (process.env.SHOTS) writeFileSync(`${process.env.SHOTS}/waste-${name}-${yard}-${paper}.pdf`, pdf);

        const sizes = pagesOf(pdf);
        assert.ok(sizes.length >= 3, `${name}: ${sizes.length} pages`);
        for (const size of sizes) size.forEach((mm, at) => assert.ok(Math.abs(mm - PAPERS[paper][at]) < 0.5, `${name}: ${size}`));
        const pages = wordsOf(pdf);
        assert.equal(pages.length, sizes.length);
        pages.forEach((words, at) => assert.match(words, new RegExp(`Page ${at + 1} of ${sizes.length}`), name));
        const withRows = pages.filter((words) => (words.match(row) ?? []).length >= least);
        assert.ok(withRows.length >= 3, `${name}: rows on ${withRows.length} pages`);
        for (const words of withRows) assert.match(words, head, `${name}: the head of the table is repeated`);
        const all = pages.join('\n');
        assert.match(pages[0], /Local rules\s+and\s+licensed\s+practice\s+come\s+first/, name);
        assert.match(all, /Record\s+up\s+to\s+event\s+[\d,]+/, name);
        assert.match(all, /Made\s+2026-10-05/, name);
        assert.match(pages[0], /Rules:\s+us-fed-2026\s+from\s+20\d\d-\s*\d\d-\s*\d\d/, `${name}: its rules`);
        assert.match(pages[0], /[a-z]+:\s+\d+(,\s+[a-z ]+:\s+\d+)*;\s+all\s+shops\s+of\s+the\s+site/, `${name}: how many rows`);
        assert.doesNotMatch(all, /Sign off|Download CSV|Scan unit label|Look or write|\bPrint\b/, name);

        await page.emulateMedia({ media: 'print' });
        await page.setViewportSize({ width: Math.floor(((PAPERS[paper][0] - 30) * 96) / 25.4), height: 900 });
        const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
        assert.ok(wide <= 0, `${name}: ${wide} px lie beyond the paper`);
        await page.emulateMedia({ media: null });
        await page.setViewportSize({ width: 1280, height: 900 });
        t.diagnostic(`${name}: ${sizes.length} pages`);
      }
    });
  }
});
