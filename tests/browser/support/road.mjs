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
 * - { status, headers } as something on the way answers in the server's place.
 * `road.only` narrows it to addresses that fit; others go through.
 */
export async function openRoad(server) {
  const road = new Road(new URL(server.address));
  await road.begin();
  return road;
}

class Road {
  state = 'open';
  only = /./;
  /** [method, path] of every request that came by. */
  passed = [];
  #to;
  #server;
  #hanging = new Set();

  constructor(to) {
    this.#to = to;
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
    this.passed.push([asked.method, asked.url]);
    const state = this.only.test(asked.url) ? this.state : 'open';
    if (state === 'dead') asked.socket.destroy();
    else if (state === 'hanging') this.#hanging.add(asked.socket);
    else if (state === 'sign-in') answer.writeHead(200, { 'content-type': 'text/html' }).end('<h1>Sign in to the network</h1>');
    else if (typeof state === 'object') answer.writeHead(state.status, state.headers).end('later');
    else this.#forward(asked, answer, state === 'answer lost');
  }

  #forward(asked, answer, loses) {
    const there = request({ host: this.#to.hostname, port: this.#to.port, method: asked.method, path: asked.url, headers: asked.headers }, (back) => {
      if (loses) {
        back.resume().on('end', () => asked.socket.destroy());
        return;
      }
      answer.writeHead(back.statusCode, back.headers);
      back.pipe(answer);
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
