// How often a gloved finger touches the tablet for each kind of job, from the board to the word "Saved". What is most is
// our own decision (a tap takes some 0.9 s with gloves; common practice, no source). Digits of temperatures and gauge
// values are counted apart.

import assert from 'node:assert/strict';
import { before, describe, test } from 'node:test';
import { useBench } from './support/bench.mjs';
import { codeOfLabel, holdBefore } from './support/camera.mjs';
import { enrolTablet, findPerson } from './support/signing_on.mjs';
import { CountedFinger } from './support/taps.mjs';

const UNIT = '3307';
const MOST_DIGITS = 6;

/** From the unit, or from the vessel, to the job's page: one of the three commonest, or one behind "Other jobs". */
const often = (name) => async (finger) => finger.follow(finger.link(name).first());
const other = (name) => async (finger) => {
  await finger.follow(finger.link('Other jobs'));
  await finger.follow(finger.link(new RegExp(`^${name}`)).first());
};

/** A hold of six minutes, without the wait: its start is put back. */
const hold = async (finger) => {
  await finger.tap(finger.button('Start timer'));
  await finger.page.locator('[name="hold_from"]').evaluate((from) => (from.value = new Date(Date.now() - 360_000).toTimeString().slice(0, 8)));
  await finger.page.waitForTimeout(500);
  await finger.tap(finger.button('Stop timer'));
};

/** What is missing in the unit is what its plan proposes; this is done beforehand, by whoever drained it. */
const drain = async (page, server) => {
  await page.goto(server.at('/units?text=330'));
  await page.goto(server.at(`${await page.getByRole('link', { name: UNIT }).first().getAttribute('href')}/jobs/recover`));
  await page.locator('form#job').evaluate((form) => {
    Object.entries({ gate_temperature: '31', gate_pressure: '0', volume: '15' }).forEach(([name, value]) => (form.elements[name].value = value));
    [...form.elements.to].find((input) => input.closest('label')?.textContent.includes('Cart A')).checked = true;
  });
  await Promise.all([page.waitForURL(/\/jobs\/[0-9a-f-]+$/), page.locator('form#job').evaluate((form) => form.requestSubmit(form.querySelector('button.main[type=submit]')))]);
  await page.goto(server.at('/'));
};

const JOBS = [
  {
    name: 'top up', most: 6, open: often('Top up'),
    fill: (finger) => finger.type('volume', '2.5'),
  },
  {
    name: 'recover', most: 13, open: often('Recover coolant'),
    fill: async (finger) => {
      await finger.read('gate_temperature', '31');
      await finger.read('gate_pressure', '0');
      await finger.goOn();
      await finger.choose('to', 'Cart A');
      await finger.goOn();
      await finger.type('volume', '2.5');
      await finger.goOn();
      await finger.goOn();
    },
  },
  {
    name: 'fill with the values of a plan', most: 17, before: drain, open: async (finger) => {
      await finger.follow(finger.link('Plan a job'));
      await finger.follow(finger.link(/^Plan a fill/));
      await finger.tap(finger.page.locator('main label.choice', { has: finger.page.locator('[name="filler"][value="open"]') }));
      await finger.read('temperature', '31', 'main');
      await finger.follow(finger.button('Work it out'));
      await finger.follow(finger.link('Use these values'));
    },
    fill: async (finger) => {
      await finger.goOn();
      await finger.goOn();
      await finger.goOn();
    },
  },
  {
    name: 'fill under vacuum', most: 17, open: often('Fill'),
    fill: async (finger) => {
      await finger.choose('how', 'vacuum');
      await finger.read('vacuum_start', '80');
      await hold(finger);
      await finger.read('vacuum_end', '79');
      await finger.goOn();
      await finger.goOn();
      await finger.type('volume', '2.5');
      await finger.goOn();
    },
  },
  {
    name: 'condition test', most: 12, open: other('Condition test'),
    fill: (finger) => finger.read('freeze', '43'),
  },
  {
    name: 'pressure test', most: 10, open: other('Pressure test'),
    fill: async (finger) => {
      await finger.read('pressure_start', '100');
      await finger.goOn();
      await hold(finger);
      await finger.goOn();
      await finger.read('pressure_end', '99');
      await finger.goOn();
      await finger.goOn();
    },
  },
  {
    name: 'correct', most: 16, open: other('Correct strength'),
    fill: async (finger) => {
      await finger.read('gate_temperature', '31');
      await finger.read('gate_pressure', '0');
      await finger.goOn();
      await finger.choose('to', 'Cart A');
      await finger.type('drain_volume', '2.5');
      await finger.goOn();
      await finger.goOn();
      await finger.type('volume', '2.5');
      await finger.goOn();
    },
  },
  {
    name: 'drain and refill', most: 16, open: other('Drain and refill'),
    fill: async (finger) => {
      await finger.read('gate_temperature', '31');
      await finger.read('gate_pressure', '0');
      await finger.goOn();
      await finger.choose('to', 'Cart A');
      await finger.type('drain_volume', '2.5');
      await finger.goOn();
      await finger.goOn();
      await finger.type('volume', '2.5');
      await finger.goOn();
    },
  },
  {
    name: 'fit coupling', most: 9, open: other('Fit coupling'),
    fill: async (finger) => {
      await finger.read('gate_temperature', '31');
      await finger.read('gate_pressure', '0');
      await finger.goOn();
      await finger.choose('alike', '3/8-18 NPT');
      await finger.choose('leak_class', 'Not done yet');
      await finger.goOn();
    },
  },
];

describe('taps from the board, signed on', () => {
  const bench = useBench('own');
  let code;
  before(async () => {
    code = await codeOfLabel(await bench.open({ as: 'lead_hand' }), bench.server, UNIT);
  });
  const board = async () => {
    const page = await bench.open({ screen: 'tablet', as: 'technician' });
    await holdBefore(page.context(), code);
    await page.goto(bench.server.at('/'));
    return { page, finger: new CountedFinger(page) };
  };
  const saved = async ({ page, finger }, { name, most }, t) => {
    await finger.follow(finger.button('Save job'));
    assert.match(await page.locator('main').innerText(), /Saved/, name);
    assert.match(new URL(page.url()).pathname, /^\/jobs\//);
    t.diagnostic(`${name}: ${finger.taps} taps of at most ${most}, ${finger.readings} digits of readings`);
    assert.ok(finger.taps <= most, `${name} takes ${finger.taps} taps`);
    assert.ok(finger.readings <= MOST_DIGITS, `${name} takes ${finger.readings} digits`);
  };

  for (const job of JOBS) {
    test(job.name, async (t) => {
      const { page, finger } = await board();
      await job.before?.(page, bench.server);
      await finger.tap(finger.button('Scan unit label'));
      await page.waitForURL(/\/units\//, { waitUntil: 'load' });
      await job.open(finger);
      await job.fill(finger);
      await saved({ page, finger }, job, t);
    });
  }

  test('move between vessels', async (t) => {
    const { page, finger } = await board();
    await finger.follow(page.getByRole('navigation', { name: 'Places' }).getByRole('link', { name: 'Vessels' }));
    await finger.follow(finger.link('Cart A').first());
    await finger.follow(finger.link(/^Move/).first());
    await finger.type('volume', '2.5');
    await finger.choose('to', 'D-6');
    await saved({ page, finger }, { name: 'move', most: 9 }, t);
  });

  test('ship out, at a desk', async (t) => {
    const clicks = { count: 0 };
    const click = async (what) => {
      await what.click();
      clicks.count += 1;
    };
    const follow = (page, what) => Promise.all([page.waitForEvent('load'), click(what)]);
    const page = await bench.open({ as: 'manager' });
    await page.goto(bench.server.at('/'));
    const link = (name) => page.getByRole('link', { name }).first();
    await follow(page, link('Vessels'));
    await follow(page, page.locator('main').getByRole('link', { name: 'D-6', exact: true }).first());
    await follow(page, page.locator('#jobs').getByRole('link', { name: 'Ship out' }));
    // What is typed with a keyboard is counted by the fields it goes into.
    const type = async (name, text) => {
      await click(page.locator(`#job [name="${name}"]:visible`));
      await page.keyboard.type(text);
    };
    await type('volume', '2.5');
    await type('carrier', 'A carrier (invented)');
    await type('document', 'T-0001');
    await follow(page, page.getByRole('button', { name: 'Save job' }));
    assert.match(new URL(page.url()).pathname, /^\/jobs\//);
    t.diagnostic(`ship out: ${clicks.count} clicks of at most 22`);
    assert.ok(clicks.count <= 22, `ship out takes ${clicks.count} clicks`);
  });

  test('sign on by PIN', async (t) => {
    const page = await bench.open({ screen: 'tablet' });
    const person = findPerson(bench.server, 'technician');
    await enrolTablet(page, bench.server, person.yard);
    await page.goto(bench.server.at('/sign-on'));
    const finger = new CountedFinger(page);
    await finger.tap(page.locator('label', { has: page.getByRole('radio', { name: new RegExp(`^${person.handle}\\b`) }) }));
    await Promise.all([page.waitForURL((url) => url.pathname !== '/sign-on'), finger.type('pin', person.pin, '.sign-on')]);
    t.diagnostic(`PIN: ${finger.taps} taps of at most 7`);
    assert.ok(finger.taps <= 7);
  });
});
