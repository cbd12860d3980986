// What the whole page does by script: it says that scripts run, offers its data as a file, enlarges pictures, and opens
// what is folded when it is printed.
(() => {
"use strict";

document.documentElement.classList.add("scripted");

// ---------------------------------------------------------------- the data as a file

// a block of data as text: base64 of gzip. Unpacked here (RFC 1951, RFC 1952), so that it is there at once and anywhere
const LENGTHS = [3, 4, 5, 6, 7, 8, 9, 10, 11, 13, 15, 17, 19, 23, 27, 31, 35, 43, 51, 59, 67, 83, 99, 115, 131, 163, 195, 227, 258];
const LENGTH_BITS = [0, 0, 0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 2, 2, 2, 2, 3, 3, 3, 3, 4, 4, 4, 4, 5, 5, 5, 5, 0];
const BACK = [1, 2, 3, 4, 5, 7, 9, 13, 17, 25, 33, 49, 65, 97, 129, 193, 257, 385, 513, 769, 1025, 1537, 2049, 3073, 4097, 6145, 8193, 12289, 16385, 24577];
const BACK_BITS = [0, 0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 5, 5, 6, 6, 7, 7, 8, 8, 9, 9, 10, 10, 11, 11, 12, 12, 13, 13];
const ORDER = [16, 17, 18, 0, 8, 7, 9, 6, 10, 5, 11, 4, 12, 3, 13, 2, 14, 1, 15];

// how many codes there are of each length, and the symbols in the order of their codes
function codes(lengths) {
  const count = new Array(16).fill(0);
  for (const length of lengths) count[length] += 1;
  count[0] = 0;
  const next = [0, 0];
  for (let i = 1; i < 15; i += 1) next[i + 1] = next[i] + count[i];
  const symbols = [];
  lengths.forEach((length, symbol) => { if (length) symbols[next[length]++] = symbol; });
  return {count, symbols};
}

function inflated(input, size) {
  const output = new Uint8Array(size);
  let [at, bit, end] = [0, 0, 0];
  const bits = (need) => {
    let value = 0;
    for (let i = 0; i < need; i += 1, bit += 1) value |= ((input[bit >> 3] >> (bit & 7)) & 1) << i;
    return value;
  };
  const symbol = ({count, symbols}) => {
    for (let [code, first, index, length] = [0, 0, 0, 1]; length < 16; length += 1, bit += 1) {
      code |= (input[bit >> 3] >> (bit & 7)) & 1;
      if (code - count[length] < first) { bit += 1; return symbols[index + code - first]; }
      index += count[length];
      first = (first + count[length]) << 1;
      code <<= 1;
    }
    throw new Error("a block of data is damaged");
  };
  const tables = () => {
    const [literals, distances, own] = [bits(5) + 257, bits(5) + 1, bits(4) + 4];
    const short = new Array(19).fill(0);
    for (let i = 0; i < own; i += 1) short[ORDER[i]] = bits(3);
    const [code, lengths] = [codes(short), []];
    while (lengths.length < literals + distances) {
      const s = symbol(code);
      if (s < 16) lengths.push(s);
      else {
        const again = s === 16 ? lengths[lengths.length - 1] : 0;
        const times = s === 16 ? 3 + bits(2) : s === 17 ? 3 + bits(3) : 11 + bits(7);
        for (let i = 0; i < times; i += 1) lengths.push(again);
      }
    }
    return [codes(lengths.slice(0, literals)), codes(lengths.slice(literals))];
  };
  const fixed = () => [
    codes(Array.from({length: 288}, (_, i) => (i < 144 ? 8 : i < 256 ? 9 : i < 280 ? 7 : 8))), codes(new Array(30).fill(5)),
  ];
  while (!end) {
    end = bits(1);
    const kind = bits(2);
    if (kind === 0) { // stored as it is
      const from = ((bit + 7) >> 3) + 4;
      const length = input[from - 4] | (input[from - 3] << 8);
      output.set(input.subarray(from, from + length), at);
      at += length;
      bit = 8 * (from + length);
      continue;
    }
    const [literal, distance] = kind === 1 ? fixed() : tables();
    for (let s = symbol(literal); s !== 256; s = symbol(literal)) {
      if (s < 256) output[at++] = s;
      else {
        const length = LENGTHS[s - 257] + bits(LENGTH_BITS[s - 257]);
        const d = symbol(distance);
        const back = BACK[d] + bits(BACK_BITS[d]);
        for (let i = 0; i < length; i += 1, at += 1) output[at] = output[at - back];
      }
    }
  }
  return output;
}

const HEADER = 10; // bytes of gzip before what is packed; the last four tell the size
window.unpacked = (id) => {
  const bytes = Uint8Array.from(atob(document.getElementById(id).textContent), (c) => c.charCodeAt(0));
  const size = new DataView(bytes.buffer).getUint32(bytes.length - 4, true);
  return new TextDecoder().decode(inflated(bytes.subarray(HEADER), size));
};

const link = document.getElementById("download");
link.addEventListener("click", () => {
  if (!link.href) link.href = URL.createObjectURL(new Blob([unpacked("data")], {type: "application/json"}));
});
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
large.addEventListener("close", () => pane.replaceChildren());

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
