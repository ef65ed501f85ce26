// Save on a tablet: the job is put into the tablet's own storage first, then sent straight; what cannot be sent waits.

import { all, make } from "./dom.js";
import { fieldsOf, keepDrafts } from "./draft.js";
import { asFile, bodyOf, find, keepWaiting, noteSent, send, takeIn, takeOut } from "./outbox.js";
import { slipIn } from "./limits.js";
import { findUnit, followUnit } from "./named_unit.js";
import { kept } from "./store.js";
import { askWhose, signedOn, stored_at } from "./whose.js";

const STRAIGHT_MS = 2500;

const say = (form, id, ...inside) => {
  form.querySelector(`#${id}`)?.remove();
  const said = make("div", { class: "problems", id, role: "alert", tabindex: "-1" }, ...inside);
  form.prepend(said);
  said.focus();
  scrollTo(0, said.offsetTop);
};

/** Hands a file of jobs to whoever holds the tablet. */
export const saveFile = async (extra = []) => {
  const { text } = await asFile(extra).catch(() => ({ text: `{"format":1,"jobs":[${extra.join(",")}]}\n` }));
  const address = URL.createObjectURL(new Blob([text], { type: "application/json" }));
  make("a", { href: address, download: `waiting-jobs-${new Date().toISOString().slice(0, 10)}.json` }).click();
  setTimeout(() => URL.revokeObjectURL(address), 60_000);
};

// A form out of a kept copy stands for a new job, opened now.
const makeNew = async (form) => {
  const clock = await kept("clock");
  form.querySelector("input[name=key]").value = crypto.randomUUID();
  form.querySelector("input[name=opened]").value = String(Date.now() + (clock?.offset_ms ?? 0));
  const { day } = form.elements;
  if (day) day.value = "";
  for (const button of all("[name=preview], [name=not_me]", form)) button.hidden = true;
  const said = stored_at < Date.now() - 60_000 ? ` Figures as of ${new Date(stored_at).toLocaleString([], { dateStyle: "short", timeStyle: "short" })}.` : "";
  form.before(make("p", { class: "notice wait", id: "stored" }, make("strong", {}, "No network. You can go on working."), said));
};

const nativeSend = (form) => {
  form.dataset.sent = "yes";
  form.submit();
};

// 201 with our key: saved. 422: nothing was saved, and the page says what to put right. Anything else is no answer.
const sendStraight = async (form, key, fields) => {
  try {
    const answer = await fetch(form.getAttribute("action"), {
      method: "POST", body: new URLSearchParams(fields), headers: { accept: "application/json" }, redirect: "manual",
      signal: AbortSignal.timeout(STRAIGHT_MS),
    });
    if (answer.status === 422 && answer.headers.has("x-app-version")) return { refused: true };
    if (answer.status !== 201) return {};
    const told = await answer.json();
    return told.key === key ? { saved: told.address } : {};
  } catch { return {}; }
};

const wakeLater = async () => {
  const worker = await navigator.serviceWorker?.getRegistration();
  await worker?.sync?.register("outbox");
};

const showWaiting = (form, key) => {
  if (navigator.serviceWorker?.controller) {
    location.assign(`/waiting?saved=${key}`);
    return;
  }
  // No worker shows the page without a network, so this one says it.
  form.replaceWith(make("div", { class: "notice wait", role: "status", id: "saved-here" }, make("p", {}, make("strong", {}, "Saved on this tablet. Waiting to send."), " Keep this page open until it says All sent.")));
  send();
};

const save = async (form, job, whose_session) => {
  let row;
  try {
    row = await takeIn(job, whose_session ? "in_hand" : "waiting");
  } catch (cause) {
    if (cause.name === "ConstraintError") {
      const before = await find(job.key);
      location.assign(before.state === "sent" ? before.address_there : `/waiting?saved=${job.key}`);
      return;
    }
    // The tablet cannot keep it; perhaps the server can be reached, and otherwise the form stays.
    const { saved, refused } = whose_session ? await sendStraight(form, job.key, job.fields) : {};
    if (saved) location.assign(saved);
    else if (refused) nativeSend(form);
    else offerFile(form, job);
    return;
  }
  const { saved, refused } = whose_session ? await sendStraight(form, row.key, row.fields) : {};
  if (saved) {
    await noteSent(row.key, saved);
    location.assign(saved);
  } else if (refused) {
    await takeOut(row.key);
    nativeSend(form);
  } else {
    await keepWaiting(row.key);
    wakeLater().catch(() => {});
    showWaiting(form, row.key);
  }
};

const offerFile = async (form, job) => {
  delete form.dataset.saving;
  const body = await bodyOf(job).catch(() => null);
  const button = make("button", { type: "button", class: "plain" }, "Save to file");
  button.addEventListener("click", () => saveFile(body ? [body] : []));
  say(form, "not-kept", make("h2", {}, "Not saved: this tablet's storage is full"),
    make("p", {}, "What you typed is still here. Save it to a file, which a lead hand or manager can take in, or make room on the tablet and press Save job again."),
    make("p", { class: "actions" }, button));
};

const jobOf = async (form, who) => {
  const found = await findUnit(form);
  const as_typed = found && !found.unit && form.dataset.anyUnit === found.typed;
  if (found && !found.unit && !as_typed) {
    const known = (await kept("list"))?.units ? "is no unit this tablet knows" : "cannot be looked up: this tablet has no list of units yet";
    return { problem: found.typed ? `"${found.typed}" ${known}. Check the number.` : "Type the unit's number.", field: "#offline-unit", any_unit: found.typed };
  }
  const slip = slipIn(form);
  if (slip) return slip;
  const person = await who();
  if (!person) return { problem: "Choose who did it.", field: "#whose input" };
  const action = new URL(form.action).pathname;
  // A unit that nobody knows yet gets an id that nobody knows; its number stands in the note, and the record asks about it.
  const address = found ? action.replace(/^\/units\/[^/]+\//, `/units/${found.unit?.id ?? crypto.randomUUID()}/`) : action;
  if (found) form.setAttribute("action", address);
  const heading = document.querySelector("h1").textContent;
  const fields = fieldsOf(form);
  if (as_typed) fields.set("note", [`Unit as typed: ${found.typed}.`, fields.get("note")].filter(Boolean).join("\r\n"));
  const clock = await kept("clock");
  // "Now" may be another day by the time it is read.
  if (fields.get("when") === "now" && form.elements.day?.value === form.elements.day?.defaultValue) fields.set("day", "");
  return {
    key: fields.get("key"), address, fields: fields.toString(), person: person.id, shown: person.shown, proved: person.proved,
    opened_at: Number(fields.get("opened")) - (clock?.offset_ms ?? 0), title: found ? `${heading}: ${found.unit?.number ?? found.typed}` : heading, fixes: form.dataset.fixes,
  };
};

const anyway = (form, typed) => {
  const button = make("button", { type: "button", class: "plain" }, `Save it for "${typed}" all the same`);
  button.addEventListener("click", () => {
    form.dataset.anyUnit = typed;
    form.requestSubmit();
  });
  return make("p", { class: "actions" }, button);
};

const takeOver = async (form) => {
  // What is typed while the tablet's storage is read is kept as well.
  let typed = false;
  form.addEventListener("input", (event) => (typed ||= event.isTrusted));
  if (stored_at !== null) await makeNew(form);
  followUnit(form);
  const who = await askWhose(form);
  form.addEventListener("submit", async (event) => {
    const by = event.submitter;
    // These ask the server something and save nothing.
    if (["preview", "not_me"].includes(by?.name)) return;
    event.preventDefault();
    if (form.dataset.saving) return;
    form.dataset.saving = "yes";
    if (by?.name === "fresh_key") form.querySelector("input[name=key]").value = by.value;
    const job = await jobOf(form, who);
    if (job.problem) {
      delete form.dataset.saving;
      say(form, "not-yet", make("h2", {}, "Not saved yet"), make("p", {}, job.problem), ...(job.any_unit ? [anyway(form, job.any_unit)] : []));
      const field = form.querySelector(job.field);
      field?.dispatchEvent(new Event("reach", { bubbles: true }));
      field?.focus();
      return;
    }
    form.append(make("p", { class: "on-its-way", role: "status" }, "On its way. Keep this page open."));
    // Only under the name of whoever is signed on does the server take a form straight.
    await save(form, job, job.proved !== "unconfirmed");
    for (const said of all(".on-its-way", form)) said.remove();
  });
  const person = (await signedOn())?.id ?? document.body.dataset.person ?? "nobody";
  await keepDrafts(form, { person, typed });
};

const form = document.querySelector("form#job");
if (form && document.body.dataset.tablet && "indexedDB" in window) takeOver(form);
