// Numbers in words, as every other text of the program has them.
const words = (() => {
"use strict";

const INCH = 25.4; // mm
const inches = JSON.parse(document.getElementById("moving").textContent).units === "in";

// digits after the point, an exact tie to the even digit: as in every other text of the program
function fixed(value, digits) {
  const size = Math.abs(value);
  let text = size.toFixed(digits);
  const exact = size.toFixed(60);
  const cut = exact.indexOf(".") + 1 + digits;
  if (/^50*$/.test(exact.slice(cut))) {
    const below = exact.slice(0, digits ? cut : cut - 1);
    if ("02468".includes(below[below.length - 1])) text = below;
  }
  return (value < 0 && Number(text) !== 0 ? "-" : "") + text;
}

function signed(value, digits) {
  const text = fixed(value, digits);
  return text.startsWith("-") ? text : `+${text}`;
}

// what a hundredth of an inch would say nothing of has thousandths
function length(mm) {
  if (!inches) return `${fixed(mm, 1)} mm`;
  return `${fixed(mm / INCH, Math.abs(mm) < 0.5 && Number(fixed(mm, 1)) !== 0 ? 3 : 2)} in`;
}

const DEEP = 20; // mm of overlap to which its depth is told
const deep = inches ? length(DEEP) : `${DEEP} mm`;
const gapText = (mm) => (mm < -DEEP ? `below -${deep}` : length(mm));
const overlapText = (mm) => (mm < -DEEP ? `more than ${deep}` : length(-mm));

// a height as a tape tells it: to the nearest sixteenth of an inch
function height(mm) {
  if (!inches) return `${signed(mm, 0)} mm`;
  const steps = Number(fixed((Math.abs(mm) / INCH) * 16, 0));
  let [rest, parts] = [steps % 16, 16];
  while (rest && rest % 2 === 0) [rest, parts] = [rest / 2, parts / 2];
  const whole = Math.floor(steps / 16);
  const said = [...(whole || !rest ? [`${whole}`] : []), ...(rest ? [`${rest}/${parts}`] : [])];
  return `${mm < 0 && steps ? "-" : "+"}${said.join(" ")} in`;
}
const degrees = (angle) => `${signed(angle, 1)} deg`;

// in a sentence a number stays on the line of its unit
const kept = (text) => text.replace(/(\d) (?=(?:mm|in|deg|kg|km|N|g|\d+\/\d+)\b|%)/g, "$1\u00a0");

// of two gaps with what is required: an overlap first, the deepest first; then the smallest margin
function byUrgency([gap, asked], [other, wanted]) {
  if (gap < 0 || other < 0) return gap - other;
  return gap - asked - (other - wanted);
}

// the clearance of a row in a pose: a part fixed to the hub has one in all of them; null where the case has no such row
function gapOf(each, row, k) {
  const gaps = each.gaps[row];
  return Array.isArray(gaps) ? gaps[k] : gaps;
}

// the row that is tightest in a pose, -1 where nothing is known: of what changes from pose to pose, and of what touches
function tightest(axle, each, k) {
  let best = -1;
  axle.asked.forEach((asked, i) => {
    const gap = k < 0 || axle.fixed.includes(i) ? null : gapOf(each, i, k);
    if (gap === null) return;
    if (best < 0 || byUrgency([gap, asked], [gapOf(each, best, k), axle.asked[best]]) < 0) best = i;
  });
  return best;
}

const markOf = (gap, asked) => (gap === null ? "" : gap < 0 ? "overlap" : gap < asked ? "below required" : "");

// one gap in a sentence
function told(axle, row, gap) {
  const [part, obstacle] = axle.pairs[row];
  if (gap < 0) return `${part} overlaps ${obstacle} by ${overlapText(gap)}`;
  return `${part} to ${obstacle} ${length(gap)}${gap < axle.asked[row] ? `, ${length(axle.asked[row])} required` : ""}`;
}

return {INCH, inches, DEEP, deep, fixed, length, gapText, height, degrees, kept, byUrgency, gapOf, tightest, markOf, told};
})();
