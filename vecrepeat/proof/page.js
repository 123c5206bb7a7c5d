// The proof page: one canvas on which the endless cloth is drawn at any scale. In the page it
// follows lattice.js, whose functions say where copies lie.
// Lengths are mm of cloth; `view` says which point lies in the middle and how many CSS pixels
// a millimetre takes.
const data = JSON.parse(document.getElementById("data").textContent);
const canvas = document.getElementById("cloth");
const pen = canvas.getContext("2d");
const byId = (id) => document.getElementById(id);
const CARD = 85.6; // mm, width of a card of ISO/IEC 7810 format ID-1 (from memory)
const LONGEST = 4096; // px, side of the picture of a block
const MANY = 900; // copies drawn one by one; above that a picture of the block is repeated

let layout = data.layouts[0];
let colours = data.colourways[0];
let joins = false;
let ruler = true;
let screen = Number(remembered("screen")) || 96 / 25.4; // CSS pixels to a mm of this screen
const view = { x: layout.cell[0] / 2, y: layout.cell[1] / 2, zoom: screen };
let painted = null; // { image, x, y, zoom, width, height } last drawn, in mm and px per mm
let block = null; // { image, zoom, layout, colours }
let waiting = 0;

function remembered(key) {
  try { return localStorage.getItem(`vecrepeat-${key}`); } catch { return null; }
}

function remember(key, value) {
  try { localStorage.setItem(`vecrepeat-${key}`, value); } catch { /* a file may have no storage */ }
}

// For a console, and for tests that compare with Python.
globalThis.copiesIn = (region) => copies(layout.placements, layout, region);

// ---------------------------------------------------------------- drawing

function svgOf(region, width, height) {
  const drawn = copies(layout.placements, layout, region).map(([number, i, j]) => {
    const p = layout.placements[number], [dx, dy] = at(layout, i, j);
    const [a, b, c, d, e, f] = p.matrix;
    return `<use xlink:href="#${data.motifs[p.motif]}" transform="matrix(${a} ${b} ${c} ${d} ${e + dx} ${f + dy})"/>`;
  });
  const box = [region[0], region[1], region[2] - region[0], region[3] - region[1]];
  const ground = `<rect x="${box[0]}" y="${box[1]}" width="${box[2]}" height="${box[3]}" fill="${colours.ground ?? "#ffffff"}"/>`;
  return `<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" width="${width}" height="${height}" viewBox="${box.join(" ")}" preserveAspectRatio="none"><defs>${colours.definitions}</defs>${ground}${drawn.join("")}</svg>`;
}

async function picture(region, width, height) {
  const image = new Image();
  image.src = URL.createObjectURL(new Blob([svgOf(region, width, height)], { type: "image/svg+xml" }));
  await image.decode();
  URL.revokeObjectURL(image.src);
  return image;
}

function shown(margin = 0) {
  const w = canvas.clientWidth / view.zoom / 2 + margin, h = canvas.clientHeight / view.zoom / 2 + margin;
  return [view.x - w, view.y - h, view.x + w, view.y + h];
}

/** Draws sharply what is in view: copy by copy, or by repeating a picture of the block. */
async function refresh() {
  const turn = ++waiting;
  const ratio = window.devicePixelRatio || 1;
  const here = { x: view.x, y: view.y, zoom: view.zoom, layout, colours };
  const region = shown();
  let image;
  if (copies(layout.placements, layout, region).length <= MANY) {
    image = await picture(region, Math.round(canvas.clientWidth * ratio), Math.round(canvas.clientHeight * ratio));
  } else {
    const [bw, bh] = layout.block;
    const fit = Math.min(view.zoom * ratio, LONGEST / Math.max(bw, bh));
    if (!block || block.layout !== layout || block.colours !== colours || Math.abs(Math.log(block.zoom / fit)) > 0.01) {
      const w = Math.max(1, Math.round(bw * fit)), h = Math.max(1, Math.round(bh * fit));
      block = { image: await picture([0, 0, bw, bh], w, h), zoom: fit, layout, colours };
    }
    image = document.createElement("canvas");
    image.width = Math.round(canvas.clientWidth * ratio);
    image.height = Math.round(canvas.clientHeight * ratio);
    const tiles = image.getContext("2d");
    const pattern = tiles.createPattern(block.image, "repeat");
    const k = (here.zoom * ratio * bw) / block.image.width;
    pattern.setTransform(new DOMMatrix([k, 0, 0, (here.zoom * ratio * bh) / block.image.height, -region[0] * here.zoom * ratio, -region[1] * here.zoom * ratio]));
    tiles.fillStyle = pattern;
    tiles.fillRect(0, 0, image.width, image.height);
  }
  if (turn !== waiting) return;
  painted = { ...here, image, width: canvas.clientWidth, height: canvas.clientHeight };
  document.body.dataset.ready = String(turn);
  show();
}

function show() {
  const ratio = window.devicePixelRatio || 1;
  const width = Math.round(canvas.clientWidth * ratio), height = Math.round(canvas.clientHeight * ratio);
  if (canvas.width !== width || canvas.height !== height) { canvas.width = width; canvas.height = height; }
  pen.setTransform(ratio, 0, 0, ratio, 0, 0);
  pen.fillStyle = colours.ground ?? "#ffffff";
  pen.fillRect(0, 0, canvas.clientWidth, canvas.clientHeight);
  if (painted && painted.layout === layout && painted.colours === colours) {
    const k = view.zoom / painted.zoom;
    const x = (painted.x - view.x) * view.zoom + canvas.clientWidth / 2 - (painted.width / 2) * k;
    const y = (painted.y - view.y) * view.zoom + canvas.clientHeight / 2 - (painted.height / 2) * k;
    pen.drawImage(painted.image, x, y, painted.width * k, painted.height * k);
  }
  if (joins) drawJoins();
  drawMarks();
  if (ruler) drawRuler();
  const scale = view.zoom / screen;
  byId("scale").textContent = scale >= 0.995 && scale <= 1.005 ? "1 : 1" : scale > 1 ? `${scale.toFixed(scale < 10 ? 1 : 0)} : 1` : `1 : ${(1 / scale).toFixed(scale > 0.1 ? 1 : 0)}`;
}

const toX = (x) => (x - view.x) * view.zoom + canvas.clientWidth / 2;
const toY = (y) => (y - view.y) * view.zoom + canvas.clientHeight / 2;

function drawJoins() {
  const region = shown();
  pen.beginPath();
  for (const [i, j] of cellsIn(layout, region)) {
    const [dx, dy] = at(layout, i, j), [w, h] = layout.cell;
    pen.rect(toX(dx), toY(dy), w * view.zoom, h * view.zoom);
  }
  pen.lineWidth = 3; pen.strokeStyle = "#ffffff"; pen.setLineDash([]); pen.stroke();
  pen.lineWidth = 1.5; pen.strokeStyle = "#b3261e"; pen.setLineDash([7, 5]); pen.stroke();
  pen.setLineDash([]);
}

function drawMarks() {
  if (layout !== data.layouts[0]) return;
  pen.font = "bold 12px Helvetica, Arial, sans-serif"; pen.textAlign = "center"; pen.textBaseline = "middle";
  data.findings.forEach((finding, number) => {
    if (!finding.at) return;
    const x = toX(finding.at[0]), y = toY(finding.at[1]);
    pen.beginPath(); pen.arc(x, y, 11, 0, 7); pen.fillStyle = "#ffffff"; pen.fill();
    pen.lineWidth = 2; pen.strokeStyle = "#b3261e"; pen.stroke();
    pen.fillStyle = "#b3261e"; pen.fillText(String(number + 1), x, y + 0.5);
  });
}

function drawRuler() {
  const width = canvas.clientWidth;
  pen.fillStyle = "rgba(255,255,255,0.93)"; pen.fillRect(0, 0, width, 44);
  pen.fillStyle = pen.strokeStyle = "#26282c"; pen.lineWidth = 1;
  pen.font = "11px Helvetica, Arial, sans-serif"; pen.textAlign = "center"; pen.textBaseline = "alphabetic";
  const left = view.x - width / 2 / view.zoom;
  for (const [unit, mm, at, grow, parts] of [["cm", 10, 0, 1, 10], ["in", 25.4, 44, -1, 8]]) {
    let step = 1;
    while (step * mm * view.zoom < 34) step *= step.toString().startsWith("2") ? 2.5 : 2;
    const minor = step === 1 && (mm / parts) * view.zoom > 3.5 ? 1 / parts : step / 5 * mm * view.zoom > 6 ? step / 5 : step;
    pen.beginPath();
    for (let k = Math.ceil(left / (minor * mm)); k * minor * mm < left + width / view.zoom; k++) {
      const x = Math.round(toX(k * minor * mm)) + 0.5;
      const major = Math.abs((k * minor) / step - Math.round((k * minor) / step)) < 1e-6;
      pen.moveTo(x, at); pen.lineTo(x, at + grow * (major ? 9 : 5));
    }
    pen.stroke();
    for (let k = Math.ceil(left / (step * mm)); k * step * mm < left + width / view.zoom; k++)
      pen.fillText(k === 0 ? `0 ${unit}` : String(k * step), toX(k * step * mm), at === 0 ? 19 : 32);
  }
}

// ---------------------------------------------------------------- moving about

let later = 0;
function changed() {
  show();
  clearTimeout(later);
  later = setTimeout(refresh, 90);
}

function zoomAt(factor, px = canvas.clientWidth / 2, py = canvas.clientHeight / 2) {
  const next = Math.min(60 * screen, Math.max(screen / 60, view.zoom * factor));
  const dx = px - canvas.clientWidth / 2, dy = py - canvas.clientHeight / 2;
  view.x += dx / view.zoom - dx / next;
  view.y += dy / view.zoom - dy / next;
  view.zoom = next;
  changed();
}

const touching = new Map();
canvas.addEventListener("pointerdown", (event) => {
  canvas.setPointerCapture(event.pointerId);
  touching.set(event.pointerId, [event.offsetX, event.offsetY]);
});
canvas.addEventListener("pointermove", (event) => {
  const before = touching.get(event.pointerId);
  if (!before) return;
  const others = [...touching].filter(([id]) => id !== event.pointerId);
  const now = [event.offsetX, event.offsetY];
  if (others.length) {
    const [, far] = others[0];
    const span = (p) => Math.hypot(p[0] - far[0], p[1] - far[1]) || 1;
    zoomAt(span(now) / span(before), (now[0] + far[0]) / 2, (now[1] + far[1]) / 2);
  }
  const share = others.length ? 0.5 : 1;
  view.x -= ((now[0] - before[0]) / view.zoom) * share;
  view.y -= ((now[1] - before[1]) / view.zoom) * share;
  touching.set(event.pointerId, now);
  changed();
});
for (const end of ["pointerup", "pointercancel"]) canvas.addEventListener(end, (event) => touching.delete(event.pointerId));
canvas.addEventListener("wheel", (event) => {
  event.preventDefault();
  zoomAt(Math.exp(-event.deltaY * (event.ctrlKey ? 0.01 : 0.0016)), event.offsetX, event.offsetY);
}, { passive: false });

const trueSize = () => zoomAt(screen / view.zoom);
const acrossRoom = () => zoomAt(screen / 10 / view.zoom);
function toggle(id, on) { byId(id).setAttribute("aria-pressed", String(on)); show(); }
const toggleJoins = () => { joins = !joins; toggle("joins", joins); };
const toggleRuler = () => { ruler = !ruler; toggle("rule", ruler); };
byId("closer").onclick = () => zoomAt(1.5);
byId("farther").onclick = () => zoomAt(1 / 1.5);
byId("true").onclick = trueSize;
byId("room").onclick = acrossRoom;
byId("joins").onclick = toggleJoins;
byId("rule").onclick = toggleRuler;

document.addEventListener("keydown", (event) => {
  if (event.target.closest("select, input") || event.ctrlKey || event.metaKey || event.altKey) return;
  const step = 60 / view.zoom;
  const keys = {
    ArrowLeft: () => { view.x -= step; changed(); }, ArrowRight: () => { view.x += step; changed(); },
    ArrowUp: () => { view.y -= step; changed(); }, ArrowDown: () => { view.y += step; changed(); },
    "+": () => zoomAt(1.25), "=": () => zoomAt(1.25), "-": () => zoomAt(0.8), "0": trueSize,
    j: toggleJoins, r: toggleRuler,
    l: () => chooseLayout((data.layouts.indexOf(layout) + 1) % data.layouts.length),
  };
  const action = keys[event.key] ?? keys[event.key.toLowerCase()];
  if (action) { event.preventDefault(); action(); }
});

// ---------------------------------------------------------------- the side

function chooseLayout(number) {
  layout = data.layouts[number];
  byId("layout").value = String(number);
  painted = null;
  changed();
}

function chooseColours(number) {
  colours = data.colourways[number];
  const list = byId("palette");
  list.replaceChildren(...data.palette.map((entry) => {
    const row = document.createElement("li");
    const chip = document.createElement("i"), name = document.createElement("span"), value = document.createElement("span");
    const colour = entry.ground && colours.ground ? colours.ground : colours.colours[entry.colour] ?? entry.colour;
    chip.style.background = colour;
    name.textContent = entry.name;
    value.textContent = `${colour} ${entry.share}`;
    row.append(chip, name, value);
    return row;
  }));
  painted = null;
  changed();
}

for (const [label, value] of data.facts) {
  const term = document.createElement("dt"), detail = document.createElement("dd");
  term.textContent = label; detail.textContent = value;
  byId("facts").append(term, detail);
}
data.layouts.forEach((one, number) => byId("layout").append(new Option(one.name, String(number))));
data.colourways.forEach((one, number) => byId("colourway").append(new Option(one.name, String(number))));
byId("layout").onchange = (event) => chooseLayout(Number(event.target.value));
byId("colourway").onchange = (event) => chooseColours(Number(event.target.value));
byId("ways").hidden = data.colourways.length < 2;
if (!data.findings.length) {
  const row = document.createElement("li");
  row.textContent = "Nothing found.";
  byId("findings").append(row);
}
data.findings.forEach((finding, number) => {
  const row = document.createElement("li"), button = document.createElement("button");
  const mark = document.createElement("b"), words = document.createElement("span");
  mark.textContent = String(number + 1);
  words.textContent = finding.words;
  button.append(mark, words);
  button.disabled = !finding.at;
  button.onclick = () => {
    if (layout !== data.layouts[0]) chooseLayout(0);
    [view.x, view.y] = finding.at;
    if (view.zoom < screen) view.zoom = screen;
    changed();
  };
  row.append(button);
  byId("findings").append(row);
});
for (const words of data.cautions) {
  const line = document.createElement("p");
  line.textContent = words;
  byId("cautions").append(line);
}
const slider = byId("screen");
slider.value = String(screen);
byId("bar").style.width = `${CARD * screen}px`;
slider.oninput = () => {
  const scale = view.zoom / screen;
  screen = Number(slider.value);
  view.zoom = scale * screen;
  byId("bar").style.width = `${CARD * screen}px`;
  remember("screen", slider.value);
  changed();
};
new ResizeObserver(changed).observe(canvas);
chooseColours(0);
refresh();
