// A keypad of its own for grams, µm and L, a, b: keys of 64 px that a glove hits. A switch brings the usual keyboard,
// for the field it was asked in, until that is left.

const BLANK = "space"; // in place of the minus, where a field takes several numbers: none of them is below 0
const KEYS = ["7", "8", "9", "⌫", "4", "5", "6", "−", BLANK, "1", "2", "3", "next", "0", ".", "abc", "done"];
// what is said of a key begins with what stands on it, so that who speaks to the phone can name it
const SAID = { "⌫": "delete the last sign", "−": "minus", next: "next field", abc: "abc, the usual keyboard", done: "done, close the keypad" };

let pad = null;
let field = null;
let own = null; // the field that the usual keyboard was asked for

const coarse = () => matchMedia("(pointer: coarse)").matches;

/** Have the fields of a part of the page bring up the keypad. */
export function openPads(root) {
  if (field && !field.isConnected) closePad(); // the page was shown anew: what it typed into is gone
  for (const one of root.querySelectorAll("input[data-pad]")) {
    one.addEventListener("focus", () => { if (coarse() && own !== one) open(one); });
    one.addEventListener("input", shown);
    if (coarse()) one.setAttribute("inputmode", "none");
  }
}

function build() {
  pad = document.createElement("div");
  pad.className = "pad";
  pad.setAttribute("role", "region");
  pad.setAttribute("aria-label", "Keypad");
  const inner = document.createElement("div");
  inner.className = "pad-inner";
  const shows = document.createElement("p");
  shows.className = "shows";
  shows.append(document.createElement("span"), document.createElement("output"));
  const keys = document.createElement("div");
  keys.className = "keys";
  for (const key of KEYS) {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = key;
    if (key.length > 1) button.className = "word";
    if (SAID[key]) button.setAttribute("aria-label", SAID[key]);
    button.addEventListener("pointerdown", (event) => event.preventDefault()); // the field keeps the focus
    button.addEventListener("click", () => press(key));
    keys.append(button);
  }
  inner.append(shows, keys);
  pad.append(inner);
  document.body.append(pad);
}

function open(one) {
  if (!pad) build();
  field = one;
  const several = one.dataset.pad === "list";
  pad.querySelectorAll(".keys button").forEach((key, i) => { key.hidden = KEYS[i] === (several ? "−" : BLANK); });
  pad.hidden = false;
  document.body.classList.add("pad-open");
  shown();
  one.scrollIntoView({ block: "center" });
}

/** Take the keypad away. */
export function closePad() {
  if (pad) pad.hidden = true;
  document.body.classList.remove("pad-open");
  field = null;
}

function shown() {
  if (!pad || !field) return;
  const [label, value] = pad.querySelector(".shows").children;
  const named = field.labels?.[0]?.childNodes[0]?.textContent.trim();
  label.textContent = named || field.getAttribute("aria-label") || "";
  const unit = field.parentElement.querySelector(".unit")?.textContent || ""; // as it stands beside the field
  value.textContent = `${field.value || "–"} ${unit}`.trim();
}

function press(key) {
  if (!field) return;
  if (key === "done") { const one = field; closePad(); one.blur(); return; }
  if (key === "next") { next(); return; }
  if (key === "abc") {
    usualKeyboard(field);
    return;
  }
  const now = field.value;
  if (key === "⌫") field.value = now.slice(0, -1);
  else if (key === "−") field.value = now.startsWith("-") ? now.slice(1) : `-${now}`;
  else if (key === "." && field.dataset.pad !== "list" && now.includes(".")) return;
  else field.value = now + (key === BLANK ? " " : key);
  field.dispatchEvent(new Event("input", { bubbles: true }));
}

function usualKeyboard(one) {
  closePad();
  one.blur();
  own = one;
  one.setAttribute("inputmode", "text"); // the decimal one of many phones has neither a minus nor a blank
  one.addEventListener("blur", () => {
    own = null;
    one.setAttribute("inputmode", "none");
  }, { once: true });
  one.focus();
}

function next() {
  const all = [...document.querySelectorAll("input[data-pad]")].filter((one) => one.offsetParent);
  const one = all[all.indexOf(field) + 1];
  if (one) one.focus();
  else press("done");
}
