// The moving drawing: both setups in poses computed beforehand, in a front view and a plan, with the clearances there.
// Nothing is fetched, nothing is interpolated; words reach the page only as text.
(() => {
"use strict";

const {fixed, gapText, height, degrees, kept, byUrgency, gapOf, tightest, markOf, told} = words;
const {VIEWS, numberOf, stopsOf, placeOf} = space;
const NARROW = window.matchMedia("screen and (max-width: 640px)"); // as in mover.css

// ---------------------------------------------------------------- tabs

// on a phone the panels are tabs; elsewhere all of them stand there
function tabs(root, redraw) {
  const list = [...root.querySelectorAll("[role=tab]")];
  const panel = (tab) => document.getElementById(tab.getAttribute("aria-controls"));
  let chosen = list[0];

  function show() {
    for (const tab of list) {
      const on = tab === chosen;
      tab.setAttribute("aria-selected", String(on));
      tab.tabIndex = on ? 0 : -1;
      panel(tab).classList.toggle("chosen", on);
      for (const [name, value] of [["role", "tabpanel"], ["aria-labelledby", tab.id], ["tabindex", "0"]]) {
        if (NARROW.matches) panel(tab).setAttribute(name, value);
        else panel(tab).removeAttribute(name);
      }
    }
  }

  function choose(tab) {
    chosen = tab;
    show();
    redraw();
  }
  list.forEach((tab, i) => {
    tab.addEventListener("click", () => choose(tab));
    tab.addEventListener("keydown", (event) => {
      const to = {ArrowRight: i + 1, ArrowLeft: i - 1, Home: 0, End: list.length - 1}[event.key];
      if (to === undefined) return;
      event.preventDefault();
      const next = list[(to + list.length) % list.length];
      choose(next);
      next.focus();
    });
  });
  NARROW.addEventListener("change", show);
  show();
  return (name) => choose(list.find((tab) => tab.id.endsWith(name)));
}

// ---------------------------------------------------------------- one axle

function mover(root, axle) {
  const get = (selector) => root.querySelector(selector);
  const [travel, shares, motion] = [get(".travel"), [...root.querySelectorAll(".share")], get(".motion")];
  const rows = [...root.querySelectorAll("tr[data-row]")].sort((a, b) => a.dataset.row - b.dataset.row);
  const last = axle.cases.length - 1;
  const fresh = axle.cases[last];
  const [box, lens, said] = [get(".pad"), get("svg.lens"), get(".said")];
  let state = {m: axle.open[0], p: axle.open[1]};
  const map = pad.make(box, get(".pad svg"), get(".legend"), axle, (m, p) => go(m, p));

  const now = () => axle.motions[state.m];
  const poses = () => axle.cases.map((each) => each.at[state.m][state.p]);

  function shareWords(kind, share, ks) {
    const known = axle.cases.map((each, c) => ({each, k: ks[c]})).filter(({k}) => k >= 0);
    if (kind === "roll") {
      const solid = known.filter(({each}) => each.opposite).at(-1);
      return solid ? height(solid.each.opposite[solid.k]) : "level with this wheel";
    }
    const angles = [...new Set(known.map(({each, k}) => degrees(each.steer[k])))].join(" → ");
    const way = share > 0 !== axle.mirrored ? "left" : "right";
    const part = Math.abs(share) === 1 ? `${way} lock` : `${Math.round(Math.abs(share) * 100)} % to ${way} lock`;
    return `${share === 0 ? "straight ahead" : part}, ${angles}`;
  }

  // the pose in a few words, as they are spoken
  function poseWords({stops, at}, ks) {
    const [up, ...turned] = at;
    const ride = up === now().levels[0][stops[0]] ? axle.rides[stops[0]] : "";
    const parts = [`travel ${height(up)}${ride ? ` (${ride})` : ""}`];
    turned.forEach((share, i) => {
      const k = ks[last];
      if (now().kinds[i] === "roll") parts.push(`opposite wheel ${shareWords("roll", share, ks)}`);
      else if (share === 0 || k < 0) parts.push(share === 0 ? "straight ahead" : shareWords("steer", share, ks));
      else parts.push(`${fixed(Math.abs(fresh.steer[k]), 1)} deg ${fresh.steer[k] < 0 ? "right" : "left"}${Math.abs(share) === 1 ? " (lock)" : ""}`);
    });
    return parts.join(", ");
  }

  function beyond(ks) {
    return axle.cases.filter((each, c) => ks[c] < 0).map((each) => `${each.name} does not reach this place.`).join(" ");
  }

  // what is tightest, as a sentence: the label in the drawing and the first row of the table are of the same part
  function fillSaid(place, lead, ks) {
    const gap = lead < 0 ? null : gapOf(fresh, lead, ks[last]);
    const pieces = [["span", "pose", gap === null ? `${place}.` : `${place}:`]];
    if (gap !== null) pieces.push(["b", "", told(axle, lead, gap)]);
    const mark = gap === null ? "" : markOf(gap, axle.asked[lead]);
    if (mark) pieces.push(["em", `mark ${mark.replace(" ", "-")}`, mark]);
    if (beyond(ks)) pieces.push(["span", "", beyond(ks)]);
    said.replaceChildren();
    for (const [name, kind, text] of pieces) {
      const made = document.createElement(name);
      made.className = kind;
      made.textContent = kept(text);
      said.append(made, " ");
    }
  }

  function cell(row, kind, gap) {
    const where = row.querySelector(`.${kind}`);
    if (!where) return;
    const value = document.createElement("data");
    if (gap !== null && gap !== undefined) value.value = String(gap);
    value.textContent = gap === null || gap === undefined ? "-" : gapText(gap);
    where.replaceChildren(value);
  }

  function fill(ks, lead) {
    const gaps = rows.map((_, i) => axle.cases.map((each, c) => (ks[c] < 0 ? null : gapOf(each, i, ks[c]))));
    rows.forEach((row, i) => {
      if (last) cell(row, "was", gaps[i][0]);
      cell(row, "is", gaps[i][last]);
      const mark = markOf(gaps[i][last], axle.asked[i]);
      row.querySelector(".mark").textContent = mark;
      row.className = `${mark.replace(" ", "-")}${i === lead ? " lead" : ""}`;
    });
    const body = get(".changing tbody");
    if (!body) return;
    const known = (i) => [gaps[i][last] ?? Infinity, axle.asked[i]];
    const order = rows.map((_, i) => i).filter((i) => body.contains(rows[i]));
    order.sort((a, b) => byUrgency(known(a), known(b)) || a - b);
    body.append(...order.map((i) => rows[i]));
  }

  function fillSliders(place, ks) {
    const ride = place.at[0] === now().levels[0][place.stops[0]] ? axle.rides[place.stops[0]] : "";
    const texts = [height(place.at[0]) + (ride ? `, ${ride}` : ""), ...place.at.slice(1).map((share, i) => shareWords(now().kinds[i], share, ks))];
    [travel, ...shares].forEach((slider, i) => {
      slider.max = String(now().levels[i].length - 1);
      slider.value = String(place.stops[i]);
      slider.setAttribute("aria-valuetext", texts[i]);
      slider.parentElement.querySelector(".reading").textContent = texts[i];
    });
    if (motion) motion.value = String(state.m);
  }

  function fillLens(ks, lead) {
    const seen = Object.keys(VIEWS).map((name) => [get(`svg.${name}`), axle.views[name]]).filter(([svg]) => svg.clientWidth);
    const scale = seen.length ? views.scaleOf(...seen[0]) : 2;
    const found = views.focus(lens, axle, ks, lead, scale);
    views.magnify(lens, axle, ks, found);
    const where = found && (found.view === "front" ? "from the front" : "from above");
    get(".lens-words").textContent = !found ? "Nothing to enlarge here."
      : `${found.entry.letter} ${where}${found.times > 1 ? `, ${found.times} times as large` : ""}`;
    return found;
  }

  function show() {
    const [place, ks] = [placeOf(now(), state.p), poses()];
    const lead = tightest(axle, fresh, ks[last]);
    fillSliders(place, ks);
    const found = fillLens(ks, lead);
    for (const name of Object.keys(VIEWS)) views.draw(get(`svg.${name}`), name, axle, ks, lead, found);
    fill(ks, lead);
    const pose = poseWords(place, ks);
    fillSaid(pose[0].toUpperCase() + pose.slice(1), lead, ks);
    const gap = lead < 0 ? "" : told(axle, lead, gapOf(fresh, lead, ks[last]));
    map.show(state.m, state.p, [`${pose}:`, gap, beyond(ks)].filter(Boolean).join(" "));
  }

  let waiting = 0;
  const soon = () => {
    if (!waiting) waiting = requestAnimationFrame(() => { waiting = 0; show(); });
  };
  const go = (m, p) => {
    state = {m, p};
    show();
  };
  // on a phone the view in which the tightest place is seen comes to the front
  const goToTightest = () => {
    go(...axle.open);
    bring(views.viewOf(axle, poses()[last], tightest(axle, fresh, poses()[last])));
  };
  const padded = (stops) => now().levels.map((level, i) => stops[i] ?? 0);
  const slid = () => go(state.m, numberOf(now(), padded([travel, ...shares].map((slider) => Number(slider.value)))));
  for (const slider of [travel, ...shares]) slider.addEventListener("input", slid);
  if (motion) motion.addEventListener("change", () => go(Number(motion.value), axle.motions[Number(motion.value)].rest));

  function jump(where, kind) {
    if (where === "tightest") return goToTightest();
    const stops = stopsOf(now(), now().rest);
    const i = kind ? 1 + now().kinds.indexOf(kind) : 0;
    if (where !== "rest") stops[i] = where === "low" || where === "droop" ? 0 : now().levels[i].length - 1;
    return go(state.m, numberOf(now(), stops));
  }
  for (const button of root.querySelectorAll("button[data-go]")) {
    button.addEventListener("click", () => jump(button.dataset.go, button.dataset.kind));
  }
  for (const button of document.querySelectorAll(`button[data-axle="${root.dataset.axle}"]`)) {
    button.addEventListener("click", () => {
      const row = Number(button.dataset.show);
      go(...axle.shown[row]);
      bring(views.viewOf(axle, poses()[last], row));
      get("h3").focus({preventScroll: true});
      get("h3").scrollIntoView();
    });
  }
  // the pad speaks for itself while it is moved
  box.addEventListener("focus", () => said.setAttribute("aria-live", "off"));
  box.addEventListener("blur", () => said.removeAttribute("aria-live"));

  // on paper everything stands where it is tightest
  let before = null;
  const print = (on) => {
    if (on && !before) {
      before = state;
      go(...axle.open);
    } else if (!on && before) {
      go(before.m, before.p);
      before = null;
    }
  };
  window.addEventListener("beforeprint", () => print(true));
  window.addEventListener("afterprint", () => print(false));
  window.matchMedia("print").addEventListener("change", (event) => print(event.matches));

  const bring = tabs(root, show);
  const watch = new ResizeObserver(soon);
  for (const svg of root.querySelectorAll(".moving, .pad svg")) watch.observe(svg);
  goToTightest();
}

function summed(steps) { // from one pose to the next, in tenths of a micrometre -> mm
  let sum = 0;
  return Array.isArray(steps) ? steps.map((step) => (step === null ? null : (sum += step) / 10000)) : steps;
}

// what the page tells without this script, too; a command is left as it is typed
const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
while (texts.nextNode()) {
  const {currentNode: text} = texts;
  if (!text.parentElement.closest("code, svg, script") && kept(text.data) !== text.data) text.data = kept(text.data);
}

const page = JSON.parse(document.getElementById("moving").textContent);
[...document.querySelectorAll(".mover")].forEach((root, i) => {
  const axle = page.axles[i];
  const last = axle.cases[axle.cases.length - 1]; // what is alike is written once
  const whole = (part) => (typeof part === "string" ? last.obstacles.find((other) => other.letter === part) : part);
  axle.cases = axle.cases.map((each) => ({...last, ...each, obstacles: each.obstacles.map(whole)}));
  for (const each of axle.cases) each.gaps = each.gaps.map(summed);
  mover(root, axle);
});
})();
