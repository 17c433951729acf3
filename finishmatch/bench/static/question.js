// A part that the bench doesn't take as it was sent stands at the top of the weigh-out until it is set right or left
// out, with what was poured after it and isn't recorded either.

import { inWords } from "./waiting.js";

const REST_MS = 1000; // two taps of one press don't leave out what was poured

function line(text) {
  const one = document.createElement("p");
  one.textContent = text;
  return one;
}

/** Show what is asked of a part, in place of what was asked before; nothing where nothing is.

here: whether the page shows its plan, so that it can be set right in the form. leave: is called to leave it out. */
export function drawQuestion(asked, queue, here, leave) {
  document.getElementById("asked")?.remove();
  if (!asked) return;
  const box = document.createElement("div");
  box.id = "asked";
  box.className = "wrong";
  box.setAttribute("role", "alert");
  const why = asked.asked.replace(/\.$/, "");
  box.append(line(`${inWords([asked])} isn't recorded: ${why}.`));
  const behind = queue.filter((one) => one !== asked && one.key !== asked.key);
  if (behind.length) box.append(line(`Poured after it, and not recorded yet either: ${inWords(behind)}. It waits on this device.`));
  box.append(line(here
    ? "Set it right below, and press «Poured»."
    : "What it was poured by can't be poured any more. Write down what is in the tin before you leave it out."));
  box.append(leaveButton(asked, leave));
  document.getElementById("main").prepend(box);
}

function leaveButton(asked, leave) {
  const row = document.createElement("p");
  const button = document.createElement("button");
  let since = null;
  button.type = "button";
  button.className = "plain";
  button.id = "leave-out";
  button.textContent = "It wasn't poured: leave it out";
  button.addEventListener("click", () => {
    if (since === null) {
      since = performance.now();
      button.textContent = `Press again: ${inWords([asked])} is left out`;
    } else if (performance.now() - since > REST_MS) leave(asked);
  });
  row.append(button);
  return row;
}
