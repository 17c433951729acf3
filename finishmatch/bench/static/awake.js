// The screen stays on while something is still to be poured (W3C Screen Wake Lock API), where the browser has that; it
// has it on this machine and over https alone. It ends a while after the last touch, so that no battery runs down.

const LONGEST_MS = 15 * 60_000;

let lock = null; // what holds the screen on, or its promise
let wanted = false;
let touched = Date.now();

async function hold() {
  if (lock || !wanted || document.hidden || !navigator.wakeLock) return;
  lock = navigator.wakeLock.request("screen");
  try {
    const held = await lock;
    lock = held;
    held.addEventListener("release", () => { if (lock === held) lock = null; });
    if (!wanted) letGo();
  } catch { lock = null; /* the battery is low, or it isn't allowed: the screen goes to sleep as ever */ }
}

function letGo() {
  lock?.release?.();
}

/** Have the screen stay on, or go to sleep as usual. */
export function stayAwake(is) {
  wanted = is;
  if (is) hold();
  else letGo();
}

// the browser takes it away when the page is hidden
document.addEventListener("visibilitychange", hold);
for (const kind of ["pointerdown", "keydown"]) document.addEventListener(kind, () => { touched = Date.now(); hold(); });
setInterval(() => { if (lock && Date.now() - touched > LONGEST_MS) letGo(); }, 30_000);
