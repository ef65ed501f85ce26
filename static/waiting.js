// The page "Waiting to send": what is on this tablet and not known to be with the server.

import { make } from "./dom.js";
import { clock, putDraft } from "./draft.js";
import { dropPhoto, inWords, isLeft, keepPhoto, list, listPhotos, needsSomebody, send, standing, takeIn, whenChanged } from "./outbox.js";
import { smaller } from "./photo.js";
import { saveFile } from "./saving.js";
import { kept } from "./store.js";
import { signedOn } from "./whose.js";

const MANY = 20;
const CLOCK_OFF_MS = 600_000;
const LONG_MS = 86_400_000;
const NEARLY_FULL = 0.9;
const RECENT_MS = 86_400_000;

const part = (id) => document.getElementById(id);
const button = (words, act, look = "plain") => {
  const made = make("button", { type: "button", class: look }, words);
  made.addEventListener("click", act);
  return made;
};

const stateOf = (row) => {
  if (row.state === "sent") return row.answer === "needs_checking" ? "Accepted, needs checking" : "Accepted";
  if (needsSomebody(row)) return "Needs you";
  return row.tries ? "Waiting to send. The server was not reached yet." : "Waiting to send";
};
const reasonsOf = (row) => {
  if (row.state === "stopped") return ["Its number stands for another job on record. Save it to a file and ask a lead hand or manager."];
  if (row.state === "returned") return row.problems.map(({ text }) => text);
  return row.state === "sent" ? row.questions ?? [] : [];
};

// The form filled in again, as a job of its own: the first one was never taken.
const fix = async (row) => {
  const key = crypto.randomUUID();
  const fields = new URLSearchParams(row.fields);
  fields.set("key", key);
  const who = await signedOn();
  await putDraft({ key, person: who?.id ?? row.person, address: row.address, title: row.title, fields: fields.toString(), at: Date.now(), fixes: row.key });
  location.assign(`${row.address}#draft-${key}`);
};

// A job that still waits is taken back by a second one that follows it; both stay visible.
const takeBack = async (row, reason) => {
  const who = (await signedOn()) ?? { id: row.person, shown: row.shown, proved: "unconfirmed" };
  const fields = new URLSearchParams({ reason, words: "" });
  await takeIn({
    key: crypto.randomUUID(), address: `/jobs/${row.key}/void`, fields: fields.toString(), person: who.id, shown: who.shown,
    proved: who.proved, opened_at: Date.now(), title: `Void: ${row.title}`, voids: row.key,
  }, "waiting");
  send();
};

const waysOf = (row, rows) => {
  if (row.state === "returned" && !row.voids) return [button("Fix", () => fix(row))];
  if (row.state === "sent") return row.address_there ? [make("a", { class: "plain", href: row.address_there }, "Open the job")] : [];
  const is_voided = rows.some(({ voids }) => voids === row.key);
  if (row.state !== "waiting" || row.voids || is_voided) return [];
  const reasons = part("waiting").dataset.voidReasons.split("|");
  const because = reasons.map((reason) => button(`Void: ${reason.toLowerCase()}`, () => takeBack(row, reason)));
  return [make("details", { class: "more" }, make("summary", {}, "Void"), make("div", { class: "actions" }, ...because))];
};

const card = (key, ...inside) => make("li", { "data-key": key }, make("div", { class: "card" }, ...inside));

// Photos of a job that waits are kept beside it, and follow it.
const FULL = "The photo is not kept: this tablet's storage is full. Make room on the tablet, or add the photo on the job's page once the job is sent.";
const addPhoto = async (row, input, said) => {
  const [file] = input.files;
  if (!file) return;
  said.textContent = "";
  try {
    const made = await smaller(file);
    const who = await signedOn();
    await keepPhoto(row.key, await made.blob.arrayBuffer(), { person: who?.id ?? row.person, proved: who?.proved ?? "unconfirmed" });
    send();
  } catch (cause) {
    said.textContent = cause.name === "QuotaExceededError" ? FULL : "This is no picture that can be shown here. Take a photo, or choose a JPEG, PNG or WebP.";
  }
  input.value = "";
};
const photosOf = (row, photos) => {
  const count = photos.filter(({ problem }) => problem === undefined).length;
  const wrong = photos.filter(({ problem }) => problem !== undefined);
  const parts = count ? [make("p", {}, `${count} ${count === 1 ? "photo goes" : "photos go"} with it`)] : [];
  for (const { id, problem } of wrong) parts.push(make("p", { class: "problem" }, `Photo not taken: ${problem}. `, button("Take the photo off", () => dropPhoto(id))));
  if (!row || row.voids || !isLeft(row)) return parts;
  const said = make("p", { class: "problem", role: "alert" });
  const input = make("input", { class: "w-full", type: "file", accept: "image/jpeg,image/png,image/webp", capture: "environment", id: `photo-${row.key}` });
  input.addEventListener("change", () => addPhoto(row, input, said));
  return [...parts, make("div", { class: "field" }, make("label", { for: input.id }, `Add a photo to ${row.title}`), said, input)];
};

const shown = (row, rows, photos) => card(row.key,
  make("h2", {}, row.title),
  make("p", {}, `${row.shown}, ${new Date(row.saved_at).toLocaleDateString([], { dateStyle: "short" })} ${clock(row.saved_at)}. `, make("strong", {}, stateOf(row))),
  ...reasonsOf(row).map((text) => make("p", { class: "problem" }, text)),
  ...photosOf(row, photos.filter(({ job }) => job === row.key)),
  make("p", { class: "actions" }, ...waysOf(row, rows)));

const warningsOf = async ({ waiting, needs_you, oldest_ms, hold }) => {
  const said = [];
  const left = waiting + needs_you;
  if (hold?.why === "not_enrolled") said.push("This tablet is not enrolled any more. Ask a manager to enrol this tablet; every job is kept until then, and can be saved to a file.");
  if (left >= MANY) said.push(`${left} jobs are on this tablet alone. Save them to a file, or bring the tablet where it reaches the server.`);
  if (oldest_ms && Date.now() - oldest_ms > LONG_MS) said.push("A job has waited for more than 24 hours. Save the jobs to a file, or bring the tablet where it reaches the server.");
  const { usage, quota } = (await navigator.storage?.estimate?.().catch(() => ({}))) ?? {};
  if (quota && usage / quota > NEARLY_FULL) said.push("This tablet's storage is nearly full. Save the jobs to a file, and make room on the tablet.");
  if (left && !("SyncManager" in window)) said.push("Keep this page open until it says All sent.");
  // A demonstration has a day of its own.
  const off_ms = document.querySelector("header .mark") ? 0 : (await kept("clock"))?.offset_ms ?? 0;
  if (Math.abs(off_ms) > CLOCK_OFF_MS) said.push(`This tablet's clock is ${Math.round(Math.abs(off_ms) / 60_000)} minutes ${off_ms > 0 ? "behind" : "ahead of"} the shop's. The times of jobs are put right; set the clock all the same.`);
  const notice = await kept("notice");
  if (notice) said.push(String(notice));
  return said;
};

const wordsOf = ({ all_sent_at, ...left }, saved) => {
  const just = saved && saved.state !== "sent" && !needsSomebody(saved) ? "Saved on this tablet. Waiting to send." : "";
  if (just || inWords(left)) return just || inWords(left);
  return all_sent_at ? `All sent at ${clock(all_sent_at)}.` : "All sent.";
};

const saved_key = new URLSearchParams(location.search).get("saved");
const draw = async () => {
  const [rows, photos, stands] = [await list(), await listPhotos(), await standing()];
  const saying = part("sending");
  const words = wordsOf(stands, rows.find(({ key }) => key === saved_key));
  saying.hidden = false;
  if (saying.textContent !== words) saying.textContent = words;
  part("warnings").replaceChildren(...(await warningsOf(stands)).map((text) => make("p", { class: "notice watch" }, text)));
  const recent = rows.filter((row) => row.state === "sent" && (photos.some(({ job }) => job === row.key) || (Date.now() - row.sent_at < RECENT_MS && (row.tries || row.questions?.length)))).reverse();
  const gone = photos.filter(({ job }) => !rows.some(({ key }) => key === job));
  const cards = [...[...rows.filter(isLeft), ...recent].map((row) => shown(row, rows, photos)), ...(gone.length ? [card("", make("h2", {}, "Photos of earlier jobs"), ...photosOf(null, gone))] : [])];
  // What is the same stays, with the file that somebody is choosing.
  if (cards.map(({ outerHTML }) => outerHTML).join("") !== part("waiting").innerHTML) part("waiting").replaceChildren(...cards);
  part("ways").hidden = !rows.some(isLeft) && !photos.length;
};

if (part("waiting") && "indexedDB" in window) {
  const redraw = whenChanged(draw);
  part("send-now").addEventListener("click", () => send({ asked: true }).then(redraw));
  part("save-to-file").addEventListener("click", () => saveFile());
  redraw();
}
