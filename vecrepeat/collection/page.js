// The buyer's page: prints at one scale, in the colourway that is chosen. Nothing is fetched.
"use strict";
const data = JSON.parse(document.getElementById("data").textContent);
const at = (id) => document.getElementById(id);

function made(name, words = "", parent = null) {
  const element = document.createElement(name);
  element.textContent = words;
  if (parent) parent.append(element);
  return element;
}

const cloths = data.prints.map((print) => {
  const figure = made("figure", "", at("prints"));
  figure.className = print.role;
  const cloth = made("div", "", figure);
  cloth.className = "cloth";
  cloth.setAttribute("role", "img");
  cloth.setAttribute("aria-label", `${print.name}, ${print.role}`);
  // One straight block, in mm of the cloth times the page's pixels to the mm.
  const [width, height] = print.block;
  cloth.style.backgroundSize = `calc(${width} * var(--scale)) calc(${height} * var(--scale))`;
  const caption = made("figcaption", "", figure);
  made("b", print.name, caption);
  made("span", `${print.role}, ${print.size}`, caption);
  return cloth;
});

const chips = data.palette.map(() => {
  const item = made("li", "", at("palette"));
  return { chip: made("i", "", item), name: made("b", "", item), values: made("div", "", item) };
});

const buttons = data.ways.map((way, number) => {
  const button = made("button", "", at("ways"));
  button.type = "button";
  const colours = made("i", "", button);
  for (const colour of way.colours.slice(0, 8)) made("b", "", colours).style.background = colour;
  made("span", way.name, button);
  button.addEventListener("click", () => show(number));
  return button;
});

function show(number) {
  const way = data.ways[number];
  buttons.forEach((button, k) => button.setAttribute("aria-pressed", String(k === number)));
  cloths.forEach((cloth, k) => { cloth.style.backgroundImage = `url("${way.cloths[k]}")`; });
  chips.forEach(({ chip, name, values }, k) => {
    const { name: called, printer } = data.palette[k];
    chip.style.background = way.colours[k];
    name.textContent = called;
    values.replaceChildren();
    for (const words of [...data.values[way.colours[k]], printer]) {
      if (words) made("span", words, values);
    }
  });
}

at("scale").addEventListener("input", (event) => {
  document.documentElement.style.setProperty("--scale", `${event.target.value}px`);
});
at("told").textContent = `${data.prints.length} prints, all at one scale`;
for (const words of data.cautions) made("p", words, at("cautions"));
show(0);
