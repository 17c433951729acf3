// The weigh-out: parts are recorded as they are poured. What can't be sent yet waits on this device, in order, and the
// next part is shown all the same. A scale on the server's serial line is followed, and settles before it is taken.

import { ask, recorded, setAway, show } from "./bench.js";
import { stayAwake } from "./awake.js";
import { grams, refusedAs, understood } from "./grams.js";
import { setUpVoice, say } from "./voice.js";

const job = document.body.dataset.job;
const QUEUE = `bench:pours:${job}`;
let pan = { grams: null, settled: false };
let start = null; // what the pan showed when this part was begun
let busy = false;
let stuck = ""; // why the bench takes nothing, though it answers
const REST_MS = 1000; // a second tap of the same press is no part: how long none is taken after another part came up
let cameUp = -REST_MS; // when the part that is shown did, where another was shown before it

const at = (id) => document.getElementById(id);
const state = () => at("weigh")?.dataset;

function queue() {
  try { return JSON.parse(localStorage.getItem(QUEUE) || "[]"); } catch { return []; }
}

function keepQueue(pours) {
  try {
    if (pours.length) localStorage.setItem(QUEUE, JSON.stringify(pours));
    else localStorage.removeItem(QUEUE);
  } catch { /* no room */ }
}

function newKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(12));
  return [...bytes].map((one) => one.toString(16).padStart(2, "0")).join("");
}

/** The parts with what waits on this device put in. */
function lines() {
  const found = JSON.parse(state().lines);
  for (const pour of queue()) {
    if (pour.plan !== Number(state().plan)) continue;
    const line = found.find((one) => one.tint === pour.tint);
    if (line) line.to_go = 0;
  }
  return found;
}

// --- grams that are typed and not poured yet: kept on this device for their part of their tin alone ---

const keptGrams = () => `bench:grams:${job}:${state().plan}`;

function keepGrams() {
  const [tint, text] = [at("pour").elements.tint.value, at("grams").value];
  const kept = { tint, tin: state().tin, waits: queue().length > 0, grams: text };
  try {
    if (text) localStorage.setItem(keptGrams(), JSON.stringify(kept));
    else localStorage.removeItem(keptGrams());
  } catch { /* no room: it is typed again */ }
}

function restoreGrams() {
  if (at("grams").value) return;
  let kept = null;
  try { kept = JSON.parse(localStorage.getItem(keptGrams()) || "null"); } catch { return; }
  if (!kept || kept.tint !== at("pour").elements.tint.value) return;
  // typed while parts before it waited, it is of the tin that these went into
  if (kept.tin === state().tin || kept.waits) at("grams").value = kept.grams;
}

const typed = () => understood(at("grams").value);

function fromPan() {
  return pan.grams !== null && start !== null ? pan.grams - start : null;
}

function drawPart() {
  const form = at("pour");
  if (!form) return;
  const waiting = queue();
  const part = lines().find((one) => one.to_go > 0);
  const note = at("waiting");
  note.hidden = waiting.length === 0;
  if (waiting.length) {
    const words = waiting.length === 1 ? "1 part waits" : `${waiting.length} parts wait`;
    note.textContent = at("away").hidden && !stuck ? "Recording …" : `${words} on this device to be recorded: it is sent again by itself.`;
  }
  if (!part) { form.hidden = true; return; }
  form.hidden = false;
  if (form.elements.tint.value !== part.tint) {
    rest();
    form.elements.tint.value = part.tint;
    form.elements.as_planned.value = part.to_go;
    at("tint").textContent = part.tint;
    at("of-it").textContent = `${grams(part.planned)} g planned`;
    at("how").textContent = part.how;
    at("how").hidden = !part.how;
    at("as-planned").textContent = `(empty: ${grams(part.to_go)} g, as planned)`;
    say(`${part.tint}, ${grams(part.to_go)} grams`);
  }
  drawNumber();
}

const resting = () => performance.now() - cameUp < REST_MS;

function rest() {
  cameUp = performance.now();
  setTimeout(drawNumber, REST_MS + 20);
}

function drawNumber() {
  const form = at("pour");
  const big = at("to-go");
  if (!form || !big) return;
  const planned = Number(form.elements.as_planned.value);
  const poured = fromPan();
  const left = poured === null ? planned : planned - poured;
  big.textContent = grams(Math.round(Math.abs(left) * 100) / 100);
  big.classList.toggle("long", big.textContent.length > 5);
  at("weigh").classList.toggle("over", left < -0.05);
  document.querySelector(".to-go-unit").textContent = left < -0.05 ? "g too much" : "g still to go";
  const own = typed();
  const takes = own ?? (poured !== null && Math.abs(poured) > 0.05 ? poured : planned);
  const button = at("poured");
  if (!button) return;
  const unsettled = own === null && poured !== null && Math.abs(poured) > 0.05 && !pan.settled;
  const refused = refusedAs(at("grams").value);
  // not `disabled`, which would take the focus from it
  button.setAttribute("aria-disabled", String(resting() || unsettled || refused !== ""));
  const says = own !== null && at("total").checked ? "Scale shows" : "Poured";
  button.textContent = unsettled ? "The pan is moving" : refused || `${says} ${grams(takes)} g`;
}

function pour() {
  const form = at("pour");
  drawNumber();
  if (at("poured").getAttribute("aria-disabled") === "true") return;
  const own = typed();
  const poured = fromPan();
  const takes = own ?? (poured !== null && Math.abs(poured) > 0.05 ? poured : Number(form.elements.as_planned.value));
  const waiting = queue();
  const before = waiting.at(-1);
  const tin = before ? null : Number(state().tin) || null;
  waiting.push({
    key: newKey(), plan: Number(state().plan), tin, after: before ? before.key : null, tint: form.elements.tint.value,
    grams: Math.round(takes * 1000) / 1000, total: own !== null && at("total").checked, anyway: at("anyway").checked,
  });
  keepQueue(waiting);
  at("grams").value = "";
  keepGrams();
  at("anyway").checked = false;
  start = pan.grams;
  drawPart();
  flush();
}

async function flush() {
  if (busy) return;
  busy = true;
  document.body.dataset.busy = "yes";
  let done = null;
  try {
    for (let first = queue()[0]; first; first = queue()[0]) {
      const answer = await ask(`/api/job/${job}/weigh`, {
        method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(first),
      });
      if (answer.status === 401 || answer.status >= 500) { // nothing is lost: it waits
        const said = await answer.json().catch(() => ({}));
        const what = answer.status === 401 ? "this device isn't paired any more" : said.error || "the bench has a fault";
        if (what !== stuck) { // said once: it is tried every few seconds
          stuck = what;
          await look([`What was poured waits on this device: ${what}.`]);
        }
        return;
      }
      stuck = "";
      const found = await answer.json();
      if (!answer.ok) {
        keepQueue([]); // what was poured after it rests on it
        await look([found.error || "it wasn't recorded"], found.slip === true, first);
        return;
      }
      keepQueue(queue().slice(1));
      recorded(found.mine);
      done = found;
    }
    if (done) await look(done.said, false, null, true);
  } catch {
    setAway(true);
  } finally {
    busy = false;
    delete document.body.dataset.busy;
    drawPart();
  }
}

/** Show the weigh-out as it is now, with what is to be said of it. */
async function look(said = [], slip = false, refused = null, took = false) {
  // a recipe that was chosen stays chosen until the tin holds some of it: then the record knows which it is
  const chosen = slip || (state() && !state().tin && !took);
  const answer = await ask(location.pathname + (chosen ? location.search : ""), { headers: { accept: "text/html" } });
  const typing = at("grams");
  const kept = typing && { value: typing.value, of: partShown(), focused: document.activeElement === typing };
  show(await answer.text(), false);
  if (kept && at("pour") && kept.of !== partShown()) { rest(); drawNumber(); }
  if (kept && !refused && kept.of === partShown()) { // what was typed of one part is never another's
    at("grams").value = kept.value;
    keepGrams();
    if (kept.focused) at("grams").focus();
    drawNumber();
  }
  const main = at("main");
  for (const text of [...said].reverse()) {
    const line = document.createElement("p");
    line.className = refused ? "wrong" : "caution";
    line.setAttribute("role", refused ? "alert" : "status");
    line.textContent = text;
    main.prepend(line);
  }
  if (slip && at("slip")) at("slip").hidden = false;
  if (refused && refused.tint === at("pour")?.elements.tint.value) {
    at("grams").value = refused.grams;
    keepGrams();
    drawNumber();
  }
  if (said.length) window.scrollTo(0, 0);
}

const partShown = () => at("pour") && `${state().plan} ${at("pour").elements.tint.value}`;

function setUp() {
  const form = at("pour");
  if (form) {
    form.addEventListener("submit", (event) => { event.preventDefault(); pour(); });
    at("grams").addEventListener("input", () => { keepGrams(); drawNumber(); });
    const total = at("total");
    try { total.checked ||= localStorage.getItem("bench:total") === "yes"; } catch { /* as it stands */ }
    total.addEventListener("change", () => { try { localStorage.setItem("bench:total", total.checked ? "yes" : ""); } catch { /* no room */ } drawNumber(); });
    at("pan-zero").addEventListener("click", () => { start = pan.grams; drawNumber(); });
    at("pan").hidden = !state().scale;
  }
  drawPart();
  if (form) { restoreGrams(); drawNumber(); }
  drawPan();
  stayAwake(Boolean(form && !form.hidden));
  setUpVoice(() => at("poured")?.click());
  const part = at("tint");
  if (part) say(`${part.textContent}, ${at("to-go").textContent} grams`);
  else if (at("weigh")) say("Every part is in the tin");
}

function drawPan() {
  const row = at("pan-now");
  if (!row) return;
  if (pan.grams === null) row.textContent = "The scale says nothing";
  else row.textContent = `On the pan ${grams(Math.round(pan.grams * 100) / 100)} g, ${pan.settled ? "settled" : "moving"}`;
}

function follow() {
  if (!state()?.scale) return;
  const source = new EventSource("/scale/events");
  source.addEventListener("pan", (event) => {
    pan = JSON.parse(event.data);
    if (start === null && pan.settled) start = pan.grams;
    drawPan();
    drawNumber();
  });
  source.addEventListener("error", () => { pan = { grams: null, settled: false }; drawPan(); });
  window.addEventListener("pagehide", () => source.close());
}

document.addEventListener("bench:shown", setUp);
document.addEventListener("bench:entries", () => { if (!busy && !queue().length) look(); });
window.addEventListener("online", flush);
setInterval(() => { if (queue().length) flush(); }, 3000);

setUp();
follow();
flush();
