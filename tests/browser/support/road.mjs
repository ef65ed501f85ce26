// The road between a tablet and the server, which can be broken in the ways roads break. It stands in front of the
// program, so that the program needs no switch for it.

import { request, createServer } from 'node:http';
import { once } from 'node:events';

/**
 * Stands in front of a server. `road.state` says what happens to each request:
 * - 'open'       it goes through,
 * - 'dead'       the connection is cut at once,
 * - 'hanging'    nothing is ever answered,
 * - 'answer lost' the server gets it and answers, the tablet hears nothing,
 * - 'sign-in'    a page that is not ours, with status 200,
 * - { slow_ms }   the server gets it at once, and its answer is that long on the way,
 * - { status, headers } as something on the way answers in the server's place.
 * `road.only` narrows it to addresses that fit; others go through. `road.later_version` makes of the server behind it one
 * of the next version: another worker, and every script of it under another name; the old names are not there any more.
 */
export async function openRoad(server) {
  const road = new Road(new URL(server.address));
  await road.begin();
  return road;
}

/** The name of a script with its hash turned round: of the later version when it was of this one, and the other way. */
const OTHER_NAME = /(\/static\/[a-z0-9_]+-)([0-9a-f]{16})(\.js)/g;
const rename = (text) => text.replace(OTHER_NAME, (_, name, hash, ending) => name + [...hash].reverse().join('') + ending);

class Road {
  state = 'open';
  only = /./;
  later_version = false;
  /** [method, path, bytes of its body] of every request that came by. */
  passed = [];
  /** Called with the method and path of each that goes to the server. */
  onpassed;
  #to;
  #server;
  #hanging = new Set();

  constructor(to) {
    this.#to = to;
  }

  /** The server was started again and has another address. */
  leadTo(server) {
    this.#to = new URL(server.address);
  }

  async begin() {
    this.#server = createServer((asked, answer) => this.#pass(asked, answer));
    this.#server.listen(0, '127.0.0.1');
    await once(this.#server, 'listening');
    this.address = `http://127.0.0.1:${this.#server.address().port}`;
  }

  at(path) {
    return new URL(path, this.address).href;
  }

  /** How often something was sent to an address. */
  count(method, path) {
    return this.passed.filter(([how, where]) => how === method && where === path).length;
  }

  #pass(asked, answer) {
    this.passed.push([asked.method, asked.url, Number(asked.headers['content-length'] ?? 0)]);
    const state = this.only.test(asked.url) ? this.state : 'open';
    if (state === 'dead') asked.socket.destroy();
    else if (state === 'hanging') this.#hanging.add(asked.socket);
    else if (state === 'sign-in') answer.writeHead(200, { 'content-type': 'text/html' }).end('<h1>Sign in to the network</h1>');
    else if (state.slow_ms !== undefined) this.#forward(asked, answer, state);
    else if (typeof state === 'object') answer.writeHead(state.status, state.headers).end('later');
    else this.#forward(asked, answer, { loses: state === 'answer lost' });
  }

  #forward(asked, answer, { loses = false, slow_ms = 0 }) {
    this.onpassed?.(asked.method, asked.url);
    const path = this.later_version ? rename(asked.url) : asked.url;
    const headers = this.later_version ? { ...asked.headers, 'accept-encoding': 'identity', 'if-none-match': '' } : asked.headers;
    const there = request({ host: this.#to.hostname, port: this.#to.port, method: asked.method, path, headers }, (back) => {
      if (loses) back.resume().on('end', () => asked.socket.destroy());
      else if (this.later_version && /html|javascript/.test(back.headers['content-type'])) answerAsLater(back, answer);
      else {
        setTimeout(() => {
          answer.writeHead(back.statusCode, back.headers);
          back.pipe(answer);
        }, slow_ms);
      }
    });
    there.on('error', () => asked.socket.destroy());
    asked.pipe(there);
  }

  end() {
    for (const socket of this.#hanging) socket.destroy();
    this.#server.closeAllConnections();
    this.#server.close();
  }
}

/** What a server of the next version would answer. */
async function answerAsLater(back, answer) {
  const parts = [];
  for await (const part of back) parts.push(part);
  const { 'content-length': _, etag: __, ...headers } = back.headers;
  answer.writeHead(back.statusCode, { ...headers, 'x-app-version': 'later' });
  answer.end(rename(Buffer.concat(parts).toString('utf8')));
}
