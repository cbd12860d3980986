// The views of one axle in one pose, and the magnifier: sections, parts, overlaps, gaps.
const views = (() => {
"use strict";

const {INCH, inches, gapText, byUrgency} = words;
const {VIEWS, SIDES, pose, toHub, onPage, placed, inCut, meridian, silhouette, hull, within, crossings, triangles} = space;
const {near, path, add, stroke, disc, bar, hatch, scaleBar, labels} = ink;
const FAR = 150; // mm: parts farther from the section than this are left out
const ENLARGED = [8, 4, 2, 1]; // times: the first at which the gap has room
const LEAST_HATCH = 6; // px: an overlap is drawn at least as thick as this

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
  for (const [a, b, c] of triangles(obstacle)) {
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
    for (const name of ["tire", "wheel"]) stroke(sections, meridian(view, at, each[name], side), `${kind} ${name}`, true);
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

// ---------------------------------------------------------------- gaps and overlaps

// the nearest places of a case in a pose, turned about the spin axis into the section, so that a gap has its true size
// in it: (y', r) of the obstacle's middle, of its surface and of the place on the section
function nearest(axle, each, k) {
  return [...each.near[k], ...each.still].map(([row, side, y, r, sy, sr]) => {
    const letter = axle.letters[row];
    const obstacle = each.obstacles.find((other) => other.letter === letter);
    const gap = words.gapOf(each, row, k);
    const size = Math.hypot(y - sy, r - sr);
    const short = size < 1e-6 ? 0 : (obstacle.radius / size) * (gap + obstacle.radius < 0 ? -1 : 1);
    const end = [y - short * (y - sy), r - short * (r - sr)];
    const [view, along] = SIDES[side];
    return {row, letter, obstacle, gap, view, along, core: [y, r], end, here: [sy, sr]};
  });
}

function leader(layers, view, at, {along, core, end, here, obstacle}, kind) {
  const onView = ([y, r]) => inCut(view, at, y, along * r);
  disc(layers.marks, onView(core), Math.max(obstacle.radius, 1.5), "where");
  stroke(layers.marks, [onView(here), onView(end)], `${kind} leader`);
}

// tire and wheel of a side of a view, to clip by
function sectionClip(svg, id, view, at, each, sides) {
  const clip = add(add(svg, "defs", {}), "clipPath", {id});
  const d = sides.flatMap((side) => ["tire", "wheel"].map((name) => path(meridian(view, at, each[name], side), true)));
  for (const piece of d) add(clip, "path", {d: piece});
  return `url(#${id})`;
}

function reach(each) {
  const y = each.tire.concat(each.wheel).map((point) => point[0]);
  return [Math.min(...y), Math.max(...y)];
}

// an obstacle swung into the section on one side of a view
function swung(parent, view, at, each, k, {obstacle, along, core}, attributes, least) {
  const traced = space.trace(obstacle, k, at, reach(each));
  const onView = (points) => points.map(([y, r]) => inCut(view, at, y, along * r));
  const wide = (size) => near(Math.max(2 * obstacle.radius, size));
  const areas = traced.areas.map((area) => path(onView(area), true)).join("");
  if (areas) add(parent, "path", {...attributes.area, d: areas, "stroke-width": wide(least / 4)});
  const lines = traced.lines.map((line) => (attributes.rest ? space.parted(line, core) : {at: line, rest: []}));
  for (const line of lines.flatMap(({rest}) => rest)) add(parent, "path", {...attributes.rest, d: path(onView(line), false), "stroke-width": wide(least)});
  for (const line of lines) add(parent, "path", {...attributes.line, d: path(onView(line.at), false), "stroke-width": wide(least)});
}

// what lies in tire or wheel: the part swung into the section where it is nearest, and where the section cuts it
function overlaps(svg, layers, view, each, k, at, found, id, px) {
  const deep = found.filter((entry) => entry.gap < 0);
  if (!deep.length) return;
  const paint = hatch(svg, `${id}-hatch`, px);
  for (const side of [1, -1]) {
    const clip = sectionClip(svg, `${id}-${side > 0 ? "far" : "near"}`, view, at, each, [side]);
    const group = add(layers.hits, "g", {"clip-path": clip, class: "hit"});
    const attributes = {area: {fill: paint, stroke: paint, class: "swung"}, line: {fill: "none", stroke: paint, class: "swung"}};
    for (const entry of deep) {
      if (entry.view === view.name && entry.along === side) {
        swung(group, view, at, each, k, entry, attributes, LEAST_HATCH * px);
      }
    }
    for (const entry of deep) cutPieces(group, view, entry.obstacle, k, at, paint, LEAST_HATCH * px);
  }
}

function cutPieces(group, view, obstacle, k, at, paint, least) {
  if (!obstacle.points || obstacle.shape === "ball") return;
  const body = obstacle.points.map((spec) => placed(spec, k, at));
  const hub = body.map((b) => toHub(at, b));
  const pieces = obstacle.shape !== "panel" ? within(view, body, hub, Math.max(obstacle.radius, 1))
    : triangles(obstacle)
      .map(([a, b, c]) => crossings(view, body, hub, [[a, b], [b, c], [c, a]])).filter((line) => line.length === 2);
  if (!pieces.length) return;
  const d = pieces.map((piece) => path(piece, false)).join("");
  add(group, "path", {d, fill: "none", stroke: paint, class: "swung", "stroke-width": near(Math.max(2 * obstacle.radius, least))});
}

// ---------------------------------------------------------------- a view

const scaleOf = (svg, box) => Math.max(box[2] / (svg.clientWidth || 400), box[3] / (svg.clientHeight || 400));

// a front view or a plan; lead is the row that is tightest in this pose, frame what the magnifier shows of this view
function draw(svg, name, axle, ks, lead, frame) {
  const view = VIEWS[name];
  const box = axle.views[name];
  const px = scaleOf(svg, box);
  svg.replaceChildren();
  const layers = {};
  for (const layer of ["whole", "far", "wheels", "before", "cut", "hits", "marks"]) layers[layer] = add(svg, "g", {class: layer});
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
    const found = nearest(axle, each, ks[c]);
    if (c === last) overlaps(svg, layers, view, each, ks[c], at[c], found, svg.id, px);
    const seen = found.filter((entry) => entry.view === name);
    for (const entry of seen) leader(layers, view, at[c], entry, kind);
    if (c === last) {
      ends = seen.map((entry) => ({
        ...entry,
        at: [0, 1].map((i) => (inCut(view, at[c], entry.here[0], entry.along * entry.here[1])[i]
          + inCut(view, at[c], entry.end[0], entry.along * entry.end[1])[i]) / 2),
      }));
    }
  });
  ends.sort((a, b) => (b.row === lead) - (a.row === lead) || byUrgency([a.gap, axle.asked[a.row]], [b.gap, axle.asked[b.row]]));
  const wishes = ends.map((end) => ({
    at: end.at,
    said: end.row === lead ? `${end.letter} ${gapText(end.gap)}` : end.letter,
    kind: end.row === lead ? "tightest" : "letter",
  }));
  const inside = ([x, y]) => x > box[0] && x < box[0] + box[2] && y > box[1] && y < box[1] + box[3];
  for (const [letter, place] of places) {
    if (place && inside(place) && !ends.some((end) => end.letter === letter)) wishes.push({at: place, said: letter, kind: "letter"});
  }
  const taken = [[box[0] + box[2] - 58 * px, box[1] + box[3] - 14 * px, 116 * px, 18 * px]]; // the scale bar's corner
  if (frame && frame.view === name) {
    const [x, y, w, h] = frame.box;
    add(layers.marks, "rect", {x: near(x), y: near(y), width: near(w), height: near(h), class: `frame${frame.entry.gap < 0 ? " over" : ""}`});
    taken.push([x + w / 2, y + h / 2, w, h]);
  }
  labels(layers.marks, box, px, wishes, taken);
  scaleBar(layers.marks, box, px, ...(inches ? [4 * INCH, "4 in"] : [100, "100 mm"]));
}

// ---------------------------------------------------------------- the magnifier

// where the magnifier looks: the row's gap in the view that it is seen in, so many times the scale of that view
function focus(svg, axle, ks, lead, scale) {
  const last = axle.cases.length - 1;
  const each = axle.cases[last];
  if (lead < 0 || ks[last] < 0) return null;
  const entry = nearest(axle, each, ks[last]).find((other) => other.row === lead);
  if (!entry) return null;
  const [view, at] = [VIEWS[entry.view], pose(each, ks[last])];
  const onView = ([y, r]) => inCut(view, at, y, entry.along * r);
  const [a, b] = [onView(entry.here), onView(entry.end)];
  const [wide, tall] = [svg.clientWidth || 300, svg.clientHeight || 200];
  const times = ENLARGED.find((more) => Math.abs(entry.gap) < (0.6 * Math.min(wide, tall) * scale) / more) || 1;
  const px = scale / times;
  const middle = [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2];
  const box = [middle[0] - (wide * px) / 2, middle[1] - (tall * px) / 2, wide * px, tall * px];
  return {view: entry.view, box, px, times, entry, ends: [a, b], at};
}

// the view in which a row's gap is seen
function viewOf(axle, k, lead) {
  const each = axle.cases[axle.cases.length - 1];
  const entry = k < 0 ? null : [...each.near[k], ...each.still].find(([row]) => row === lead);
  return entry ? SIDES[entry[1]][0] : "front";
}

function magnify(svg, axle, ks, found) {
  svg.replaceChildren();
  if (!found) return;
  const {box, px, entry, ends, at, times} = found;
  svg.setAttribute("viewBox", box.map((n) => n.toFixed(2)).join(" "));
  const last = axle.cases.length - 1;
  const [each, view, k] = [axle.cases[last], VIEWS[found.view], ks[last]];
  const layers = {};
  for (const layer of ["wheels", "cut", "hits", "before", "marks"]) layers[layer] = add(svg, "g", {class: layer});
  const side = entry.along;
  for (const name of ["tire", "wheel"]) stroke(layers.wheels, meridian(view, at, each[name], side), `new ${name}`, true);
  // what of an edge or a rod comes from elsewhere round the wheel is pale
  const solid = {area: {class: "traced area"}, line: {class: "traced line"}, rest: {class: "traced line rest"}};
  swung(layers.cut, view, at, each, k, entry, solid, 1.5 * px);
  if (entry.gap < 0) {
    const paint = hatch(svg, `${svg.id}-hatch`, px);
    const clip = sectionClip(svg, `${svg.id}-clip`, view, at, each, [side]);
    const group = add(layers.hits, "g", {"clip-path": clip, class: "hit"});
    const attributes = {area: {fill: paint, stroke: paint, class: "swung"}, line: {fill: "none", stroke: paint, class: "swung"}};
    swung(group, view, at, each, k, entry, attributes, LEAST_HATCH * px);
  }
  if (last && ks[0] >= 0) {
    const was = pose(axle.cases[0], ks[0]);
    for (const name of ["tire", "wheel"]) stroke(layers.before, meridian(view, was, axle.cases[0][name], side), `old ${name}`, true);
  }
  gapLine(layers.marks, ends, px);
  const middle = [(ends[0][0] + ends[1][0]) / 2, (ends[0][1] + ends[1][1]) / 2];
  const size = inches ? (times > 2 ? INCH / 4 : INCH) : times > 2 ? 10 : 50;
  const name = inches ? (times > 2 ? "1/4 in" : "1 in") : `${size} mm`;
  const spans = [0, 1].map((i) => Math.abs(ends[1][i] - ends[0][i]) + 16 * px);
  const taken = [[box[0] + box[2] - 40 * px, box[1] + box[3] - 14 * px, 80 * px, 24 * px], [...middle, ...spans]];
  labels(layers.marks, box, px, [{at: middle, said: `${entry.letter} ${gapText(entry.gap)}`, kind: "tightest", away: 40}], taken);
  scaleBar(layers.marks, box, px, size, name);
}

// a dimension line between two places, with a bar across each end
function gapLine(parent, [a, b], px) {
  const size = Math.hypot(b[0] - a[0], b[1] - a[1]);
  const [x, y] = size < 1e-6 ? [0, 1] : [(b[0] - a[0]) / size, (b[1] - a[1]) / size];
  const across = (p) => [[p[0] - 7 * px * y, p[1] + 7 * px * x], [p[0] + 7 * px * y, p[1] - 7 * px * x]];
  for (const kind of ["casing", "gap"]) {
    for (const line of [[a, b], across(a), across(b)]) stroke(parent, line, kind);
  }
}

return {draw, focus, viewOf, magnify, scaleOf};
})();
