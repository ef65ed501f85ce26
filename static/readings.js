// Readings between the start and the end of a pressure test.

import { all, make } from "./dom.js";

// A reading is asked for when somebody takes one; while the timer runs it knows its minute.
const takeReadings = (part) => {
  const readings = all(".reading", part);
  const isEmpty = (reading) => all("input[type=text]", reading).every((input) => !input.value) && !reading.querySelector(".problem");
  for (const reading of readings) reading.hidden = isEmpty(reading);
  const button = make("button", { type: "button", class: "plain" }, "Add reading");
  const left = () => readings.find((reading) => reading.hidden);
  button.hidden = !left();
  button.addEventListener("click", () => {
    const reading = left();
    const [minutes, pressure] = all("input[type=text]", reading);
    reading.hidden = false;
    button.hidden = !left();
    minutes.value = part.closest("[data-timer-from]")?.dataset.minutes ?? "";
    (minutes.value ? pressure : minutes).focus();
  });
  part.append(button);
};

for (const part of all("[data-readings]")) takeReadings(part);
