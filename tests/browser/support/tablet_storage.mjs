// What a tablet keeps in its own storage, as a test looks at it.

const READY_WITHIN_MS = 20_000;

/** The rows of the outbox, in order. */
export const rows = (page) => page.evaluate(() => new Promise((then, or) => {
  const asked = indexedDB.open('shop');
  asked.onerror = () => or(asked.error);
  asked.onsuccess = () => {
    const base = asked.result;
    const all = base.transaction('outbox').objectStore('outbox').getAll();
    all.onsuccess = () => {
      base.close();
      then(all.result.sort((one, other) => one.sequence - other.sequence));
    };
  };
}));

/** Waits until the rows are as wanted. */
export async function rowsAre(page, wanted, within_ms = 15_000) {
  const until = Date.now() + within_ms;
  for (;;) {
    const found = await rows(page);
    if (wanted(found)) return found;
    if (Date.now() > until) throw new Error(`the rows never came to that: ${JSON.stringify(found.map(({ state, tries, title, problems }) => ({ state, tries, title, problems })))}`);
    await page.waitForTimeout(50);
  }
}

/** Something the tablet keeps by name. */
export const keptBy = (page, name) => page.evaluate((name) => new Promise((then) => {
  const asked = indexedDB.open('shop');
  asked.onsuccess = () => {
    const got = asked.result.transaction('kept').objectStore('kept').get(name);
    got.onsuccess = () => {
      asked.result.close();
      then(got.result);
    };
  };
}), name);

/** Waits until the tablet has all it needs to work without a network. */
export async function isReady(page, shells = ['/waiting', '/offline', '/offline/jobs/top_up']) {
  await page.evaluate(async ({ wanted, within_ms }) => {
    const until = Date.now() + within_ms;
    const is_ready = async () => navigator.serviceWorker.controller && (await Promise.all(wanted.map((path) => caches.match(path)))).every(Boolean);
    while (!(await is_ready())) {
      if (Date.now() > until) throw new Error('the tablet never had all it needs');
      await new Promise((then) => setTimeout(then, 50));
    }
  }, { wanted: shells, within_ms: READY_WITHIN_MS });
}

/** Whether what is typed under a key is kept. */
export const hasDraft = (page, key) => page.evaluate((key) => new Promise((then) => {
  const asked = indexedDB.open('shop');
  asked.onsuccess = () => {
    const got = asked.result.transaction('draft').objectStore('draft').getKey(key);
    got.onsuccess = () => {
      asked.result.close();
      then(got.result !== undefined);
    };
  };
}), key);

/** What stands in a file that the page handed over. The browser may run elsewhere, so it is read as it comes. */
export async function textOf(download) {
  const parts = [];
  for await (const part of await download.createReadStream()) parts.push(part);
  return Buffer.concat(parts).toString('utf8');
}

/** Makes the oldest photo that waits one of another job. */
export const movePhoto = (page, job) => page.evaluate((job) => new Promise((then, or) => {
  const asked = indexedDB.open('shop');
  asked.onsuccess = () => {
    const turn = asked.result.transaction('photo', 'readwrite');
    const box = turn.objectStore('photo');
    const all = box.getAll();
    all.onsuccess = () => box.put({ ...all.result.reduce((one, other) => (one.at < other.at ? one : other)), job });
    turn.oncomplete = () => {
      asked.result.close();
      then();
    };
    turn.onabort = () => or(turn.error);
  };
}), job);

/** Puts `count` jobs more beside the last one, as if each had been saved after it; gives their keys. */
export const copyRow = (page, count) => page.evaluate((count) => new Promise((then, or) => {
  const asked = indexedDB.open('shop');
  asked.onsuccess = () => {
    const keys = [];
    const turn = asked.result.transaction(['outbox', 'kept'], 'readwrite');
    const box = turn.objectStore('outbox');
    const all = box.getAll();
    all.onsuccess = () => {
      const last = all.result.reduce((one, other) => (one.sequence > other.sequence ? one : other));
      for (let n = 1; n <= count; n += 1) {
        const key = crypto.randomUUID();
        keys.push(key);
        const fields = last.fields.replace(last.key, key);
        const body = JSON.stringify({ ...JSON.parse(last.body), key, fields, sequence: last.sequence + n, saved_at: last.saved_at + n });
        box.add({ ...last, key, fields, body, sequence: last.sequence + n, state: 'waiting', tries: 0 });
      }
      turn.objectStore('kept').put(last.sequence + count, 'sequence');
    };
    turn.oncomplete = () => {
      asked.result.close();
      then(keys);
    };
    turn.onabort = () => or(turn.error);
  };
}), count);
