// What somebody's words would be if a page took them for markup.

import assert from 'node:assert/strict';

/** No element and no attribute stands on the page that none of ours has. */
export async function nothingBroughtAlong(page) {
  assert.deepEqual(await page.evaluate(strangers), [], page.url());
}

/** Runs in the page. */
function strangers() {
  const found = [];
  for (const element of document.querySelectorAll('*')) {
    const name = element.localName;
    if (['iframe', 'base', 'object', 'embed', 'math', 'style'].includes(name)) found.push(name);
    if (name === 'script' && !/^\/static\//.test(element.getAttribute('src') ?? '')) found.push('script');
    if (name === 'meta' && element.httpEquiv) found.push(element.httpEquiv);
    if (name === 'img') found.push('img');
    for (const { name: attribute, value } of element.attributes) {
      if (attribute.startsWith('on')) found.push(attribute);
      if (['href', 'src', 'action', 'formaction'].includes(attribute) && !/^[/#?]($|[^/])/.test(value)) found.push(`${attribute} ${value}`);
    }
  }
  return found;
}
