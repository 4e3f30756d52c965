// Entries that wait on this device until the laptop answers: kept in order, delivered once each.
"use strict";

const BOX = "ovalwright-waiting";
const AGAIN_AFTER = 10000;
const DELIVERY = "/notebook/delivery";

// ---------------- the box: entries in the order they were made, each {typed, made, wrong}

function waiting() {
  return JSON.parse(localStorage.getItem(BOX) || "[]");
}

function keepWaiting(entries) {
  localStorage.setItem(BOX, JSON.stringify(entries));
  showWaiting();
}

function find(name) {
  return waiting().find((one) => one.typed.name === name);
}

function change(name, made) {
  keepWaiting(waiting().flatMap((one) => (one.typed.name === name ? made(one) : [one])));
}

function newName() {
  return [...crypto.getRandomValues(new Uint8Array(16))].map((one) => one.toString(16).padStart(2, "0")).join("");
}

// ---------------- delivery: one after the other; what is refused holds those after it until it is mended

const delivered = new Map();
let delivering = null;
let trouble = "";

function deliver() {
  delivering ||= deliverAll().finally(() => {
    delivering = null;
    showWaiting();
  });
  return delivering;
}

async function deliverAll() {
  let runsCameOver = false;
  const token = waiting().length ? await askToken() : "";
  while (token) {
    const first = waiting()[0];
    if (!first || first.wrong) break;
    const answer = await send(first.typed, token);
    if (!answer) break;
    if (!answer.wrong) delivered.set(first.typed.name, answer);
    if (!answer.wrong && first.typed.kind === "run") {
      runsCameOver = true;
      runIsNowCalled(first.typed.name, answer.run);
    }
    change(first.typed.name, (one) => (answer.wrong ? [{ ...one, ...answer }] : []));
  }
  if (runsCameOver) await freshRuns();
}

async function askToken() {
  const answer = await ask(DELIVERY, {});
  return answer ? answer.csrf : "";
}

function send(typed, token) {
  return ask(DELIVERY, { method: "POST", headers: { "X-CSRF": token }, body: new URLSearchParams(typed) });
}

async function ask(path, options) {
  try {
    const answer = await fetch(path, { cache: "no-store", ...options });
    away(false);
    if (answer.headers.get("content-type")?.startsWith("application/json")) {
      trouble = "";
      return await answer.json();
    }
    if (answer.status === 422 || answer.status === 413) return { wrong: "It is too long for the notebook; shorten it." };
    trouble = answer.redirected ? "come-in" : "later";
  } catch {
    away(true);
    trouble = "away";
  }
  return null;
}

// ---------------- the form: what is typed goes into the box first, then over

function entryForm() {
  return document.querySelector("form[data-waits]");
}

function fieldsOf(form, kind) {
  return [...form.querySelectorAll(`.kind.${kind} :is(input, textarea, select)`)];
}

function entryOf(form) {
  const kind = new FormData(form).get("kind");
  const own = new Set(["kind", "run", ...fieldsOf(form, kind).map((field) => field.name)]);
  const typed = Object.fromEntries([...new FormData(form)].filter(([key, value]) => own.has(key) && value !== ""));
  const now = new Date();
  if (kind === "run") typed.at ||= now.toTimeString().slice(0, 5);
  return { typed: { ...typed, name: form.elements.name.value || newName() }, made: now.toTimeString().slice(0, 5), wrong: "" };
}

const underWay = new Set();

function asTyped(form, kind) {
  return JSON.stringify([kind, ...fieldsOf(form, kind).map((one) => (one.type === "radio" ? one.checked : one.value))]);
}

// Keep it, pressed again while the same entry is under way, makes no second one.
async function submitted(event) {
  const form = event.target;
  if (!form.matches("form[data-waits]")) return;
  const entry = entryOf(form);
  const typed = asTyped(form, entry.typed.kind);
  const same = `${entry.typed.run} ${typed}`;
  if (underWay.has(same)) {
    event.preventDefault();
    return;
  }
  underWay.add(same);
  await enter(event, entry, typed).finally(() => underWay.delete(same));
}

async function enter(event, entry, typed) {
  const form = event.target;
  const { name, kind } = entry.typed;
  const before = waiting();
  keepWaiting(find(name) ? before.map((one) => (one.typed.name === name ? entry : one)) : [...before, entry]);
  event.preventDefault();
  form.elements.name.value = "";
  sayWrong("", []);
  say("kept", "");
  await deliver();
  if (find(name) && !trouble) await deliver();
  const left = find(name);
  if (left?.wrong) refused(form, left, typed);
  else {
    if (asTyped(form, kind) === typed) clear(form, kind);
    left ? say("kept", "It waits on this phone.") : sayKept(delivered.get(name));
    if (kind === "run") {
      chosenRun = name;
      addWaitingRuns();
    }
  }
}

function refused(form, entry, typed) {
  const { name, kind } = entry.typed;
  sayWrong(entry.wrong, entry.cells || []);
  if (asTyped(form, kind) !== typed) return;
  if (waiting().at(-1).typed.name === name) change(name, () => []);
  else form.elements.name.value = name;
}

function sayWrong(text, cells) {
  say("wrong", text, "mistake");
  for (const cell of entryForm().querySelectorAll("[aria-invalid]")) {
    cell.removeAttribute("aria-invalid");
    cell.removeAttribute("aria-describedby");
  }
  for (const name of cells) {
    const cell = document.getElementById(name);
    cell.setAttribute("aria-invalid", "true");
    cell.setAttribute("aria-describedby", "wrong");
  }
  document.getElementById(cells[0])?.focus();
}

function clear(form, kind) {
  for (const field of fieldsOf(form, kind)) {
    if (field.type === "radio") field.checked = field.value === "";
    else field.value = "";
  }
  form.elements.name.value = "";
  keep({ target: form.elements.name });
  typeUnder(kind, null);
  sayUnder();
  form.dispatchEvent(new CustomEvent("cleared", { bubbles: true, detail: kind }));
}

function fill(form, typed) {
  for (const [key, value] of Object.entries(typed)) {
    const field = form.elements.namedItem(key);
    if (field) field.value = value;
  }
}

function say(id, text, kind) {
  const place = document.getElementById(id);
  if (!place) return;
  place.replaceChildren();
  if (text) place.append(made("p", text, kind));
}

function made(tag, text, kind) {
  const element = document.createElement(tag);
  element.textContent = text;
  if (kind) element.className = kind;
  return element;
}

function sayKept(answer) {
  say("kept", "");
  const link = made("a", "Look at it");
  link.href = answer?.path || "/notebook";
  const place = document.getElementById("kept");
  place.append(`Kept: ${answer?.said || "it is in the notebook"}. `, link);
  if (answer?.number) place.append(" ", press("Undo", () => takeBack(answer.number)));
  if (document.activeElement?.closest(".keep")) place.scrollIntoView({ block: "nearest" });
}

async function takeBack(number) {
  const token = await askToken();
  const body = new URLSearchParams({ number });
  const answer = token && (await fetch("/notebook/undo", { method: "POST", headers: { "X-CSRF": token }, body }));
  if (answer?.ok) say("kept", "Taken back.");
  else say("kept", answer ? "Another entry has come since; undo it in the notebook." : "The laptop is out of reach; undo it in the notebook later.");
}

// ---------------- the runs that an entry may be about, those that wait here among them

let chosenRun = "";

// The run that was chosen, or the one entered here last; by its code once it went over.
function runInHand() {
  const name = chosenRun || waiting().filter((one) => one.typed.kind === "run").at(-1)?.typed.name;
  return delivered.get(name)?.run || name;
}

// What is half typed stays with the run that it was typed under, whoever enters another meanwhile.
const UNDER = "ovalwright-typed-under";
const OF_NO_RUN = ["run", "line"];

function typedUnder() {
  return JSON.parse(localStorage.getItem(UNDER) || "{}");
}

function typeUnder(kind, run) {
  localStorage.setItem(UNDER, JSON.stringify({ ...typedUnder(), [kind]: run || undefined }));
}

function runShown() {
  const shown = document.getElementById("runs").selectedOptions[0];
  return shown?.value ? { code: shown.value, said: shown.textContent } : null;
}

function runIsNowCalled(name, code) {
  for (const [kind, run] of Object.entries(typedUnder())) if (run.code === name) typeUnder(kind, { ...run, code });
}

function kindShown() {
  return new FormData(entryForm()).get("kind");
}

function isHalfTyped(kind) {
  return fieldsOf(entryForm(), kind).some((field) => (field.type === "radio" ? field.checked && field.value : field.value));
}

function halfTyped(event) {
  const kind = event.target.closest("form[data-waits] .kind") && kindShown();
  if (!kind || OF_NO_RUN.includes(kind)) return;
  if (!isHalfTyped(kind)) typeUnder(kind, null);
  else if (!typedUnder()[kind]) typeUnder(kind, runShown());
}

function runChosen(code) {
  chosenRun = code;
  if (typedUnder()[kindShown()]) typeUnder(kindShown(), runShown());
  sayUnder();
}

function sayUnder() {
  const { selectedIndex, options } = document.getElementById("runs");
  const isOlder = typedUnder()[kindShown()] && selectedIndex > 0;
  say("under", isOlder ? `Half typed under this run; since then came ${options[0].textContent}.` : "", "hint");
}

function addWaitingRuns() {
  const choice = document.getElementById("runs");
  if (!choice) return;
  choice.querySelectorAll("[data-waits-here]").forEach((one) => one.remove());
  const runs = waiting().filter((one) => one.typed.kind === "run");
  for (const one of runs) {
    const option = made("option", `the run entered here at ${one.made}, ${one.typed.session || "not delivered yet"}`);
    option.value = one.typed.name;
    option.dataset.waitsHere = "";
    choice.prepend(option);
  }
  const under = typedUnder()[kindShown()];
  const wanted = under ? delivered.get(under.code)?.run || under.code : runInHand();
  if (under && ![...choice.options].some((one) => one.value === wanted)) choice.append(new Option(under.said, wanted));
  if ([...choice.options].some((one) => one.value === wanted)) choice.value = wanted;
  sayUnder();
}

async function freshRuns() {
  if (document.getElementById("runs")) await htmx.ajax("GET", "/notebook/enter/runs", { target: "#runs", swap: "outerHTML" });
}

// ---------------- what waits, as it is shown

const WHY = {
  refused: "The first cannot be kept as it is: mend it or throw it away, then the others go over.",
  away: "The laptop is out of reach. They go over once each, in order, when it is back.",
  "come-in": "The laptop asks for the passcode; come in, then they go over.",
  later: "The laptop does not take them now; they are tried again.",
  "": "They go over once each, in order.",
};

function showWaiting() {
  const entries = waiting();
  addWaitingRuns();
  for (const place of document.querySelectorAll("#waiting, .waiting-here")) {
    place.hidden = entries.length === 0;
    place.replaceChildren();
    if (!entries.length) continue;
    const count = entries.length === 1 ? "1 entry waits" : `${entries.length} entries wait`;
    const head = made("p", "", "notice");
    head.append(made("b", `${count} on this phone. `), WHY[trouble || (entries[0].wrong ? "refused" : "")]);
    place.append(head);
    if (trouble === "come-in") place.append(link("Come in", "/come-in"));
    if (place.id === "waiting") place.append(listOf(entries));
    else place.append(link("Look at them", "/notebook/enter"));
  }
}

function link(text, path) {
  const element = made("a", text, "button");
  element.href = path;
  return element;
}

function listOf(entries) {
  const list = document.createElement("ol");
  list.className = "waiting-list";
  for (const one of entries) {
    const row = document.createElement("li");
    row.append(`${one.made} ${said(one.typed)}`);
    if (one.wrong) row.append(made("p", one.wrong, "mistake"));
    const acts = made("div", "", "row");
    acts.append(press("Mend", () => mend(one)), press("Throw away", () => change(one.typed.name, () => [])));
    row.append(acts);
    list.append(row);
  }
  return list;
}

const PHASES = ["entry", "middle", "exit"];

function said({ kind, name, run, ...typed }) {
  const told = Object.entries(typed).map(([key, text]) => (PHASES.includes(key) ? `${text} ${key}` : text)).join(" ").replace(/\s+/g, " ");
  return `${kind}: ${told.length > 60 ? `${told.slice(0, 57)}...` : told}`;
}

function press(text, done) {
  const button = made("button", text);
  button.type = "button";
  button.addEventListener("click", done);
  return button;
}

function mend(entry) {
  const form = entryForm();
  change(entry.typed.name, (one) => [{ ...one, wrong: one.wrong || "taken up again; press Keep it" }]);
  clear(form, entry.typed.kind);
  fill(form, entry.typed);
  const { kind, run } = entry.typed;
  if (run && !OF_NO_RUN.includes(kind)) typeUnder(kind, { code: run, said: `run ${run}` });
  addWaitingRuns();
  form.querySelector(`.kind.${entry.typed.kind}`).scrollIntoView();
}

// ---------------- begin

// The second tap of a double tap, and Enter held down, come when the form may be empty again.
function onceOnly(event) {
  const isSecond = event.detail > 1 && event.target.closest("form[data-waits] .keep button");
  const isHeld = event.repeat && event.key === "Enter" && event.target.matches("form[data-waits] input");
  if (isSecond || isHeld) event.preventDefault();
}

function goOn(event) {
  const turn = Number(event.target.dataset?.turn || 0);
  if (event.key !== "Enter" || !turn) return;
  const cells = [...event.target.closest(".cells").querySelectorAll("[data-turn]")];
  const next = cells.find((one) => Number(one.dataset.turn) === turn + 1);
  if (!next) return;
  event.preventDefault();
  next.focus();
  next.select();
}

function giveBackPresses() {
  const form = entryForm();
  if (!form) return;
  for (const [key, value] of JSON.parse(localStorage.getItem(keptAs(form.dataset.keep)) || "[]")) {
    const field = form.elements.namedItem(key);
    if (field instanceof RadioNodeList) field.value = value;
  }
}

// ---------------- the run in hand stands beside the list where there is room; else it has a page of its own

const WIDE = window.matchMedia("(min-width: 900px)");

function openedAlone(event) {
  const row = event.target.closest(".run-rows a");
  if (!row || WIDE.matches) return;
  event.preventDefault();
  location.assign(row.href);
}

function showInHand(event) {
  if (event.target.id !== "in-hand") return;
  for (const row of document.querySelectorAll(".run-rows a")) {
    row.toggleAttribute("aria-current", row.pathname === location.pathname);
    if (row.hasAttribute("aria-current")) row.setAttribute("aria-current", "true");
  }
}

document.addEventListener("htmx:beforeRequest", openedAlone);
document.addEventListener("htmx:afterSettle", showInHand);
document.addEventListener("submit", submitted);
document.addEventListener("click", onceOnly);
document.addEventListener("keydown", onceOnly);
document.addEventListener("keydown", goOn);
document.addEventListener("DOMContentLoaded", () => {
  giveBackPresses();
  chosenRun = new URLSearchParams(location.search).get("run") || "";
  showWaiting();
  deliver();
});
document.addEventListener("change", (event) => {
  if (event.target.id === "runs") runChosen(event.target.value);
  if (!event.target.matches("form[data-waits] [name=kind]")) return;
  sayWrong("", []);
  addWaitingRuns();
});
document.addEventListener("input", halfTyped);
document.addEventListener("htmx:afterSwap", addWaitingRuns);
document.addEventListener("visibilitychange", () => document.hidden || deliver());
window.addEventListener("online", deliver);
window.addEventListener("storage", showWaiting);
setInterval(deliver, AGAIN_AFTER);
