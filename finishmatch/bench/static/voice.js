// The browser's own voice reads the next part aloud, and its own ear is told «done», where it has one. Both are off
// until they are switched on; what is heard is taken for nothing but that word, said alone.

const ALONE = /^\W*done\W*$/i; // "I'm not done yet" is no part

let aloud = remembered("bench:aloud");
let listening = false;
let ear = null;
let last = "";
let whenDone = () => {};

function remembered(name) {
  try { return localStorage.getItem(name) === "yes"; } catch { return false; }
}

function remember(name, is) {
  try { localStorage.setItem(name, is ? "yes" : ""); } catch { /* no room */ }
}

/** Set up the two switches of a page. */
export function setUpVoice(done) {
  whenDone = done;
  const box = document.getElementById("voice");
  const Ear = window.SpeechRecognition || window.webkitSpeechRecognition;
  if (!box || (!("speechSynthesis" in window) && !Ear)) return;
  box.hidden = false;
  const switchAloud = document.getElementById("aloud");
  switchAloud.checked = aloud;
  switchAloud.addEventListener("change", () => {
    aloud = switchAloud.checked;
    remember("bench:aloud", aloud);
    last = "";
    if (!aloud) speechSynthesis.cancel();
  });
  if (!Ear) return;
  document.getElementById("listen-row").hidden = false;
  const switchEar = document.getElementById("listen");
  switchEar.checked = listening;
  switchEar.addEventListener("change", () => { listening = switchEar.checked; if (listening) listen(Ear); else ear?.stop(); });
}

/** Read something aloud, once, where that is wanted. */
export function say(text) {
  if (!aloud || text === last || !("speechSynthesis" in window)) return;
  last = text;
  speechSynthesis.cancel();
  const words = new SpeechSynthesisUtterance(text);
  words.lang = "en-GB";
  speechSynthesis.speak(words);
}

function listen(Ear) {
  ear = new Ear();
  ear.lang = "en-GB";
  ear.continuous = true;
  ear.addEventListener("result", (event) => {
    const heard = event.results[event.results.length - 1];
    if (heard.isFinal && ALONE.test(heard[0].transcript)) whenDone();
  });
  ear.addEventListener("end", () => { if (listening) ear.start(); });
  ear.addEventListener("error", (event) => {
    if (!["not-allowed", "service-not-allowed", "audio-capture"].includes(event.error)) return;
    listening = false;
    const box = document.getElementById("listen");
    if (box) box.checked = false;
  });
  ear.start();
}
