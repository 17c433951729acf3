// Grams as they are shown, and as a painter writes them: what is understood is what the bench understands of the same
// text in a form without a script (readings/plain_number.py), and what could be two numbers is none.

export const MOST_G = 1_000_000;

const PLAIN = /^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i;
const COMMA = /^[+-]?\d*,\d+$/;
const EITHER = /^[+-]?[1-9]\d{0,2}[.,]\d{3}$/; // 1,500: fifteen hundred, or one and a half
// thousands set apart, and the decimal sign beside them
const GROUPED = [
  [/^([+-]?\d{1,3}(,\d{3})+\.\d+|[+-]?\d{1,3}(,\d{3}){2,})$/, "."],
  [/^([+-]?\d{1,3}(\.\d{3})+,\d+|[+-]?\d{1,3}(\.\d{3}){2,})$/, ","],
  [/^[+-]?\d{1,3}([ '’\u00a0\u202f]\d{3})+(\.\d+)?$/, "."],
  [/^[+-]?\d{1,3}([ '’\u00a0\u202f]\d{3})+,\d+$/, ","],
];

/** Return a weight as it is shown: to a tenth of a gram, or to what a finer scale gave. */
export function grams(value) {
  return Math.abs(value * 10 - Math.round(value * 10)) < 1e-6 ? value.toFixed(1) : String(+value.toFixed(3));
}

/** Return the number that is meant, NaN where it is none or could be two; null where nothing is typed. */
export function understood(typed) {
  const text = typed.trim().replace(/\s*g$/i, "").trim();
  return text === "" ? null : numberIn(text);
}

function numberIn(text) {
  if (PLAIN.test(text)) return Number(text);
  if (/^[-−–]\d/.test(text)) return -numberIn(text.slice(1));
  if (COMMA.test(text) && !EITHER.test(text)) return Number(text.replace(",", "."));
  for (const [pattern, decimal] of GROUPED) {
    if (pattern.test(text)) return Number([...text].filter((one) => `0123456789+-${decimal}`.includes(one)).join("").replace(",", "."));
  }
  return NaN;
}

/** Return why a text can't be poured, for the button; "" where it can. */
export function refusedAs(typed) {
  const value = understood(typed);
  if (value === null) return "";
  const both = typed.trim().replace(/\s*g$/i, "").replace(/^[-−–+]/, "");
  if (Number.isNaN(value) && EITHER.test(both)) return `${both.replace(/[.,]/, "")} or ${both.replace(",", ".")}?`;
  if (Number.isNaN(value)) return "That is no number";
  if (value < 0) return "Less than nothing";
  return value > MOST_G ? `More than ${MOST_G.toLocaleString("en-GB")} g` : "";
}
