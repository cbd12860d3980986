// The moving drawing: both setups in poses computed beforehand, in a front view and a plan, with the clearances there.
// Nothing is fetched, nothing is interpolated; words reach the page only as text.
(() => {
"use strict";

const SVG = "http://www.w3.org/2000/svg";
const INCH = 25.4; // mm
const FAR = 150; // mm: parts farther from the section than this are left out
const AROUND = 48; // points round a circle of a silhouette
// a view looks along one axis of the body; the section is the plane through the spin axis that faces the reader
const VIEWS = {
  front: {across: 1, up: 2, sign: -1, normal: 0, half: 2},
  plan: {across: 1, up: 0, sign: 1, normal: 2, half: 0},
};

const read = (id) => JSON.parse(document.getElementById(id).textContent);
const page = read("moving");

// ---------------------------------------------------------------- words

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
  if (page.units !== "in") return `${fixed(mm, 1)} mm`;
  return `${fixed(mm / INCH, Math.abs(mm) < 0.5 && Number(fixed(mm, 1)) !== 0 ? 3 : 2)} in`;
}

// a height as a tape tells it: to the nearest sixteenth of an inch
function height(mm) {
  if (page.units !== "in") return `${signed(mm, 0)} mm`;
  const steps = Number(fixed((Math.abs(mm) / INCH) * 16, 0));
  let [rest, parts] = [steps % 16, 16];
  while (rest && rest % 2 === 0) [rest, parts] = [rest / 2, parts / 2];
  const whole = Math.floor(steps / 16);
  const words = [...(whole || !rest ? [`${whole}`] : []), ...(rest ? [`${rest}/${parts}`] : [])];
  return `${mm < 0 && steps ? "-" : "+"}${words.join(" ")} in`;
}
const degrees = (angle) => `${signed(angle, 1)} deg`;

// of two gaps with what is required: an overlap first, the deepest first; then the smallest margin
function byUrgency([gap, asked], [other, wanted]) {
  if (gap < 0 || other < 0) return gap - other;
  return gap - asked - (other - wanted);
}

// ---------------------------------------------------------------- space

function pose(each, k) {
  const n = each.poses[k];
  return {o: n.slice(0, 3), r: n.slice(3)};
}

const toBody = ({o, r}, h) => [0, 1, 2].map((i) => o[i] + r[3 * i] * h[0] + r[3 * i + 1] * h[1] + r[3 * i + 2] * h[2]);

function toHub({o, r}, b) {
  const d = [b[0] - o[0], b[1] - o[1], b[2] - o[2]];
  return [0, 1, 2].map((i) => r[i] * d[0] + r[3 + i] * d[1] + r[6 + i] * d[2]);
}

const onPage = (view, b) => [b[view.across], view.sign * b[view.up]];

// a point as it is written down: standing in the body, in the hub, or placed pose by pose
function placed(spec, k, at) {
  if (spec[0] === "b") return spec.slice(1);
  return spec[0] === "h" ? toBody(at, spec.slice(1)) : spec[1][k];
}

// (y', r) in the half plane of a view that lies on one side of the spin axis
function inCut(view, at, y, along) {
  const h = [0, y, 0];
  h[view.half] = along;
  return onPage(view, toBody(at, h));
}

const meridian = (view, at, outline, side) => outline.map(([y, r]) => inCut(view, at, y, side * r));

function silhouette(view, at, outline) {
  const seen = [];
  for (const [y, r] of outline) {
    for (let i = 0; i < AROUND; i += 1) {
      const angle = (2 * Math.PI * i) / AROUND;
      seen.push(onPage(view, toBody(at, [r * Math.cos(angle), y, r * Math.sin(angle)])));
    }
  }
  return hull(seen);
}

// convex hull, going round once (Andrew's monotone chain)
function hull(points) {
  const sorted = [...points].sort((a, b) => a[0] - b[0] || a[1] - b[1]);
  const half = (list) => {
    const chain = [];
    for (const p of list) {
      while (chain.length > 1) {
        const [a, b] = chain.slice(-2);
        if ((b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]) > 0) break;
        chain.pop();
      }
      chain.push(p);
    }
    return chain.slice(0, -1);
  };
  return [...half(sorted), ...half(sorted.reverse())];
}

// the pieces of a line of points within `depth` of the section, on the page
function within(view, body, hub, depth) {
  const pieces = [];
  for (let i = 0; i + 1 < body.length; i += 1) {
    const a = hub[i][view.normal];
    const b = hub[i + 1][view.normal];
    let [low, high] = [0, 1];
    if (a === b) {
      if (Math.abs(a) > depth) continue;
    } else {
      const ends = [(-depth - a) / (b - a), (depth - a) / (b - a)].sort((x, y) => x - y);
      [low, high] = [Math.max(0, ends[0]), Math.min(1, ends[1])];
      if (low >= high) continue;
    }
    const [p, q] = [onPage(view, body[i]), onPage(view, body[i + 1])];
    pieces.push([low, high].map((s) => [p[0] + s * (q[0] - p[0]), p[1] + s * (q[1] - p[1])]));
  }
  return pieces;
}

// where the section goes through a flat or bulky piece given by the edges between its corners
function crossings(view, body, hub, edges) {
  const found = [];
  for (const [i, j] of edges) {
    const [a, b] = [hub[i][view.normal], hub[j][view.normal]];
    if (a < 0 === b < 0) continue;
    const [p, q] = [onPage(view, body[i]), onPage(view, body[j])];
    const s = a / (a - b);
    found.push([p[0] + s * (q[0] - p[0]), p[1] + s * (q[1] - p[1])]);
  }
  return found;
}

// each cell of a panel is two triangles, split along (i, j)-(i+1, j+1)
function triangles(count, columns) {
  const found = [];
  for (let i = 0; i + columns < count; i += columns) {
    for (let j = i; j + 1 < i + columns; j += 1) {
      found.push([j, j + 1, j + columns + 1], [j, j + columns + 1, j + columns]);
    }
  }
  return found;
}

// ---------------------------------------------------------------- ink

const near = (n) => String(Math.round(n * 10) / 10);
const path = (points, closed) => `M${points.map((p) => `${near(p[0])} ${near(p[1])}`).join("L")}${closed ? "Z" : ""}`;

function add(parent, name, attributes) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  parent.append(made);
  return made;
}

const stroke = (parent, points, kind, closed = false) => add(parent, "path", {d: path(points, closed), class: kind});
const disc = (parent, [x, y], r, kind) => add(parent, "circle", {cx: near(x), cy: near(y), r: near(r), class: kind});

// a bar as thick as the part: a dark one below, a lighter one above leave an edge
function bar(parent, pieces, radius, kind) {
  if (!pieces.length) return;
  const d = pieces.map((piece) => path(piece, false)).join("");
  for (const [more, part] of [[1.6, "edge"], [0, "core"]]) {
    add(parent, "path", {d, class: `${kind} ${part}`, "stroke-width": near(2 * Math.max(radius, 1.5) + more)});
  }
}

// one obstacle: pale where it lies beyond the section, dark where it is cut; returns a place to name it at
function part(layers, view, obstacle, k, at) {
  if (obstacle.shape === "ring") {
    for (const side of obstacle[view.name]) stroke(layers.cut, meridian(view, at, obstacle.outline, side), "cut-area", true);
    const [y, r] = obstacle.outline[0];
    return obstacle[view.name].length ? inCut(view, at, y, obstacle[view.name][0] * r) : null;
  }
  const body = obstacle.points.map((spec) => placed(spec, k, at));
  const hub = body.map((b) => toHub(at, b));
  if (obstacle.shape === "panel") return sheet(layers, view, obstacle, body, hub);
  const radius = obstacle.radius;
  if (obstacle.shape === "ball") {
    const [off, here] = [Math.abs(hub[0][view.normal]), onPage(view, body[0])];
    if (off > FAR) return null;
    disc(layers.far, here, Math.max(radius, 1.5), "far-area");
    if (off <= Math.max(radius, 1)) disc(layers.cut, here, Math.max(radius, 1.5), "cut-area");
    return here;
  }
  const beyond = within(view, body, hub, FAR);
  const cut = within(view, body, hub, Math.max(radius, 1));
  bar(layers.far, beyond, radius, "far");
  bar(layers.cut, cut, radius, "cut");
  const named = cut.length ? cut : beyond;
  return named.length ? named[Math.floor(named.length / 2)][0] : null;
}

function sheet(layers, view, obstacle, body, hub) {
  // what is filled behind it, in convex pieces: two triangles, joined corner by corner
  for (const [a, b, c, d, e, f] of obstacle.solid || []) {
    const edges = [[a, b], [b, c], [c, a], [d, e], [e, f], [f, d], [a, d], [b, e], [c, f]];
    const area = crossings(view, body, hub, edges);
    if (area.length > 2) stroke(layers.far, hull(area), "solid", true);
  }
  let place = null;
  for (const [a, b, c] of triangles(obstacle.count, obstacle.columns)) {
    const line = crossings(view, body, hub, [[a, b], [b, c], [c, a]]);
    if (line.length === 2) {
      bar(layers.cut, [line], obstacle.radius, "cut");
      place = place || line[0];
    }
  }
  return place;
}

// parts of the old build that are gone or stand elsewhere: their middle lines, dashed
function ghost(layers, view, obstacle, k, at) {
  if (!obstacle.points || obstacle.shape === "panel") return;
  const body = obstacle.points.map((spec) => placed(spec, k, at));
  const hub = body.map((b) => toHub(at, b));
  if (obstacle.shape === "ball") {
    if (Math.abs(hub[0][view.normal]) <= FAR) disc(layers.far, onPage(view, body[0]), Math.max(obstacle.radius, 1.5), "ghost");
    return;
  }
  for (const piece of within(view, body, hub, FAR)) stroke(layers.far, piece, "ghost");
}

function elsewhere(old, oldAt, oldK, fresh, at, k) {
  if (!fresh || fresh.shape !== old.shape || (old.points || []).length !== (fresh.points || []).length) return true;
  return (old.points || []).some((spec, i) => {
    const [p, q] = [placed(spec, oldK, oldAt), placed(fresh.points[i], k, at)];
    return Math.hypot(p[0] - q[0], p[1] - q[1], p[2] - q[2]) > 1;
  });
}

// sections of tire and wheel on both sides of the spin axis, and the whole tire as seen beyond them
function wheel(layers, view, each, at, kind) {
  const [whole, sections] = each.old ? [layers.before, layers.before] : [layers.whole, layers.wheels];
  stroke(whole, silhouette(view, at, each.whole), `${kind} whole`, true);
  for (const side of [1, -1]) {
    for (const name of ["tire", "wheel"]) {
      stroke(sections, meridian(view, at, each[name], side), `${kind} ${name}`, true);
    }
  }
}

function surroundings(layers, view, each, k, at) {
  for (const shape of each.brake) {
    for (const side of shape[view.name]) stroke(layers.wheels, meridian(view, at, shape.outline, side), "brake", true);
  }
  stroke(layers.wheels, [inCut(view, at, 0, -80), inCut(view, at, 0, 80)], "hub-face");
  stroke(layers.wheels, [inCut(view, at, -260, 0), inCut(view, at, 170, 0)], "axis");
  return each.obstacles.map((obstacle) => [obstacle.letter, part(layers, view, obstacle, k, at)]);
}

function arms(layers, view, each, k, at, kind) {
  for (const arm of each.arms) {
    const places = arm.map((spec) => onPage(view, placed(spec, k, at)));
    stroke(layers.far, places, `${kind} arm`);
    for (const place of places) disc(layers.far, place, 4, `${kind} joint`);
  }
}

// the nearest places of a case, turned about the spin axis into the section, so that a gap has its true size in it
function leaders(layers, view, axle, each, k, at, kind) {
  const found = [];
  for (const [row, x, y, z, sy, sr] of each.near[k]) {
    const core = [x, y, z];
    if (Math.abs(core[view.normal]) > Math.abs(core[view.half])) continue;
    const side = core[view.half] < 0 ? -1 : 1;
    const letter = axle.letters[row];
    const radius = each.obstacles.find((obstacle) => obstacle.letter === letter).radius;
    const [there, here] = [inCut(view, at, y, side * Math.hypot(x, z)), inCut(view, at, sy, side * sr)];
    const way = [there[0] - here[0], there[1] - here[1]];
    const size = Math.hypot(...way);
    const gap = each.gaps[k][row];
    const short = size < 1e-6 ? 0 : (radius / size) * (gap + radius < 0 ? -1 : 1);
    const end = [there[0] - short * way[0], there[1] - short * way[1]];
    disc(layers.marks, there, Math.max(radius, 1.5), "where");
    stroke(layers.marks, [here, end], `${kind} leader`);
    found.push({letter, gap, row, at: [(here[0] + end[0]) / 2, (here[1] + end[1]) / 2]});
  }
  return found;
}

function scaleBar(svg, [x, y, w, h], px) {
  const [size, words] = page.units === "in" ? [4 * INCH, "4 in"] : [100, "100 mm"];
  const [right, level] = [x + w - 8 * px, y + h - 8 * px];
  stroke(svg, [[right - size, level], [right, level]], "scale");
  const text = add(svg, "text", {x: near(right - size / 2), y: near(level - 5 * px), "font-size": near(11 * px)});
  text.textContent = words;
}

// labels beside their places, pushed away from the middle of the wheel and from each other
function labels(svg, box, px, wishes) {
  const taken = [[box[0] + box[2] - 58 * px, box[1] + box[3] - 14 * px, 116 * px]]; // the scale bar's corner
  const middle = [box[0] + box[2] / 2, box[1] + box[3] / 2];
  for (const {at, words, kind} of wishes) {
    const wide = (words.length * 8.2 + 10) * px;
    const tall = 18 * px;
    const start = Math.atan2(at[1] - middle[1], at[0] - middle[0]);
    let best = null;
    for (let i = 0; i < 48; i += 1) {
      const angle = start + [0, 0.6, -0.6, 1.2, -1.2, 2, -2, 3.1][i % 8];
      const away = (22 + 9 * Math.floor(i / 8)) * px;
      const x = Math.min(Math.max(at[0] + away * Math.cos(angle), box[0] + wide / 2), box[0] + box[2] - wide / 2);
      const y = Math.min(Math.max(at[1] + away * Math.sin(angle), box[1] + tall / 2), box[1] + box[3] - tall / 2);
      const free = taken.every((t) => Math.abs(t[0] - x) > (t[2] + wide) / 2 + px || Math.abs(t[1] - y) > tall + px);
      if (free) {
        best = [x, y];
        break;
      }
    }
    if (!best) continue;
    const [x, y] = best;
    taken.push([x, y, wide]);
    stroke(svg, [at, [x, y]], "thread");
    const group = add(svg, "g", {class: kind});
    add(group, "rect", {x: near(x - wide / 2), y: near(y - tall / 2), width: near(wide), height: near(tall), rx: near(tall / 2)});
    const text = add(group, "text", {x: near(x), y: near(y + 4.2 * px), "font-size": near(12 * px)});
    text.textContent = words;
  }
}

function draw(svg, name, axle, ks) {
  const view = {...VIEWS[name], name};
  const box = axle.views[name];
  const px = Math.max(box[2] / (svg.clientWidth || 400), box[3] / (svg.clientHeight || 400));
  svg.replaceChildren();
  const layers = {};
  for (const layer of ["whole", "far", "wheels", "before", "cut", "marks"]) layers[layer] = add(svg, "g", {class: layer});
  const last = axle.cases.length - 1;
  const fresh = axle.cases[last];
  const at = axle.cases.map((each, c) => (ks[c] < 0 ? null : pose(each, ks[c])));
  let places = [];
  let ends = [];
  axle.cases.forEach((each, c) => {
    if (!at[c]) return;
    const kind = each.old ? "old" : "new";
    arms(layers, view, each, ks[c], at[c], kind);
    wheel(layers, view, each, at[c], kind);
    if (name === "front") {
      const level = -(at[c].o[2] - each.ground);
      stroke(layers.far, [[box[0], level], [box[0] + box[2], level]], `${kind} ground`);
    }
    if (c === last) places = surroundings(layers, view, each, ks[c], at[c]);
    else {
      for (const obstacle of each.obstacles) {
        const twin = fresh.obstacles.find((other) => other.letter === obstacle.letter);
        if (!at[last] || elsewhere(obstacle, at[c], ks[c], twin, at[last], ks[last])) ghost(layers, view, obstacle, ks[c], at[c]);
      }
    }
    const found = leaders(layers, view, axle, each, ks[c], at[c], kind);
    if (c === last) ends = found;
  });
  ends.sort((a, b) => byUrgency([a.gap, axle.asked[a.row]], [b.gap, axle.asked[b.row]]));
  const wishes = ends.map((end, i) => ({
    at: end.at,
    words: i ? end.letter : `${end.letter} ${length(end.gap)}`,
    kind: i ? "letter" : "tightest",
  }));
  const inside = ([x, y]) => x > box[0] && x < box[0] + box[2] && y > box[1] && y < box[1] + box[3];
  for (const [letter, place] of places) {
    if (place && inside(place) && !ends.some((end) => end.letter === letter)) wishes.push({at: place, words: letter, kind: "letter"});
  }
  labels(layers.marks, box, px, wishes);
  scaleBar(layers.marks, box, px);
}

// ---------------------------------------------------------------- one axle

function mover(root, axle) {
  const get = (selector) => root.querySelector(selector);
  const [travel, shares, motion] = [get(".travel"), [...root.querySelectorAll(".share")], get(".motion")];
  const rows = [...root.querySelectorAll("tr[data-row]")];
  const last = axle.cases.length - 1;
  let state = {m: 0, p: axle.motions[0].rest};

  const now = () => axle.motions[state.m];
  const poses = () => axle.cases.map((each) => each.at[state.m][state.p]);

  // the number of a place of the grid by its stops, over travel, then each share; and back
  const numberOf = (m, stops) => m.levels.reduce((number, level, i) => number * level.length + stops[i], 0);
  function stopsOf(m, number) {
    const stops = [];
    for (const level of [...m.levels].reverse()) {
      stops.unshift(number % level.length);
      number = Math.floor(number / level.length);
    }
    return stops;
  }
  const inGrid = (m) => m.levels.reduce((count, level) => count * level.length, 1);

  // travel and shares of the place, and the stops of the sliders nearest to it
  function place() {
    const m = now();
    if (state.p < inGrid(m)) {
      const stops = stopsOf(m, state.p);
      return {stops, at: stops.map((stop, i) => m.levels[i][stop])};
    }
    const at = m.more[state.p - inGrid(m)];
    const closest = (list, value) => list.reduce((b, v, i) => (Math.abs(v - value) < Math.abs(list[b] - value) ? i : b), 0);
    return {stops: at.map((value, i) => closest(m.levels[i], value)), at};
  }

  function shareWords(kind, share, ks) {
    const known = axle.cases.map((each, c) => ({each, k: ks[c]})).filter(({k}) => k >= 0);
    if (kind === "roll") {
      const solid = known.filter(({each}) => each.opposite).at(-1);
      return solid ? height(solid.each.opposite[solid.k]) : "level with this wheel";
    }
    const angles = [...new Set(known.map(({each, k}) => degrees(each.steer[k])))].join(" → ");
    const way = share > 0 ? "left" : "right";
    const words = Math.abs(share) === 1 ? `${way} lock` : `${Math.round(Math.abs(share) * 100)} % to ${way} lock`;
    return `${share === 0 ? "straight ahead" : words}, ${angles}`;
  }

  function said(ks) {
    const beyond = axle.cases.filter((each, c) => ks[c] < 0).map((each) => `${each.name} does not reach this place.`);
    const gaps = ks[last] < 0 ? [] : axle.cases[last].gaps[ks[last]];
    let best = -1;
    gaps.forEach((gap, i) => {
      if (gap === null) return;
      if (best < 0 || byUrgency([gap, axle.asked[i]], [gaps[best], axle.asked[best]]) < 0) best = i;
    });
    const tightest = best < 0 ? "" : `Tightest here: ${rows[best].querySelector(".name").textContent}, ${length(gaps[best])}.`;
    return [tightest, ...beyond].join(" ");
  }

  function cell(row, kind, gap) {
    const where = row.querySelector(`.${kind}`);
    if (!where) return;
    const value = document.createElement("data");
    if (gap !== null && gap !== undefined) value.value = String(gap);
    value.textContent = gap === null || gap === undefined ? "-" : length(gap);
    where.replaceChildren(value);
  }

  function fill(ks) {
    rows.forEach((row, i) => {
      const gaps = axle.cases.map((each, c) => (ks[c] < 0 ? null : each.gaps[ks[c]][i]));
      if (last) cell(row, "was", gaps[0]);
      cell(row, "is", gaps[last]);
      const gap = gaps[last];
      const mark = gap === null ? "" : gap < 0 ? "overlap" : gap < axle.asked[i] ? "below required" : "";
      row.querySelector(".mark").textContent = mark;
      row.className = mark.replace(" ", "-");
    });
  }

  function show() {
    const [m, here, ks] = [now(), place(), poses()];
    const [up, ...turned] = here.at;
    const ride = up === m.levels[0][here.stops[0]] ? axle.rides[here.stops[0]] : "";
    const words = [height(up) + (ride ? `, ${ride}` : ""), ...turned.map((share, i) => shareWords(m.kinds[i], share, ks))];
    [travel, ...shares].forEach((slider, i) => {
      slider.max = String(m.levels[i].length - 1);
      slider.value = String(here.stops[i]);
      slider.setAttribute("aria-valuetext", words[i]);
      slider.parentElement.querySelector(".reading").textContent = words[i];
    });
    if (motion) motion.value = String(state.m);
    for (const name of Object.keys(VIEWS)) draw(get(`svg.${name}`), name, axle, ks);
    fill(ks);
    get(".said").textContent = said(ks);
  }

  const go = (m, p) => {
    state = {m, p};
    show();
  };
  const padded = (stops) => now().levels.map((level, i) => stops[i] ?? 0);
  const slid = () => go(state.m, numberOf(now(), padded([travel, ...shares].map((slider) => Number(slider.value)))));
  for (const slider of [travel, ...shares]) slider.addEventListener("input", slid);
  if (motion) motion.addEventListener("change", () => go(Number(motion.value), axle.motions[Number(motion.value)].rest));

  const rest = () => go(state.m, now().rest);
  function jump(where, kind) {
    const m = now();
    const stops = stopsOf(m, m.rest);
    const i = kind ? 1 + m.kinds.indexOf(kind) : 0;
    if (where !== "rest") stops[i] = where === "low" || where === "droop" ? 0 : m.levels[i].length - 1;
    go(state.m, numberOf(m, stops));
  }
  for (const button of root.querySelectorAll("button[data-go]")) {
    button.addEventListener("click", () => jump(button.dataset.go, button.dataset.kind));
  }
  for (const button of document.querySelectorAll(`button[data-axle="${root.dataset.axle}"]`)) {
    button.addEventListener("click", () => {
      go(...axle.shown[Number(button.dataset.show)]);
      get("h3").focus({preventScroll: true});
      get("h3").scrollIntoView();
    });
  }

  // on paper everything stands at rest
  let before = null;
  const print = (on) => {
    if (on && !before) {
      before = state;
      go(0, axle.motions[0].rest);
    } else if (!on && before) {
      go(before.m, before.p);
      before = null;
    }
  };
  window.addEventListener("beforeprint", () => print(true));
  window.addEventListener("afterprint", () => print(false));
  window.matchMedia("print").addEventListener("change", (event) => print(event.matches));

  new ResizeObserver(show).observe(get("svg.front"));
  rest();
}

[...document.querySelectorAll(".mover")].forEach((root, i) => mover(root, page.axles[i]));
})();
