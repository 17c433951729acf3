// What every page does beyond reading and forms: keeps what is typed, sends it without leaving the page, tells what
// other devices record, and says when the bench doesn't answer. Without it the page works as plain forms.

import { openPads } from "./keypad.js";

const body = document.body;
let token = body.dataset.token;
const away = document.getElementById("away");
const unpaired = document.getElementById("unpaired");
const news = document.getElementById("news");

/** Ask the bench for something, with what it wants to see; a bench that is away is said to be. */
export async function ask(path, options = {}) {
  const asked = () => fetch(path, { credentials: "same-origin", ...options, headers: headersOf(options) });
  try {
    let answer = await asked();
    if (answer.status === 403 && (await knownAnew())) answer = await asked();
    setAway(false);
    setUnpaired(isToPairing(answer));
    if (answer.redirected && isToPairing(answer)) throw new Error("this device isn't paired");
    return answer;
  } catch (error) {
    setAway(unpaired.hidden); // one that leads to its pairing answers
    throw error;
  }
}

const isToPairing = (answer) => answer.status === 401 || (answer.redirected && new URL(answer.url).pathname === "/pair");

function headersOf(options) {
  return { "x-bench-token": token, "x-bench-script": "1", ...(options.headers || {}) };
}

/** Get the token of a bench that was started anew while this page was open. */
async function knownAnew() {
  const answer = await fetch("/devices", { credentials: "same-origin", headers: { accept: "text/html" } });
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const found = page.body.dataset.token;
  if (!found || found === token) return false;
  token = found;
  document.querySelectorAll("input[name=token]").forEach((one) => { one.value = found; });
  return true;
}

/** Show or take away the line that says that the bench doesn't answer. */
export function setAway(is) {
  if (away && away.hidden === is) away.hidden = !is;
}

/** The same of the line that says that this device has to be paired again; where it is paired nothing is to be said. */
function setUnpaired(is) {
  const says = is && location.pathname !== "/pair";
  if (unpaired && unpaired.hidden === says) unpaired.hidden = !says;
}

/** Return whether it is said that nothing is recorded just now: the bench is away, or this device isn't paired. */
export const isAway = () => !away.hidden || !unpaired.hidden;

/** Have it read out to who doesn't see it. */
export function tellAloud(text) {
  document.getElementById("told").textContent = text;
}

// --- what is typed is kept on this device until it is recorded ---

const kept = (form) => `bench:${location.pathname}:${form.getAttribute("action")}`;
const keepable = (field) => field.name && !["hidden", "file", "password", "submit"].includes(field.type);
let refused = false; // the page was shown anew: what stands in its fields is what was typed

function keptOf(form) {
  try { return JSON.parse(localStorage.getItem(kept(form)) || "null"); } catch { return null; }
}

/** What the page itself put in a field. */
function offered(field) {
  if (["checkbox", "radio"].includes(field.type)) return field.defaultChecked;
  if (!field.options) return field.defaultValue;
  return ([...field.options].find((one) => one.defaultSelected) || field.options[0])?.value;
}

function keep(form) {
  const typed = {};
  const before = (refused && keptOf(form)) || {};
  for (const field of form.elements) {
    if (!keepable(field)) continue;
    const value = ["checkbox", "radio"].includes(field.type) ? field.checked : field.value;
    const all = (typed[field.name] ||= []);
    all.push({ value, over: before[field.name]?.[all.length]?.over ?? offered(field) });
  }
  try { localStorage.setItem(kept(form), JSON.stringify(typed)); } catch { /* no room: it is typed again */ }
}

function restore(form) {
  const typed = keptOf(form);
  if (!typed) return;
  const at = {};
  for (const field of form.elements) {
    if (!keepable(field) || !(field.name in typed)) continue;
    const i = (at[field.name] = (at[field.name] ?? -1) + 1);
    const found = typed[field.name][i];
    if (!found || found.value === undefined) continue;
    const { value, over } = found;
    if (["checkbox", "radio"].includes(field.type)) field.checked = value === true;
    // what the page offers now and didn't when it was typed, as a place that was tapped since, goes before it
    else if (typeof value === "string" && (!field.value || over === offered(field))) choose(field, value);
  }
}

function choose(field, value) {
  if (!field.options || [...field.options].some((one) => one.value === value)) field.value = value;
}

/** What was typed is recorded: keep it no longer, nor what was typed in the form before, which was only looked at. */
function forget(form) {
  const before = form.dataset.of;
  try {
    localStorage.removeItem(kept(form));
    if (before) localStorage.removeItem(`bench:${before}:${before}`);
  } catch { /* nothing was kept */ }
}

/** Open a form with as many rows as were typed: those it hasn't would be lost. */
function openRows(form) {
  const typed = keptOf(form)?.[form.dataset.rows]?.length || 0;
  const there = form.querySelectorAll(`[name="${form.dataset.rows}"]`).length;
  if (form.dataset.rows && typed > there && !refused) location.replace(`${location.pathname}?rows=${typed}`);
}

async function send(form, button) {
  if (form.getAttribute("aria-busy")) return; // it is on its way: pressed twice it is sent once
  const data = new FormData(form, button || undefined);
  const files = form.enctype === "multipart/form-data";
  const buttons = [...form.elements].filter((one) => one.tagName === "BUTTON");
  const words = button?.textContent;
  buttons.forEach((one) => { one.disabled = true; });
  if (button) button.textContent = "Working …";
  form.setAttribute("aria-busy", "true");
  try {
    const answer = await ask(button?.formAction && button.hasAttribute("formaction") ? button.formAction : form.action, {
      method: "POST",
      body: files ? data : new URLSearchParams(data),
      headers: { accept: "text/html" },
    });
    const kind = answer.headers.get("content-type") || "";
    if (kind.startsWith("application/json") && answer.ok) {
      const { to, recorded: done } = await answer.json();
      if (done) forget(form);
      const here = location.pathname + location.search;
      const goes = new URL(to, location.href);
      if (goes.pathname + goes.search !== here) location.assign(to);
      else {
        history.scrollRestoration = "manual"; // the answer is looked at, not where its button was
        history.replaceState({ answered: true }, "", to);
        location.reload();
      }
      return;
    }
    if (!kind.startsWith("text/html")) throw new Error(await answer.text());
    refused = true;
    show(await answer.text());
  } catch (error) { /* it is said that the bench is away; what was typed stands */
    buttons.forEach((one) => { one.disabled = false; });
    if (button) button.textContent = words;
    if (away.hidden) complain(form, error);
    form.removeAttribute("aria-busy");
  }
}

/** Where a form was answered on its own page: bring what it found into view, and tell a reader of screens. */
function goToAnswer() {
  if (!history.state?.answered) return;
  history.replaceState(null, "");
  window.addEventListener("pagehide", () => { if (!history.state?.answered) history.scrollRestoration = "auto"; });
  const found = location.hash && document.getElementById(location.hash.slice(1));
  const said = found || document.querySelector("main [role=status]") || document.getElementById("main");
  said.setAttribute("tabindex", "-1");
  said.focus({ preventScroll: true });
  if (found) found.scrollIntoView();
  else window.scrollTo(0, 0);
}

function complain(form, error) {
  const line = document.createElement("p");
  line.className = "wrong";
  line.setAttribute("role", "alert");
  let what = error.message;
  try { what = JSON.parse(what).error || what; } catch { /* it is plain text */ }
  line.textContent = `It wasn't recorded: ${what.slice(0, 300)}`;
  form.prepend(line);
}

/** Put another page's main part in place of this one's. */
export function show(text, focus = true) {
  const page = new DOMParser().parseFromString(text, "text/html");
  const main = page.getElementById("main");
  if (!main) return;
  const open = new Set([...document.querySelectorAll("details[id][open]")].map((one) => one.id));
  const held = document.activeElement;
  document.getElementById("main").replaceWith(main);
  const bar = page.querySelector(".bar");
  const old = document.querySelector(".bar");
  if (bar && old) old.replaceWith(bar);
  if (!focus) open.forEach((id) => { const one = document.getElementById(id); if (one) one.open = true; });
  if (page.body.dataset.seen) body.dataset.seen = page.body.dataset.seen;
  setUp(main);
  document.dispatchEvent(new CustomEvent("bench:shown"));
  if (!focus && held && !held.isConnected && !held.matches("[data-pad]")) holdFocus(held.id, main);
  if (focus) {
    const beside = main.querySelector(".beside"); // what is wrong with a field stands at the field
    for (let fold = beside?.closest("details"); fold; fold = fold.parentElement.closest("details")) fold.open = true;
    const said = beside || main.querySelector("[role=alert], [role=status]") || main;
    said.setAttribute("tabindex", "-1");
    said.focus({ preventScroll: true });
    if (beside) beside.parentElement.scrollIntoView({ block: "center" });
    else window.scrollTo(0, 0);
  }
}

/** Leave the focus where it was, or in the work: whoever goes by keys doesn't begin at the top of the page again. */
function holdFocus(id, main) {
  const same = id && document.getElementById(id);
  (same?.checkVisibility() ? same : main).focus({ preventScroll: true });
}

let touched = false;
const MOST_NEWS = 4; // a line each
const unseen = []; // what is told until it is put away
const mine = new Set(); // what this page recorded by itself: it is no news here

/** Say which entries this page recorded. */
export function recorded(numbers) {
  numbers.forEach((one) => mine.add(one));
}

function setUp(root) {
  touched = false;
  for (const form of root.querySelectorAll("form")) {
    if (form.hasAttribute("data-keep")) {
      openRows(form);
      restore(form);
      form.addEventListener("input", () => keep(form));
    }
    if (form.method === "post") form.addEventListener("input", () => { touched = true; });
    if (form.method === "post" && !form.hasAttribute("data-own")) {
      form.addEventListener("submit", (event) => {
        event.preventDefault();
        send(form, event.submitter);
      });
    }
  }
  openPads(root);
}

// --- what other devices record ---

function putAway() {
  unseen.length = 0;
  news.hidden = true;
}

function tell(found) {
  if (body.dataset.busy) { setTimeout(tell, 300, found); return; }
  const seen = Number(body.dataset.seen || 0);
  const fresh = found.entries.filter((one) => one.number > seen && !mine.has(one.number));
  if (!fresh.length) return;
  document.dispatchEvent(new CustomEvent("bench:entries", { detail: found }));
  const gone = document.createElement("button");
  gone.textContent = "Seen";
  gone.addEventListener("click", putAway);
  news.replaceChildren();
  unseen.push(...fresh.map((one) => `New: #${one.number} ${one.kind}: ${one.text}`));
  const told = unseen.slice(-MOST_NEWS);
  if (unseen.length > MOST_NEWS) told.push(`and ${unseen.length - MOST_NEWS} before them`);
  for (const words of told) {
    const line = document.createElement("p");
    line.textContent = words;
    news.append(line);
  }
  news.append(gone);
  news.hidden = false;
  if (body.dataset.live === "own") return;
  freshen(offer);
}

/** Have whoever types here say when the page is to be shown anew. */
function offer() {
  if (document.getElementById("show-anew")) return; // asked twice while two answers came
  const again = document.createElement("button");
  again.id = "show-anew";
  again.textContent = "Show the page as it is now";
  again.addEventListener("click", () => { reread(() => true); putAway(); });
  news.append(again);
}

const inHand = () => touched || document.querySelector("[aria-busy=true]") !== null;

/** Show the page as it is now, where nothing is typed in it, nor while the answer comes; else do what is to be done instead. */
export async function freshen(instead = () => {}) {
  if (inHand() || !(await reread(() => !inHand()))) instead();
}

/** Return whether the page needn't wait for another word: it was shown anew, or the bench is away, which is said. */
async function reread(mayShow) {
  try {
    const answer = await ask(location.pathname + location.search, { headers: { accept: "text/html" } });
    const text = answer.ok ? await answer.text() : "";
    if (answer.ok && !mayShow()) return false;
    if (answer.ok) show(text, false);
  } catch { /* it is said that the bench is away */ }
  return true;
}

function listen() {
  const job = body.dataset.job;
  if (!job || !("EventSource" in window)) return;
  const source = new EventSource(`/job/${job}/events?after=${body.dataset.seen || 0}`);
  source.addEventListener("entries", (event) => { setAway(false); tell(JSON.parse(event.data)); });
  source.addEventListener("here", () => setAway(false));
  source.addEventListener("open", () => setAway(false));
  source.addEventListener("error", () => { ask("/api/scale").catch(() => {}); }); // says whether it is away, or we are
  window.addEventListener("pagehide", () => source.close());
}

// a page that comes back out of the browser's memory is as old as when it was left
window.addEventListener("pageshow", (event) => { if (event.persisted) location.reload(); });
window.addEventListener("online", () => setAway(false));
window.addEventListener("offline", () => setAway(true));

setUp(document);
goToAnswer();
listen();
