// What a tablet can check by itself: the page says what the server takes, so that a slip is told while it can still be
// put right, and not when the job comes back hours later.

import { all, number } from "./dom.js";

const inMetric = (input, typed) => {
  const field = input.closest("[data-pair]");
  const unit = all("[data-factor]", field).find((each) => each.checked);
  const below = field.querySelector("[value=below]")?.checked;
  const value = typed * (below ? -1 : 1);
  return unit ? value * Number(unit.dataset.factor) + Number(unit.dataset.zero) : value;
};

const problemOf = (input) => {
  const typed = input.value.trim();
  if (!typed) return "needed" in input.dataset ? "nothing was typed here, and it is needed" : "";
  if (!/\d/.test(typed)) return `"${typed}" is no number`;
  // Whoever writes a unit behind the number is read by the server alone.
  const value = number(typed);
  if (Number.isNaN(value)) return "";
  const { least, most } = input.dataset;
  const metric = inMetric(input, value);
  return metric < Number(least) || metric > Number(most) ? `${typed} cannot be right` : "";
};

/** The first field whose number the server would not take: what is wrong, and where. */
export const slipIn = (form) => {
  for (const input of all("[data-least]", form)) {
    if (input.disabled || input.closest("[hidden]")) continue;
    const problem = problemOf(input);
    const label = form.querySelector(`label[for="${CSS.escape(input.id)}"]`)?.firstChild.textContent.replace(/,\s*$/, "");
    if (problem) return { problem: `${label}: ${problem}.`, field: `#${CSS.escape(input.id)}` };
  }
  return null;
};
