// Entry of a job: the other unit, what only some answers need, steps, and the timer of a hold.

import { all, changed, make, number } from "./dom.js";

// The other unit stands beside what is typed. The digits stay when the unit changes.
const figure = (value) => {
  const size = Math.abs(value);
  const text = value.toFixed(size >= 100 ? 0 : size >= 10 ? 1 : 2);
  return (Number(text) === 0 ? text.replace("-", "") : text).replace("-", "\u2212");
};
const showOtherUnit = (field) => {
  const units = all("[data-factor]", field);
  const chosen = units.find((unit) => unit.checked) ?? units[0];
  const symbol = (unit) => unit.nextElementSibling.textContent;
  const below = field.querySelector("[value=below]")?.checked;
  const typed = number(field.querySelector("input").value) * (below ? -1 : 1);
  if (chosen) field.querySelector("[data-unit]").textContent = symbol(chosen);
  const others = Number.isFinite(typed) ? units.filter((unit) => unit !== chosen) : [];
  const first = chosen ? typed * Number(chosen.dataset.factor) + Number(chosen.dataset.zero) : NaN;
  field.querySelector("[data-other]").textContent = others
    .map((unit) => `= ${figure((first - Number(unit.dataset.zero)) / Number(unit.dataset.factor))}\u00a0${symbol(unit)}`)
    .join(", ");
};
for (const field of all("[data-pair]")) {
  field.addEventListener("input", () => showOtherUnit(field));
  showOtherUnit(field);
}
// A unit that somebody chooses holds for the fields of its kind that are still empty.
document.addEventListener("change", ({ target }) => {
  if (!target.matches("[data-factor]")) return;
  for (const field of all("[data-pair]", target.form)) {
    const same = all("[data-factor]", field).find((unit) => unit.value === target.value);
    if (!same || same.checked || field.querySelector("input").value) continue;
    same.checked = true;
    showOtherUnit(field);
  }
});
// A page that is come back to has its answers again, and says so.
addEventListener("pageshow", () => all("[data-pair]").forEach(showOtherUnit));

// What only some answers need: data-shown-for="how=vacuum" or "how=vacuum,pushed".
const showWhatIsNeeded = () => {
  for (const part of all("[data-shown-for]")) {
    const [name, values] = part.dataset.shownFor.split("=");
    const answers = values.split(",");
    const given = all(`[name="${name}"]`).filter((input) => input.type === "select-one" || input.checked);
    part.hidden = !given.some((input) => answers.includes(input.value));
    for (const input of all("input, select, textarea", part)) input.disabled = part.hidden;
  }
};
document.addEventListener("change", showWhatIsNeeded);
showWhatIsNeeded();

// What is to be put right, or must not be started, is said at its own step. Whoever cannot ask goes on:
// nothing is saved without being asked again.
const ask = async (form) => {
  const body = new URLSearchParams(new FormData(form));
  body.set("check", "yes");
  try {
    const answer = await fetch(form.action, { method: "POST", body, redirect: "error", signal: AbortSignal.timeout(2500) });
    return answer.ok ? await answer.json() : null;
  } catch { return null; }
};
const mayGoOn = async (form, step) => {
  const told = await ask(form);
  // A gate that could not be asked about is at least said to be one, once.
  if (!told && "gate" in step.dataset && !("unasked" in step.dataset)) {
    step.dataset.unasked = "";
    const said = make("p", { class: "problem at-step", role: "alert" }, "This could not be checked. Hold it against the limits above; if they are kept, press Continue again.");
    step.append(said);
    return false;
  }
  const problems = (told ?? []).filter(({ field }) => field && step.querySelector(`[name="${CSS.escape(field)}"]`));
  for (const old of all(".at-step", step)) old.remove();
  if (told) delete step.dataset.unasked;
  for (const box of all(".has-problem", step)) {
    box.classList.remove("has-problem");
    for (const said of all(".problem", box)) said.remove();
    for (const input of all("[aria-invalid]", box)) input.removeAttribute("aria-invalid");
  }
  for (const { field, text } of problems) {
    const input = step.querySelector(`[name="${CSS.escape(field)}"]`);
    const box = input.closest(".field");
    if (!box || box.classList.contains("has-problem")) continue;
    const id = `${field}-problem`;
    box.classList.add("has-problem");
    box.querySelector("legend, label").after(make("p", { class: "problem", id }, text));
    input.setAttribute("aria-invalid", "true");
    input.setAttribute("aria-describedby", [`${field}-hint`, id].filter((each) => document.getElementById(each)).join(" "));
  }
  const happened = form.querySelector("#happened");
  if (problems.length && happened && problems.every(({ gate }) => gate)) {
    const anyway = make("button", { type: "button", class: "plain" }, "It has already happened: go on");
    anyway.addEventListener("click", () => {
      happened.checked = true;
      form.querySelector(".ways .main").click();
    });
    step.append(make("p", { class: "actions at-step" }, anyway));
  }
  if (problems.length) step.querySelector(`[name="${CSS.escape(problems[0].field)}"]`).focus();
  return !problems.length;
};

// A form of several steps shows one at a time.
const stepThrough = (form) => {
  const steps = all(".step", form);
  if (steps.length < 2) return;
  const at = make("p", { class: "step-at" });
  const next = make("button", { type: "button", class: "main" }, "Continue");
  const back = make("button", { type: "button", class: "plain" }, "Back");
  const ways = make("p", { class: "actions ways" }, next);
  const save = all(".actions", form).at(-1);
  steps.at(-1).after(ways);
  form.prepend(at);
  let now = steps.find((step) => step.querySelector(".has-problem"))
    ?? steps.find((step) => "begin" in step.dataset) ?? steps[0];
  const show = (step) => {
    now = step;
    const needed = steps.filter((each) => !each.hidden);
    const place = needed.indexOf(now);
    const isLast = place === needed.length - 1;
    for (const each of steps) each.classList.toggle("now", each === now);
    form.classList.toggle("last", isLast);
    ways.classList.toggle("unused", isLast);
    (isLast ? save : ways).append(back);
    back.hidden = place === 0;
    at.textContent = `Step ${place + 1} of ${needed.length}`;
    return [needed[place - 1], needed[place + 1]];
  };
  const go = async (way) => {
    const step = show(now)[way];
    if (!step) return;
    const from = now;
    if (way === 1 && !(await mayGoOn(form, from)) || now !== from) return;
    show(step);
    const legend = step.querySelector("legend");
    legend.tabIndex = -1;
    legend.focus();
    scrollTo(0, form.offsetTop);
    step.dispatchEvent(new Event("open-step", { bubbles: true }));
  };
  next.addEventListener("click", () => go(1));
  back.addEventListener("click", () => go(0));
  form.addEventListener("change", () => show(now));
  form.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || !event.target.matches("input") || form.classList.contains("last")) return;
    event.preventDefault();
    go(1);
  });
  form.classList.add("stepping");
  show(now);
  form.addEventListener("reach", (event) => {
    const step = event.target.closest(".step");
    if (step) show(step);
  });
};

// A hold is timed from the clock. The start stands in its field and in the address, so that a page
// that is closed and opened again goes on.
const timeHold = (part) => {
  const [from, held] = [part.dataset.timerFrom, part.dataset.timerHeld].map((name) => part.querySelector(`[name="${name}"]`));
  if (!from || !held) return;
  const face = make("p", { class: "timer-face", role: "timer" });
  const button = make("button", { type: "button", class: "plain" });
  let ticking = 0, lock = null;
  const started = () => {
    const [hours, minutes, seconds] = from.value.split(":").map(Number);
    const start = new Date().setHours(hours, minutes, seconds || 0, 0);
    return start > Date.now() ? start - 86_400_000 : start;
  };
  const passed = () => Math.max(0, Math.round((Date.now() - started()) / 1000)) || 0;
  const show = () => {
    const seconds = ticking ? passed() : Math.round((number(held.value) || 0) * 60);
    part.dataset.minutes = ticking ? (passed() / 60).toFixed(1) : "";
    face.textContent = `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
    button.textContent = ticking ? "Stop timer" : "Start timer";
  };
  // The screen stays on while somebody watches a hold, where the device can do that.
  const keepAwake = async () => {
    try {
      if (ticking && !document.hidden) lock = await navigator.wakeLock?.request("screen");
    } catch { lock = null; }
  };
  const run = () => {
    ticking = setInterval(show, 1000);
    keepAwake();
    show();
  };
  button.addEventListener("click", () => {
    if (ticking) {
      clearInterval(ticking);
      held.value = (passed() / 60).toFixed(1);
      ticking = 0;
      lock?.release();
      history.replaceState(null, "", location.pathname + location.search);
      changed(held);
    } else {
      held.value = "";
      from.value = new Date().toTimeString().slice(0, 8);
      history.replaceState(null, "", `#started-${from.value}`);
      changed(from);
      run();
    }
    show();
  });
  document.addEventListener("visibilitychange", keepAwake);
  part.prepend(make("div", { class: "timer-top" }, face, button));
  // A hold that ran when its draft was kept goes on.
  part.closest("form")?.addEventListener("filled", () => {
    if (from.value && !held.value && !ticking) run();
  });
  const kept = /^#started-(\d\d:\d\d:\d\d)$/.exec(location.hash);
  if (kept && !held.value) {
    from.value = kept[1];
    run();
  }
  show();
};

for (const form of all("form[data-steps]")) stepThrough(form);
for (const part of all("[data-timer-from]")) timeHold(part);
