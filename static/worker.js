// What a tablet shows when there is no network. Only documents and the files of this program are ever looked at: what is
// sent, and what the tablet and other programs ask for, goes its own way.

import { list, send } from "./outbox.js";

// Every file of the program; the build puts their addresses here.
const FILES = ["./*"];

const PATIENCE_MS = 2500;
const LAST_PATIENCE_MS = 20_000;
const MOST_PAGES = 300;

const OURS = "x-app-version";
const KEPT_AT = "x-kept-at";
const KEPT = /^\/(?:(?:units|vessels)\/[^/]+(?:\/jobs(?:\/[a-z_]+)?)?|vessels)?$/;
// Drawn for any unit and nobody in particular; these stay however many pages were kept since.
const SHELL = /^\/(?:waiting|offline(?:\/jobs\/[a-z_]+)?)$/;
const FIRST_SHELLS = ["/waiting", "/offline"];
const JOB_ON_UNIT = /^\/units\/[^/]+\/jobs\/([a-z_]+)$/;

const pause = (ms) => new Promise((then) => setTimeout(then, ms));

// A page of this program and of nobody else: a network that wants to be signed on to answers 200 as well.
const isOurPage = (answer) => answer.status === 200 && !answer.redirected && answer.headers.has(OURS)
  && (answer.headers.get("content-type") ?? "").startsWith("text/html");

const keepPage = async (address, answer) => {
  const { pathname, search } = new URL(address, location.origin);
  const is_shell = SHELL.test(pathname);
  if (!isOurPage(answer) || !(is_shell || (KEPT.test(pathname) && !search))) return;
  const headers = new Headers(answer.headers);
  for (const name of ["content-encoding", "content-length", "transfer-encoding"]) headers.delete(name);
  headers.set(KEPT_AT, String(Date.now()));
  const pages = await caches.open(is_shell ? "shells" : "pages");
  await pages.put(pathname, new Response(await answer.blob(), { headers }));
  if (is_shell) return;
  const all = await pages.keys();
  await Promise.all(all.slice(0, Math.max(all.length - MOST_PAGES, 0)).map((old) => pages.delete(old)));
};

const keepShell = async (path) => keepPage(path, await fetch(path, { redirect: "manual" }));

// The copy says how old it is, so that its script can say so and make its form a new one.
const copyOf = async (path) => {
  const [, kind] = JOB_ON_UNIT.exec(path) ?? [];
  const found = (await caches.match(path)) ?? (kind && (await caches.match(`/offline/jobs/${kind}`)));
  if (!found) return undefined;
  const text = await found.text();
  return new Response(text.replace("<body", `<body data-stored-at="${found.headers.get(KEPT_AT)}"`), { headers: found.headers });
};

const isNoAnswer = (answer) => !answer || (answer.status >= 500 && !answer.headers.has(OURS));

const page = async (asked, path) => {
  const answered = asked.catch(() => null);
  const soon = await Promise.race([answered, pause(PATIENCE_MS)]);
  if (!isNoAnswer(soon)) return soon;
  const copy = await copyOf(path);
  if (copy) return copy;
  const late = await Promise.race([answered, pause(LAST_PATIENCE_MS)]);
  if (!isNoAnswer(late)) return late;
  return (await copyOf("/offline")) ?? late ?? Response.error();
};

// A name that holds a hash of its contents never stands for anything else.
const file = async (request) => {
  const files = await caches.open("files");
  const found = await files.match(request.url);
  if (found) return found;
  const answer = await fetch(request.url);
  if (answer.status === 200 && answer.headers.has(OURS)) await files.put(request.url, answer.clone());
  return answer;
};

self.addEventListener("fetch", (event) => {
  const { method, mode, url } = event.request;
  const { origin, pathname } = new URL(url);
  if (method !== "GET" || origin !== location.origin || /^\/(?:tablet|api)\//.test(pathname)) return;
  if (pathname.startsWith("/static/")) event.respondWith(file(event.request));
  else if (mode === "navigate") {
    const asked = fetch(event.request);
    event.waitUntil(asked.then((answer) => keepPage(url, answer.clone())).catch(() => {}));
    event.respondWith(page(asked, pathname));
  }
});

const keepFiles = async () => {
  const files = await caches.open("files");
  const there = (await files.keys()).map(({ url }) => new URL(url).pathname);
  await files.addAll(FILES.filter((path) => !there.includes(path)));
};
self.addEventListener("install", (event) => {
  event.waitUntil(Promise.all([keepFiles(), ...FIRST_SHELLS.map((path) => keepShell(path).catch(() => {}))]));
});

// Files of earlier versions go, but for those that a kept page still needs.
const dropOldFiles = async () => {
  const names = ["files", "pages", "shells"];
  const [files, ...kept] = await Promise.all(names.map((name) => caches.open(name)));
  const pages = (await Promise.all(kept.map((each) => each.matchAll()))).flat();
  let needed = await Promise.all(pages.map((each) => each.text()));
  let old = (await files.keys()).filter(({ url }) => !FILES.includes(new URL(url).pathname));
  while (needed.length) {
    const named = old.filter(({ url }) => needed.some((text) => text.includes(new URL(url).pathname)));
    old = old.filter((each) => !named.includes(each));
    needed = await Promise.all(named.map(async (each) => (await files.match(each)).text()));
  }
  await Promise.all(old.map((each) => files.delete(each)));
};
self.addEventListener("activate", (event) => {
  event.waitUntil(dropOldFiles().then(() => self.clients.claim()));
});

self.addEventListener("message", (event) => {
  if (event.data === "take over") self.skipWaiting();
  else if (event.data?.keep) event.waitUntil(Promise.all(event.data.keep.filter((path) => SHELL.test(path)).map((path) => keepShell(path).catch(() => {}))));
});

// Where the browser can wake a worker when the network is back, jobs go out without a page.
self.addEventListener("sync", (event) => {
  if (event.tag !== "outbox") return;
  event.waitUntil(send({ asked: true }).then(list).then((rows) => {
    if (rows.some(({ state }) => state === "waiting")) throw new Error("jobs still wait");
  }));
});
