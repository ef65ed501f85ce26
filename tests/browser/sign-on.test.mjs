// Every way to sign on that a person has.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { useBench } from './support/bench.mjs';
import { enrolTablet, findPerson, listPeople, signOn } from './support/signing_on.mjs';

const bench = useBench('own');

/** A page that whoever is signed on may see names them in its head. */
async function assertSignedOn(page, handle) {
  await page.goto(bench.server.at('/shops'));
  assert.match(await page.locator('.top').innerText(), new RegExp(`\\b${handle}\\b`));
}

for (const script of [true, false]) {
  const how = script ? 'with script' : 'without script';

  test(`by PIN and by badge on a tablet, ${how}`, async () => {
    const { handle, yard, pin, badge } = findPerson(bench.server, 'technician');
    for (const secret of [{ pin }, { badge }]) {
      const page = await bench.open({ screen: 'tablet', script });
      await enrolTablet(page, bench.server, yard);
      await signOn(page, bench.server, { handle, ...secret });
      await assertSignedOn(page, handle);
    }
  });

  test(`by password at a desk and on a tablet, ${how}`, async () => {
    const { handle, password } = findPerson(bench.server, 'manager');
    for (const screen of ['desk', 'tablet']) {
      const page = await bench.open({ screen, script });
      if (screen === 'tablet') await enrolTablet(page, bench.server);
      await signOn(page, bench.server, { handle, password });
      await assertSignedOn(page, handle);
    }
  });
}

test('a wrong PIN signs nobody on, and the page says so', async () => {
  const { handle, yard, pin } = findPerson(bench.server, 'P2');
  const page = await bench.open({ screen: 'tablet' });
  await enrolTablet(page, bench.server, yard);
  const wrong = pin === '000000' ? '000001' : '000000';
  await assert.rejects(signOn(page, bench.server, { handle, pin: wrong }), /could not sign on.*tries are left/s);
});

test('everybody of the demonstration can sign on', async () => {
  for (const one of listPeople(bench.server)) {
    const page = await bench.open();
    if (one.password === undefined) await enrolTablet(page, bench.server, one.yard);
    await signOn(page, bench.server, one);
    await assertSignedOn(page, one.handle);
    await page.context().close();
  }
});
