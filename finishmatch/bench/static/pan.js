// The bench scale as this device follows it. What its pan showed when the part was begun is kept on this device with
// what was in the tin then: as much as the tin has grown since, by whichever device, it starts later. Where none is known, it is
// asked for and never guessed: a wrong one would have a part poured twice.

import { grams } from "./grams.js";

const KEPT_FOR_MS = 3 * 3_600_000; // an older one is of another pan, or of the day before
const SLACK_G = 0.2; // a pan drifts by a step or two of a common bench scale
const SAME_G = 0.005;
export const UNMOVED_G = 0.05;

const job = document.body.dataset.job;
const START = `bench:start:${job}`;
const WITHOUT = `bench:without-scale:${job}`;
let pan = { grams: null, settled: false };
let here = null; // where the browser keeps nothing: as long as the page is open

/** Return what is on the pan. */
export const onPan = () => pan;

function kept() {
  try { return JSON.parse(localStorage.getItem(START) || "null") || here; } catch { return here; }
}

function keep(from, held) {
  here = { grams: from, held, at: Date.now() };
  try { localStorage.setItem(START, JSON.stringify(here)); } catch { /* no room: it is asked for on another page */ }
}

/** Return what the pan showed when the part was begun that comes on what is in the tin; null where that isn't known. */
function startAt(held) {
  const one = kept();
  if (!one || Date.now() - one.at > KEPT_FOR_MS || held < one.held - SAME_G) return null;
  return one.grams + held - one.held;
}

/** Begin the part here: what is on the pan now is none of it. */
export function startHere(held) {
  if (pan.grams !== null) keep(pan.grams, held);
}

/** A part was poured: the next one starts where the pan is now, if it can be believed, else as much later as was said. */
export function took(before, held) {
  const from = startAt(before);
  if (from !== null && pan.settled && pan.grams >= from - SLACK_G) keep(pan.grams, held);
}

/** What the tin holds was said wrong: the pan itself is where it was. */
export function heldInstead(held) {
  const one = kept();
  if (one) keep(one.grams, held);
}

export function isWithout() {
  try { return sessionStorage.getItem(WITHOUT) === "yes"; } catch { return false; }
}

export function setWithout(is) {
  try { sessionStorage.setItem(WITHOUT, is ? "yes" : ""); } catch { /* it is followed */ }
}

/** Return what was poured of the part by the pan, or why that can't be told: in words, and on the button.

held: what is in the tin. first: whether no device weighed out of this plan before, so that nothing of it is in the tin. */
export function byPan(held, first) {
  if (pan.grams === null) return told("The scale says nothing. Switch it on, or type what you poured.", "The scale is silent");
  let from = startAt(held);
  if (from === null && first) {
    if (!pan.settled) return told("", "The pan is moving");
    startHere(held);
    from = pan.grams;
  }
  if (from === null) {
    return told("Where this part began on the pan isn't known on this device. Is nothing of it in the tin yet? Then press «Start here». Else type what you pour of it in all.", "Where did it begin?");
  }
  if (pan.grams < from - SLACK_G) {
    return told(`The pan shows less than when this part began (${grams(rounded(from))} g). Put the tin back; if the scale was set to zero meanwhile, type what you pour of it in all.`, "Is the tin on the pan?");
  }
  if (Date.now() - kept().at > 60_000) keep(kept().grams, kept().held); // it is in use
  return { poured: pan.grams - from, from: rounded(from), why: "", button: "" };
}

const told = (why, button) => ({ poured: null, from: null, why, button });
const rounded = (value) => Math.round(value * 100) / 100;

/** Return what stands beside the buttons of the pan. */
export function panInWords(from) {
  if (pan.grams === null) return "The scale says nothing";
  const began = from === null ? "" : `; this part from ${grams(from)} g`;
  return `On the pan ${grams(rounded(pan.grams))} g, ${pan.settled ? "settled" : "moving"}${began}`;
}

/** Follow the pan. */
export function followPan(changed) {
  const source = new EventSource("/scale/events");
  source.addEventListener("pan", (event) => { pan = JSON.parse(event.data); changed(); });
  source.addEventListener("error", () => { pan = { grams: null, settled: false }; changed(); });
  window.addEventListener("pagehide", () => source.close());
}
