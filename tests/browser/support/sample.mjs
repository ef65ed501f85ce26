// A tiny server of made-up pages, to see that the checks find what they are there to find.

import { createServer } from 'node:http';

/** `pages` holds the HTML of each path. Has what the bench needs of a server. */
export async function serveSamples(pages) {
  const server = createServer((request, answer) => {
    const text = pages[new URL(request.url, 'http://here').pathname];
    answer.writeHead(text === undefined ? 404 : 200, { 'content-type': 'text/html; charset=utf-8', 'cache-control': 'max-age=600' });
    answer.end(text ?? samplePage('Nothing here'));
  });
  await new Promise((resolve) => server.listen(0, '127.0.0.1', resolve));
  const address = `http://127.0.0.1:${server.address().port}`;
  return {
    address,
    lines: [],
    at: (path) => new URL(path, address).href,
    stop: () => new Promise((resolve) => {
      server.close(resolve);
      server.closeAllConnections();
    }),
  };
}

/** A sound page around some content. */
export function samplePage(content, { style = '', title = 'Sample' } = {}) {
  return `<!doctype html><html lang="en"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1"><title>${title}</title><link rel="icon" href="data:,">
<style>:root { --mm: 5.2px } :focus { outline: 4px solid #214791 } .skip { position: absolute; top: -99px } .skip:focus { top: 0 }
.skip, main a { display: inline-flex; min-height: 90px; min-width: 90px } ${style}</style></head>
<body><a class="skip" href="#main">Go to the content</a><main id="main"><h1>Sample</h1>${content}</main></body></html>`;
}
