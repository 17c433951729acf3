// The weigh-out: parts are recorded as they are poured. What can't be sent yet waits on this device, and the next part
// is shown all the same. A scale on the server's serial line is followed, and settles before it is taken.

import { ask, isAway, show, tellAloud } from "./bench.js";
import { stayAwake } from "./awake.js";
import { grams, refusedAs, understood } from "./grams.js";
import { byPan, followPan, heldInstead, isWithout, onPan, panInWords, setWithout, startHere, took, UNMOVED_G } from "./pan.js";
import { drawQuestion } from "./question.js";
import { setUpVoice, say } from "./voice.js";
import { amend, flush, isBusy, keepQueue, leaveOut, queueOf, questioned, sentSince, shownWith, tellMe } from "./waiting.js";

const job = document.body.dataset.job;
const REST_MS = 1000; // a second tap of the same press is no part: how long none is taken after another part came up
let cameUp = -REST_MS; // when the part that is shown did, where one was poured or another was shown before it
let stuck = ""; // why the bench takes nothing, though it answers

const at = (id) => document.getElementById(id);
const state = () => at("weigh")?.dataset;
const typed = () => understood(at("grams").value);
const resting = () => performance.now() - cameUp < REST_MS;

function newKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(12));
  return [...bytes].map((one) => one.toString(16).padStart(2, "0")).join("");
}

/** The tin with what waits on this device put in, and what was recorded since it was shown: its parts, and its grams. */
function tin() {
  const lines = JSON.parse(state().lines);
  let held = Number(state().grams);
  for (const pour of [...sentSince(), ...queueOf(job)]) {
    if (pour.plan !== Number(state().plan) || pour.asked) continue;
    const weight = pour.total ? Math.max(pour.grams - held, 0) : pour.grams;
    held += weight;
    const line = lines.find((one) => one.tint === pour.tint);
    if (!line) continue;
    line.poured += weight;
    line.to_go = line.planned - line.poured > line.slack ? line.planned - line.poured : 0;
  }
  return { lines, held: Math.round(held * 1e6) / 1e6 };
}

/** The part that the bench asks about, where it is of the plan that is shown and can be set right here. */
function askedHere() {
  const one = questioned(job);
  return one && state() && one.plan === Number(state().plan) ? one : null;
}

// --- grams that are typed and not poured yet: kept on this device for their part of their tin alone ---

const keptGrams = () => `bench:grams:${job}:${state().plan}`;

function keepGrams() {
  const asked = askedHere();
  const [tint, text] = [at("pour").elements.tint.value, at("grams").value];
  if (asked) { amend(job, asked.key, { typed: text }); return; }
  const kept = { tint, tin: state().tin, waits: queueOf(job).length > 0, grams: text };
  try {
    if (text) localStorage.setItem(keptGrams(), JSON.stringify(kept));
    else localStorage.removeItem(keptGrams());
  } catch { /* no room: it is typed again */ }
}

function restoreGrams() {
  const asked = askedHere();
  if (asked) { at("grams").value = asked.typed ?? String(asked.grams); return; }
  if (at("grams").value) return;
  let kept = null;
  try { kept = JSON.parse(localStorage.getItem(keptGrams()) || "null"); } catch { return; }
  if (!kept || kept.tint !== at("pour").elements.tint.value) return;
  // typed while parts before it waited, it is of the tin that these went into
  if (kept.tin === state().tin || kept.waits) at("grams").value = kept.grams;
}

// --- what is shown ---

function drawPart() {
  const form = at("pour");
  if (!form) return;
  drawWaiting();
  const { lines, held } = tin();
  const asked = askedHere();
  const part = asked ? lines.find((one) => one.tint === asked.tint) : lines.find((one) => one.to_go > 0);
  const none = !part && lines.length > 0;
  if (!part && document.activeElement === at("poured")) at("main").focus({ preventScroll: true });
  for (const one of [form, at("part-now"), at("poured")]) one.hidden = !part;
  at("enter-card").hidden = !none || queueOf(job).length > 0;
  if (none && queueOf(job).length) at("all-in").textContent = `Every part of ${state().name} is poured. What waits on this device is still to be recorded.`;
  at("all-in").hidden = Boolean(part);
  if (!part) return;
  at("slip").hidden = !(asked ? asked.slip : !at("slip").hidden);
  const done = asked ? lines.indexOf(part) : lines.filter((one) => one.to_go <= 0).length;
  document.querySelector(".part-of").textContent = `part ${done + 1} of ${lines.length}, ${state().name}`;
  at("of-it").textContent = ofIt(part, held);
  form.elements.as_planned.value = part.to_go;
  if (form.elements.tint.value !== part.tint) {
    rest();
    form.elements.tint.value = part.tint;
    at("tint").textContent = part.tint;
    at("how").textContent = part.how;
    at("how").hidden = !part.how;
    announce(part);
  }
  drawNumber();
}

function ofIt(part, held) {
  const planned = `${grams(part.planned)} g${part.part_of ? `: ${part.part_of}` : " planned"}`;
  return `${planned}${part.poured > 0 ? `, ${grams(part.poured)} g of it poured` : ""}; in the tin ${grams(held)} g`;
}

function drawWaiting() {
  const waiting = queueOf(job);
  const note = at("waiting");
  note.hidden = waiting.length === 0 || Boolean(questioned(job));
  const words = waiting.length === 1 ? "1 part waits" : `${waiting.length} parts wait`;
  const sent = isAway() || stuck ? `${words} on this device to be recorded: it is sent again by itself.` : "Recording …";
  note.textContent = note.hidden ? "" : sent;
}

function announce(part) {
  say(`${part.tint}, ${grams(part.to_go)} grams`);
  tellAloud(`${part.tint}, ${grams(part.to_go)} grams still to go`);
}

function rest() {
  cameUp = performance.now();
  setTimeout(drawNumber, REST_MS + 20);
}

const follows = () => Boolean(state()?.scale) && !isWithout() && !askedHere();

/** Return what a press would take, in grams; or why it takes nothing. */
function taken() {
  const own = typed();
  if (own !== null) return { takes: own, why: refusedAs(at("grams").value) };
  const planned = Number(at("pour").elements.as_planned.value);
  if (!follows()) return { takes: planned, why: planned > 0 ? "" : "Type what you poured" };
  const by = byPan(tin().held, isFirst());
  if (by.poured === null) return { takes: 0, why: by.button };
  // an unmoved pan says that nothing was poured
  if (Math.abs(by.poured) <= UNMOVED_G || by.poured < 0) return { takes: 0, why: "Nothing is poured yet" };
  return { takes: by.poured, why: onPan().settled ? "" : "The pan is moving" };
}

// of a plan that was shown before, here or on another device, some may be in the tin that no record knows of yet
const isFirst = () => state().first === "yes" && queueOf(job).length === 0;

function drawNumber() {
  const form = at("pour");
  const big = at("to-go");
  if (!form || form.hidden) return;
  const planned = Number(form.elements.as_planned.value);
  const by = follows() ? byPan(tin().held, isFirst()) : null;
  const unknown = by !== null && by.poured === null;
  const left = planned - (by?.poured ?? 0);
  big.textContent = unknown ? "–" : grams(Math.round(Math.abs(left) * 100) / 100);
  big.classList.toggle("long", big.textContent.length > 5);
  at("weigh").classList.toggle("over", !unknown && left < -0.05);
  document.querySelector(".to-go-unit").textContent = unknown ? `of ${grams(planned)} g` : left < -0.05 ? "g too much" : "g still to go";
  drawPan(by);
  at("as-planned").textContent = by ? "(empty: what the pan shows)" : `(empty: ${grams(planned)} g, as planned)`;
  const button = at("poured");
  const { takes, why } = taken();
  const says = typed() !== null && at("total").checked ? "Scale shows" : "Poured";
  // not `disabled`, which would take the focus from it
  button.setAttribute("aria-disabled", String(resting() || why !== ""));
  const text = why || `${says} ${grams(Math.round(takes * 1000) / 1000)} g`;
  if (button.textContent !== text) button.textContent = text;
}

function drawPan(by) {
  at("pan").hidden = !state().scale || Boolean(askedHere());
  at("pan-now").textContent = isWithout() ? "The scale isn't followed" : panInWords(by ? by.from : null);
  at("pan-zero").hidden = isWithout() || onPan().grams === null;
  at("pan-without").textContent = isWithout() ? "Follow the scale" : "Without the scale";
  const why = by?.why || "";
  if (at("pan-asks").textContent !== why) at("pan-asks").textContent = why;
  at("pan-asks").hidden = !why;
}

// --- what is done ---

function pour() {
  const form = at("pour");
  if (form.hidden) return; // all is poured; a voice may press the button all the same
  drawNumber();
  if (at("poured").getAttribute("aria-disabled") === "true") return;
  const { takes } = taken();
  const said = {
    grams: Math.round(takes * 1000) / 1000, total: typed() !== null && at("total").checked, anyway: at("anyway").checked,
  };
  const asked = askedHere();
  rest();
  at("grams").value = "";
  at("anyway").checked = false;
  at("slip").hidden = true;
  if (asked) {
    const where = asked.moved ? { tin: Number(state().tin) || null, after: null } : {}; // the tin as it is shown now
    amend(job, asked.key, { ...said, ...where, asked: undefined, slip: undefined, moved: undefined, typed: undefined });
    heldInstead(tin().held);
  } else {
    const before = tin().held;
    const waiting = queueOf(job);
    const last = (waiting.at(-1) ?? sentSince().at(-1))?.key ?? null;
    const into = last ? null : Number(state().tin) || null;
    const plan = Number(state().plan);
    waiting.push({ key: newKey(), plan, tin: into, after: last, tint: form.elements.tint.value, ...said });
    keepQueue(job, waiting);
    keepGrams();
    took(before, tin().held);
  }
  settle();
}

/** Go on after something was poured, set right or left out. */
function settle() {
  document.getElementById("asked")?.remove();
  drawPart();
  if (at("pour") && !at("pour").hidden) { restoreGrams(); drawNumber(); }
  flush(job);
}

function leave(asked) {
  leaveOut(job, asked.key);
  if (state()) heldInstead(tin().held);
  if (queueOf(job).length) settle();
  else look().catch(() => {});
}

/** Say what came of what was sent. */
async function sent(went) {
  const asked = questioned(job);
  if (asked) { stuck = ""; await look([], asked); return; }
  if (went.stuck && went.stuck !== stuck && !went.unpaired) { // said once: it is tried every few seconds
    stuck = went.stuck;
    await look([`What was poured waits on this device: ${stuck}.`]);
  } else if (!went.stuck) {
    stuck = "";
    if (went.recorded) await look(went.said, null, true);
  } else stuck = went.stuck;
}

/** Show the weigh-out as it is now, with what is to be said of it. */
async function look(said = [], asked = null, tookOne = false) {
  // a recipe that was chosen stays chosen until the tin holds some of it: then the record knows which it is
  const chosen = state() && !state().tin && !tookOne ? location.search : "";
  const of = asked ? `?plan=${asked.plan}` : chosen;
  const upTo = sentSince().at(-1)?.key;
  const answer = await ask(location.pathname + of, { headers: { accept: "text/html" } });
  const text = await answer.text();
  // as it stands when it is put aside: what is typed while the answer is still coming isn't lost
  const [typing, known] = [at("grams"), at("too-much")];
  const kept = typing && { value: typing.value, of: partShown(), focused: document.activeElement === typing };
  shownWith(upTo);
  show(text, false);
  if (kept && at("pour") && kept.of !== partShown()) { rest(); drawNumber(); }
  if (kept && !asked && kept.of === partShown()) { // what was typed of one part is never another's
    at("grams").value = kept.value;
    keepGrams();
    if (kept.focused) at("grams").focus();
    drawNumber();
  }
  for (const one of [...said].reverse()) {
    const line = document.createElement("p");
    line.className = "caution";
    line.setAttribute("role", "status");
    line.textContent = one;
    at("main").prepend(line);
  }
  if (said.length || asked || (at("too-much") && !known)) window.scrollTo(0, 0);
}

const partShown = () => at("pour") && !at("pour").hidden && `${state().plan} ${at("pour").elements.tint.value}`;

function setUp() {
  const form = at("pour");
  drawQuestion(questioned(job), queueOf(job), Boolean(askedHere()), leave);
  if (form) setUpForm(form);
  drawPart();
  if (form && !form.hidden) {
    if (askedHere()) at("total").checked = askedHere().total;
    restoreGrams();
    drawNumber();
  }
  stayAwake(Boolean(form && !form.hidden));
  setUpVoice(() => at("poured")?.click());
  if (form && !form.hidden) say(`${at("tint").textContent}, ${at("to-go").textContent} grams`);
  else if (at("weigh")) {
    say("Every part is in the tin");
    tellAloud("Every part is poured");
  }
}

function setUpForm(form) {
  form.addEventListener("submit", (event) => { event.preventDefault(); pour(); });
  at("grams").addEventListener("input", () => { keepGrams(); drawNumber(); });
  const total = at("total");
  try { total.checked ||= localStorage.getItem("bench:total") === "yes"; } catch { /* as it stands */ }
  total.addEventListener("change", () => {
    try { localStorage.setItem("bench:total", total.checked ? "yes" : ""); } catch { /* no room */ }
    drawNumber();
  });
  at("pan-zero").addEventListener("click", () => { startHere(tin().held); drawNumber(); });
  at("pan-without").addEventListener("click", () => { setWithout(!isWithout()); drawNumber(); });
}

document.addEventListener("bench:shown", setUp);
document.addEventListener("bench:entries", () => {
  if (document.querySelector("[aria-busy=true]")) return; // what is sent leads on by itself, and what it says is said once
  const asked = questioned(job);
  if (!isBusy() && (asked || !queueOf(job).length)) look([], asked).catch(() => {});
});
document.addEventListener("bench:waiting", drawPart);

tellMe(job, sent);
setUp();
if (state()?.scale) followPan(drawNumber);
flush(job);
