// How the tests read what the program says when it starts.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { readAddress, readLine, saidAbout } from './support/said.mjs';

test('the address is read from its own line only', () => {
  assert.equal(readAddress('listening on http://127.0.0.1:8080'), 'http://127.0.0.1:8080');
  assert.equal(readAddress('listening on nothing'), undefined);
  assert.equal(readAddress('try: listening on http://127.0.0.1:1'), undefined);
});

test('fields are read with either sign, in quotes or not', () => {
  const { subject, fields } = readLine('sign on: role=manager handle: P10, password="four plain words"');
  assert.equal(subject, 'sign-on');
  assert.deepEqual(fields, { role: 'manager', handle: 'P10', password: 'four plain words' });
});

test('an address in a field stays whole', () => {
  const { fields } = readLine('tablet: yard="Upper yard" enrol=http://127.0.0.1:1/tablets/enrol?code=A=B');
  assert.equal(fields.enrol, 'http://127.0.0.1:1/tablets/enrol?code=A=B');
});

test('lines of another shape or subject are passed over', () => {
  const lines = ['Demonstration, invented: a fleet', 'listening on http://x', 'set-up code: 7KQM-2XVD', 'tablet: enrol=x'];
  assert.deepEqual(saidAbout(lines, 'set-up-code').map(({ text }) => text), ['7KQM-2XVD']);
  assert.deepEqual(saidAbout(lines, 'sign-on'), []);
});
