// What a tablet keeps in its own storage: jobs on their way to the server (`outbox`, by their keys), photos of jobs that
// still wait (`photo`, by ids of their own), forms that are half filled in (`draft`, by the keys of their jobs) and what
// it works with meanwhile (`kept`, by name).

const NAME = "shop";
const VERSION = 2;
// The places of each, and what a row is known by. A later version adds places and takes none away.
const PLACES = { outbox: "key", draft: "key", photo: "id", kept: undefined };

let opened = null;

const open = () => (opened ??= new Promise((resolve, reject) => {
  const asked = indexedDB.open(NAME, VERSION);
  asked.onupgradeneeded = () => {
    for (const [name, keyPath] of Object.entries(PLACES)) {
      if (!asked.result.objectStoreNames.contains(name)) asked.result.createObjectStore(name, keyPath && { keyPath });
    }
  };
  asked.onsuccess = () => {
    const base = asked.result;
    // A later version of the program must not wait for a page that was left open.
    base.onversionchange = () => {
      base.close();
      opened = null;
    };
    base.onclose = () => (opened = null);
    resolve(base);
  };
  asked.onerror = () => {
    opened = null;
    reject(asked.error);
  };
}));

// What a request of the store comes to.
export const come = (request) => new Promise((resolve, reject) => {
  request.onsuccess = () => resolve(request.result);
  request.onerror = () => reject(request.error);
});

const turn = async (names, mode, work) => {
  let begun;
  try {
    begun = (await open()).transaction(names, mode, { durability: "strict" });
  } catch (cause) {
    // Closed for a later version meanwhile; the next opening says whether it can still be had.
    if (cause.name !== "InvalidStateError") throw cause;
    opened = null;
    begun = (await open()).transaction(names, mode, { durability: "strict" });
  }
  const ended = new Promise((resolve, reject) => {
    begun.oncomplete = resolve;
    begun.onabort = () => reject(begun.error ?? new DOMException("given up", "AbortError"));
  });
  try {
    const result = await work(...names.map((name) => begun.objectStore(name)));
    await ended;
    return result;
  } catch (cause) {
    try { begun.abort(); } catch { /* It ended by itself. */ }
    await ended.catch(() => {});
    throw cause;
  }
};

// Both wait until everything is done; what was changed is then on the disk, or nothing of it is.
export const look = (names, work) => turn(names, "readonly", work);
export const change = (names, work) => turn(names, "readwrite", work);

export const kept = (name) => look(["kept"], (box) => come(box.get(name)));
export const keep = (name, value) => change(["kept"], (box) => come(box.put(value, name)));
export const letGo = (name) => change(["kept"], (box) => come(box.delete(name)));
