// Forms that are half filled in: kept while somebody types, and offered again to the same person.

import { all, changed, make } from "./dom.js";
import { find } from "./outbox.js";
import { change, come, look } from "./store.js";

const AFTER_TYPING_MS = 250;
const KEPT_MS = 7 * 86_400_000;
const TIME = new Intl.DateTimeFormat([], { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });

export const clock = (ms) => TIME.format(ms);

/** The body of a form in the bytes a browser sends it in: lines end in CRLF. */
export const fieldsOf = (form) => {
  const fields = new URLSearchParams();
  for (const [name, value] of new FormData(form)) fields.append(name, value.replace(/\r\n?|\n/g, "\r\n"));
  return fields;
};

export const listDrafts = async (person) => {
  const drafts = await look(["draft"], (box) => come(box.getAll()));
  return drafts.filter((draft) => draft.person === person && Date.now() - draft.at < KEPT_MS);
};
export const putDraft = (draft) => change(["draft"], (box) => come(box.put(draft)));
const dropDraft = (key) => change(["draft"], (box) => come(box.delete(key)));
export const dropOldDrafts = () => change(["draft"], async (box) => {
  for (const draft of await come(box.getAll())) if (Date.now() - draft.at > KEPT_MS) box.delete(draft.key);
});

// A job is open in the page that holds its lock, and in no other.
const lockOf = (key) => `job-${key}`;
const hold = (key) => new Promise((then) => {
  navigator.locks.request(lockOf(key), { ifAvailable: true }, (lock) => {
    then(Boolean(lock));
    return lock ? new Promise(() => {}) : undefined;
  });
});
const isOpenElsewhere = async (key) => (await navigator.locks.query()).held.some(({ name }) => name === lockOf(key));

const fill = (form, fields) => {
  const there = new Set();
  const inputs = [...form.elements].filter(({ name }) => name);
  const set = (wanted) => {
    for (const input of inputs.filter(wanted)) {
      there.add(input.name);
      const values = fields.getAll(input.name);
      if (input.type === "radio" || input.type === "checkbox") {
        if (input.type === "checkbox" || values.length) input.checked = values.includes(input.value);
      } else if (values.length && input.type !== "submit") input.value = values.shift();
    }
  };
  // What only some answers need can be filled in once they are given.
  set(({ type }) => type === "radio" || type === "checkbox");
  form.dispatchEvent(new Event("change", { bubbles: true }));
  set(({ type }) => type !== "radio" && type !== "checkbox");
  // What a plan handed over stands in fields that only its own page has.
  for (const [name, value] of fields) {
    if (!there.has(name)) form.append(make("input", { type: "hidden", name, value }));
  }
  for (const field of all("[data-pair] input", form)) changed(field);
  form.dispatchEvent(new Event("filled"));
};

/** Goes on with a draft in this form. Gives whether it could; another page may hold it. */
const goOn = async (form, draft) => {
  if (!(await hold(draft.key))) return false;
  fill(form, new URLSearchParams(draft.fields));
  if (draft.unit !== undefined) form.querySelector("#offline-unit").value = draft.unit;
  form.dataset.key = draft.key;
  if (draft.fixes) form.dataset.fixes = draft.fixes;
  form.querySelector("input[name=key]").value = draft.key;
  return true;
};

const elsewhere = () => make("div", { class: "notice watch", role: "alert" }, make("p", {}, make("strong", {}, "This job is open in another tab."), " Go on there, or close that tab and open this page again."));

const offer = (form, draft) => {
  const yes = make("button", { type: "button", class: "main" }, "Go on with it");
  const no = make("button", { type: "button", class: "plain" }, "Begin anew");
  const box = make("div", { class: "notice wait", id: "draft" }, make("p", {}, make("strong", {}, `This job was begun at ${clock(draft.at)} and is not saved yet.`)), make("p", { class: "actions" }, yes, no));
  yes.addEventListener("click", async () => box.replaceWith(...((await goOn(form, draft)) ? [] : [elsewhere()])));
  no.addEventListener("click", async () => {
    await dropDraft(draft.key);
    box.remove();
  });
  form.before(box);
};

/** When the hold began that runs in a form, by this tablet's clock; nothing when none runs. */
const holdOf = (form) => {
  for (const part of all("[data-timer-from]", form)) {
    const [from, held] = [part.dataset.timerFrom, part.dataset.timerHeld].map((name) => part.querySelector(`[name="${name}"]`));
    if (!from?.value || held?.value) continue;
    const start = new Date().setHours(...from.value.split(":").map(Number), 0);
    return start > Date.now() ? start - 86_400_000 : start;
  }
  return undefined;
};

/**
 * Keeps what is typed into a job's form, and offers what was typed before. `person` is who may have it back; `typed`,
 * whether something was typed already.
 */
export const keepDrafts = async (form, { person, typed }) => {
  const title = document.querySelector("h1").textContent;
  const address = location.pathname;
  const key = () => form.querySelector("input[name=key]").value;
  let timer = 0;
  const put = () => {
    clearTimeout(timer);
    timer = 0;
    if (form.dataset.saving) return undefined;
    const unit = form.querySelector("#offline-unit")?.value;
    const fixes = form.dataset.fixes;
    const holds_since = holdOf(form);
    return putDraft({ key: key(), person, address, title, fields: fieldsOf(form).toString(), at: Date.now(), ...(unit === undefined ? {} : { unit }), ...(fixes ? { fixes } : {}), ...(holds_since ? { holds_since } : {}) });
  };
  const soon = (event) => {
    if (!event.isTrusted && !event.target.matches?.("[data-pad], [data-timer-from] input")) return;
    clearTimeout(timer);
    timer = setTimeout(put, AFTER_TYPING_MS);
  };
  form.addEventListener("input", soon);
  form.addEventListener("change", soon);
  for (const kind of ["pagehide", "visibilitychange"]) addEventListener(kind, () => timer && put(), true);
  if (typed) timer = setTimeout(put, AFTER_TYPING_MS);

  const wanted = /^#draft-(.+)$/.exec(location.hash)?.[1];
  const all_drafts = await look(["draft"], (box) => come(box.getAll()));
  const named = all_drafts.find((draft) => draft.key === wanted);
  if (named) {
    history.replaceState(null, "", location.pathname + location.search);
    if (!(await goOn(form, named))) form.before(elsewhere());
    return;
  }
  const own = all_drafts.filter((draft) => draft.address === address && draft.person === person && draft.key !== key());
  const newest = own.sort((one, other) => other.at - one.at)[0];
  if (!newest || Date.now() - newest.at > KEPT_MS || (await find(newest.key))) return hold(key());
  if (await isOpenElsewhere(newest.key)) form.before(elsewhere());
  else offer(form, newest);
  return hold(key());
};
