// The unit of a sheet that was drawn for none: it is named on the form, and found among those the tablet knows.

import { make } from "./dom.js";
import { kept } from "./store.js";

export const findUnit = async (form) => {
  const field = form.querySelector("#offline-unit");
  if (!field) return null;
  const { units = [] } = (await kept("list")) ?? {};
  const typed = field.value.trim().toLowerCase();
  const unit = units.find(({ number }) => typed && number.toLowerCase() === typed);
  const loops = form.querySelector("#offline-loops");
  const shown = loops.dataset.of;
  if (unit && unit.loops?.length > 1 && shown !== unit.id) {
    loops.dataset.of = unit.id;
    const tiles = unit.loops.map(({ id, name }, at) => {
      const input = make("input", { type: "radio", name: "loop", value: id });
      input.checked = at === 0;
      return make("label", { class: "choice" }, input, make("span", {}, name));
    });
    loops.replaceChildren(make("fieldset", { class: "field choices" }, make("legend", {}, "Which loop?"), ...tiles));
  } else if (shown && shown !== unit?.id) {
    delete loops.dataset.of;
    loops.replaceChildren();
  }
  return { unit, typed: field.value.trim() };
};
export const followUnit = (form) => {
  const field = form.querySelector("#offline-unit");
  if (!field) return;
  const [, id] = /^\/units\/([^/]+)\//.exec(location.pathname) ?? [];
  kept("list").then((known) => {
    const unit = known?.units?.find((each) => each.id === id);
    if (unit && !field.value) field.value = unit.number;
    return findUnit(form);
  });
  field.addEventListener("input", () => findUnit(form));
};
