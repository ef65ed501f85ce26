// Words that nobody in a shop should have to read.

import assert from 'node:assert/strict';

const AVOIDED = /\b(sync\w*|queue\w*|pending|submit\w*|invalid|abort\w*|kill\w*|delete\w*|dashboard|assets?|transactions?|undefined|NaN|null)\b/gi;

export async function wordsArePlain(page) {
  const text = await page.evaluate(() => `${document.title}\n${document.body.innerText}`);
  assert.deepEqual(text.match(AVOIDED) ?? [], [], `words to avoid on ${page.url()}`);
}
