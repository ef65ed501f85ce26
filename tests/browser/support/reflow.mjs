// Nobody should have to scroll sideways to read.

import assert from 'node:assert/strict';

export async function noSidewaysScroll(page) {
  const { wanted_px, there_px, wide } = await page.evaluate(() => {
    const there = document.documentElement.clientWidth;
    const scrolls = (element) => {
      const box = element.parentElement?.closest('*');
      for (let at = box; at && at !== document.body; at = at.parentElement) {
        if (['auto', 'scroll', 'hidden', 'clip'].includes(getComputedStyle(at).overflowX)) return true;
      }
      return false;
    };
    const wide = [...document.body.querySelectorAll('*')]
      .filter((element) => element.getBoundingClientRect().right > there + 0.5 && !scrolls(element))
      .map((element) => `<${element.localName} class="${element.getAttribute('class') ?? ''}"> to ${Math.round(element.getBoundingClientRect().right)} px`);
    return { wanted_px: document.documentElement.scrollWidth, there_px: there, wide };
  });
  assert.ok(wanted_px <= there_px, `${page.url()} is ${wanted_px} px wide on a screen of ${there_px} px: ${wide.slice(0, 8).join('; ')}`);
}
