// The turn: sliders say where they stand, a step repeats while it is held.
"use strict";

const HELD_AFTER = 400;
const EVERY = 200;

document.addEventListener("htmx:afterSwap", () => {
  for (const said of document.querySelectorAll("[data-for]")) {
    document.getElementById(said.dataset.for)?.setAttribute("aria-valuetext", said.dataset.aloud);
  }
});

let held = null;

function letGo() {
  clearTimeout(held);
  held = null;
}

function pressAgain(value) {
  const button = document.querySelector(`button.step[value="${CSS.escape(value)}"]:not(:disabled)`);
  if (!button) return;
  button.click();
  held = setTimeout(pressAgain, EVERY, value);
}

document.addEventListener("pointerdown", (event) => {
  const button = event.target.closest("button.step");
  if (button) held = setTimeout(pressAgain, HELD_AFTER, button.value);
});
for (const end of ["pointerup", "pointercancel", "blur"]) addEventListener(end, letGo);
