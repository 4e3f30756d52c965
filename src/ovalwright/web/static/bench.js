// What the bench does in the browser beside htmx: keys, one request at a time for a slider, a form's typed text.
"use strict";

// ---------------- keys: single letters outside fields; each names the element it presses by data-key

const KEYS_OFF = "ovalwright-keys-off";

function typing(target) {
  return target.matches("textarea, select, input:not([type=range]):not([type=checkbox]):not([type=radio])");
}

function pressed(event) {
  if (event.ctrlKey || event.altKey || event.metaKey || typing(event.target)) return;
  if (document.querySelector("dialog[open]")) return;
  if (event.key === "?") {
    listKeys();
    return;
  }
  if (localStorage.getItem(KEYS_OFF)) return;
  const wanted = document.querySelector(`[data-key="${CSS.escape(event.key)}"]`);
  if (!wanted || (event.repeat && !mayRepeat(event, wanted))) return;
  event.preventDefault();
  if (wanted.dataset.keyTurns) turn(wanted);
  else if (wanted.matches("input, select")) wanted.focus();
  else wanted.dispatchEvent(new MouseEvent("click", { bubbles: true, cancelable: true }));
}

// A step goes on while its key is held, as fast as it is answered; anything else is pressed once.
function mayRepeat(event, wanted) {
  return "+-".includes(event.key) && !wanted.closest("[aria-busy]");
}

// `data-key-turns="view above behind"`: the key sets that field of the form to the value after its own.
function turn(wanted) {
  const [name, ...values] = wanted.dataset.keyTurns.split(" ");
  const form = wanted.closest("form");
  const field = form.elements.namedItem(name);
  field.value = values[(values.indexOf(field.value) + 1) % values.length];
  form.dispatchEvent(new Event("input", { bubbles: true }));
}

function listKeys() {
  document.getElementById("keys-off").checked = Boolean(localStorage.getItem(KEYS_OFF));
  const dialog = document.getElementById("keys");
  const list = document.getElementById("keys-list");
  const rows = [...document.querySelectorAll("[data-key]")].map((one) => [one.dataset.key, name(one)]);
  list.replaceChildren(...[...rows, ["?", "This list"]].flatMap(([key, said]) => [term("dt", key), term("dd", said)]));
  dialog.showModal();
}

function name(element) {
  return element.dataset.keyName || element.getAttribute("aria-label") || element.textContent.trim();
}

function term(tag, text) {
  const made = document.createElement(tag);
  made.textContent = text;
  return made;
}

document.addEventListener("keydown", pressed);
document.addEventListener("change", (event) => {
  if (event.target.id === "keys-off") localStorage.setItem(KEYS_OFF, event.target.checked ? "off" : "");
});

// ---------------- Enter on a phone's keypad goes to the next of the fields that say so

document.addEventListener("keydown", (event) => {
  if (event.key !== "Enter" || event.target.enterKeyHint !== "next") return;
  event.preventDefault();
  const fields = [...event.target.form.elements].filter((one) => one.enterKeyHint);
  const next = fields[fields.indexOf(event.target) + 1];
  next.focus();
  next.select();
});

// ---------------- what was typed stays on the device, also when the laptop is away: forms with data-keep="name"

const DONE = "ovalwright-done";

function keptAs(name) {
  return `ovalwright-typed ${name}`;
}

function keep(event) {
  const form = event.target.form;
  if (!form || !form.dataset.keep) return;
  const typed = [...new FormData(form)].filter(([key, value]) => key !== "csrf" && typeof value === "string");
  localStorage.setItem(keptAs(form.dataset.keep), JSON.stringify(typed));
}

function giveBack(root) {
  forgetDone();
  for (const form of root.querySelectorAll("form[data-keep]")) {
    for (const [key, value] of JSON.parse(localStorage.getItem(keptAs(form.dataset.keep)) || "[]")) {
      const field = form.elements.namedItem(key);
      if (field instanceof Element && "value" in field && field.type !== "hidden" && !field.value) field.value = value;
    }
  }
}

// The laptop says by a cookie which form it has kept: only then is the device's own copy dropped.
function forgetDone() {
  const told = document.cookie.split("; ").find((one) => one.startsWith(`${DONE}=`));
  if (!told) return;
  localStorage.removeItem(keptAs(decodeURIComponent(told.slice(DONE.length + 1))));
  document.cookie = `${DONE}=; path=/; max-age=0; samesite=strict`;
}

document.addEventListener("input", keep);
document.addEventListener("DOMContentLoaded", () => giveBack(document));
document.addEventListener("htmx:afterSettle", (event) => giveBack(event.target));

// ---------------- a form that is answered while it is typed goes whole only after the answer under way has come

function goesWhole(event) {
  const form = event.target;
  if (!form.hasAttribute("hx-sync") || !form.classList.contains("htmx-request")) return;
  event.preventDefault();
  if (form.dataset.held) return;
  form.dataset.held = "held";
  const { formAction, value } = event.submitter || {};
  form.addEventListener("htmx:afterRequest", () => setTimeout(() => {
    delete form.dataset.held;
    const same = [...form.elements].find((one) => one.type === "submit" && one.formAction === formAction && one.value === value);
    form.requestSubmit(same);
  }), { once: true });
}

document.addEventListener("submit", goesWhole, true);

// ---------------- the laptop is away: say so, and that what is on the page is still there

function away(isAway) {
  document.documentElement.toggleAttribute("data-away", isAway);
}

document.addEventListener("htmx:sendError", () => away(true));
document.addEventListener("htmx:afterRequest", (event) => {
  if (event.detail.xhr.status > 0) away(false);
});

// ---------------- a choice that is longer than its field stands in full below it

const pen = document.createElement("canvas").getContext("2d");

function isCut(field) {
  const style = getComputedStyle(field);
  pen.font = `${style.fontSize} ${style.fontFamily}`;
  const room = field.clientWidth - parseFloat(style.paddingLeft) - parseFloat(style.paddingRight) - ARROW;
  return field.clientWidth > 0 && pen.measureText(field.selectedOptions[0]?.text ?? "").width > room;
}

const ARROW = 20;

function spellOut(root) {
  for (const field of root.querySelectorAll("select:not([data-may-be-cut])")) {
    const next = field.nextElementSibling;
    const below = next?.matches(".whole") ? next : null;
    if (!isCut(field) || getComputedStyle(field.parentElement).display === "flex") below?.remove();
    else {
      const line = below ?? term("span", "");
      line.className = "whole hint";
      line.ariaHidden = "true";
      line.textContent = field.selectedOptions[0].text;
      field.after(line);
    }
  }
}

for (const what of ["DOMContentLoaded", "change"]) document.addEventListener(what, () => spellOut(document));
document.addEventListener("htmx:afterSettle", (event) => spellOut(event.target));
window.addEventListener("resize", () => spellOut(document));

// ---------------- a page that is worth printing has a button for it

document.addEventListener("DOMContentLoaded", () => {
  for (const button of document.querySelectorAll("[data-print]")) {
    button.hidden = false;
    button.addEventListener("click", () => window.print());
  }
});

// ---------------- the passcode that a QR code brought along, which never leaves the address bar

document.addEventListener("DOMContentLoaded", () => {
  const field = document.getElementById("passcode");
  if (field && location.hash.length > 1) {
    field.value = decodeURIComponent(location.hash.slice(1));
    history.replaceState(null, "", location.pathname);
  }
});
