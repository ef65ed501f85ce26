// Holds that run while nobody is signed on: a tablet that locks itself must not hide a timer somebody waits for.

import { clock } from "./draft.js";
import { make } from "./dom.js";
import { come, look } from "./store.js";

const LONGEST_MS = 86_400_000;
const box = document.getElementById("holds");

const nameOf = (person) => document.querySelector(`input[name=person][value="${CSS.escape(person)}"] + span strong`)?.textContent;

let drafts = [];
const read = async () => {
  drafts = await look(["draft"], (store) => come(store.getAll()));
  draw();
};

const draw = () => {
  const running = drafts.filter(({ holds_since: since }) => since && Date.now() - since < LONGEST_MS);
  box.hidden = !running.length;
  box.replaceChildren(...running.map(({ holds_since: since, title, person }) => {
    const seconds = Math.max(0, Math.floor((Date.now() - since) / 1000));
    const face = make("strong", { role: "timer" }, `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`);
    const whose = nameOf(person);
    return make("p", {}, face, ` The hold of "${title}" runs since ${clock(since)}${whose ? `, ${whose}` : ""}. Sign on to stop it.`);
  }));
};

if (box) {
  await read();
  setInterval(draw, 1000);
  addEventListener("pageshow", read);
}
