// What a machine can see of accessibility, by axe-core.

import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';

const SOURCE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const OPTIONS = {
  runOnly: { type: 'tag', values: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] },
  // 7:1 for all text.
  rules: { 'color-contrast-enhanced': { enabled: true } },
  resultTypes: ['violations', 'incomplete'],
};

/** The rules that look at colours: all that can change between two looks of one page. */
const COLOURS = {
  runOnly: { type: 'rule', values: ['color-contrast', 'color-contrast-enhanced', 'link-in-text-block'] },
  resultTypes: OPTIONS.resultTypes,
};

/** No rule is broken. Gives what the machine could not judge, as { rule, targets }. */
export async function axe(page, { only_colours = false } = {}) {
  // Not a script tag: the pages' own policy refuses those, and rightly.
  if (!(await page.evaluate(() => 'axe' in window))) await page.evaluate(SOURCE);
  const { violations, incomplete } = await page.evaluate((options) => globalThis.axe.run(document, options), only_colours ? COLOURS : OPTIONS);
  assert.ok(violations.length === 0, `${page.url()}\n${violations.map(told).join('\n')}`);
  return incomplete.map(({ id, nodes }) => ({ rule: id, targets: nodes.map((node) => node.target.join(' ')) }));
}

function told({ id, help, nodes }) {
  const places = nodes.map((node) => `    ${node.target.join(' ')}: ${node.html.slice(0, 160)}\n      ${node.failureSummary.replaceAll('\n', '\n      ')}`);
  return `  ${id}: ${help}\n${places.join('\n')}`;
}
