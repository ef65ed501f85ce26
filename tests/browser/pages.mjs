// Every page, for the tests that look at all of them and for the pictures. A new page is one entry here.
//
// name    names the page in tests and pictures
// as      a role, a handle, 'nobody', or 'tablet' for a tablet of the shop on which nobody is signed on
// path    an address, or a function of a page and the server that finds one, for subjects whose ids nobody knows
//         beforehand; `linkOn` is of help
// status  what it is answered with, 200 if not given
// then    what is done on the page before it is looked at, to bring it into another state

import { enrolLink } from './support/signing_on.mjs';

export const PAGES = [
  { name: 'not-found', as: 'nobody', path: '/no-such-page', status: 404 },
  { name: 'problem-explained', as: 'nobody', path: '/problems/not-found' },
  { name: 'help', as: 'nobody', path: '/help' },
  { name: 'sign-on', as: 'nobody', path: '/sign-on' },
  { name: 'sign-on-refused', as: 'nobody', path: '/sign-on', then: press('Sign on') },
  { name: 'sign-on-tablet', as: 'tablet', path: '/sign-on' },
  { name: 'sign-on-tablet-refused', as: 'tablet', path: '/sign-on', then: press('Sign on') },
  { name: 'waiting', as: 'tablet', path: '/waiting' },
  { name: 'waiting-elsewhere', as: 'nobody', path: '/waiting' },
  { name: 'offline', as: 'tablet', path: '/offline' },
  { name: 'sheet-of-a-unit-to-come', as: 'technician', path: '/offline/jobs/top_up' },
  { name: 'screen-size', as: 'tablet', path: '/screen-size' },
  { name: 'enrol', as: 'nobody', path: (page, server) => enrolLink(server) },
  { name: 'prove', as: 'manager', path: '/prove?next=/' },
  { name: 'shops', as: 'reader', path: '/shops' },
  { name: 'board', as: 'technician', path: '/' },
  { name: 'board-list', as: 'compliance_officer', path: '/board/no-start-date' },
  { name: 'board-instruments', as: 'lead_hand', path: '/board/instruments' },
  { name: 'board-stock', as: 'compliance_officer', path: '/board/stock' },
  { name: 'leaks', as: 'manager', path: '/leaks' },
  { name: 'leak-looked', as: 'technician', path: unit('3310', '/nothing-found') },
  { name: 'leak-looked-refused', as: 'technician', path: unit('3310', '/nothing-found'), then: press('Save finding') },
  { name: 'leak-case', as: 'manager', path: unit('3307', '/leaks') },
  { name: 'due', as: 'manager', path: '/due' },
  { name: 'put-off', as: 'lead_hand', path: unit('3307', '/put-off') },
  { name: 'put-off-refused', as: 'lead_hand', path: unit('3307', '/put-off'), then: press('Save day') },
  { name: 'corrosion', as: 'manager', path: '/corrosion' },
  { name: 'policy', as: 'reader', path: '/policy' },
  { name: 'laboratory', as: 'reader', path: '/laboratory' },
  { name: 'laboratory-file', as: 'compliance_officer', path: '/laboratory/file' },
  { name: 'laboratory-file-refused', as: 'manager', path: '/laboratory/file', then: press('Show what it says') },
  { name: 'laboratory-file-shown', as: 'manager', path: '/laboratory/file', then: showResults },
  { name: 'sheet-of-a-result', as: 'technician', path: unit('3307', '/jobs/condition_test?instrument=other&tool=laboratory') },
  { name: 'winter', as: 'manager', path: '/winter' },
  { name: 'winter-refused', as: 'technician', path: '/winter?low=cold', status: 422 },
  { name: 'winter-plan', as: 'manager', path: '/winter/plan' },
  { name: 'key-figures', as: 'manager', path: '/figures' },
  { name: 'key-figures-refused', as: 'manager', path: '/figures?from=spring', status: 422 },
  { name: 'key-figure-recovered', as: 'reader', path: '/figures/recovered' },
  { name: 'key-figure-fills', as: 'manager', path: '/figures/fills' },
  { name: 'key-figure-months', as: 'manager', path: '/figures/recovered/months' },
  { name: 'jobs-today', as: 'technician', path: '/jobs-today' },
  { name: 'open-questions', as: 'reader', path: '/open-questions' },
  { name: 'open-questions-of-month', as: 'reader', path: '/open-questions?month=2026-09' },
  { name: 'stock', as: 'manager', path: '/stock' },
  { name: 'retrofit', as: 'manager', path: '/retrofit' },
  { name: 'retrofit-done', as: 'reader', path: '/retrofit?show=done' },
  { name: 'retrofit-refused', as: 'technician', path: '/retrofit?by=soon', status: 422 },
  { name: 'units', as: 'technician', path: '/units' },
  { name: 'units-none-found', as: 'technician', path: '/units?text=no+such+unit' },
  { name: 'unit', as: 'manager', path: unit('3307') },
  { name: 'unit-once-mixed', as: 'manager', path: unit('4506') },
  { name: 'unit-locked', as: 'reader', path: linkOn('/units?text=battery', '2203') },
  { name: 'unit-of-several-loops', as: 'reader', path: linkOn('/units?text=battery', '2201') },
  { name: 'unit-new', as: 'manager', path: '/units/new' },
  { name: 'unit-new-refused', as: 'manager', path: '/units/new', then: press('Save unit') },
  { name: 'unit-edit', as: 'manager', path: unit('3307', '/edit') },
  { name: 'labels', as: 'manager', path: '/labels' },
  { name: 'labels-chosen', as: 'lead_hand', path: '/labels?text=33', then: chooseTwoLabels },
  { name: 'label-of-a-container', as: 'technician', path: vessel('D-8', '/label') },
  { name: 'label-of-no-unit', as: 'technician', path: '/u/00000000', status: 404 },
  { name: 'unit-retire', as: 'manager', path: unit('3307', '/retire') },
  { name: 'job-kinds', as: 'technician', path: unit('3307', '/jobs') },
  { name: 'plans', as: 'technician', path: unit('3307', '/plans') },
  ...['draw', 'fill', 'correction', 'plug_swap', 'pressure_test'].map((kind) => (
    { name: `plan-${kind}`, as: 'technician', path: unit('3307', `/plans/${kind}`) }
  )),
  { name: 'plan-draw-refused', as: 'technician', path: unit('3307', '/plans/draw?work_out=yes&volume=a'), status: 422 },
  { name: 'plan-stopped', as: 'technician', path: unit('3307', '/plans/correction?work_out=yes&target=50&source=water&present=54&capacity=54&temperature=85') },
  ...['top_up', 'recover', 'fill', 'exchange', 'correct', 'condition_test', 'pressure_test', 'fit_coupling', 'flush', 'cap_test', 'leak_repair', 'filter_change', 'sample', 'spill'].flatMap((kind) => sheet(kind, unit('3307', `/jobs/${kind}`))),
  ...['move', 'dip', 'clean_out', 'inspect'].flatMap((kind) => sheet(kind, vessel('Cart A', `/jobs/${kind}`))),
  ...sheet('receive', vessel('D-1', '/jobs/receive')),
  { name: 'job', as: 'manager', path: firstOf(unit('3307'), '.history h3 a') },
  { name: 'job-pressure-test', as: 'manager', path: jobOf('3307', 'Pressure test') },
  { name: 'job-pressure-test-leaks', as: 'technician', path: jobOf('3308', 'Pressure test') },
  { name: 'job-pressure-test-settling', as: 'technician', path: jobOf('3313', 'Pressure test') },
  { name: 'job-pressure-test-cart-open', as: 'technician', path: jobOf('4505', 'Pressure test') },
  { name: 'job-pressure-test-no-thermometer', as: 'technician', path: jobOf('5606', 'Pressure test') },
  { name: 'unit-that-leaks', as: 'technician', path: unit('3308') },
  { name: 'sheet-pressure_test-judged', as: 'technician', path: unit('3307', '/jobs/pressure_test'), then: judge },
  { name: 'job-leak-repair', as: 'manager', path: jobOf('3307', 'Leak repair') },
  { name: 'job-photos', as: 'manager', path: jobOf('3307', 'Top up', '/photos') },
  { name: 'job-photos-refused', as: 'manager', path: jobOf('3307', 'Top up', '/photos'), then: press('Add photo') },
  { name: 'job-void', as: 'manager', path: jobOf('3307', 'Top up', '/void') },
  { name: 'vessels', as: 'technician', path: '/vessels' },
  { name: 'vessels-none-found', as: 'technician', path: '/vessels?kind=tank&holds=waste' },
  { name: 'vessel', as: 'manager', path: vessel('Cart A') },
  { name: 'vessel-of-waste', as: 'manager', path: vessel('D-6') },
  { name: 'waste', as: 'manager', path: '/waste?month=2026-09' },
  { name: 'waste-coast', as: 'P11', path: '/waste?month=2026-09' },
  { name: 'waste-no-rules', as: 'manager', path: '/waste?month=2025-02' },
  { name: 'waste-year', as: 'P11', path: '/waste/year' },
  { name: 'waste-year-first', as: 'manager', path: '/waste/year?year=2025' },
  { name: 'waste-looks', as: 'P11', path: '/waste/looks' },
  { name: 'waste-looks-refused', as: 'technician', path: '/waste/looks?from=2026-10-04&to=2026-10-01' },
  { name: 'waste-determinations', as: 'P11', path: '/waste/determinations' },
  { name: 'waste-close', as: 'compliance_officer', path: '/waste/close?month=2026-09' },
  { name: 'waste-close-refused', as: 'compliance_officer', path: '/waste/close?month=2026-10' },
  { name: 'waste-closed', as: 'reader', path: '/waste/close?month=2026-07' },
  { name: 'waste-lines', as: 'manager', path: '/waste/lines?month=2026-09&total=became_waste' },
  { name: 'waste-lines-none', as: 'manager', path: '/waste/lines?month=2025-02&total=shipped' },
  { name: 'waste-containers', as: 'P11', path: '/waste/containers' },
  { name: 'waste-rules', as: 'compliance_officer', path: '/waste/rules' },
  { name: 'waste-other', as: 'compliance_officer', path: '/waste/other' },
  { name: 'waste-other-refused', as: 'compliance_officer', path: '/waste/other', then: press('Save entry') },
  { name: 'waste-determination', as: 'compliance_officer', path: '/waste/determination' },
  { name: 'waste-container', as: 'technician', path: vessel('D-6', '/container') },
  { name: 'job-ship', as: 'manager', path: vessel('D-6', '/jobs/ship') },
  { name: 'job-ship-several-refused', as: 'manager', path: vessel('D-6', '/jobs/ship'), then: shipSeveral },
  { name: 'shipment-of-two', as: 'P11', path: firstOf('/waste/lines?month=2026-02&total=shipped', 'main table a') },
  { name: 'shipment-not-signed', as: 'P11', path: firstOf('/board/not-signed', 'main table a') },
  { name: 'vessel-new', as: 'manager', path: '/vessels/new' },
  { name: 'vessel-new-refused', as: 'manager', path: '/vessels/new', then: press('Save vessel') },
  { name: 'vessel-edit', as: 'manager', path: vessel('Cart A', '/edit') },
  { name: 'vessel-retire', as: 'manager', path: vessel('D-8', '/retire') },
  { name: 'vessel-decide', as: 'manager', path: vessel('Cart A', '/decide') },
  { name: 'checking', as: 'manager', path: '/checking' },
  { name: 'checking-ask-refused', as: 'manager', path: '/checking', then: askNothing },
  { name: 'asked-nothing', as: 'technician', path: '/asked' },
  { name: 'records', as: 'compliance_officer', path: '/records' },
  { name: 'record', as: 'compliance_officer', path: firstOf('/records', 'main table a') },
  { name: 'book-check', as: 'administrator', path: '/book-check' },
  { name: 'people', as: 'manager', path: '/people' },
  { name: 'people-of-all-shops', as: 'administrator', path: '/people' },
  { name: 'person', as: 'manager', path: linkOn('/people', 'P3') },
  { name: 'person-to-a-lead-hand', as: 'lead_hand', path: linkOn('/people', 'P3') },
  { name: 'person-new', as: 'administrator', path: '/people/new' },
  { name: 'person-new-refused', as: 'manager', path: '/people/new', then: press('Save person') },
  { name: 'person-edit', as: 'manager', path: under(linkOn('/people', 'P3'), '/edit') },
  { name: 'person-roles', as: 'manager', path: under(linkOn('/people', 'P3'), '/roles') },
  { name: 'person-leaves', as: 'manager', path: under(linkOn('/people', 'P3'), '/leave') },
  { name: 'person-new-pin', as: 'administrator', path: linkOn('/people', 'P14'), then: press('Issue a PIN') },
  { name: 'person-new-badge', as: 'administrator', path: linkOn('/people', 'P14'), then: press('Issue a badge') },
  { name: 'own-password', as: 'manager', path: '/own-password' },
  { name: 'own-password-refused', as: 'manager', path: '/own-password', then: press('Change password') },
  { name: 'tablets', as: 'manager', path: '/tablets' },
  { name: 'waiting-import', as: 'lead_hand', path: '/waiting/import' },
  { name: 'waiting-import-refused', as: 'manager', path: '/waiting/import', then: press('Take in') },
  { name: 'tablets-refused', as: 'administrator', path: '/tablets', then: press('Make a link') },
  { name: 'settings', as: 'administrator', path: '/settings' },
  { name: 'settings-shop', as: 'manager', path: '/settings/shop' },
  { name: 'settings-new-shop-refused', as: 'administrator', path: '/settings/shops/new', then: press('Save shop') },
  { name: 'fluids', as: 'manager', path: '/settings/fluids' },
  { name: 'fluid-new-refused', as: 'manager', path: '/settings/fluids/new', then: press('Save fluid') },
  { name: 'fluid-edit', as: 'manager', path: firstOf('/settings/fluids', 'main table a') },
  { name: 'instruments', as: 'manager', path: '/settings/instruments' },
  { name: 'instrument-new-refused', as: 'manager', path: '/settings/instruments/new', then: press('Save instrument') },
  { name: 'zero-check', as: 'manager', path: firstOf('/settings/instruments', 'main table td a') },
  { name: 'zero-check-refused', as: 'manager', path: firstOf('/settings/instruments', 'main table td a'), then: press('Save zero check') },
  { name: 'instrument-edit', as: 'manager', path: firstOf('/settings/instruments', 'main table a') },
  { name: 'security', as: 'administrator', path: '/security' },
  { name: 'security-of-a-shop', as: 'manager', path: '/security?about=signing-on' },
  { name: 'security-none-found', as: 'manager', path: '/security?about=server' },
  { name: 'security-not-allowed', as: 'lead_hand', path: '/security', status: 403 },
  { name: 'people-to-a-lead-hand', as: 'lead_hand', path: '/people' },
  { name: 'people-not-allowed', as: 'technician', path: '/people', status: 403 },
  { name: 'not-allowed', as: 'reader', path: '/units/new', status: 403 },
];

/** Labels of the first two units that are offered. */
async function chooseTwoLabels(page) {
  for (const place of [0, 1]) await page.locator('label:has(input[name="unit[]"])').nth(place).click();
  await press('Show labels')(page);
}

/** A sheet as it opens, and as it comes back with what is to be put right. */
function sheet(kind, path) {
  const refused = async (page) => {
    // The steps before the last one would otherwise ask for Continue first.
    await Promise.all([page.waitForEvent('load'), page.locator('form#job').evaluate((form) => form.submit())]);
  };
  return [
    { name: `sheet-${kind}`, as: 'technician', path },
    { name: `sheet-${kind}-refused`, as: 'technician', path, then: refused },
  ];
}

/** A laboratory's file, shown: one result that is on record already, one of no bottle, one that cannot be read. */
async function showResults(page) {
  const text = 'sample,report,freeze_point_c,ph,nitrite_ppm\nDEMO-T1-0608,L-1,-36.5,8.1,420\nDEMO-2,L-2,36,high,\n';
  await page.locator('#file').setInputFiles({ name: 'results.csv', mimeType: 'text/csv', buffer: Buffer.from(text) });
  await press('Show what it says')(page);
}

/** A pressure test filled in, and what it proves asked for. */
async function judge(page) {
  const typed = { pressure_start: '105', temperature_start: '22', between1_after: '5', between1_pressure: '102', hold: '10', pressure_end: '99', temperature_end: '22', gauge_step: '0.5' };
  await Promise.all([page.waitForEvent('load'), page.locator('form#job').evaluate((form, values) => {
    for (const [name, value] of Object.entries(values)) form.elements[name].value = value;
    form.requestSubmit(form.elements.preview);
  }, typed)]);
}

/** The page of a unit by its number, or one below it. */
function unit(number, below = '') {
  return under(linkOn(`/units?text=${number.slice(0, -1)}`, number), below);
}

/** The page of a vessel of the shop by the name on it, or one below it. */
function vessel(name, below = '') {
  return under(linkOn('/vessels', name), below);
}

/** The newest job of a kind on a unit, or a page below it. */
function jobOf(number, kind, below = '') {
  const jobs = async (page, server) => {
    await page.goto(server.at(await unit(number)(page, server)));
    return page.locator('.history h3 a', { hasText: kind }).first().getAttribute('href');
  };
  return under(jobs, below);
}

/** Where the first link of a page that fits leads. */
function firstOf(path, selector) {
  return async (page, server) => {
    await page.goto(server.at(typeof path === 'function' ? await path(page, server) : path));
    return page.locator(selector).first().getAttribute('href');
  };
}

function under(path, below) {
  return async (page, server) => (await path(page, server)) + below;
}

/** Goes to a page of the list, as far as its state; fails if it is not answered as it should be. */
export async function visit(page, server, { name, path, status = 200, then }) {
  const address = typeof path === 'function' ? await path(page, server) : path;
  const answer = await page.goto(server.at(address));
  if (answer.status() !== status) throw new Error(`${name}: ${address} is answered with ${answer.status()}, not ${status}`);
  const came_to = new URL(page.url()).pathname;
  const asked_for = new URL(server.at(address)).pathname;
  if (came_to !== asked_for) throw new Error(`${name}: ${asked_for} led to ${came_to}`);
  await then?.(page, server);
  // Words take up another space in the font that stands in until ours is there.
  await page.evaluate(() => document.fonts.ready.then(() => undefined));
}

/** Addresses found so far, by server: a subject keeps its page. */
const found = new Map();

/** Where a link on another page leads; a `path` is made with it: path: linkOn('/units', '3307'). */
export function linkOn(path, name) {
  return async (page, server) => {
    const key = `${server.address} ${path} ${name}`;
    if (!found.has(key)) {
      await page.goto(server.at(path));
      found.set(key, await page.getByRole('link', { name }).first().getAttribute('href'));
    }
    return found.get(key);
  };
}

/** Presses a button and waits for the page that answers; a `then` is made with it. */
async function askNothing(page) {
  await page.locator('summary', { hasText: /^Ask / }).first().click();
  await Promise.all([page.waitForEvent('load'), page.getByRole('button', { name: /^Ask / }).first().click()]);
}

/** What left of a second vessel, and nothing else: it is shown again with what is missing. */
async function shipSeveral(page) {
  await page.locator('summary', { hasText: 'Further vessels' }).click();
  await page.getByLabel('How much left of D-8').fill('11');
  await press('Save job')(page);
}

export function press(name) {
  return async (page) => {
    await Promise.all([page.waitForEvent('load'), page.getByRole('button', { name, exact: true }).click()]);
  };
}
