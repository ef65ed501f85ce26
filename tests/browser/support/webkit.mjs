// Another engine: Debian's WebKitGTK, driven over the WebDriver standard, on a screen of its own that nobody sees.

import { spawn } from 'node:child_process';
import { createServer } from 'node:net';
import { once } from 'node:events';
import { setTimeout as pause } from 'node:timers/promises';

const BROWSER = '/usr/lib/x86_64-linux-gnu/webkit2gtk-4.1/MiniBrowser';
const UP_WITHIN_MS = 20_000;
const FOUND_WITHIN_MS = 20_000;

/** Starts it. Whoever has no such engine is told what to install. */
export async function openWebKit() {
  const running = [];
  const end = () => {
    for (const child of running.splice(0).reverse()) child.kill('SIGKILL');
  };
  try {
    const display = await startScreen(running);
    const port = await freePort();
    const driver = await begin(running, 'WebKitWebDriver', 'webkit2gtk-driver', [`--port=${port}`], { env: { ...process.env, DISPLAY: display } });
    const at = `http://127.0.0.1:${port}`;
    await until(UP_WITHIN_MS, 'WebKitWebDriver answers', async () => (await fetch(`${at}/status`).catch(() => null))?.ok);
    const capabilities = { 'webkitgtk:browserOptions': { binary: BROWSER, args: ['--automation'] } };
    const { sessionId } = await ask(`${at}/session`, 'POST', { capabilities: { alwaysMatch: capabilities } });
    return new WebKit(`${at}/session/${sessionId}`, end, driver);
  } catch (cause) {
    end();
    throw cause;
  }
}

class WebKit {
  #at;
  #end;

  constructor(at, end) {
    this.#at = at;
    this.#end = end;
  }

  goto(url) {
    return ask(`${this.#at}/url`, 'POST', { url });
  }

  /** Of the site that is open. */
  async addCookies(cookies) {
    for (const { name, value, path, httpOnly } of cookies) await ask(`${this.#at}/cookie`, 'POST', { cookie: { name, value, path, httpOnly } });
  }

  /** Runs a function in the page, with one argument that JSON can hold; waits for a promise it gives. */
  evaluate(work, given = null) {
    const script = `const then = arguments[arguments.length - 1]; Promise.resolve((${work})(arguments[0])).then((came) => then({ came }), (cause) => then({ failed: String(cause) }));`;
    return ask(`${this.#at}/execute/async`, 'POST', { script, args: [given] }).then(({ came, failed }) => {
      if (failed) throw new Error(`in the page: ${failed}`);
      return came;
    });
  }

  /** Waits until a function in the page gives something true, and gives that. */
  async waitFor(what, work, given) {
    let found;
    await until(FOUND_WITHIN_MS, what, async () => (found = await this.evaluate(work, given).catch(() => null)));
    return found;
  }

  async end() {
    await ask(this.#at, 'DELETE').catch(() => {});
    this.#end();
  }
}

/** A virtual screen; gives its name. */
async function startScreen(running) {
  const screen = await begin(running, 'Xvfb', 'xvfb', ['-displayfd', '3', '-screen', '0', '1280x900x24', '-nolisten', 'tcp'], { stdio: ['ignore', 'ignore', 'ignore', 'pipe'] });
  const [number] = await once(screen.stdio[3], 'data');
  return `:${String(number).trim()}`;
}

async function begin(running, command, of_package, words, options) {
  const child = spawn(command, words, { stdio: 'ignore', ...options });
  await Promise.race([once(child, 'spawn'), once(child, 'error').then(([cause]) => {
    throw new Error(`${command} cannot be started; install the Debian package ${of_package} (${cause.message})`);
  })]);
  running.push(child);
  return child;
}

async function freePort() {
  const server = createServer().listen(0, '127.0.0.1');
  await once(server, 'listening');
  const { port } = server.address();
  server.close();
  return port;
}

async function ask(url, method, body) {
  const answer = await fetch(url, { method, body: body && JSON.stringify(body), headers: { 'content-type': 'application/json' } });
  const { value } = await answer.json();
  if (!answer.ok) throw new Error(`${method} ${url}: ${value.error}: ${value.message}`);
  return value;
}

async function until(within_ms, what, holds) {
  const end = Date.now() + within_ms;
  while (!(await holds())) {
    if (Date.now() > end) throw new Error(`never: ${what}`);
    await pause(100);
  }
}
