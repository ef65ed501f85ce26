// A draw is planned on the tablet, begun with the figures of the plan, held up at its gate until it is cold, and stands
// beside its plan afterwards.

import assert from 'node:assert/strict';
import { describe, test } from 'node:test';
import { useBench } from './support/bench.mjs';
import { Hand } from './support/hand.mjs';

describe('a planned draw', () => {
  const bench = useBench('own');

  test('from the unit over the plan and its gate to the saved job', async () => {
    const page = await bench.open({ screen: 'tablet', as: 'technician' });
    const follow = (name) => Promise.all([page.waitForEvent('load'), page.getByRole('link', { name, exact: true }).tap()]);
    await page.goto(bench.server.at('/units?text=330'));
    await Promise.all([page.waitForEvent('load'), page.getByRole('link', { name: '3307' }).first().tap()]);
    await follow('Plan a job');
    await Promise.all([page.waitForEvent('load'), page.getByRole('link', { name: /^Plan a draw/ }).tap()]);

    // Hot, it is not to be begun.
    await page.fill('#temperature', '70');
    await Promise.all([page.waitForEvent('load'), page.getByRole('button', { name: 'Work it out' }).tap()]);
    const plan = page.locator('#plan');
    assert.match(await plan.innerText(), /Do not start/);
    assert.equal(await page.getByRole('link', { name: 'Use these values' }).count(), 0);

    // Cold, it is, and the tablet stands at the plan.
    await page.fill('#temperature', '30');
    await page.fill('#volume', '20');
    await Promise.all([page.waitForEvent('load'), page.getByRole('button', { name: 'Work it out' }).tap()]);
    assert.match(page.url(), /#plan$/);
    const figures = await plan.locator('.figure').allInnerTexts();
    assert.ok(figures.length >= 3 && figures.length <= 5, String(figures));
    assert.match(figures[0], /\d kPa$/);
    await plan.getByText('How this was worked out').first().tap();
    assert.match(await plan.innerText(), /Source: /);
    await follow('Use these values');

    const hand = new Hand(page, 'finger');
    assert.match(await page.locator('#job').innerText(), /Planned: Out 20\.0 L/);
    await hand.type('gate_temperature', '80');
    await hand.type('gate_pressure', '0');
    const next = page.getByRole('button', { name: 'Continue', exact: true });
    await next.tap();
    await page.getByText(/a system is opened only below 50\.0/).waitFor();
    const before = await page.locator('.step-at').innerText();
    assert.ok(await page.getByRole('button', { name: 'It has already happened: go on' }).isVisible());
    assert.equal(await page.evaluate(() => document.activeElement.name), 'gate_temperature');

    await page.fill('[name="gate_temperature"]', '30');
    await page.waitForTimeout(450);
    await next.tap();
    await page.locator('#job .step.now [name="to"]').first().waitFor();
    assert.notEqual(await page.locator('.step-at').innerText(), before);
    assert.equal(await page.locator('.has-problem').count(), 0);
    assert.equal(await page.locator('[name="volume"]').inputValue(), '20.0');
    await hand.save();
    const job = await page.locator('main').innerText();
    assert.match(job, /Planned and done/);
    assert.match(job, /Out\s+20\.0 L\s+20\.0 L/);
    assert.doesNotMatch(job, /not recorded/);
  });

  test('what has already happened is logged past its gate, with its mark', async () => {
    const page = await bench.open({ screen: 'tablet', as: 'technician' });
    await page.goto(bench.server.at('/units?text=330'));
    const unit = await page.getByRole('link', { name: '3307' }).first().getAttribute('href');
    await page.goto(bench.server.at(`${unit}/jobs/recover`));
    const hand = new Hand(page, 'finger');
    await hand.type('gate_temperature', '80');
    await hand.type('gate_pressure', '0');
    await page.getByRole('button', { name: 'Continue', exact: true }).tap();
    await page.getByRole('button', { name: 'It has already happened: go on' }).tap();
    await hand.choose('to', 'Cart A');
    await hand.type('volume', '3');
    await hand.save();
    assert.match(await page.locator('main').innerText(), /opened while it was hot/i);
  });

  test('with the network gone a gate says that it could not be checked, once, and the steps go on', async () => {
    const page = await bench.open({ screen: 'tablet', as: 'technician' });
    await page.goto(bench.server.at('/units?text=330'));
    const unit = await page.getByRole('link', { name: '3307' }).first().getAttribute('href');
    await page.goto(bench.server.at(`${unit}/jobs/recover`));
    const hand = new Hand(page, 'finger');
    await hand.type('gate_temperature', '80');
    await page.context().setOffline(true);
    const next = page.getByRole('button', { name: 'Continue', exact: true });
    await next.tap();
    await page.getByText(/This could not be checked/).waitFor();
    assert.ok(await page.locator('[name="gate_temperature"]').isVisible());
    await page.waitForTimeout(450);
    await next.tap();
    await page.locator('#job .step.now [name="to"]').first().waitFor();
    await page.context().setOffline(false);
  });
});
