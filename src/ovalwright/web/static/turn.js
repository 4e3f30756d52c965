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

// A step stays under the thumb that pressed it, also where a line more is said above it; where it was the last
// of the rack, the keyboard goes on with the other step of its row.
let under = null;

document.addEventListener("htmx:beforeSwap", (event) => {
  const button = event.detail.requestConfig?.elt;
  if (!button?.matches("button.step") || !button.isConnected) return;
  under = { id: button.id, top: button.getBoundingClientRect().top, focused: button === document.activeElement };
});

document.addEventListener("htmx:afterSwap", () => {
  const button = under && document.getElementById(under.id);
  if (button) {
    scrollBy(0, button.getBoundingClientRect().top - under.top);
    if (under.focused && button.disabled) {
      button.closest(".control").querySelector("button:not(:disabled)")?.focus({ preventScroll: true });
    }
  }
  under = null;
});

// ---------------- places to go to at once: a phase by its name over the strip, by 1 2 3, by Shift and an arrow

function goTo(slider, value) {
  slider.value = value;
  slider.dispatchEvent(new Event("input", { bubbles: true }));
}

document.addEventListener("click", (event) => {
  const jump = event.target.closest("[data-at]");
  const slider = document.getElementById("at");
  if (!jump || !slider || event.ctrlKey || event.metaKey) return;
  event.preventDefault();
  goTo(slider, jump.dataset.at);
});

const GALLONS = 5;

function stride(slider, ahead) {
  if (slider.id === "fuel") return goTo(slider, Number(slider.value) - ahead * GALLONS);
  const places = [...document.querySelectorAll("[data-at]")].map((one) => Number(one.dataset.at));
  const beyond = places.filter((place) => ahead * (place - slider.value) > 0);
  if (beyond.length) goTo(slider, ahead > 0 ? Math.min(...beyond) : Math.max(...beyond));
}

document.addEventListener("keydown", (event) => {
  const ahead = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
  if (!ahead || !event.shiftKey || !event.target.matches("#at, #fuel")) return;
  event.preventDefault();
  stride(event.target, ahead);
});

// What is kept asks for the reason: the field is in hand as soon as it is in sight.
document.addEventListener("click", (event) => {
  if (!event.target.closest("a[href='#reason']")) return;
  event.preventDefault();
  document.getElementById("reason").scrollIntoView({ block: "center" });
  document.getElementById("reason").focus({ preventScroll: true });
});

// The laptop at the other end cannot know how wide this window is; a narrow one has room for one view.
document.addEventListener("DOMContentLoaded", () => {
  const look = document.getElementById("look");
  const narrow = matchMedia("(max-width: 1099px)").matches ? "1" : "0";
  if (!look || look.elements.narrow.value === narrow) return;
  look.elements.narrow.value = narrow;
  if (narrow === "1" && look.elements.view.value === "all") {
    look.elements.view.value = "behind";
  }
  look.elements.at.dispatchEvent(new Event("input", { bubbles: true }));
});

// ---------------- one press after the other: what is pressed while one is under way waits for its answer

const PRESS = "/turn/press";
const waiting = [];

function isBusy() {
  return document.getElementById("turn").hasAttribute("aria-busy");
}

document.addEventListener("htmx:beforeSend", (event) => {
  const { requestConfig, xhr } = event.detail;
  if (requestConfig.path !== PRESS) return;
  document.getElementById("turn").setAttribute("aria-busy", "true");
  xhr.addEventListener("loadend", () => answered(xhr.status));
});

document.addEventListener("click", (event) => {
  const button = event.target.closest(`#turn button[hx-post="${PRESS}"]`);
  if (!button || !isBusy()) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  waiting.push({ id: button.id, value: button.value });
}, true);

function answered(status) {
  document.getElementById("turn").removeAttribute("aria-busy");
  if (status !== 200) tellNotDone(waiting.splice(0).length + (status ? 0 : 1));
  while (waiting.length && !isBusy()) {
    const { id, value } = waiting.shift();
    const same = document.querySelector(`button[hx-post="${PRESS}"][value="${CSS.escape(value)}"]`);
    (document.getElementById(id) || same)?.click();
  }
}

function tellNotDone(count) {
  document.getElementById("not-done")?.remove();
  if (!count) return;
  const said = document.createElement("p");
  said.id = "not-done";
  said.className = "notice trouble";
  said.setAttribute("role", "alert");
  said.textContent = `Not done: the last ${count === 1 ? "press" : `${count} presses`}. Press again.`;
  document.getElementById("turn").prepend(said);
}

// What is held presses on as fast as it is answered, and stops when it is let go.
document.addEventListener("keydown", (event) => {
  if (!event.repeat || event.key !== "Enter" || !event.target.matches("#turn button")) return;
  if (isBusy() || !event.target.matches("button.step")) event.preventDefault();
});

let held = null;

function letGo() {
  clearTimeout(held);
  held = null;
}

function pressAgain(value) {
  const button = document.querySelector(`button.step[value="${CSS.escape(value)}"]:not(:disabled)`);
  if (!button) return;
  if (!isBusy()) button.click();
  held = setTimeout(pressAgain, EVERY, value);
}

document.addEventListener("pointerdown", (event) => {
  const button = event.target.closest("button.step");
  if (button) held = setTimeout(pressAgain, HELD_AFTER, button.value);
});
for (const end of ["pointerup", "pointercancel", "blur"]) addEventListener(end, letGo);
