// Marks on an SVG: lines, areas, bars as thick as a part, hatches, labels. Words reach the page only as text.
const ink = (() => {
"use strict";

const SVG = "http://www.w3.org/2000/svg";

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

// the look of an overlap: dark slanted lines on a light ground, told from everything else without colour;
// px is the size of a pixel of the screen
function hatch(svg, id, px) {
  const size = near(6 * px);
  const defs = add(svg, "defs", {});
  const pattern = add(defs, "pattern", {
    id, width: size, height: size, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)",
  });
  add(pattern, "rect", {width: size, height: size, class: "hit-ground"});
  add(pattern, "rect", {width: near(3 * px), height: size, class: "hit-line"});
  return `url(#${id})`;
}

function text(parent, [x, y], said, size, kind, anchor = "middle") {
  const made = add(parent, "text", {x: near(x), y: near(y), "font-size": near(size), class: kind, "text-anchor": anchor});
  made.textContent = said;
  return made;
}

function scaleBar(svg, [x, y, w, h], px, size, said) {
  const [right, level] = [x + w - 8 * px, y + h - 8 * px];
  stroke(svg, [[right - size, level], [right, level]], "scale");
  text(svg, [right - size / 2, level - 5 * px], said, 11 * px, "");
}

// labels beside their places, pushed away from the middle of the wheel and from each other
function labels(svg, box, px, wishes, taken) {
  const middle = [box[0] + box[2] / 2, box[1] + box[3] / 2];
  for (const {at, said, kind, away: first = 22} of wishes) {
    const wide = (said.length * 8.2 + 10) * px;
    const tall = 18 * px;
    const start = Math.atan2(at[1] - middle[1], at[0] - middle[0]);
    let best = null;
    for (let i = 0; i < 48 && !best; i += 1) {
      const angle = start + [0, 0.6, -0.6, 1.2, -1.2, 2, -2, 3.1][i % 8];
      const away = (first + 9 * Math.floor(i / 8)) * px;
      const x = Math.min(Math.max(at[0] + away * Math.cos(angle), box[0] + wide / 2), box[0] + box[2] - wide / 2);
      const y = Math.min(Math.max(at[1] + away * Math.sin(angle), box[1] + tall / 2), box[1] + box[3] - tall / 2);
      const free = taken.every((t) => Math.abs(t[0] - x) > (t[2] + wide) / 2 + px || Math.abs(t[1] - y) > (t[3] + tall) / 2 + px);
      if (free) best = [x, y];
    }
    if (!best) continue;
    const [x, y] = best;
    taken.push([x, y, wide, tall]);
    stroke(svg, [at, [x, y]], "thread");
    const group = add(svg, "g", {class: kind});
    add(group, "rect", {x: near(x - wide / 2), y: near(y - tall / 2), width: near(wide), height: near(tall), rx: near(tall / 2)});
    text(group, [x, y + 4.2 * px], said, 12 * px, "");
  }
}

return {near, path, add, stroke, disc, bar, hatch, text, scaleBar, labels};
})();
