// The built program as a child process.

import { execFile, spawn } from 'node:child_process';
import { existsSync } from 'node:fs';
import { join, resolve } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { promisify } from 'node:util';
import { readAddress } from './said.mjs';

const UP_WITHIN_MS = 60_000;
const QUIET_MS = 60;
const root = join(import.meta.dirname, '../../..');
const target = resolve(root, process.env.CARGO_TARGET_DIR ?? 'target');

/** COOLANT_LEDGER names another build; otherwise it is the one that `cargo test` leaves behind. */
export const PROGRAM = process.env.COOLANT_LEDGER ?? join(target, 'debug/coolant-ledger');

/** Runs the program to its end and gives what it said; a failure carries its words. */
export async function run(...words) {
  const { stdout } = await promisify(execFile)(PROGRAM, words);
  return stdout;
}

/** Replays the whole record beside the running server; fails unless every check of the book holds. */
export async function bookIsClosed(server) {
  await run('verify', '--data', server.data);
}

/** Starts `demo` or `serve` on a folder and a free port, and waits until it answers. */
export async function startServer(command, data, ...flags) {
  if (!existsSync(PROGRAM)) throw new Error(`${PROGRAM} is not there; build it first, as tests/run does`);
  const child = spawn(PROGRAM, [command, '--data', data, '--listen', '127.0.0.1:0', ...flags], {
    stdio: ['ignore', 'pipe', 'pipe'],
  });
  const server = new Server(child, data);
  try {
    await server.up();
  } catch (cause) {
    child.kill('SIGKILL');
    throw cause;
  }
  return server;
}

class Server {
  /** Every whole line of standard output so far. */
  lines = [];
  log = '';
  #rest = '';
  #heard_at = 0;
  #child;
  #ended;

  constructor(child, data) {
    this.data = data;
    this.#child = child;
    this.#ended = new Promise((resolve) => {
      child.once('error', (cause) => resolve(String(cause)));
      child.once('exit', (code, signal) => resolve(signal ?? code));
    });
    child.stdout.setEncoding('utf8').on('data', (text) => this.#hear(text));
    child.stderr.setEncoding('utf8').on('data', (text) => (this.log += text));
  }

  get address() {
    return this.lines.map(readAddress).find(Boolean);
  }

  /** An address of this server. */
  at(path) {
    return new URL(path, this.address).href;
  }

  #hear(text) {
    const lines = (this.#rest + text).split('\n');
    this.#rest = lines.pop();
    this.lines.push(...lines);
    this.#heard_at = Date.now();
  }

  /** It speaks before it serves: once it answers, only reading the last lines is left. */
  async up() {
    let ended = false;
    this.#ended.then(() => (ended = true));
    const until = Date.now() + UP_WITHIN_MS;
    for (;;) {
      if (ended) throw new Error(`the program ended while starting (${await this.#ended}):\n${this.log}`);
      if (Date.now() > until) throw new Error(`the program was not up after ${UP_WITHIN_MS} ms:\n${this.log}`);
      if (this.address && (await answers(this.at('/readyz'))) && Date.now() - this.#heard_at > QUIET_MS) return;
      await pause(25);
    }
  }

  /** As when the power goes: nothing is said to it and nothing can be put in order. */
  async kill() {
    this.#child.kill('SIGKILL');
    await this.#ended;
  }

  async stop() {
    this.#child.kill('SIGTERM');
    const ended = await this.#ended;
    if (ended !== 0) throw new Error(`the program ended with ${ended} when told to stop:\n${this.log}`);
  }
}

async function answers(url) {
  try {
    return (await fetch(url)).ok;
  } catch {
    return false;
  }
}
