// Every page on a tablet of the shop: whether its jobs are sent, and what it needs to work without a network.

import { all, make } from "./dom.js";
import { clock, dropOldDrafts, listDrafts } from "./draft.js";
import { dropOldReceipts, inWords, send, standing, tellServer, whenChanged } from "./outbox.js";
import { keep, kept, letGo } from "./store.js";
import { nameInFrame, signedOn, stayOn, stored_at } from "./whose.js";

const REFRESH_MS = 900_000;
const LEAST_AGAIN_MS = 2_000;
const GONE_MS = 2500;
const LEFT_ALONE_MS = 4_000;

// The send state stands in the head of every page, and is told when it changes.
const place = document.querySelector("[data-send-state]");
const showState = async () => {
  if (!place) return;
  const words = inWords(await standing()) || "All sent";
  const link = place.querySelector("a");
  if (link?.textContent === words) return;
  place.replaceChildren(make("a", { href: "/waiting" }, words));
  place.classList.toggle("wait", words !== "All sent");
};

// Sending is tried whenever something says that the network may be there, and by the clock while the page is seen.
let timer = 0;
const tryAgain = async () => {
  clearTimeout(timer);
  await send().catch(() => {});
  const { waiting, photos, hold } = await standing();
  const rest = Math.max((hold?.until ?? 0) - Date.now(), LEAST_AGAIN_MS);
  if ((waiting || photos) && !document.hidden) timer = setTimeout(tryAgain, Math.min(rest, REFRESH_MS));
};
const tryNow = async () => {
  const hold = await kept("hold");
  // A server that said when to come back is not asked before; a network that came back is used at once.
  await send({ asked: hold?.why === "later" && !hold.told }).catch(() => {});
  await tryAgain();
};
const followNetwork = () => {
  addEventListener("online", tryNow);
  addEventListener("pageshow", (event) => event.persisted && tryNow());
  document.addEventListener("visibilitychange", () => !document.hidden && tryNow());
  tryNow();
};

// What the tablet knows by heart, asked for anew now and then.
const SHELLS = ["/waiting", "/offline"];
const isFresh = (at) => Math.abs(Date.now() - (at ?? 0)) < REFRESH_MS;
const refreshList = async () => {
  const before = await kept("list");
  if (isFresh(before?.fetched_at)) return;
  await tellServer();
  const answer = await fetch("/tablet/list", { headers: { accept: "application/json", ...(before?.tag ? { "if-none-match": before.tag } : {}) }, cache: "no-store", redirect: "manual" });
  if (answer.status === 200 && answer.headers.has("x-app-version")) {
    const { list } = await answer.json();
    await keep("list", { ...list, tag: answer.headers.get("etag"), fetched_at: Date.now() });
  } else if (answer.status === 304) await keep("list", { ...before, fetched_at: Date.now() });
};
// Sheets are drawn for whoever is signed on, so only then can they be kept.
const refreshShells = async () => {
  if (stored_at !== null || !document.body.dataset.person || isFresh(await kept("shells_at"))) return;
  const { kinds = [] } = (await kept("list")) ?? {};
  const worker = await navigator.serviceWorker.ready;
  worker.active.postMessage({ keep: [...SHELLS, ...kinds.map(({ kind }) => `/offline/jobs/${kind}`)] });
  await keep("shells_at", Date.now());
};

// A later version of the program takes over at the sign-on page, never under a form, and only while nobody touches it: a
// page that is asked for while the workers change may wait long for the one that is gone.
const takeOverWhenLeftAlone = (worker) => {
  let timer = 0;
  const wait = () => {
    clearTimeout(timer);
    timer = setTimeout(() => worker?.waiting?.postMessage("take over"), LEFT_ALONE_MS);
  };
  for (const touch of ["pointerdown", "keydown"]) addEventListener(touch, wait);
  wait();
};
const registerWorker = async () => {
  if (!navigator.serviceWorker) return;
  const worker = await navigator.serviceWorker.register("/worker.js", { type: "module", updateViaCache: "none" });
  if (location.pathname === "/sign-on") takeOverWhenLeftAlone(worker);
  await refreshList();
  await refreshShells();
};

// Signing off must work without a network as well. The server is told as soon as it can be.
const signOff = async (event) => {
  event.preventDefault();
  await letGo("signed_on");
  try {
    await fetch("/sign-off", { method: "POST", redirect: "manual", signal: AbortSignal.timeout(GONE_MS) });
    await letGo("sign_off_owed");
  } catch {
    await keep("sign_off_owed", true);
  }
  location.assign("/sign-on");
};
const signOffAsOwed = async () => {
  if (stored_at !== null || !(await kept("sign_off_owed"))) return;
  const answer = await fetch("/sign-off", { method: "POST", redirect: "manual" });
  if (answer.type !== "opaqueredirect" && !answer.ok) return;
  await letGo("sign_off_owed");
  await letGo("signed_on");
  if (document.body.dataset.person) location.replace("/sign-on");
};

const offerDrafts = async () => {
  const who = await signedOn();
  const drafts = location.pathname === "/" && who ? await listDrafts(who.id) : [];
  if (!drafts.length) return;
  const rows = drafts.map(({ key, address, title, at }) => make("li", {}, make("a", { href: `${address}#draft-${key}` }, title), `, begun at ${clock(at)}`));
  document.querySelector("main h1").after(make("div", { class: "notice wait", id: "drafts" }, make("p", {}, make("strong", {}, "Begun and not saved yet")), make("ul", {}, ...rows)));
};

const offerJobs = async () => {
  const box = document.getElementById("log-a-job");
  const { kinds = [] } = box ? (await kept("list")) ?? {} : {};
  if (!kinds.length) return;
  const rows = kinds.map(({ kind, name }) => make("a", { class: "plain", href: `/offline/jobs/${kind}` }, name));
  box.replaceChildren(make("h2", {}, "Log a job"), make("p", { class: "actions" }, ...rows));
};

const sayStored = () => {
  if (stored_at === null || document.querySelector("form#job") || /^\/(waiting|offline)/.test(location.pathname)) return;
  if (document.getElementById("log-a-job")) return;
  const at = new Date(stored_at).toLocaleString([], { dateStyle: "short", timeStyle: "short" });
  document.querySelector("main").prepend(make("p", { class: "notice wait", id: "stored" }, make("strong", {}, `Figures as of ${at}.`), " No network. You can go on working."));
};

if (document.body.dataset.tablet && "indexedDB" in window) {
  for (const form of all('form[action="/sign-off"]')) form.addEventListener("submit", signOff);
  for (const kind of ["pointerup", "keydown"]) document.addEventListener(kind, () => stored_at !== null && stayOn());
  whenChanged(showState)();
  sayStored();
  nameInFrame();
  offerDrafts();
  offerJobs();
  signOffAsOwed().catch(() => {});
  followNetwork();
  // What this script waits for may take longer than the page.
  const begin = () => registerWorker().catch(() => {});
  if (document.readyState === "complete") begin();
  else addEventListener("load", begin);
  dropOldReceipts().then(dropOldDrafts).catch(() => {});
  navigator.storage?.persist?.();
}
