// The number pad, for fingers; a keyboard never meets it.

import { all, changed, make, shows } from "./dom.js";

// The same words as in app.css: a finger, or a small screen that takes both.
const finger = matchMedia("(pointer: coarse), (any-pointer: coarse) and (max-width: 1279px)");

// Keys act on release, and the field keeps the focus.
const pad = make("div", { class: "pad", role: "group" });
let target = null;
const RUB_OUT = '<svg viewBox="0 0 24 24" aria-hidden="true"><path d="M8 5h14v14H8l-6-7zM12 9l6 6M18 9l-6 6"/></svg>';
const key = (text, name) => {
  const button = make("button", { type: "button", tabindex: "-1", "data-key": text }, text === "-" ? "\u2212" : text);
  if (name) button.setAttribute("aria-label", name);
  if (text === "back") button.innerHTML = RUB_OUT;
  return button;
};
const aim = (input) => {
  if (!finger.matches || input === target) return;
  target?.classList.remove("typing");
  target = input;
  const label = input.labels?.[0]?.textContent.trim() ?? "";
  const mark = input.dataset.pad === "decimal" ? key(".", "decimal point") : make("span");
  pad.setAttribute("aria-label", `Number pad: ${label}`);
  pad.replaceChildren(make("p", {}, label), ...[..."123456789"].map((digit) => key(digit)), mark, key("0"), key("back", "Rub out the last"));
  if ("signed" in input.dataset) pad.append(key("-", "minus"));
  input.classList.add("typing");
  (input.closest(".field") ?? input.parentElement).append(pad);
};
const aimAtFirst = (within) => {
  const first = all("[data-pad]", within).find((input) => shows(input) && !input.disabled);
  if (first) aim(first);
  else putPadAway();
};
const putPadAway = () => {
  target?.classList.remove("typing");
  target = null;
  pad.remove();
};
const press = (what) => {
  const [from, to] = document.activeElement === target
    ? [target.selectionStart, target.selectionEnd]
    : [target.value.length, target.value.length];
  if (what === "back") target.setRangeText("", from === to ? Math.max(from - 1, 0) : from, to, "end");
  else if (target.maxLength < 0 || target.value.length < target.maxLength) target.setRangeText(what, from, to, "end");
  changed(target);
};
const offerPad = () => {
  const inputs = all("[data-pad]");
  if (!finger.matches || !inputs.length) return;
  document.body.classList.add("has-pad");
  for (const input of inputs) input.inputMode = "none";
  pad.addEventListener("mousedown", (event) => event.preventDefault());
  pad.addEventListener("click", (event) => {
    const pressed = event.target.closest("[data-key]");
    if (pressed && target) press(pressed.dataset.key);
  });
  document.addEventListener("focusin", (event) => {
    if (event.target.matches("[data-pad]")) aim(event.target);
    else if (event.target.matches("textarea, select, input:not([type=radio], [type=checkbox])")) putPadAway();
  });
  document.addEventListener("open-step", (event) => aimAtFirst(event.target));
  aimAtFirst(document);
};
// The sixth digit of a PIN signs on, once it is clear who.
document.addEventListener("input", ({ target: input }) => {
  if (!input.closest("[data-pin]") || !/^\d{6}$/.test(input.value)) return;
  const people = all("[name=person]", input.form);
  if (!people.length || people.some((person) => person.checked || person.type === "hidden")) input.form.requestSubmit();
});

offerPad();
