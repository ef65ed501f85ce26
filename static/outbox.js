// Jobs that were saved on this tablet, and how they get to the server. Pages and the worker share it.
//
// A row's `body` is frozen as text when the job is saved, so that every try is the same to the byte. Its `state` is
//   in_hand   its page is sending it straight
//   waiting   it goes out later, in order
//   sent      the server has it (`answer`: accepted or needs_checking)
//   returned  the server cannot read it as a job: somebody has to put it right
//   stopped   its key stands for another job: somebody has to look

import { change, come, keep, kept, letGo, look } from "./store.js";

const FORMAT = 1;
const ANSWER_WITHIN_MS = 10_000;
// The server takes a minute at most to take one in.
const PHOTO_WITHIN_MS = 70_000;
// A page sends straight for 2.5 s; a row that is in hand for longer was left behind.
const IN_HAND_MS = 6_000;
const LEAST_WAIT_MS = 2_000;
const MOST_WAIT_MS = 300_000;
// A server that says "later" is believed for so long; so is a clock that was put back meanwhile.
const BELIEVED_MS = 3_600_000;
const RECEIPT_MS = 30 * 86_400_000;
const REDRAW_MS = 1_000;

const said = new BroadcastChannel("outbox");
const tellPages = () => said.postMessage("changed");
/** Calls back when rows changed, in whichever page or worker: once for many changes in a row. */
export const whenChanged = (then) => {
  let running = false, again = false;
  const call = async () => {
    if (running) {
      again = true;
      return;
    }
    running = true;
    do {
      again = false;
      await Promise.resolve(then()).catch(() => {});
      await new Promise((rest) => setTimeout(rest, REDRAW_MS));
    } while (again);
    running = false;
  };
  new BroadcastChannel("outbox").addEventListener("message", call);
  return call;
};

export const list = async () => {
  const rows = await look(["outbox"], (box) => come(box.getAll()));
  return rows.sort((one, other) => one.sequence - other.sequence);
};
export const find = (key) => look(["outbox"], (box) => come(box.get(key)));

const isWaiting = (row) => row.state === "waiting" || (row.state === "in_hand" && Math.abs(Date.now() - row.saved_at) > IN_HAND_MS);
export const needsSomebody = (row) => row.state === "returned" || row.state === "stopped";

// Everything that is not known to be with the server: this is what would be lost with the tablet.
export const isLeft = (row) => row.state !== "sent";

// Photos of jobs that waited: { id, job, at, bytes, person, proved, clock_offset_ms, tries, problem }. `at` is when the
// photo was taken, and the moment that whose name it goes under is proved by. Each goes after its job and is let go of
// when the server has it; one with a problem stays until somebody takes it off.
export const listPhotos = async () => {
  const photos = await look(["photo"], (box) => come(box.getAll()));
  return photos.sort((one, other) => one.at - other.at);
};
/** Keeps a photo beside a job of this tablet; once this is done it is on the disk. */
export const keepPhoto = async (job, bytes, who) => {
  await change(["photo", "kept"], async (photo, box) => {
    const clock = await come(box.get("clock"));
    const made = { id: crypto.randomUUID(), job, at: Date.now(), bytes, ...who, clock_offset_ms: clock?.offset_ms ?? 0, tries: 0 };
    await come(photo.add(made));
  });
  tellPages();
};
export const dropPhoto = async (id) => {
  await change(["photo"], (box) => come(box.delete(id)));
  tellPages();
};

/** How things stand: { waiting, needs_you, photos, oldest_ms, all_sent_at, hold }. */
export const standing = async () => {
  const [rows, photos, all_sent_at, hold] = [await list(), await listPhotos(), await kept("all_sent_at"), await kept("hold")];
  const waiting = rows.filter((row) => row.state === "waiting" || row.state === "in_hand");
  return {
    waiting: waiting.length,
    needs_you: rows.filter(needsSomebody).length,
    photos: photos.length,
    oldest_ms: waiting.length ? Math.min(...waiting.map((row) => row.saved_at)) : null,
    all_sent_at,
    hold,
  };
};

/**
 * Takes a job in; once this is done it is on the disk. A key that is there already is refused (ConstraintError).
 * `job`: { key, address, fields, person, shown, proved, opened_at, title, fixes } and `state`, in_hand or waiting.
 */
export const takeIn = async (job, state) => {
  const row = await change(["outbox", "kept"], async (outbox, box) => {
    const [store, last, clock] = await Promise.all(["store", "sequence", "clock"].map((name) => come(box.get(name))));
    const made = { store: store ?? crypto.randomUUID(), sequence: (last ?? 0) + 1, saved_at: Date.now() };
    if (!store) box.put(made.store, "store");
    box.put(made.sequence, "sequence");
    const { key, address, fields, person, proved, opened_at } = job;
    const body = JSON.stringify({
      format: FORMAT, key, sequence: made.sequence, store: made.store, address, fields, person, proved,
      opened_at, saved_at: made.saved_at, clock_offset_ms: clock?.offset_ms ?? null,
    });
    const row = { ...job, sequence: made.sequence, saved_at: made.saved_at, state, body, tries: 0 };
    await come(outbox.add(row));
    return row;
  });
  tellPages();
  return row;
};

// The words of a row that is not kept by this tablet, for a file: as if it had been taken in.
export const bodyOf = async (job) => {
  const [store, last, clock] = await Promise.all(["store", "sequence", "clock"].map((name) => kept(name).catch(() => undefined)));
  const { key, address, fields, person, proved, opened_at } = job;
  return JSON.stringify({
    format: FORMAT, key, sequence: (last ?? 0) + 1, store: store ?? crypto.randomUUID(), address, fields, person, proved,
    opened_at, saved_at: Date.now(), clock_offset_ms: clock?.offset_ms ?? null,
  });
};

// What is settled about a row. Its draft, and what it puts right, are not needed any more once it is safe.
const settle = async (key, what) => {
  await change(["outbox", "draft", "photo"], async (outbox, draft, photo) => {
    const row = await come(outbox.get(key));
    if (!row) return;
    if (what.state === "waiting" || what.state === "sent") {
      draft.delete(key);
      if (row.fixes) {
        outbox.delete(row.fixes);
        for (const each of await come(photo.getAll())) if (each.job === row.fixes) photo.put({ ...each, job: key });
      }
    }
    outbox.put({ ...row, ...what });
  });
  tellPages();
};
export const keepWaiting = (key) => settle(key, { state: "waiting" });
export const noteSent = async (key, address) => {
  await settle(key, { state: "sent", answer: "accepted", address_there: address, sent_at: Date.now() });
  await noteAllSent();
};
export const takeOut = async (key) => {
  await change(["outbox"], (box) => come(box.delete(key)));
  tellPages();
};

const noteAllSent = async () => {
  if (!(await list()).some(isLeft) && !(await listPhotos()).length) await keep("all_sent_at", Date.now());
};

/** "2 waiting to send, 1 photo, 1 needs you"; empty when all is sent. */
export const inWords = ({ waiting, needs_you, photos }) => [
  waiting && `${waiting} waiting to send`,
  photos && `${photos} ${photos === 1 ? "photo" : "photos"}${waiting ? "" : " waiting to send"}`,
  needs_you && `${needs_you} ${needs_you === 1 ? "needs" : "need"} you`,
].filter(Boolean).join(", ");

// Receipts of jobs that were sent are kept for a while, then dropped.
export const dropOldReceipts = () => change(["outbox"], async (box) => {
  for (const row of await come(box.getAll())) {
    if (row.state === "sent" && Date.now() - row.sent_at > RECEIPT_MS) box.delete(row.key);
  }
});

/** A file of every job that is left, in the words they are sent in. */
export const asFile = async (extra = []) => {
  const rows = (await list()).filter(isLeft);
  return { count: rows.length + extra.length, text: `{"format":${FORMAT},"jobs":[${[...rows.map((row) => row.body), ...extra].join(",")}]}\n` };
};

// The answer to a job, judged. `stop`: the others wait as well.
const judge = (row, { status, told, retry_after_ms }) => {
  const ours = told?.key === row.key;
  if ([200, 201, 202].includes(status) && ours) {
    return { state: "sent", answer: told.state, address_there: told.address, questions: told.questions ?? [], sent_at: Date.now() };
  }
  if (status === 422 && ours && told.state === "returned") return { state: "returned", problems: told.problems ?? [] };
  if (status === 422 && told?.state === "used_for_another") return { state: "stopped", address_there: told.address };
  if (status === 400 && told?.state === "not_readable") return { state: "returned", problems: [{ field: "", text: told.text ?? "" }] };
  if (status === 413) return { state: "returned", problems: [{ field: "", text: "it is larger than the server takes" }] };
  if (status === 401 && told?.state === "not_enrolled") return { stop: "not_enrolled", for_ms: MOST_WAIT_MS };
  return { stop: "later", for_ms: retry_after_ms };
};

const post = async (address, body, type, within_ms) => {
  try {
    const answer = await fetch(address, {
      method: "POST",
      body,
      headers: { "content-type": type, accept: "application/json" },
      redirect: "manual",
      signal: AbortSignal.timeout(within_ms),
    });
    const is_json = /^application\/(problem\+)?json\b/.test(answer.headers.get("content-type") ?? "");
    const seconds = Number(answer.headers.get("retry-after"));
    return {
      status: answer.status,
      told: is_json ? await answer.json() : null,
      retry_after_ms: seconds > 0 ? Math.min(seconds * 1000, BELIEVED_MS) : undefined,
    };
  } catch {
    return { status: 0, told: null };
  }
};

// A wait that doubles with every try that led nowhere, and differs from tablet to tablet.
const holdOn = async ({ stop, for_ms }, before) => {
  const step = Math.min((before?.step ?? 0) + 1, 9);
  const wait = Math.min(LEAST_WAIT_MS * 2 ** (step - 1), MOST_WAIT_MS) * (0.75 + Math.random() / 4);
  await keep("hold", { why: stop, step, told: for_ms !== undefined, until: Date.now() + Math.max(for_ms ?? 0, wait) });
};

// What an answer to a photo means: gone there, never, or what to wait for. What concerns this photo alone holds nothing
// else up.
const judgePhoto = ({ job }, { status, told, retry_after_ms }) => {
  const ours = told?.job === job;
  if (status === 200 && ours && told.state === "accepted") return { done: true };
  if (status === 422 && ours && told.state === "returned") return { problem: told.text ?? "" };
  if (status === 409 && ours && told.state === "job_first") return { problem: "the server does not know its job" };
  if (status === 400) return { problem: told?.text || "the server cannot read it" };
  if (status === 413) return { problem: "it is larger than the server takes" };
  if (status === 401 && told?.state === "not_enrolled") return { stop: "not_enrolled", for_ms: MOST_WAIT_MS };
  return { stop: "later", for_ms: retry_after_ms };
};

// Somebody may have taken it off meanwhile, or put its job right.
const noteTry = async (id, problem) => {
  await change(["photo"], async (box) => {
    const photo = await come(box.get(id));
    if (photo) await come(box.put({ ...photo, problem, tries: (photo.tries ?? 0) + 1 }));
  });
  tellPages();
};

// Photos of jobs that the server has: how many went, and what to wait for, if anything. One that was not taken goes
// behind the others the next time.
const sendPhotos = async () => {
  let sent = 0;
  const photos = await listPhotos();
  photos.sort((one, other) => (one.tries ?? 0) - (other.tries ?? 0));
  for (const photo of photos) {
    const row = await find(photo.job);
    if (photo.problem !== undefined || (row && row.state !== "sent")) continue;
    const { job, person, proved, at, clock_offset_ms } = photo;
    const address = `/tablet/photos/${job}?${new URLSearchParams({ person, proved, saved_at: at, clock_offset_ms })}`;
    const found = judgePhoto(photo, await post(address, photo.bytes, "image/jpeg", PHOTO_WITHIN_MS));
    if (found.done) {
      await dropPhoto(photo.id);
      sent += 1;
    } else {
      await noteTry(photo.id, found.problem);
      if (found.stop) return { sent, stopped: found };
    }
  }
  return { sent };
};

const sendInOrder = async (asked) => {
  const before = await kept("hold");
  const left_ms = (before?.until ?? 0) - Date.now();
  if (!asked && left_ms > 0 && left_ms <= BELIEVED_MS) return;
  let some = false;
  for (;;) {
    const rows = (await list()).filter(isWaiting);
    if (!rows.length) break;
    for (const row of rows) {
      const found = judge(row, await post("/tablet/jobs", row.body, "application/json", ANSWER_WITHIN_MS));
      await settle(row.key, found.stop ? { state: "waiting", tries: row.tries + 1 } : { ...found, tries: row.tries + 1 });
      if (found.stop) {
        await holdOn(found, before);
        tellPages();
        return;
      }
      some = true;
    }
  }
  const photos = await sendPhotos();
  // A server that took something just now is no server that is away for long.
  if (photos.stopped) await holdOn(photos.stopped, some || photos.sent ? null : before);
  else await letGo("hold");
  if (some || photos.sent) {
    await noteAllSent();
    tellPages();
    await tellServer();
  }
};

let running = null, again = false;

/**
 * Sends what waits, one page or worker at a time. `asked`: somebody or something says that it is worth trying now,
 * however long the last try said to wait.
 */
export const send = ({ asked = false } = {}) => {
  if (running) {
    again = true;
    return running;
  }
  const turn = async () => {
    do {
      again = false;
      await sendInOrder(asked);
    } while (again && !(await kept("hold")));
  };
  running = navigator.locks.request("outbox-send", turn).finally(() => (running = null));
  return running;
};

/** Says that this tablet is there and what waits on it, and hears what time it is. */
export const tellServer = async () => {
  const { waiting, needs_you, oldest_ms } = await standing();
  const store = await kept("store");
  const asked_at = Date.now();
  try {
    const answer = await fetch("/tablet/contact", {
      method: "POST",
      body: JSON.stringify({ store: store ?? (await nameStore()), waiting: waiting + needs_you, oldest_ms, now_ms: asked_at }),
      headers: { "content-type": "application/json", accept: "application/json" },
      redirect: "manual",
      signal: AbortSignal.timeout(ANSWER_WITHIN_MS),
    });
    if (answer.status !== 200) return;
    const { now_ms, notice } = await answer.json();
    if (Number.isFinite(now_ms)) await keep("clock", { offset_ms: Math.round(now_ms - (asked_at + Date.now()) / 2), at: Date.now() });
    await keep("notice", notice ?? null);
  } catch { /* Told the next time. */ }
};

const nameStore = () => change(["kept"], async (box) => {
  const named = (await come(box.get("store"))) ?? crypto.randomUUID();
  box.put(named, "store");
  return named;
});
