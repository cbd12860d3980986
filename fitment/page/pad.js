// The pad: a map of margin over travel and steering (or roll), drawn from the computed poses alone, each in a cell of its
// own; to drag over, and to walk with the keys. Where nothing moves beside travel, a strip.
const pad = (() => {
"use strict";

const {INCH, inches, fixed, height, tightest, gapOf} = words;
const {numberOf, inGrid, placeOf} = space;
const {near, add, hatch, text} = ink;

const STEPS = inches ? [0.2, 0.4, 0.8].map((n) => n * INCH) : [5, 10, 20]; // mm over what is required
const BANDS = ["hit", "short", "near", "some", "much", "free"];
const EDGE = {left: 3, right: 3, top: 3, bottom: 18}; // px round the map
const STRIP = {left: 3, right: 3, top: 18, bottom: 18};

// which band a pose lies in; null where there is none
function bandOf(axle, each, k) {
  const row = tightest(axle, each, k);
  if (row < 0) return null;
  const gap = gapOf(each, row, k);
  const margin = gap - axle.asked[row];
  if (gap < 0) return "hit";
  if (margin < 0) return "short";
  return BANDS[2 + STEPS.filter((step) => margin >= step).length];
}

function bandWords(band) {
  const [a, b, c] = STEPS.map((mm) => (inches ? fixed(mm / INCH, 1) : fixed(mm, 0)));
  const unit = inches ? "in" : "mm";
  return {
    hit: "overlap", short: "below required", near: `0 to ${a} ${unit} over required`, some: `${a} to ${b} ${unit} over`,
    much: `${b} to ${c} ${unit} over`, free: `more than ${c} ${unit} over`,
  }[band];
}

// the edges of cells round levels: half-way to the next, as far beyond the last
function edgesOf(levels) {
  if (levels.length < 2) return [levels[0] - 1, levels[0] + 1];
  const middle = levels.slice(1).map((level, i) => (level + levels[i]) / 2);
  const n = levels.length;
  return [levels[0] - (levels[1] - levels[0]) / 2, ...middle, levels[n - 1] + (levels[n - 1] - levels[n - 2]) / 2];
}

// box holds the map and speaks, svg draws; go(m, p) is called with the place that is wanted
function make(box, svg, legend, axle, go) {
  const each = axle.cases[axle.cases.length - 1];
  let shown = null; // {m, p, motion, across, w, h, edge}

  // the motion's place among the levels that the pad does not move
  const across = (motion) => (motion.kinds.length ? 1 + Math.max(motion.kinds.indexOf("steer"), 0) : 0);
  // steering to the left lies to the left
  const turned = (motion, i) => motion.kinds[i - 1] === "steer";
  // a right corner is posed as in a mirror: its share 1 is the right lock
  const flipped = (motion, i) => turned(motion, i) && !axle.mirrored;

  function scales() {
    const {motion, i, w, h, edge} = shown;
    const [up, over] = [edgesOf(motion.levels[0]), i ? edgesOf(motion.levels[i]) : null];
    const [inner, tall] = [w - edge.left - edge.right, h - edge.top - edge.bottom];
    const share = (edges, value) => (value - edges[0]) / (edges[edges.length - 1] - edges[0]);
    if (!over) return {x: (place) => edge.left + inner * share(up, place[0]), y: () => edge.top + tall / 2, up, over};
    const along = (value) => (flipped(motion, i) ? 1 - share(over, value) : share(over, value));
    return {x: (place) => edge.left + inner * along(place[i]), y: (place) => edge.top + tall * (1 - share(up, place[0])), up, over};
  }

  // every place of the motion that the pad can show now: the cells of the grid, then the closest places
  function places() {
    const {motion, i, m} = shown;
    const {stops} = placeOf(motion, shown.p);
    const cells = [];
    motion.levels[0].forEach((_, a) => (i ? motion.levels[i] : [0]).forEach((_, b) => {
      const at = [...stops];
      at[0] = a;
      if (i) at[i] = b;
      cells.push({a, b, p: numberOf(motion, at), at: at.map((stop, n) => motion.levels[n][stop])});
    }));
    const more = motion.more.map((at, n) => ({p: inGrid(motion) + n, at}));
    return {cells, more: more.filter((place) => each.at[m][place.p] >= 0)};
  }

  function cellBox({a, b}, {up, over}) {
    const {motion, i, h, edge} = shown;
    const scale = scales();
    const corner = (travel, share) => {
      const at = motion.levels.map(() => 0);
      at[0] = travel;
      if (i) at[i] = share;
      return [scale.x(at), i ? scale.y(at) : null];
    };
    const [p, q] = [corner(up[a], over && over[b]), corner(up[a + 1], over && over[b + 1])];
    if (!i) return [p[0], edge.top, q[0] - p[0], h - edge.top - edge.bottom];
    return [Math.min(p[0], q[0]), Math.min(p[1], q[1]), Math.abs(q[0] - p[0]), Math.abs(q[1] - p[1])];
  }

  function paints() {
    const hit = hatch(svg, `${svg.id}-hatch`, 1);
    const dots = add(add(svg, "defs", {}), "pattern", {id: `${svg.id}-dots`, width: 5, height: 5, patternUnits: "userSpaceOnUse"});
    add(dots, "rect", {width: 5, height: 5, class: "short-ground"});
    add(dots, "circle", {cx: 2.5, cy: 2.5, r: 1.3, class: "short-dot"});
    return {hit, short: `url(#${svg.id}-dots)`};
  }

  function drawMap() {
    svg.replaceChildren();
    const {motion, i, m, w, h, edge} = shown;
    svg.setAttribute("viewBox", `0 0 ${w} ${h}`);
    const paint = paints();
    const scale = scales();
    const {cells, more} = places();
    const d = new Map(BANDS.map((band) => [band, ""]));
    for (const cell of cells) {
      const band = bandOf(axle, each, each.at[m][cell.p]);
      if (!band) continue;
      const [x, y, wide, tall] = cellBox(cell, scale);
      d.set(band, `${d.get(band)}M${near(x)} ${near(y)}h${near(wide)}v${near(tall)}h${near(-wide)}Z`);
    }
    for (const [band, path] of d) if (path) add(svg, "path", {d: path, class: `band ${band}`, ...(paint[band] ? {fill: paint[band]} : {})});
    add(svg, "rect", {x: edge.left, y: edge.top, width: w - edge.left - edge.right, height: h - edge.top - edge.bottom, class: "rim"});
    add(svg, "g", {class: "here"});
    marks(scale, more);
    fillLegend([...d.keys()].filter((band) => d.get(band)), paint);
  }

  function marks(scale, more) {
    const {motion, i, m, w, h, edge} = shown;
    const zero = motion.levels.map(() => 0);
    const at = (travel) => [travel, ...zero.slice(1)];
    const levels = motion.levels[0];
    const taken = [];
    // a name where it hides no other
    const name = ([x, y], said, anchor) => {
      const wide = said.length * 6.9;
      const left = anchor === "start" ? x : anchor === "end" ? x - wide : x - wide / 2;
      const free = taken.every(([l, v, s]) => Math.abs(v - y) >= 11 || left >= l + s + 6 || l >= left + wide + 6);
      if (left < 0 || left + wide > w || !free) return false;
      taken.push([left, y, wide]);
      text(svg, [x, y], said, 11, "name", anchor);
      return true;
    };
    const [low, high] = [height(levels[0]), height(levels[levels.length - 1])];
    if (i) {
      name([edge.left + 4, edge.top + 12], `${high} bump`, "start");
      name([edge.left + 4, h - edge.bottom - 5], `${low} droop`, "start");
      const words = turned(motion, i) ? ["left lock", "straight", "right lock"] : ["opposite droops", "level", "opposite bumps"];
      name([edge.left, h - 5], words[0], "start");
      if (!name([w - edge.right, h - 5], words[2], "end")) name([w - edge.right, h - 5], "bumps", "end");
      name([(edge.left + w - edge.right) / 2, h - 5], words[1], "middle");
    } else {
      name([edge.left, h - 5], `${low} droop`, "start");
      const end = [w - edge.right, h - 5];
      if (!name(end, `bump ${high}`, "end")) name(end, high, "end");
    }
    axle.rides.forEach((ride, n) => {
      if (!ride || n >= levels.length) return;
      const [x, y] = [scale.x(at(levels[n])), scale.y(at(levels[n]))];
      const line = i ? `M${edge.left} ${near(y)}H${w - edge.right}` : `M${near(x)} ${edge.top}V${h - edge.bottom}`;
      add(svg, "path", {d: line, class: "ride"});
      name(i ? [w - edge.right - 4, y - 3] : [x, edge.top - 5], ride.length > 14 ? `${ride.slice(0, 13)}\u2026` : ride, i ? "end" : "middle");
    });
    for (const place of more) diamond([scale.x(place.at), scale.y(place.at)], 3.5, "close");
    if (axle.open[0] === m && axle.asked.length) {
      const {at: place} = placeOf(motion, axle.open[1]);
      diamond([scale.x(place), scale.y(place)], 6, "close first");
    }
  }

  const diamond = ([x, y], r, kind) => add(svg, "path", {d: `M${near(x)} ${near(y - r)}l${r} ${r}l${-r} ${r}l${-r} ${-r}Z`, class: kind});

  function fillLegend(bands, paint) {
    const entry = (said, shape) => {
      const item = document.createElement("li");
      const swatch = add(item, "svg", {width: 22, height: 13, viewBox: "0 0 22 13", "aria-hidden": "true"});
      shape(swatch);
      item.append(said);
      return item;
    };
    const items = bands.map((band) => entry(bandWords(band), (swatch) => add(swatch, "rect", {
      x: 0.5, y: 0.5, width: 21, height: 12, class: `band ${band} rim`, ...(paint[band] ? {fill: paint[band]} : {}),
    })));
    if (axle.asked.length) items.push(entry("tightest of all", (swatch) => add(swatch, "path", {d: "M11 0.5l6 6l-6 6l-6 -6Z", class: "close first"})));
    legend.replaceChildren(...items);
  }

  function drawHere() {
    const group = svg.querySelector(".here");
    const {motion, i, p, w, h, edge} = shown;
    const scale = scales();
    const {at} = placeOf(motion, p);
    const [x, y] = [scale.x(at), scale.y(at)].map(near);
    group.replaceChildren();
    const lines = `M${x} ${edge.top}V${h - edge.bottom}${i ? `M${edge.left} ${y}H${w - edge.right}` : ""}`;
    for (const kind of ["casing", "cross"]) {
      add(group, "path", {d: lines, class: kind});
      add(group, "circle", {cx: x, cy: y, r: 7, class: kind});
    }
  }

  // the place nearest to a point of the pad [px]
  function placeAt([x, y]) {
    const scale = scales();
    const {cells, more} = places();
    let best = null;
    for (const place of [...cells, ...more]) {
      const off = Math.hypot(scale.x(place.at) - x, shown.i ? scale.y(place.at) - y : 0);
      if (!best || off < best.off - 1e-9) best = {off, p: place.p};
    }
    return best.p;
  }

  // one stop on along a level, from between two stops to the next
  function stepped(n, way, far) {
    const {motion} = shown;
    const {stops, at} = placeOf(motion, shown.p);
    const level = motion.levels[n];
    const beyond = level.map((value, k) => [value, k]).filter(([value]) => (value - at[n]) * way > 1e-6);
    if (!beyond.length) return;
    const aim = far ? beyond[way > 0 ? beyond.length - 1 : 0] : beyond[way > 0 ? 0 : beyond.length - 1];
    stops[n] = aim[1];
    go(shown.m, numberOf(motion, stops));
  }

  box.addEventListener("keydown", (event) => {
    if (event.altKey || event.ctrlKey || event.metaKey) return;
    const {motion, i} = shown;
    const right = i && flipped(motion, i) ? -1 : 1;
    const moves = {
      ArrowUp: [0, 1], ArrowDown: [0, -1], PageUp: [0, 1, true], PageDown: [0, -1, true],
      ArrowRight: [i, right], ArrowLeft: [i, -right], End: [i, right, true], Home: [i, -right, true],
    };
    if (!(event.key in moves)) return;
    event.preventDefault();
    stepped(...moves[event.key]);
  });

  const aim = (event) => {
    const bounds = svg.getBoundingClientRect();
    const p = placeAt([event.clientX - bounds.left, event.clientY - bounds.top]);
    if (p !== shown.p) go(shown.m, p);
  };
  box.addEventListener("pointerdown", (event) => {
    if (event.button) return;
    box.setPointerCapture(event.pointerId);
    aim(event);
  });
  box.addEventListener("pointermove", (event) => {
    if (box.hasPointerCapture(event.pointerId)) aim(event);
  });

  // the place that is shown, and how it is spoken; the map is drawn anew only when it is another one
  function show(m, p, spoken) {
    const motion = axle.motions[m];
    const i = across(motion);
    const [w, h] = [svg.clientWidth, svg.clientHeight];
    const others = placeOf(motion, p).stops.filter((_, n) => n && n !== i);
    const key = JSON.stringify([m, w, h, others]);
    const same = shown && shown.key === key;
    shown = {m, p, motion, i, w, h, edge: i ? EDGE : STRIP, key};
    const {at} = placeOf(motion, p);
    const levels = motion.levels[0];
    box.setAttribute("aria-valuemin", fixed(levels[0], 0));
    box.setAttribute("aria-valuemax", fixed(levels[levels.length - 1], 0));
    box.setAttribute("aria-valuenow", fixed(at[0], 0));
    box.setAttribute("aria-valuetext", spoken);
    if (!w || !h) return;
    if (!same) drawMap();
    drawHere();
  }

  return {show};
}

return {make};
})();
