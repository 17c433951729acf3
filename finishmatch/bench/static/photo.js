// A photograph is sent in parts with its progress shown; after a broken connection, or a page that was closed, it goes
// on where it stopped. Without this module the form sends it in one piece.

import { ask } from "./bench.js";

const FIRST_WAIT_MS = 800;
const LONGEST_WAIT_MS = 15000;

const panel = () => document.getElementById("on-its-way");
let stopped = false;

/** Say how a photograph is getting on; once none is on its way there is no bar and nothing to stop. */
function say(text, share, over = false) {
  const shown = panel();
  shown.hidden = false;
  for (const one of [shown.querySelector("progress"), shown.querySelector(".stop").parentElement]) one.hidden = over;
  shown.querySelector(".said-of-it").textContent = text;
  if (share !== undefined) shown.querySelector("progress").value = Math.round(100 * share);
}

const pause = (ms) => new Promise((resolve) => { setTimeout(resolve, ms); });

// by what was chosen before, so that the same file goes on where it stopped
const mark = (api, file) => `bench-photo:${api}:${file.name}:${file.size}:${file.lastModified}`;

function remembered(api, file) {
  try { return sessionStorage.getItem(mark(api, file)); } catch { return null; }
}

function remember(api, file, key) {
  try {
    if (key) sessionStorage.setItem(mark(api, file), key);
    else sessionStorage.removeItem(mark(api, file));
  } catch { /* it begins anew then */ }
}

async function answered(path, options) {
  const answer = await ask(path, options);
  if (answer.status >= 500) throw new Error("the bench is busy");
  const found = await answer.json().catch(() => ({}));
  if (!answer.ok) throw Object.assign(new Error(found.error || "it wasn't taken"), { refused: answer.status });
  return found;
}

async function begun(api, file) {
  const before = remembered(api, file);
  if (before) {
    try { return await answered(`${api}/${before}`); } catch (error) { if (!error.refused) throw error; }
  }
  const headers = { "content-type": "application/json" };
  const found = await answered(api, { method: "POST", headers, body: JSON.stringify({ name: file.name, size: file.size }) });
  remember(api, file, found.key);
  return found;
}

async function sendParts(api, file) {
  let at = await begun(api, file);
  while (at.came < file.size) {
    if (stopped) return null;
    say(`${file.name}: ${Math.floor((100 * at.came) / file.size)} % has come`, at.came / file.size);
    const part = file.slice(at.came, at.came + at.part);
    const headers = { "content-type": "application/octet-stream" };
    at = await answered(`${api}/${at.key}?offset=${at.came}`, { method: "PUT", headers, body: part });
  }
  say(`${file.name} has come; it is being looked at`, 1);
  return answered(`${api}/${at.key}/finish`, { method: "POST" });
}

async function sendPhoto(api, file) {
  let wait = FIRST_WAIT_MS;
  stopped = false;
  say(`${file.name} is on its way`, 0);
  panel().scrollIntoView({ block: "nearest" });
  while (!stopped) {
    try {
      const done = await sendParts(api, file);
      if (!done) break;
      remember(api, file, null);
      say(`${file.name} is being read`, 1);
      location.assign(done.to);
      return;
    } catch (error) {
      if (error.refused) {
        remember(api, file, null);
        say(`${file.name} wasn't taken: ${error.message}`, undefined, true);
        return;
      }
      say(`The connection broke: ${file.name} goes on by itself as soon as the bench answers`);
      await pause(wait);
      wait = Math.min(2 * wait, LONGEST_WAIT_MS);
    }
  }
  say(`${file.name} was stopped; choose it again and it goes on`, undefined, true);
}

function setUp() {
  for (const form of document.querySelectorAll("form.sends-photo")) {
    const field = form.querySelector("input[type=file]");
    const send = async () => {
      const file = field.files[0];
      if (file) await sendPhoto(form.dataset.api, file);
      field.value = ""; // the same file chosen again is a change too, and is sent again
    };
    form.addEventListener("submit", (event) => { event.preventDefault(); send(); });
    field.addEventListener("change", send); // what was taken is sent at once
    form.classList.add("by-label");
  }
  panel()?.querySelector(".stop").addEventListener("click", () => { stopped = true; });
}

document.addEventListener("bench:shown", setUp);
setUp();
