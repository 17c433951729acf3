// Parts that were poured and aren't recorded yet: they wait on this device, in order, and are sent from whatever page
// of it is open. One that the bench questions stays, and what waits behind it with it, until it is set right or left out.

import { ask, freshen, recorded } from "./bench.js";
import { grams } from "./grams.js";

const PREFIX = "bench:pours:";
const TRY_AGAIN_MS = 3000;
let busy = false;
let since = []; // what was recorded since the page was last shown: the tin that it shows is the one before
let sentFrom = null; // the weigh-out's own page, which says itself what came of it

/** Return the parts of a job that wait on this device, the first in front. */
export function queueOf(job) {
  try { return JSON.parse(localStorage.getItem(PREFIX + job) || "[]"); } catch { return []; }
}

export function keepQueue(job, pours) {
  try {
    if (pours.length) localStorage.setItem(PREFIX + job, JSON.stringify(pours));
    else localStorage.removeItem(PREFIX + job);
  } catch { /* no room */ }
  draw();
}

/** Return the part that the bench asks about; null where it asks about none. */
export const questioned = (job) => queueOf(job).find((one) => one.asked) || null;

/** Change a part that waits. */
export function amend(job, key, what) {
  keepQueue(job, queueOf(job).map((one) => (one.key === key ? { ...one, ...what } : one)));
}

/** Leave out a part that wasn't poured: what follows it goes into the tin as it was before it. */
export function leaveOut(job, key) {
  const all = queueOf(job);
  const gone = all.find((one) => one.key === key);
  const rest = all.filter((one) => one.key !== key);
  for (const one of rest) if (one.after === key) Object.assign(one, { after: gone.after, tin: gone.tin });
  keepQueue(job, rest);
}

export const inWords = (pours) => pours.map((one) => `${one.tint} ${grams(one.grams)} g`).join(", ");

/** Have a page of its own say what came of what a job sent. */
export function tellMe(job, what) {
  sentFrom = { job, what };
}

export const isBusy = () => busy;
export const sentSince = () => since;

/** The page shows the tin with all that was recorded up to a key in it. */
export function shownWith(key) {
  since = since.slice(since.findIndex((one) => one.key === key) + 1);
}

/** Send what waits of a job, until one can't be recorded. */
export async function flush(job) {
  if (busy || !queueOf(job).length || questioned(job)) return;
  busy = true;
  document.body.dataset.busy = "yes";
  const went = { recorded: 0, said: [], stuck: "", unpaired: false };
  try {
    await sendInOrder(job, went);
    if (sentFrom?.job === job) await sentFrom.what(went);
    else if (went.recorded) freshen();
  } catch { /* that the bench is away was said when it was asked */ } finally {
    busy = false;
    delete document.body.dataset.busy;
    draw();
    document.dispatchEvent(new CustomEvent("bench:waiting"));
  }
}

async function sendInOrder(job, went) {
  for (let first = queueOf(job)[0]; first && !first.asked; first = queueOf(job)[0]) {
    const { key, plan, tin, after, tint, grams: weight, total, anyway } = first;
    const answer = await ask(`/api/job/${job}/weigh`, {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify({ key, plan, tin, after, tint, grams: weight, total, anyway }),
    });
    const found = await answer.json().catch(() => ({}));
    if (answer.ok) {
      if (sentFrom?.job === job) { // on another page of this device it is news
        recorded(found.mine);
        since.push(first);
      }
      keepQueue(job, queueOf(job).filter((one) => one.key !== key)); // another page may have sent it as well
      went.recorded += 1;
      went.said = found.said;
      continue;
    }
    const refused = answer.status === 422 || answer.status === 409;
    if (refused) amend(job, key, { asked: found.error || "it wasn't recorded", slip: found.slip === true, moved: found.moved === true });
    else went.stuck = found.error || "the bench has a fault"; // nothing is lost: it waits
    went.unpaired = answer.status === 401;
    return;
  }
}

function jobsThatWait() {
  try { return Object.keys(localStorage).filter((one) => one.startsWith(PREFIX)).map((one) => one.slice(PREFIX.length)).sort(); } catch { return []; }
}

/** Say on every page of this device that parts wait; the weigh-out says it of its own. */
function draw() {
  const box = document.getElementById("waits");
  if (!box) return;
  const said = document.getElementById("waiting") ? sentFrom?.job : null;
  const jobs = jobsThatWait().filter((job) => job !== said && queueOf(job).length);
  const wanted = JSON.stringify(jobs.map(queueOf));
  if (box.dataset.drawn === wanted) return; // said once, not every few seconds
  box.dataset.drawn = wanted;
  box.hidden = jobs.length === 0;
  box.replaceChildren(...jobs.map(lineOf));
}

function lineOf(job) {
  const all = queueOf(job);
  const asked = questioned(job);
  const line = document.createElement("p");
  const words = all.length === 1 ? "1 part of" : `${all.length} parts of`;
  const why = asked ? ` ${asked.tint} ${grams(asked.grams)} g has to be set right first.` : "";
  line.textContent = `${words} ${job} ${all.length === 1 ? "waits" : "wait"} on this device to be recorded: ${inWords(all)}.${why} `;
  const link = document.createElement("a");
  link.className = "plain";
  link.href = `/job/${job}/weigh?plan=${all[0].plan}`;
  link.textContent = asked ? "Set it right" : "See the weigh-out";
  line.append(link);
  return line;
}

async function sendAll() {
  for (const job of jobsThatWait()) await flush(job);
  draw();
}

window.addEventListener("online", sendAll);
window.addEventListener("storage", () => { draw(); document.dispatchEvent(new CustomEvent("bench:waiting")); });
document.addEventListener("bench:shown", draw);
setInterval(sendAll, TRY_AGAIN_MS);
queueMicrotask(sendAll);
