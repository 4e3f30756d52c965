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

// A narrow window has room for one view; the laptop at the other end cannot know how wide it is.
document.addEventListener("DOMContentLoaded", () => {
  const all = document.querySelector("#look input[name=view][value=all]");
  if (!all?.checked || !matchMedia("(max-width: 899px)").matches) return;
  const behind = document.querySelector("#look input[name=view][value=behind]");
  behind.checked = true;
  behind.form.classList.add("one-view");
  behind.dispatchEvent(new Event("input", { bubbles: true }));
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
