// Small words that the other scripts share.

export const all = (selector, within = document) => [...within.querySelectorAll(selector)];

export const shows = (element) => element.getClientRects().length > 0;

// A new element with attributes and what stands inside it.
export const make = (name, attributes = {}, ...inside) => {
  const element = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  element.append(...inside);
  return element;
};

// Says that a script has changed a field, as if somebody had typed.
export const changed = (input) => input.dispatchEvent(new Event("input", { bubbles: true }));

/** A number as people type it, or not a number. */
export const number = (text) => {
  const plain = text.replace(/\s/g, "").replace("\u2212", "-");
  // "1,250" may be read either way, so nothing is said about it.
  if (!/^-?\d*[.,]?\d+$/.test(plain) || /^-?\d{1,3}[.,]\d{3}$/.test(plain)) return NaN;
  return Number(plain.replace(",", "."));
};
