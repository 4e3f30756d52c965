// The turn: sliders say where they stand, a step repeats while it is held.
"use strict";

const HELD_AFTER = 400;
const EVERY = 200;

// What was opened stays open when it is shown anew.
const opened = new Set();

document.addEventListener("htmx:beforeSwap", () => {
  for (const one of document.querySelectorAll("#turn details[id]")) {
    one.open ? opened.add(one.id) : opened.delete(one.id);
  }
});

document.addEventListener("htmx:afterSwap", () => {
  for (const id of opened) document.getElementById(id)?.setAttribute("open", "");
  for (const said of document.querySelectorAll("[data-for]")) {
    document.getElementById(said.dataset.for)?.setAttribute("aria-valuetext", said.dataset.aloud);
  }
});

// A step stays under the thumb that pressed it, also where a line more is said above it.
let under = null;

function stepUnder(one) {
  return document.querySelector(`${one.where} button.step[value="${CSS.escape(one.value)}"]`);
}

document.addEventListener("htmx:beforeSwap", (event) => {
  const button = event.detail.requestConfig?.elt;
  if (!button?.matches("button.step") || !button.isConnected) return;
  const where = button.closest(".all-controls") ? ".all-controls" : ".controls";
  under = { where, value: button.value, top: button.getBoundingClientRect().top };
});

document.addEventListener("htmx:afterSwap", () => {
  const button = under && stepUnder(under);
  if (button) scrollBy(0, button.getBoundingClientRect().top - under.top);
  under = null;
});

// The laptop at the other end cannot know how wide this window is; a narrow one has room for one view.
document.addEventListener("DOMContentLoaded", () => {
  const look = document.getElementById("look");
  const narrow = matchMedia("(max-width: 899px)").matches ? "1" : "0";
  if (!look || look.elements.narrow.value === narrow) return;
  look.elements.narrow.value = narrow;
  if (narrow === "1" && look.elements.view.value === "all") {
    look.elements.view.value = "behind";
    look.classList.add("one-view");
  }
  look.elements.at.dispatchEvent(new Event("input", { bubbles: true }));
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
