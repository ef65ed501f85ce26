// What every page can do beyond links and forms. Pages work without it, only less quickly.

import { all, make } from "./dom.js";

const SAME_BUTTON_MS = 400;
const SAME_KEY_MS = 80;
const ANSWER_WITHIN_MS = 20_000;
const WARN_MS = 60_000;
const TELL_AFTER_MS = 30_000;

// A wet screen touches twice: the same button is taken once, and a form is sent once.
let last = { control: null, at: 0 };
document.addEventListener("click", (event) => {
  const control = event.target.closest("button, a, summary");
  if (!control) return;
  const least = control.closest(".pad") ? SAME_KEY_MS : SAME_BUTTON_MS;
  if (control === last.control && event.timeStamp - last.at < least) {
    event.preventDefault();
    event.stopImmediatePropagation();
    return;
  }
  last = { control, at: event.timeStamp };
}, true);
const arrived = (form) => {
  delete form.dataset.sent;
  for (const said of all(".on-its-way", form)) said.remove();
};
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (event.defaultPrevented || form.method !== "post") return;
  if (form.dataset.sent) {
    event.preventDefault();
    return;
  }
  form.dataset.sent = "yes";
  form.append(make("p", { class: "on-its-way", role: "status" }, "On its way. Keep this page open."));
  // The same job sent again is never counted twice, so a second try may follow.
  setTimeout(arrived, ANSWER_WITHIN_MS, form);
});

// Problems are read first, and lead to their fields.
const leadToProblems = () => {
  for (const part of all("details:has(.has-problem)")) part.open = true;
  document.querySelector(".problems, .notice[role=alert]")?.focus();
  document.addEventListener("click", (event) => {
    const link = event.target.closest(".problems a[href^='#']");
    const part = link && document.getElementById(link.hash.slice(1));
    if (!part) return;
    const field = part.matches("fieldset") ? part.querySelector("input") : part;
    // Its step may be out of sight, and so may what it is folded into.
    for (let fold = field.closest("details"); fold; fold = fold.parentElement.closest("details")) fold.open = true;
    field.dispatchEvent(new Event("reach", { bubbles: true }));
    event.preventDefault();
    field.focus();
  });
};

// A page nobody touches signs off; somebody who is still there can say so.
const watchIdle = (idle) => {
  let told = Date.now(), warning = null;
  const leave = () => location.replace("/sign-on");
  const stay = async () => {
    told = Date.now();
    warning?.remove();
    warning = null;
    try {
      const answer = await fetch("/session/stay", { method: "POST" });
      if (answer.status === 401 || answer.redirected) leave();
    } catch { /* Without a network there is nobody to tell; the server ends the session by itself. */ }
  };
  const warn = () => {
    const button = make("button", { type: "button", class: "main" }, "Stay signed on");
    button.addEventListener("click", stay);
    warning = make("div", { class: "notice watch stays", role: "alert" }, make("p", {}, "Nobody has touched this page for a while. In less than a minute it signs off."), button);
    document.body.append(warning);
  };
  const look = () => {
    const left = idle - (Date.now() - told);
    if (left <= 0) leave();
    else if (left <= WARN_MS && !warning) warn();
  };
  for (const kind of ["pointerup", "keydown"]) {
    document.addEventListener(kind, (event) => {
      if (Date.now() - told > TELL_AFTER_MS && !warning?.contains(event.target)) stay();
    });
  }
  setInterval(look, 2000);
  document.addEventListener("visibilitychange", look);
};

// A badge reader types into whatever has the focus; with nothing focused it means the badge field.
const readBadge = (field) => document.addEventListener("keydown", (event) => {
  if (document.activeElement === document.body && event.key.length === 1 && !event.ctrlKey && !event.metaKey) field.focus();
});

leadToProblems();
if (document.body.dataset.idleMs) watchIdle(Number(document.body.dataset.idleMs));
for (const field of all("input[name=badge]")) readBadge(field);
for (const button of all("[data-print]")) {
  button.hidden = false;
  button.addEventListener("click", () => print());
}
document.addEventListener("click", (event) => {
  for (const open of all("details.looks[open]")) open.open = open.contains(event.target);
});
// A page that the browser kept may be another person's by now.
addEventListener("pageshow", (event) => {
  for (const form of all("form[data-sent]")) arrived(form);
  if (event.persisted && document.body.dataset.idleMs) location.reload();
});
