// Where things are: poses of the hub, the two views, what lies in a section, and traces in the hub's half plane.
const space = (() => {
"use strict";

const AROUND = 48; // points round a circle of a silhouette
const AT_HAND = 60; // mm along an edge or a rod
const CHORD = 12; // mm: a line or a sheet is traced in pieces no longer than this
// a view looks along one axis of the body; the section is the plane through the spin axis that faces the reader
const VIEWS = {
  front: {name: "front", across: 1, up: 2, sign: -1, normal: 0, half: 2},
  plan: {name: "plan", across: 1, up: 0, sign: 1, normal: 2, half: 0},
};
// which view a nearest place is seen in, and on which side of the spin axis
const SIDES = [["front", 1], ["front", -1], ["plan", 1], ["plan", -1]];

// the hub in one pose: its origin, and its rotation by rows, written down as the vector of a unit quaternion
function pose(each, k) {
  const [ox, oy, oz, x, y, z] = each.poses[k];
  const w = Math.sqrt(Math.max(0, 1 - x * x - y * y - z * z));
  const r = [
    1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y),
    2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x),
    2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y),
  ];
  return {o: [ox, oy, oz], r};
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

// each cell of a panel is two triangles, split along (i, j)-(i+1, j+1); a scan has its own
function triangles({count, columns, faces}) {
  if (faces) return faces;
  const found = [];
  for (let i = 0; i + columns < count; i += columns) {
    for (let j = i; j + 1 < i + columns; j += 1) {
      found.push([j, j + 1, j + columns + 1], [j, j + columns + 1, j + columns]);
    }
  }
  return found;
}

// ---------------------------------------------------------------- places of a motion

// the number of a place of the grid by its stops, over travel, then each share; and back
const numberOf = (motion, stops) => motion.levels.reduce((number, level, i) => number * level.length + stops[i], 0);
function stopsOf(motion, number) {
  const stops = [];
  for (const level of [...motion.levels].reverse()) {
    stops.unshift(number % level.length);
    number = Math.floor(number / level.length);
  }
  return stops;
}
const inGrid = (motion) => motion.levels.reduce((count, level) => count * level.length, 1);

// travel and shares of a place, and the stops nearest to it
function placeOf(motion, p) {
  if (p < inGrid(motion)) {
    const stops = stopsOf(motion, p);
    return {stops, at: stops.map((stop, i) => motion.levels[i][stop])};
  }
  const at = motion.more[p - inGrid(motion)];
  const closest = (list, value) => list.reduce((b, v, i) => (Math.abs(v - value) < Math.abs(list[b] - value) ? i : b), 0);
  return {stops: at.map((value, i) => closest(motion.levels[i], value)), at};
}

// ---------------------------------------------------------------- traces

const apart = (a, b) => Math.hypot(b[0] - a[0], b[1] - a[1], b[2] - a[2]);
const mixed = (a, b, s) => [0, 1, 2].map((i) => a[i] + s * (b[i] - a[i]));
const halfPlane = ([x, y, z]) => [y, Math.hypot(x, z)];

function tracedLine(hub) {
  const points = [halfPlane(hub[0])];
  for (let i = 0; i + 1 < hub.length; i += 1) {
    const count = Math.min(Math.max(Math.ceil(apart(hub[i], hub[i + 1]) / CHORD), 1), 80);
    for (let j = 1; j <= count; j += 1) points.push(halfPlane(mixed(hub[i], hub[i + 1], j / count)));
  }
  return points;
}

// a triangle in small ones, all turned the same way in the half plane, so that folds of it do not cancel
function tracedTriangle([a, b, c], meets, areas) {
  const [[ya], [yb], [yc]] = [a, b, c].map(halfPlane);
  if (!meets([Math.min(ya, yb, yc), Math.max(ya, yb, yc)])) return;
  const count = Math.min(Math.max(Math.ceil(Math.max(apart(a, b), apart(b, c), apart(c, a)) / CHORD), 1), 16);
  const at = (i, j) => halfPlane([0, 1, 2].map((n) => a[n] + (i / count) * (b[n] - a[n]) + (j / count) * (c[n] - a[n])));
  const put = (p, q, r) => {
    const turn = (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0]);
    areas.push(turn < 0 ? [p, r, q] : [p, q, r]);
  };
  for (let i = 0; i < count; i += 1) {
    for (let j = 0; i + j < count; j += 1) {
      put(at(i, j), at(i + 1, j), at(i, j + 1));
      if (i + j + 1 < count) put(at(i + 1, j), at(i + 1, j + 1), at(i, j + 1));
    }
  }
}

// a traced line parted: what lies along it within AT_HAND of the place nearest to a point, and the rest
function parted(line, [y, r]) {
  const off = line.map((p) => Math.hypot(p[0] - y, p[1] - r));
  const middle = off.indexOf(Math.min(...off));
  const [first, last] = [Math.max(middle - AT_HAND / CHORD, 0), middle + AT_HAND / CHORD];
  return {at: line.slice(first, last + 1), rest: [line.slice(0, first + 1), line.slice(last)].filter((piece) => piece.length > 1)};
}

// an obstacle swung round the spin axis into the half plane: lines and areas of (y', r), to be drawn as thick as it is;
// of sheets only what lies between two places [low, high] along the axis
function trace(obstacle, k, at, [low, high]) {
  if (obstacle.shape === "ring") {
    return obstacle.outline.length > 2 ? {lines: [], areas: [obstacle.outline]} : {lines: [obstacle.outline], areas: []};
  }
  const hub = obstacle.points.map((spec) => toHub(at, placed(spec, k, at)));
  if (obstacle.shape === "ball") return {lines: [[halfPlane(hub[0]), halfPlane(hub[0])]], areas: []};
  if (obstacle.shape !== "panel") return {lines: [tracedLine(hub)], areas: []};
  const areas = [];
  const meets = ([least, most]) => most > low - obstacle.radius && least < high + obstacle.radius;
  for (const corners of triangles(obstacle)) tracedTriangle(corners.map((i) => hub[i]), meets, areas);
  for (const [a, b, c, d, e, f] of obstacle.solid || []) {
    const faces = [[d, e, f], [a, b, e], [a, e, d], [b, c, f], [b, f, e], [c, a, d], [c, d, f]];
    for (const corners of faces) tracedTriangle(corners.map((i) => hub[i]), meets, areas);
  }
  return {lines: [], areas};
}

return {VIEWS, SIDES, pose, toHub, onPage, placed, inCut, meridian, silhouette, hull, within, crossings, triangles, trace, parted,
  numberOf, stopsOf, inGrid, placeOf};
})();
