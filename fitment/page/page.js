// What the whole page does by script: it says that scripts run, offers its data as a file, enlarges pictures, and opens
// what is folded when it is printed.
(() => {
"use strict";

document.documentElement.classList.add("scripted");

// ---------------------------------------------------------------- the data as a file

const link = document.getElementById("download");
const packed = Uint8Array.from(atob(document.getElementById("data").textContent), (c) => c.charCodeAt(0));
const offer = (blob) => { link.href = URL.createObjectURL(blob); };
if (window.DecompressionStream) {
  new Response(new Blob([packed]).stream().pipeThrough(new DecompressionStream("gzip"))).blob()
    .then((blob) => offer(new Blob([blob], {type: "application/json"})));
} else { // an older browser saves it as it is
  link.download += ".gz";
  offer(new Blob([packed], {type: "application/gzip"}));
}

// ---------------------------------------------------------------- pictures enlarged

const large = document.getElementById("large");
const pane = large.querySelector(".pane");
const larger = large.querySelector(".larger");

function grow(on) {
  large.classList.toggle("full", on);
  larger.setAttribute("aria-pressed", String(on));
}

function enlarge(figure) {
  pane.replaceChildren(figure.querySelector("svg").cloneNode(true));
  large.setAttribute("aria-label", figure.querySelector("svg").getAttribute("aria-label"));
  grow(false);
  large.showModal();
}

for (const figure of document.querySelectorAll("figure.picture")) {
  figure.querySelector(".enlarge").addEventListener("click", () => enlarge(figure));
  figure.querySelector("svg").addEventListener("click", () => {
    if (getSelection().isCollapsed) enlarge(figure); // who marks a text wants the text
  });
}
larger.addEventListener("click", () => grow(!large.classList.contains("full")));
large.querySelector(".shut").addEventListener("click", () => large.close());
large.addEventListener("click", (event) => { if (event.target === large) large.close(); });
large.addEventListener("close", () => { if (!large.open) pane.replaceChildren(); }); // it may be open again by then

// ---------------------------------------------------------------- paper

let closed = [];
addEventListener("beforeprint", () => {
  closed = [...document.querySelectorAll("details:not([open])")];
  for (const fold of closed) fold.open = true;
});
addEventListener("afterprint", () => {
  for (const fold of closed) fold.open = false;
  closed = [];
});
})();
