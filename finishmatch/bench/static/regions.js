// The samples on a photograph are dragged and sized with a finger or by keys; the numbers in the form follow, and are
// what is sent. Without this module they are typed.

const SVG = "http://www.w3.org/2000/svg";
const LEAST = 8; // pixels of the photograph
const TOUCH = 26; // half a target on the screen, CSS pixels
const PARTS = ["x", "y", "w", "h"];

let box = null; // the photograph with its size
let marks = []; // one for each row of the form that has numbers

const field = (row, part) => row.querySelector(`input[name^="${part}_"]`);
const perPixel = () => box.wide / box.svg.getBoundingClientRect().width; // photograph's pixels in one of the screen

function element(name, attributes) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  return made;
}

function valuesOf(row) {
  const values = PARTS.map((part) => Number(field(row, part).value.replace(",", ".")));
  return PARTS.every((part) => field(row, part).value.trim()) && values.every(Number.isFinite) ? values : null;
}

function put(mark, [x, y, w, h], typed = false) {
  w = Math.min(Math.max(w, LEAST), box.wide);
  h = Math.min(Math.max(h, LEAST), box.high);
  x = Math.min(Math.max(x, 0), box.wide - w);
  y = Math.min(Math.max(y, 0), box.high - h);
  mark.at = [x, y, w, h].map(Math.round);
  if (!typed) PARTS.forEach((part, i) => { field(mark.row, part).value = mark.at[i]; });
  draw(mark);
}

function draw(mark) {
  const [x, y, w, h] = mark.at;
  const name = field(mark.row, "name").value || "a sample without a name";
  for (const rect of mark.group.querySelectorAll("rect")) {
    for (const [key, value] of Object.entries({ x, y, width: w, height: h })) rect.setAttribute(key, value);
  }
  const size = perPixel();
  for (const part of mark.group.querySelectorAll("circle")) {
    const seen = part.classList.contains("knob");
    part.setAttribute("cx", x + w);
    part.setAttribute("cy", y + h);
    part.setAttribute("r", size * (seen ? 11 : TOUCH));
  }
  const text = mark.group.querySelector("text");
  text.textContent = name;
  text.setAttribute("x", x);
  text.setAttribute("y", Math.max(y - 6 * size, 18 * size));
  text.setAttribute("font-size", 16 * size);
  mark.group.setAttribute("aria-label", `${name}: ${x} across, ${y} down, ${w} wide, ${h} high`);
}

function choose(mark) {
  for (const one of marks) one.row.classList.toggle("chosen", one === mark);
}

/** Have the page know that something was typed here, which another device's entry mustn't take away. */
function told(mark) {
  mark.row.dispatchEvent(new Event("input", { bubbles: true }));
}

function drag(mark, event, sizing) {
  event.preventDefault();
  mark.group.focus({ preventScroll: true });
  choose(mark);
  const from = { x: event.clientX, y: event.clientY, at: [...mark.at] };
  const target = event.currentTarget;
  target.setPointerCapture(event.pointerId);
  const move = (moved) => {
    const across = (moved.clientX - from.x) * perPixel();
    const down = (moved.clientY - from.y) * perPixel();
    const [x, y, w, h] = from.at;
    put(mark, sizing ? [x, y, Math.min(w + across, box.wide - x), Math.min(h + down, box.high - y)] : [x + across, y + down, w, h]);
  };
  const end = () => {
    target.removeEventListener("pointermove", move);
    target.removeEventListener("pointerup", end);
    target.removeEventListener("pointercancel", end);
    told(mark);
  };
  target.addEventListener("pointermove", move);
  target.addEventListener("pointerup", end);
  target.addEventListener("pointercancel", end);
}

const KEYS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

function keyed(mark, event) {
  const step = KEYS[event.key];
  if (!step || event.ctrlKey || event.metaKey || event.altKey) return;
  event.preventDefault();
  choose(mark);
  const far = Math.max(1, Math.round(box.wide / 200));
  const [x, y, w, h] = mark.at;
  if (event.shiftKey) put(mark, [x, y, Math.min(w + step[0] * far, box.wide - x), Math.min(h + step[1] * far, box.high - y)]);
  else put(mark, [x + step[0] * far, y + step[1] * far, w, h]);
  told(mark);
}

function added(row, at) {
  const group = element("g", { class: "region", tabindex: "0", role: "button", "aria-roledescription": "sample to move" });
  const under = { fill: "none", stroke: "#101010", "stroke-width": 6, "vector-effect": "non-scaling-stroke" };
  const inside = element("rect", { ...under, fill: "#ffffff", "fill-opacity": 0.08 });
  const rim = element("rect", { ...under, class: "rim", stroke: "#ffd75a", "stroke-width": 3, "pointer-events": "none" });
  const knob = element("circle", { class: "knob", fill: "#ffd75a", stroke: "#101010", "stroke-width": 2, "vector-effect": "non-scaling-stroke" });
  const reach = element("circle", { class: "corner", fill: "#ffffff", "fill-opacity": 0 });
  const text = element("text", { "font-weight": 700, fill: "#ffffff", stroke: "#101010", "stroke-width": 4, "paint-order": "stroke", "pointer-events": "none", "vector-effect": "non-scaling-stroke" });
  group.append(inside, rim, text, knob, reach);
  box.svg.append(group);
  const mark = { row, group, at };
  marks.push(mark);
  inside.addEventListener("pointerdown", (event) => drag(mark, event, false));
  reach.addEventListener("pointerdown", (event) => drag(mark, event, true));
  group.addEventListener("keydown", (event) => keyed(mark, event));
  group.addEventListener("focus", () => choose(mark));
  put(mark, at);
  return mark;
}

function begin(form) {
  if (box.moving) return;
  box.moving = true;
  box.svg.querySelector(".found")?.setAttribute("visibility", "hidden");
  document.querySelector(".how-to-mark").hidden = false;
  for (const row of form.querySelectorAll(".mark")) {
    const values = valuesOf(row);
    if (values) added(row, values);
  }
  document.querySelector(".by-hand .start").hidden = true;
  document.querySelector(".by-hand .more").hidden = false;
  document.querySelector(".by-hand .read").hidden = false;
}

function another(form) {
  begin(form);
  const row = [...form.querySelectorAll(".mark")].find((one) => !marks.some((mark) => mark.row === one));
  if (!row) {
    const last = [...form.querySelectorAll(".mark")].pop();
    const next = last.cloneNode(true);
    const i = form.querySelectorAll(".mark").length;
    if (i >= Number(form.dataset.most)) return;
    for (const one of next.querySelectorAll("input, label")) {
      for (const name of ["id", "name", "for"]) {
        if (one.hasAttribute(name)) one.setAttribute(name, one.getAttribute(name).replace(/_\d+$/, `_${i}`));
      }
      if (one.value !== undefined) one.value = "";
    }
    last.after(next);
    next.querySelector("legend").textContent = "Another sample";
    watch(next);
    another(form);
    return;
  }
  const side = Math.round(box.wide / 8);
  field(row, "name").value ||= `sample ${marks.length + 1}`;
  const mark = added(row, [Math.round(box.wide / 2 - side / 2), Math.round(box.high / 2 - side / 2), side, side]);
  choose(mark);
  box.svg.scrollIntoView({ block: "nearest" });
  mark.group.focus({ preventScroll: true });
}

function watch(row) {
  row.addEventListener("input", () => {
    const mark = marks.find((one) => one.row === row);
    const values = valuesOf(row);
    if (mark && values) put(mark, values, true);
    else if (mark && PARTS.every((part) => !field(row, part).value.trim())) {
      mark.group.remove();
      marks = marks.filter((one) => one !== mark);
    } else if (!mark && values && box.moving) added(row, values);
  });
}

function setUp() {
  const frame = document.querySelector(".photo");
  const form = document.querySelector("form.marks");
  if (!frame || !form) return;
  marks = [];
  box = { svg: frame.querySelector("svg"), wide: Number(frame.dataset.wide), high: Number(frame.dataset.high), moving: false };
  for (const row of form.querySelectorAll(".mark")) watch(row);
  const start = document.querySelector(".by-hand .start");
  start.hidden = false;
  start.addEventListener("click", () => {
    begin(form);
    if (!marks.length) another(form);
    marks[0].group.focus({ preventScroll: true });
  });
  document.querySelector(".by-hand .more").addEventListener("click", () => another(form));
}

window.addEventListener("resize", () => { for (const mark of marks) draw(mark); });
document.addEventListener("bench:shown", setUp);
setUp();
