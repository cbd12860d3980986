// Try another: wheels and tires by hand against the room of the axle. What parts sweep and the outlines of the sizes are
// those of a check; distances are measured here, and nothing is fetched.
(() => {
"use strict";

const element = document.getElementById("trying");
if (!element) return;
const data = JSON.parse(element.textContent);
const SVG = "http://www.w3.org/2000/svg";
const {INCH, length} = words;
const STEP = 0.1; // mm between places looked at along a line where it is nearest
const GRID = 2; // mm of the first grid on which a section's deepest places are sought
const WHOLE = [-2, 10]; // mm: a worst case beyond these decides nothing and is told in whole mm
const AROUND = 60; // mm of offset to both sides of the build's that the bar shows
const SLICE = 12; // ms of work before the page may do something else

// ---------------------------------------------------------------- outlines

// points y', r, y', r, ... in mm, of steps in hundredths
function unpacked(steps) {
  const points = new Float64Array(steps.length);
  let [y, r] = [0, 0];
  for (let i = 0; i < steps.length; i += 2) {
    points[i] = (y += steps[i]) / 100;
    points[i + 1] = (r += steps[i + 1]) / 100;
  }
  return points;
}

// a closed line of points as segments y1, r1, y2, r2, ...
function segments(points) {
  const made = new Float64Array(points.length * 2);
  for (let i = 0, n = points.length; i < n; i += 2) {
    made.set([points[i], points[i + 1], points[(i + 2) % n], points[(i + 3) % n]], 2 * i);
  }
  return made;
}

function crosses(lines, y, r) {
  let inside = false;
  for (let i = 0; i < lines.length; i += 4) {
    const [r1, r2] = [lines[i + 1], lines[i + 3]];
    if (r1 > r !== r2 > r && y < lines[i] + ((r - r1) / (r2 - r1)) * (lines[i + 2] - lines[i])) inside = !inside;
  }
  return inside;
}

// distance of a place to a section, negative inside; the way there from the outline is left in `off`
const off = {y: 0, r: 0};
function distance(section, y, r) {
  const {lines} = section;
  let best = Infinity;
  for (let i = 0; i < lines.length; i += 4) {
    const [a, b] = [lines[i], lines[i + 1]];
    const [u, v] = [lines[i + 2] - a, lines[i + 3] - b];
    const size = u * u + v * v;
    let share = size > 0 ? ((y - a) * u + (r - b) * v) / size : 0;
    share = share < 0 ? 0 : share > 1 ? 1 : share;
    const [p, q] = [y - a - share * u, r - b - share * v];
    const square = p * p + q * q;
    if (square < best) [best, off.y, off.r] = [square, p, q];
  }
  const away = Math.sqrt(best);
  const box = section.box;
  if (y < box[0] || y > box[2] || r < box[1] || r > box[3]) return away;
  return section.holds(y, r) ? -away : away;
}

function boxOf(lines) {
  const box = [Infinity, Infinity, -Infinity, -Infinity];
  for (let i = 0; i < lines.length; i += 2) {
    box[0] = Math.min(box[0], lines[i]);
    box[1] = Math.min(box[1], lines[i + 1]);
    box[2] = Math.max(box[2], lines[i]);
    box[3] = Math.max(box[3], lines[i + 1]);
  }
  return box;
}

function sectionOf(points, by) {
  const moved = points.map((value, i) => (i % 2 ? value : value + by));
  const lines = segments(moved);
  return {points: moved, lines, box: boxOf(lines), holds: (y, r) => crosses(lines, y, r)};
}

// the rim's contour between the places where the sidewalls leave it, the outboard half, and its mirror image
function tirePoints(rim, half) {
  const [y0, r0] = half;
  const points = [];
  for (let i = 0; i < rim.contour.length; i += 2) {
    const [y, r] = [rim.contour[i], rim.contour[i + 1]];
    if (Math.abs(y) < y0 - 1e-6 ? true : r < r0 - 1e-6 && Math.abs(y) <= y0 + 1e-6) points.push(y, r);
  }
  points.push(...half);
  for (let i = half.length - 4; i >= 0; i -= 2) points.push(-half[i], half[i + 1]);
  return Float64Array.from(points);
}

const box = (y1, r1, y2, r2) => Float64Array.from([y1, r1, y2, r1, y2, r2, y1, r2]);

// barrel, and the flat disc with its pad as far as the rim does not cut it off: the outline of all that together.
// y counts from the rim's centre line
function metal(rim, offset, pad) {
  const [bore, thick, radius] = pad;
  const reach = rim.seat + 40;
  const tip = rim.seat - data.barrel / 100;
  const disc = data.disc / 100;
  const n = rim.contour.length;
  const under = Float64Array.from([rim.contour[0], 0, ...rim.contour, rim.contour[n - 2], 0]);
  const shapes = {
    barrel: rim.barrel,
    disc: box(offset, bore, offset + disc, reach),
    pad: box(offset, bore, offset + thick, radius),
    under,
    left: box(Math.min(offset, -rim.overall) - 1, 0, -rim.overall, tip),
    right: box(rim.overall, 0, Math.max(offset + Math.max(disc, thick), rim.overall) + 1, tip),
  };
  if (offset + disc / 2 > rim.half) shapes.ring = box(rim.half - 15, rim.seat - 11, offset + disc, rim.seat - 3);
  else if (offset + disc / 2 < -rim.half) shapes.ring = box(offset, rim.seat - 11, 15 - rim.half, rim.seat - 3);
  const lines = Object.fromEntries(Object.entries(shapes).map(([name, points]) => [name, segments(points)]));
  const holds = (y, r) =>
    crosses(lines.barrel, y, r) ||
    (lines.ring && crosses(lines.ring, y, r)) ||
    ((crosses(lines.disc, y, r) || crosses(lines.pad, y, r)) &&
      (crosses(lines.under, y, r) || crosses(lines.left, y, r) || crosses(lines.right, y, r)));
  return {shapes, lines: outlineOf(Object.values(lines), holds), holds};
}

// of the sides of several shapes those pieces that part what is held from what is not
function outlineOf(shapes, holds) {
  const all = shapes.flatMap((lines) => Array.from({length: lines.length / 4}, (_, i) => lines.slice(4 * i, 4 * i + 4)));
  const kept = [];
  for (const one of all) {
    const [a, b, c, d] = one;
    const [u, v] = [c - a, d - b];
    const size = Math.hypot(u, v);
    if (size < 1e-9) continue;
    const cuts = [0, 1];
    for (const other of all) {
      if (other === one) continue;
      const [p, q] = [other[2] - other[0], other[3] - other[1]];
      const cross = u * q - v * p;
      if (Math.abs(cross) < 1e-12) {
        for (const k of [0, 2]) {
          const share = ((other[k] - a) * u + (other[k + 1] - b) * v) / (size * size);
          const aside = Math.abs((other[k] - a) * v - (other[k + 1] - b) * u) / size;
          if (aside < 1e-6 && share > 0 && share < 1) cuts.push(share);
        }
        continue;
      }
      const share = ((other[0] - a) * q - (other[1] - b) * p) / cross;
      const along = ((other[0] - a) * v - (other[1] - b) * u) / cross;
      if (share > 0 && share < 1 && along >= -1e-9 && along <= 1 + 1e-9) cuts.push(share);
    }
    cuts.sort((x, y) => x - y);
    for (let i = 1; i < cuts.length; i++) {
      const [from, to] = [cuts[i - 1], cuts[i]];
      if ((to - from) * size < 1e-6) continue;
      const middle = (from + to) / 2;
      const [y, r] = [a + middle * u, b + middle * v];
      const [across, up] = [(-v / size) * 1e-5, (u / size) * 1e-5];
      if (holds(y + across, r + up) !== holds(y - across, r - up)) {
        kept.push(a + from * u, b + from * v, a + to * u, b + to * v);
      }
    }
  }
  return Float64Array.from(kept);
}

function shifted(lines, by) {
  return lines.map((value, i) => (i % 2 ? value : value + by));
}

// ---------------------------------------------------------------- how near a part comes

const rims = data.rims.map((rim) => ({
  ...rim, seat: rim.seat / 100, half: rim.half / 100, overall: rim.overall / 100,
  contour: unpacked(rim.contour), barrel: unpacked(rim.barrel),
}));
const pairs = new Map(
  data.pairs.map(([rim, tire, nominal, largest]) => {
    const halves = {nominal: unpacked(nominal), largest: unpacked(largest)};
    return [`${rim},${tire}`, {nominal: tirePoints(rims[rim], halves.nominal), largest: tirePoints(rims[rim], halves.largest)}];
  }),
);

function partOf(part) {
  const lines = part.lines.map(([plane, ...rest]) => {
    const notch = new Set(rest.pop());
    const points = unpacked(plane);
    const moved = rest.map(unpacked);
    return {points, moved, notch, lines: segments(points)};
  });
  return {...part, radius: part.radius / 100, against: part.against / 100, chains: lines};
}

// what readings and the wheel's own offset may take from the distance at a place of a line, to first order
function loss(chain, i, j, share, away, tolerance) {
  let sum = 0;
  const size = Math.hypot(away.y, away.r);
  for (const m of chain.moved) {
    const y = m[i] + share * (m[j] - m[i]);
    const r = m[i + 1] + share * (m[j + 1] - m[i + 1]);
    sum += size > 1e-9 ? Math.abs(y * away.y + r * away.r) / size : Math.hypot(y, r);
  }
  return sum + (size > 1e-9 ? (tolerance * Math.abs(away.y)) / size : 0);
}

// goes along the lines of a part in steps that can jump over nothing nearer: a distance changes by no more than the way.
// `measure` tells of a place how far away from what counts it is at least
function walk(part, measure) {
  for (const coarse of [true, false]) {
    for (const chain of part.chains) {
      const n = chain.points.length;
      let ahead = 0;
      for (let i = 0; i < n; i += 2) {
        if (coarse && i % 32) continue;
        const j = (i + 2) % n;
        const [y, r] = [chain.points[i], chain.points[i + 1]];
        const [u, v] = [chain.points[j] - y, chain.points[j + 1] - r];
        const size = chain.notch.has(i / 2) ? 0 : Math.hypot(u, v);
        if (coarse) {
          measure(chain, i, j, 0, y, r);
          continue;
        }
        let at = chain.notch.has(i / 2) || i === 0 ? 0 : ahead;
        while (at <= size) {
          const share = size > 0 ? at / size : 0;
          at += Math.max(STEP, measure(chain, i, j, share, y + share * u, r + share * v));
          if (size === 0) break;
        }
        ahead = chain.notch.has(i / 2) ? 0 : Math.max(at - size, 0);
      }
    }
  }
}

function closest(part, nominal, largest, tolerance, bare) {
  const least = {distance: Infinity};
  walk(part, (chain, i, j, share, y, r) => {
    const here = distance(nominal, y, r);
    if (here < least.distance) Object.assign(least, {distance: here, chain, i, j, share, y, r, off: {...off}});
    return here - least.distance;
  });
  const clearance = Math.min(least.distance, -depthCovered(part, nominal)) - part.radius;
  const place = {at: [least.y, least.r], section: [least.y - least.off.y, least.r - least.off.r]};
  if (bare) return {clearance, worst: null, ...place};
  const less = part.radius + part.against;
  const nearest = {distance: Infinity, worst: Infinity};
  walk(part, (chain, i, j, share, y, r) => {
    const here = distance(largest, y, r);
    if (here < nearest.distance) {
      Object.assign(nearest, {distance: here, worst: here - loss(chain, i, j, share, off, tolerance) - less});
    }
    return here - nearest.distance;
  });
  const again = distance(largest, least.y, least.r);
  const there = again - loss(least.chain, least.i, least.j, least.share, off, tolerance) - less;
  const worst = Math.min(there, nearest.worst);
  return {clearance, worst: Math.min(worst, clearance), ...place};
}

// how deep the deepest place of a section lies that a part covers
function depthCovered(part, section) {
  const {lines} = section;
  let some = false;
  for (let i = 0; i < lines.length && !some; i += 4) some = covered(part, lines[i], lines[i + 1]);
  if (!some) return -Infinity;
  section.peaks ??= peaksOf(section);
  return section.peaks.reduce((deep, [y, r, depth]) => (covered(part, y, r) ? Math.max(deep, depth) : deep), -Infinity);
}

// whether a part sweeps a place: an odd number of its lines go round it
const covered = (part, y, r) => part.chains.reduce((odd, chain) => odd !== crosses(chain.lines, y, r), false);

function peaksOf(section) {
  const [y0, r0, y1, r1] = section.box;
  const columns = Math.ceil((r1 - r0) / GRID) + 2;
  const rows = Math.ceil((y1 - y0) / GRID) + 2;
  const depth = new Float64Array(rows * columns).fill(-Infinity);
  for (let i = 0; i < rows; i++) {
    for (let j = 0; j < columns; j++) depth[i * columns + j] = -distance(section, y0 + GRID * i, r0 + GRID * j);
  }
  const around = [-1, 0, 1].flatMap((a) => [-1, 0, 1].map((b) => [a, b]));
  const peaks = [];
  for (let i = 1; i < rows - 1; i++) {
    for (let j = 1; j < columns - 1; j++) {
      let best = depth[i * columns + j];
      if (best <= 0 || around.some(([a, b]) => depth[(i + a) * columns + j + b] > best)) continue;
      let [y, r] = [y0 + GRID * i, r0 + GRID * j];
      for (let step = GRID / 2; step > 0.02; step /= 2) {
        const [cy, cr] = [y, r];
        for (const [a, b] of around) {
          const here = -distance(section, cy + a * step, cr + b * step);
          if (here > best) [best, y, r] = [here, cy + a * step, cr + b * step];
        }
      }
      peaks.push([y, r, best]);
    }
  }
  return peaks;
}

// ---------------------------------------------------------------- one setting

// the sections of a setting: rim and tire by their numbers, offset and spacer in mm
function sections(axle, setting, known) {
  const by = setting.spacer - setting.offset;
  const pair = pairs.get(`${setting.rim},${setting.tire}`);
  let wheel;
  if (setting.measured) wheel = sectionOf(axle.metal, setting.spacer);
  else {
    const key = `${setting.rim},${setting.offset},${setting.pad}`;
    const made = known.get(key) ?? metal(rims[setting.rim], setting.offset, setting.pad.map((value) => value / 100));
    known.clear();
    known.set(key, made);
    const lines = shifted(made.lines, by);
    wheel = {lines, box: boxOf(lines), holds: (y, r) => made.holds(y - by, r), made, by};
  }
  return {nominal: sectionOf(pair.nominal, by), largest: sectionOf(pair.largest, by), wheel};
}

function judge(axle, setting, known, bare) {
  const shapes = sections(axle, setting, known);
  const tolerance = setting.measured ? axle.own.tolerance / 100 : 0;
  const rows = [];
  for (const part of axle.parts) {
    for (const name of Object.keys(part.asked)) {
      if (!part.chains.length) continue;
      const nominal = name === "tire" ? shapes.nominal : shapes.wheel;
      const largest = name === "tire" ? shapes.largest : shapes.wheel;
      const row = closest(part, nominal, largest, tolerance, bare || axle.assumed);
      rows.push({part, name, asked: part.asked[name], margin: row.clearance - part.asked[name], ...row});
    }
  }
  return {shapes, rows, verdict: verdictOf(rows, axle.assumed)};
}

// the rule of a check: an overlap touches, what is short of what is required or touches in the worst case is tight
function verdictOf(rows, assumed) {
  if (!rows.length) return "not_checked";
  if (rows.some((row) => row.clearance < 0)) return "touches";
  if (rows.some((row) => row.margin < 0 || (row.worst !== null && row.worst < 0))) return "tight";
  return assumed ? "not_checked" : "clears";
}

// overlaps first, the deepest of all, then the smallest margin
function byUrgency(a, b) {
  return a.clearance < 0 || b.clearance < 0 ? a.clearance - b.clearance : a.margin - b.margin;
}

const tightest = (rows) => rows.reduce((best, row) => (best && byUrgency(best, row) <= 0 ? best : row), null);

// ---------------------------------------------------------------- words

function gapWords(mm) {
  if (mm >= -words.DEEP) return length(mm);
  return `more than ${words.deep} overlap`;
}

function worstWords(row, assumed) {
  if (row.worst === null) return assumed ? "not here" : "-";
  if (row.clearance < 0) return "overlaps";
  if (row.worst >= WHOLE[0] && row.worst <= WHOLE[1]) return length(row.worst);
  return words.inches ? `${Math.floor((row.worst / INCH) * 10) / 10} in` : `${Math.floor(row.worst)} mm`; // to the safe side
}

function markOf(row) {
  if (row.clearance < 0) return "overlap";
  if (row.margin < 0) return "below required";
  return row.worst !== null && row.worst < 0 ? "worst case" : "";
}

const WORDS = {touches: "touches", tight: "tight", clears: "clears", not_checked: "not checked"};
const plain = (value) => String(Math.round(value * 1000) / 1000);

// ---------------------------------------------------------------- the section of the page

function make(name, attributes, parent) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, String(value));
  parent.append(made);
  return made;
}

const pathOf = (points) => {
  let text = "";
  for (let i = 0; i < points.length; i += 2) text += `${i ? "L" : "M"}${points[i].toFixed(2)} ${(-points[i + 1]).toFixed(2)}`;
  return `${text}Z`;
};

function linesOf(lines) {
  let text = "";
  for (let i = 0; i < lines.length; i += 4) {
    text += `M${lines[i].toFixed(2)} ${(-lines[i + 1]).toFixed(2)}L${lines[i + 2].toFixed(2)} ${(-lines[i + 3]).toFixed(2)}`;
  }
  return text;
}

function options(select, entries) {
  select.replaceChildren(
    ...entries.map(([value, text, off]) => {
      const option = document.createElement("option");
      option.value = String(value);
      option.textContent = text;
      option.disabled = Boolean(off);
      return option;
    }),
  );
}

function tryAnother(root, given) {
  const axle = {...given, parts: given.parts.map(partOf), metal: given.own.metal && unpacked(given.own.metal)};
  const get = (selector) => root.querySelector(selector);
  const inputs = Object.fromEntries(["list", "diameter", "rim", "tire", "offset", "spacer"].map((n) => [n, get(`.${n}`)]));
  const own = axle.own;
  const measuredRim = own.metal ? own.pair?.[0] : -1;
  const available = axle.pairs;
  const first = own.pair ?? available[0];
  if (!first) {
    get(".trial").hidden = true;
    get(".no-trial").hidden = false;
    return;
  }
  const tallest = Math.max(...available.map((pair) => boxOf(pairs.get(pair.join(",")).nominal)[3]));
  let state = {};
  let known = new Map();
  let work = 0; // number of the bar that is being worked out

  // a measured wheel has one offset: another stands for a wheel of the same size that was not measured
  const plainRim = (rim) => {
    if (rim !== measuredRim) return rim;
    const alike = available.find(
      ([other, tire]) =>
        other !== rim && tire === state.tire && rims[other].diameter === rims[rim].diameter && rims[other].width === rims[rim].width,
    );
    return alike ? alike[0] : rim;
  };
  const setting = (offset = state.offset, rim = state.rim) => ({
    rim, tire: state.tire, offset, spacer: state.spacer, pad: state.pad, measured: rim === measuredRim,
  });
  const size = (rim) => (state.size && state.sizeOf === rim ? state.size : `${plain(rims[rim].diameter)}x${plain(rims[rim].width)}`);
  const heightOf = (rim, tire) => boxOf(pairs.get(`${rim},${tire}`).nominal)[3];

  function start(from) {
    state = {
      rim: from.pair[0], tire: from.pair[1], offset: from.offset, spacer: from.spacer, tail: from.tail, pad: from.pad,
      size: from.size, sizeOf: from.pair[0],
    };
  }

  function fill() {
    const diameters = [...new Set(available.map(([rim]) => rims[rim].diameter))].sort((a, b) => a - b);
    options(inputs.diameter, diameters.map((value) => [value, `${plain(value)} in`]));
    inputs.diameter.value = String(rims[state.rim].diameter);
    const widths = [...new Set(available.map(([rim]) => rim))].filter((rim) => rims[rim].diameter === rims[state.rim].diameter);
    widths.sort((a, b) => rims[a].width - rims[b].width || a - b);
    options(inputs.rim, widths.map((rim) => [rim, `${plain(rims[rim].width)} in${rim === measuredRim ? ", own" : ""}`]));
    inputs.rim.value = String(state.rim);
    const tires = available.filter(([rim]) => rim === state.rim).map(([, tire]) => tire);
    options(inputs.tire, tires.map((tire) => [tire, data.tires[tire].code]));
    inputs.tire.value = String(state.tire);
    inputs.offset.value = plain(state.offset);
    inputs.spacer.value = plain(state.spacer);
    inputs.offset.disabled = plainRim(state.rim) === measuredRim;
  }

  function chooseRim(rim) {
    const tall = heightOf(state.rim, state.tire);
    const tires = available.filter(([other]) => other === rim).map(([, tire]) => tire);
    const tire = tires.includes(state.tire)
      ? state.tire
      : tires.reduce((best, other) => (Math.abs(heightOf(rim, other) - tall) < Math.abs(heightOf(rim, best) - tall) ? other : best));
    const offset = rim === measuredRim ? own.offset : state.offset;
    state = {...state, rim, tire, offset, tail: own.tail, pad: own.pad, size: ""};
  }

  function chooseDiameter(diameter) {
    const fitting = [...new Set(available.map(([rim]) => rim))].filter((rim) => rims[rim].diameter === diameter && rim !== measuredRim);
    const every = fitting.length ? fitting : [measuredRim];
    const width = rims[state.rim].width;
    chooseRim(every.reduce((a, b) => (Math.abs(rims[b].width - width) < Math.abs(rims[a].width - width) ? b : a)));
  }

  // -------------------------------------------------------------- the bar

  const span = () => {
    const middle = Math.round(own.offset);
    return [Math.max(data.offset[0], Math.min(middle - AROUND, Math.floor(state.offset) - 10)),
            Math.min(data.offset[1], Math.max(middle + AROUND, Math.ceil(state.offset) + 10))];
  };

  // whole offsets one after another; those that the last answer settles are not looked at
  function* offsets(low, high) {
    const apart = new Map();
    let until = -Infinity;
    let settled = "";
    for (let offset = low; offset <= high; offset++) {
      if (offset < until) {
        yield [offset, settled];
        continue;
      }
      const quick = judge(axle, setting(offset, plainRim(state.rim)), apart, true);
      const margin = Math.min(...quick.rows.map((row) => row.margin));
      if (!quick.rows.length) return;
      if (margin < 0) {
        [until, settled] = [offset + Math.max(1, Math.ceil(-margin) - 1), "none"];
        yield [offset, "none"];
        continue;
      }
      const clears = !axle.assumed && judge(axle, setting(offset, plainRim(state.rim)), apart).verdict === "clears";
      until = -Infinity;
      yield [offset, clears ? "full" : "pale"];
    }
  }

  const runs = (found, kinds) => {
    const spans = [];
    for (const [offset, kind] of found) {
      if (!kinds.includes(kind)) continue;
      if (spans.length && spans[spans.length - 1][1] === offset - 1) spans[spans.length - 1][1] = offset;
      else spans.push([offset, offset]);
    }
    return spans;
  };
  const runWords = (spans) => spans.map(([a, b]) => (a === b ? `ET${a}` : `ET${a} to ET${b}`)).join(", ") || "none";

  function bar() {
    const mine = ++work;
    if (plainRim(state.rim) === measuredRim) {
      get("svg.offsets").replaceChildren();
      get(".bar-words").textContent = "Not told: the build's wheel was measured at one offset.";
      root.dataset.bar = "done";
      return;
    }
    const [low, high] = span();
    const key = [state.rim, state.tire, state.spacer, state.pad, low, high].join();
    if (bar.key === key) return drawBar(bar.found, low, high);
    bar.key = "";
    get(".bar-words").textContent = "Working out the offsets ...";
    const found = [];
    const steps = offsets(low, high);
    const go = () => {
      if (mine !== work) return;
      const ends = performance.now() + SLICE;
      while (performance.now() < ends) {
        const {value, done} = steps.next();
        if (done) {
          [bar.key, bar.found] = [key, found];
          drawBar(found, low, high);
          return;
        }
        found.push(value);
      }
      setTimeout(go);
    };
    setTimeout(go);
  }

  function drawBar(found, low, high) {
    const svg = get("svg.offsets");
    svg.replaceChildren();
    const width = high - low + 1;
    svg.setAttribute("viewBox", `0 0 ${width} 12`);
    make("rect", {class: "ground", x: 0, y: 3, width, height: 6}, svg);
    for (const [a, b] of runs(found, ["pale", "full"])) make("rect", {class: "pale", x: a - low, y: 3, width: b - a + 1, height: 6}, svg);
    for (const [a, b] of runs(found, ["full"])) make("rect", {class: "full", x: a - low, y: 4, width: b - a + 1, height: 4}, svg);
    make("path", {class: "now", d: `M${state.offset - low + 0.5} 0V12`}, svg);
    get(".from").textContent = `ET${low}`;
    get(".to").textContent = `ET${high}`;
    const nominal = runWords(runs(found, ["pale", "full"]));
    const full = axle.assumed ? "not worked out here, because values are assumed" : runWords(runs(found, ["full"]));
    get(".bar-words").textContent =
      `${state.rim === measuredRim ? "A wheel of this size, not the measured one: every" : "Every"} required clearance is met at: ${nominal}. In the worst case too: ${full}. Looked at: ET${low} to ET${high}. Present: ET${plain(state.offset)}.`;
    root.dataset.bar = "done";
  }

  // -------------------------------------------------------------- everything

  function draw(answer) {
    const svg = get("svg.room");
    const {shapes} = answer;
    const left = Math.min(-330, shapes.nominal.box[0] - 60);
    const right = Math.max(220, shapes.nominal.box[2] + 60);
    const top = Math.max(tallest, shapes.nominal.box[3]) + 70;
    svg.setAttribute("viewBox", `${left} ${-top} ${right - left} ${top + 8}`);
    svg.replaceChildren();
    const scale = (right - left) / Math.max(svg.clientWidth, 200);
    axle.parts.forEach((part) => {
      const group = make("g", {class: "kept-out"}, svg);
      for (const chain of part.chains) {
        const d = chain.points.length > 2 ? pathOf(chain.points) : `${pathOf(chain.points).slice(0, -1)}h0.01`;
        make("path", {d, "stroke-width": 2 * part.radius + 2 * scale, class: "edge"}, group);
        make("path", {d, "stroke-width": 2 * part.radius, class: "core"}, group);
      }
    });
    make("path", {class: "largest", d: pathOf(shapes.largest.points)}, svg);
    make("path", {class: "tire", d: pathOf(shapes.nominal.points)}, svg);
    if (shapes.wheel.points) make("path", {class: "wheel", d: pathOf(shapes.wheel.points)}, svg);
    else {
      const {made, by} = shapes.wheel;
      const rim = rims[state.rim];
      const upTo = Math.min(...Array.from({length: rim.contour.length / 2}, (_, i) => rim.contour[2 * i + 1])) + 1;
      const disc = box(state.offset, made.shapes.pad[1], state.offset + data.disc / 100, Math.min(upTo, rim.seat));
      for (const shape of [made.shapes.barrel, disc, made.shapes.pad, made.shapes.ring]) {
        if (shape) make("path", {class: "wheel-fill", d: pathOf(shifted(shape, by))}, svg);
      }
      make("path", {class: "wheel-line", d: linesOf(shapes.wheel.lines)}, svg);
    }
    make("path", {class: "hub-face", d: `M0 -30V${-Math.max(60, state.pad[2] / 100)}`}, svg);
    make("path", {class: "axis", d: `M${left} 0H${right}`}, svg);
    const worst = tightest(answer.rows);
    const drawn = new Map();
    for (const row of answer.rows) {
      const other = drawn.get(row.part);
      if (!other || tightest([other, row]) === row) drawn.set(row.part, row);
    }
    const lines = [...drawn.values()].sort((a, b) => byUrgency(b, a)); // what decides lies on top
    for (const row of lines) gapLine(svg, row, row === worst, scale);
  }

  function gapLine(svg, row, leads, scale) {
    const [[y, r], [py, pr]] = [row.at, row.section];
    const away = Math.hypot(y - py, r - pr);
    const share = away > 1e-6 && row.clearance > 0 ? Math.max(away - row.part.radius, 0) / away : 1;
    const [qy, qr] = [py + share * (y - py), pr + share * (r - pr)];
    const group = make("g", {class: leads ? "gap leads" : "gap"}, svg);
    make("path", {d: `M${py} ${-pr}L${qy} ${-qr}`}, group);
    const width = 22 * scale;
    const [cy, cr] = [qy + ((y - py) / (away || 1)) * 18 * scale, qr + ((r - pr) / (away || 1)) * 18 * scale];
    make("rect", {x: cy - width / 2, y: -cr - 9 * scale, width, height: 18 * scale, rx: 4 * scale}, group);
    make("text", {x: cy, y: -cr + 4.5 * scale, "font-size": 13 * scale}, group).textContent = row.part.letter;
  }

  function table(answer) {
    const lead = tightest(answer.rows);
    const rows = [...answer.rows].sort(byUrgency).map((row) => {
      const tr = document.createElement("tr");
      const mark = markOf(row);
      tr.className = [mark.replace(" ", "-"), row === lead ? "leads" : ""].filter(Boolean).join(" ");
      const head = document.createElement("th");
      head.scope = "row";
      const tag = document.createElement("span");
      tag.className = "tag";
      tag.textContent = row.part.letter;
      head.append(tag, ` ${row.name} to ${row.part.name}`);
      const cells = [["clearance", gapWords(row.clearance)], ["required", length(row.asked)], ["worst case", worstWords(row, axle.assumed)]];
      tr.append(head, ...cells.map(([label, text], i) => {
        const td = document.createElement("td");
        td.dataset.label = label;
        td.textContent = text;
        if (i === 0 && (mark === "overlap" || mark === "below required")) td.append(" ", marked(mark));
        if (i === 2 && mark === "worst case") td.append(" ", marked("below zero"));
        return td;
      }));
      return tr;
    });
    get("tbody").replaceChildren(...rows);
  }

  function marked(text) {
    const em = document.createElement("em");
    em.className = "mark";
    em.textContent = text;
    return em;
  }

  function said(answer) {
    const lead = tightest(answer.rows);
    if (!lead) return "No part near the wheel was checked, so nothing is known about clearances.";
    const name = `${lead.name} to ${lead.part.name}`;
    if (lead.clearance < 0) {
      return lead.clearance < -words.DEEP ? `${name}: ${gapWords(lead.clearance)}.` : `${name}: ${length(-lead.clearance)} overlap.`;
    }
    const rest = `${name}: ${length(lead.clearance)}, ${length(lead.asked)} required.`;
    const low = answer.rows.filter((row) => row.worst !== null && row.worst < 0).sort((a, b) => a.worst - b.worst)[0];
    const worst = low ? ` In the worst case ${low.name} to ${low.part.name} is below zero.` : "";
    const open = axle.assumed ? " Values are assumed: their worst case is not worked out here, run the command below." : "";
    return rest + worst + open;
  }

  function show() {
    fill();
    const answer = judge(axle, setting(), known);
    const verdict = get(".trial-verdict");
    verdict.className = `trial-verdict verdict ${answer.verdict}`;
    verdict.textContent =
      answer.verdict === "not_checked" && answer.rows.length ? "clears as measured, worst case not checked" : WORDS[answer.verdict];
    get(".trial-said").textContent = said(answer);
    const spec = `${size(state.rim)} ET${plain(state.offset)}${state.tail}`;
    const code = data.tires[state.tire].code;
    const spacer = state.spacer ? `, spacer ${plain(state.spacer)} mm` : "";
    get(".order-line").value = `${spec} with ${code}${spacer}`;
    const ownTire = !own.tire && own.pair && state.tire === own.pair[1];
    get(".command-line").value = [
      axle.command,
      ...(state.rim === measuredRim ? [] : [`--wheel "${spec}"`]),
      ...(ownTire ? [] : [`--tire "${code}"`]),
      `--spacer ${plain(state.spacer)}`,
    ].join(" ");
    table(answer);
    draw(answer);
    root.dataset.bar = "";
    bar();
    return answer;
  }

  const within = (value, low, high) => Math.min(high, Math.max(low, value));
  function number(input, name, low, high) {
    const value = Number(input.value);
    if (input.value.trim() === "" || !Number.isFinite(value)) return;
    const to = within(Math.round(value * 100) / 100, low, high);
    const rim = name === "offset" && to !== own.offset ? plainRim(state.rim) : state.rim;
    if (rim === measuredRim && name === "offset") return show();
    state = {...state, [name]: to, rim, size: rim === state.rim ? state.size : ""};
    changed();
  }
  function changed() {
    if (inputs.list) inputs.list.value = "";
    show();
  }

  if (inputs.list) {
    options(inputs.list, [["", "choose a row"], ...axle.rows.map((row, i) => [i, row.why ? `${row.name} (not: ${row.why})` : row.name, row.why])]);
    inputs.list.addEventListener("change", () => {
      const row = axle.rows[Number(inputs.list.value)];
      if (inputs.list.value === "" || !row || row.why) return;
      start(row);
      show();
      get(".aside").textContent = row.aside ?? "";
    });
  }
  inputs.diameter.addEventListener("change", () => (chooseDiameter(Number(inputs.diameter.value)), changed()));
  inputs.rim.addEventListener("change", () => (chooseRim(Number(inputs.rim.value)), changed()));
  inputs.tire.addEventListener("change", () => ((state = {...state, tire: Number(inputs.tire.value)}), changed()));
  inputs.offset.addEventListener("change", () => number(inputs.offset, "offset", ...data.offset));
  inputs.spacer.addEventListener("change", () => number(inputs.spacer, "spacer", 0, 150));
  get(".back").addEventListener("click", () => (start({...own, pair: first}), changed()));
  for (const button of root.querySelectorAll("button[data-copy]")) {
    button.addEventListener("click", () => {
      const line = get(`.${button.dataset.copy}`);
      line.select();
      let done = document.execCommand("copy");
      const say = () => (get(".copied").textContent = done ? "Copied." : "Press Ctrl-C to copy the marked line.");
      if (!done && navigator.clipboard) navigator.clipboard.writeText(line.value).then(() => ((done = true), say()), say);
      else say();
    });
  }

  start({...own, pair: first});
  let begun = false;
  const begin = () => {
    if (begun) return;
    begun = true;
    show();
  };
  // worked out when it comes near the screen, and before paper
  new IntersectionObserver((seen) => seen.some((entry) => entry.isIntersecting) && begin(), {rootMargin: "600px"}).observe(root);
  window.addEventListener("beforeprint", begin);

  // for tests: a setting by numbers, as the controls choose it
  root.tryOut = (rim, tire, offset, spacer) => {
    start({...own, pair: [rim, tire], offset, spacer, size: ""});
    begun = true;
    const answer = show();
    return {
      verdict: answer.verdict,
      command: get(".command-line").value,
      rows: answer.rows.map((row) => ({part: row.name, obstacle: row.part.name, clearance: row.clearance, worst: row.worst})),
    };
  };
}

[...document.querySelectorAll(".try-another")].forEach((root, i) => tryAnother(root, data.axles[i]));
})();
