// Whose name jobs go under at this tablet. A page that was kept may bear another person's name, so it is told here.

import { all, make } from "./dom.js";
import { keep, kept, letGo } from "./store.js";

const page = document.body.dataset;
/** This page is a copy that was kept; since when, in milliseconds. */
export const stored_at = page.storedAt ? Number(page.storedAt) : null;

const HOUR_MS = 3_600_000;

// Whoever the server says is signed on: the only way in which somebody is more than a name to confirm. No script waits
// for it: WebKit runs one that waits for a module which waits (await at its top) before the page's form is there.
const noteWhoever = async () => {
  if (stored_at !== null) return;
  if (page.person) await keep("signed_on", { id: page.person, shown: page.whose, proved: page.proved, until: Date.now() + Number(page.idleMs ?? HOUR_MS) });
  else if (location.pathname === "/sign-on") await letGo("signed_on");
};
const noted = noteWhoever().catch(() => {});

/** Who is signed on: { id, shown, proved }, or nobody. */
export const signedOn = async () => {
  await noted;
  const who = await kept("signed_on");
  return who && Date.now() < who.until ? who : null;
};

// Somebody who goes on working stays signed on here as long as they would on the server.
export const stayOn = async () => {
  const who = await signedOn();
  if (who) await keep("signed_on", { ...who, until: Date.now() + Number(page.idleMs ?? HOUR_MS) });
};

/** The frame of a kept page names whoever is signed on now. */
export const nameInFrame = async () => {
  if (stored_at === null) return;
  const who = await signedOn();
  for (const place of all(".whose > p:last-child")) {
    place.replaceChildren(make("strong", {}, who ? who.shown : "Nobody is signed on"));
  }
};

/**
 * Who a job of this form goes under: { id, shown, proved } when it is saved, or a sentence that says what is missing.
 * Where nobody is signed on a name is chosen, and confirmed later.
 */
export const askWhose = async (form) => {
  const place = form.querySelector(".whose-name");
  const who = await signedOn();
  if (stored_at === null || who) {
    if (who) place?.querySelector("strong")?.replaceChildren(who.shown);
    return async () => (await signedOn()) ?? (stored_at === null && page.person ? { id: page.person, shown: page.whose, proved: page.proved } : null);
  }
  const { people = [] } = (await kept("list")) ?? {};
  const tiles = people.map(({ id, name }) => make("label", { class: "choice" },
    // Not one of the form's own fields.
    make("input", { type: "radio", name: "whose", value: id, form: "nobody" }), make("span", {}, name)));
  const box = make("fieldset", { class: "field choices whose-name", id: "whose" }, make("legend", {}, "Who did it?"),
    make("p", { class: "hint" }, "Nobody is signed on and there is no network, so the name is to be confirmed later."), ...tiles);
  if (!tiles.length) box.append(make("p", {}, "This tablet does not know any names yet. Sign on once while there is a network."));
  place?.replaceWith(box);
  return async () => {
    const chosen = box.querySelector("input:checked")?.value;
    const person = people.find(({ id }) => id === chosen);
    return person ? { id: person.id, shown: person.name, proved: "unconfirmed" } : null;
  };
};
