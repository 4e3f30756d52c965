// On a phone the cells of temperatures and pressures have a keypad of the page's own, which goes on in the order
// that he reads them in. Without it, and on a laptop, they are fields like any other.
"use strict";

const NARROW = window.matchMedia("(max-width: 899px)");
const KEYS = ["7", "8", "9", "Back", "4", "5", "6", "Skip", "1", "2", "3", "Same", ".", "0", "Next"];
const DOES = { Back: takeBack, Skip: skip, Same: sameAgain, Next: goToNext };
const MOST_DIGITS = 6;

let inHand = null;
let isFresh = false;

// ---------------- the cells, and the one in hand

function cellsInOrder() {
  const shown = [...document.querySelectorAll(".entry .cells")].find((one) => one.offsetParent);
  return shown ? [...shown.querySelectorAll("[data-turn]")].sort((a, b) => a.dataset.turn - b.dataset.turn) : [];
}

function take(cell) {
  inHand?.removeAttribute("data-in-hand");
  inHand = cell;
  isFresh = true;
  cell?.setAttribute("data-in-hand", "");
  tell();
}

function takeAt(steps) {
  const cells = cellsInOrder();
  const cell = cells[cells.indexOf(inHand) + steps];
  if (cell) focusOn(cell);
  return Boolean(cell);
}

function focusOn(cell) {
  take(cell);
  cell.focus({ preventScroll: true });
  reveal();
}

function reveal() {
  if (!pad.hidden) pad.previousElementSibling.scrollIntoView({ block: "nearest" });
}

function write(text) {
  inHand.value = text;
  isFresh = false;
  inHand.dispatchEvent(new Event("input", { bubbles: true }));
  reveal();
}

// ---------------- what the keys do

function press(key) {
  if (!inHand) {
    if (key === "Back") focusOn(cellsInOrder().at(-1));
  } else if (DOES[key]) DOES[key]();
  else if (isFresh || inHand.value.length < MOST_DIGITS) write((isFresh ? "" : inHand.value) + key);
}

function takeBack() {
  if (inHand.value) write(inHand.value.slice(0, -1));
  else takeAt(-1);
}

function skip() {
  write("");
  goToNext();
}

function sameAgain() {
  const cells = cellsInOrder();
  const before = cells[cells.indexOf(inHand) - 1];
  if (before) write(before.value);
  goToNext();
}

function goToNext() {
  if (takeAt(1)) return;
  take(null);
  document.querySelector(".pad .keep button").focus();
}

// ---------------- the pad

const pad = document.createElement("div");
pad.className = "pad";
pad.hidden = true;

function fillPad() {
  const said = element("p", "pad-said");
  said.append(element("b", "pad-cell"), element("span", "pad-next"));
  const figure = element("output", "pad-figure");
  pad.append(said, figure, ...KEYS.map(key));
}

function element(tag, kind) {
  const made = document.createElement(tag);
  made.className = kind;
  return made;
}

function key(text) {
  const made = element("button", "key");
  made.type = "button";
  made.textContent = text;
  made.addEventListener("pointerdown", (event) => event.preventDefault());
  made.addEventListener("click", () => press(text));
  return made;
}

function tell() {
  const cells = cellsInOrder();
  const at = cells.indexOf(inHand);
  const next = cells[at + 1];
  const after = next ? `Next: ${next.dataset.called}` : "The last";
  pad.querySelector(".pad-cell").textContent = inHand ? inHand.dataset.called : "All gone through";
  pad.querySelector(".pad-next").textContent = inHand ? `${at + 1} of ${cells.length}. ${after}` : "Keep it, or Back to the last";
  pad.querySelector(".pad-figure").textContent = inHand?.value || "\u2013";
}

function showPad() {
  const cells = NARROW.matches ? cellsInOrder() : [];
  const keep = document.querySelector(".entry .keep");
  for (const cell of document.querySelectorAll(".cells [data-turn]")) cell.inputMode = cells.includes(cell) ? "none" : "decimal";
  pad.hidden = !cells.length;
  if (pad.hidden) document.querySelector(".entry").append(keep);
  else {
    cells[0].closest(".cells").after(pad);
    pad.append(keep);
    take(cells.includes(inHand) ? inHand : cells.find((one) => !one.value) || cells[0]);
    reveal();
  }
}

// The cell in hand stays in hand, whatever is said above; only when its own entry was kept, the first is next.
function beginAgain(event) {
  const cells = cellsInOrder();
  if (pad.hidden || !cells[0].closest(".kind").classList.contains(event.detail)) return;
  take(cells[0]);
}

document.addEventListener("DOMContentLoaded", () => {
  fillPad();
  showPad();
  const above = new ResizeObserver(reveal);
  for (const one of document.querySelectorAll(".entry .about, #wrong, #kept")) above.observe(one);
});
document.addEventListener("cleared", beginAgain);
document.addEventListener("change", (event) => event.target.matches(".entry [name=kind]") && showPad());
document.addEventListener("focusin", (event) => event.target.matches(".cells [data-turn]") && event.target !== inHand && take(event.target));
document.addEventListener("input", (event) => event.target === inHand && tell());
NARROW.addEventListener("change", showPad);
