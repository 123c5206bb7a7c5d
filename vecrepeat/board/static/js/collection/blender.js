// Making a blender: its kind, a few keys in plain words, colours of the palette. It is seen beside
// the hero before it is kept; kept, it is a recipe and a print of the collection.

import * as link from '../link.js';
import { oklchOf } from '../oklch.js';
import { showSaid } from '../said.js';
import { Piece } from './piece.js';
import { TAB } from './store.js';

const MM = 25.4;
/** How much lighter or darker than its ground a mark is at first, of OKLCh's lightness (set by eye). */
const CALM = 0.22;
/** What is thick rather than large. */
const LINED = ['windowpane', 'lattice', 'trellis', 'scallops', 'crosshatch', 'dashes'];
const WORDS = {
  size: (kind) => (LINED.includes(kind) ? 'How thick' : 'How large'),
  spacing: () => 'From one to the next',
  length: () => 'How long',
  widths: () => 'Widths in turn, mm',
  order: () => 'How they lie',
  way: () => 'Which way',
  marks: () => 'Which marks',
  uneven: () => 'As uneven as by hand',
  seed: () => 'Another one',
};

export function bindBlender(table, store, $) {
  /** What the form says: { kind, told, colours, ground }. */
  let made = null;
  let latest = 0;
  let waits = 0;
  const tried = new Piece({ name: 'Not kept yet', role: 'blender', print: '' });
  tried.element.classList.add('tried');

  const kinds = () => store.data.kinds;
  const names = () => Object.keys(store.data.palette);

  $('kind').append(...Object.entries(kinds()).map(([name, { about }]) => new Option(about === name ? name : `${name}: ${about}`, name)));

  function begin(kind) {
    const ground = made?.ground ?? names()[0];
    made = { kind, told: {}, colours: [made?.colours[0] ?? calmOn(ground)], ground };
    layFields();
    layColours();
    $('blendername').value = freshName(kind);
    tell();
  }

  /** The palette's colour that is seen on a ground and rests the eye. */
  function calmOn(ground) {
    const light = (name) => oklchOf(store.data.palette[name])[0];
    const off = (name) => Math.abs(Math.abs(light(name) - light(ground)) - CALM);
    return names().filter((name) => name !== ground).sort((one, other) => off(one) - off(other))[0] ?? ground;
  }

  function freshName(kind) {
    const taken = store.data.prints.map(({ print }) => print);
    for (let n = 1; ; n++) {
      const name = n === 1 ? kind : `${kind}-${n}`;
      if (!taken.includes(name)) return name;
    }
  }

  // ---------------------------------------------------------------- the keys

  function layFields() {
    const { keys } = kinds()[made.kind];
    $('blenderfields').replaceChildren(...Object.entries(keys).map(([key, value]) => fieldOf(key, value)));
  }

  function fieldOf(key, value) {
    const outer = document.createElement('label');
    const words = document.createElement('span');
    words.textContent = WORDS[key](made.kind);
    const read = (text) => {
      made.told[key] = text;
      tell();
    };
    if (key === 'marks') return marksOf(value, read);
    let input = document.createElement('input');
    if (store.data.words[key]) {
      input = document.createElement('select');
      input.append(...store.data.words[key].map((word) => new Option(word, word, false, word === value)));
      input.addEventListener('change', () => read(input.value));
    } else if (key === 'widths') {
      input.value = value.map((one) => (mmOf(one)).toFixed(1)).join(', ');
      input.addEventListener('change', () => read(input.value.split(/[,;\s]+/).filter(Boolean).map((one) => `${one}mm`)));
    } else {
      Object.assign(input, { type: 'range' });
      const length = key !== 'uneven' && key !== 'seed';
      const [low, high, step] = key === 'seed' ? [1, 40, 1] : key === 'uneven' ? [0, 1, 0.05] : [0.1, 4, 0];
      const plain = length ? mmOf(value) : value;
      const by = length ? Math.max(0.05, Number((plain / 20).toPrecision(1))) : step;
      Object.assign(input, { step: by, min: length ? stepped(plain * low, by) : low, max: length ? stepped(plain * high, by) : high, value: plain });
      const said = document.createElement('output');
      const say = () => {
        said.textContent = length ? `${Number(input.value)} mm` : input.value;
      };
      say();
      input.addEventListener('input', () => {
        say();
        read(length ? `${Number(input.value)}mm` : Number(input.value));
      });
      words.append(' ', said);
    }
    input.id = `blender-${key}`;
    outer.append(words, input);
    return outer;
  }

  function marksOf(value, read) {
    const outer = document.createElement('fieldset');
    const legend = document.createElement('legend');
    legend.textContent = WORDS.marks();
    const boxes = store.data.words.marks.map((mark) => {
      const label = document.createElement('label');
      label.className = 'tick';
      const box = Object.assign(document.createElement('input'), { type: 'checkbox', value: mark, checked: value.includes(mark) });
      label.append(box, mark);
      label.addEventListener('change', () => {
        const found = [...outer.querySelectorAll('input:checked')].map((one) => one.value);
        if (found.length) read(found);
        else box.checked = true;
      });
      return label;
    });
    outer.append(legend, ...boxes);
    return outer;
  }

  // ---------------------------------------------------------------- colours

  function layColours() {
    const { most } = kinds()[made.kind];
    const chip = (name, pressed, press) => {
      const button = document.createElement('button');
      button.type = 'button';
      button.className = 'swatch';
      button.dataset.colour = name;
      button.style.setProperty('--colour', store.palette[name]);
      button.setAttribute('aria-pressed', String(pressed));
      button.setAttribute('aria-label', name);
      button.title = name;
      button.addEventListener('click', () => {
        press();
        layColours();
        tell();
      });
      return button;
    };
    const lay = (place, buttons) => {
      const focused = $(place).contains(document.activeElement) ? document.activeElement.dataset.colour : null;
      $(place).replaceChildren(...buttons);
      if (focused) $(place).querySelector(`[data-colour="${CSS.escape(focused)}"]`)?.focus();
    };
    lay('blenderground', names().map((name) => chip(name, name === made.ground, () => {
      const rest = made.colours.filter((one) => one !== name);
      made = { ...made, ground: name, colours: rest.length ? rest : [calmOn(name)] };
    })));
    lay('blendercolours', names().filter((name) => name !== made.ground).map((name) => chip(name, made.colours.includes(name), () => {
      const rest = made.colours.filter((one) => one !== name);
      if (rest.length === made.colours.length) made.colours = [...made.colours, name].slice(-most);
      else if (rest.length) made.colours = rest;
    })));
    $('blendermost').textContent = most === 1 ? 'one' : `one to ${most}, in the order that they are touched`;
  }

  // ---------------------------------------------------------------- seen beside the hero

  const settings = () => {
    const hex = (name) => store.data.palette[name];
    const told = Object.fromEntries(Object.entries(made.told).map(([key, value]) => [key, Array.isArray(value) ? value.join(',') : value]));
    return { kind: made.kind, name: $('blendername').value.trim(), ...told, colours: made.colours.map(hex).join(','), ground: hex(made.ground) };
  };

  /** Say the command, and draw it: at once, and again while it changes. */
  function tell() {
    clearTimeout(waits);
    waits = setTimeout(draw, 120);
  }

  async function draw() {
    const mine = ++latest;
    const asked = { ...made, way: store.way, scale: table.scale * table.dpr, by: TAB };
    try {
      const { said } = await link.post('say', { kind: 'blender', settings: settings() });
      if (mine === latest) showSaid($('blendersaid'), said);
      const found = await link.post('collection/blend', asked);
      if (mine !== latest) return;
      const hero = table.place.querySelector('figure');
      if (!tried.element.isConnected) hero.after(tried.element);
      tried.scale = asked.scale;
      tried.facts = found;
      tried.say();
      tried.fit(table.dpr);
      await tried.lay(new Blob([Uint8Array.from(atob(found.picture), (one) => one.charCodeAt(0))]), '');
      $('blendernotes').textContent = found.notes.join('. ');
      $('blendernotes').classList.remove('grave');
      $('keep').disabled = false;
    } catch (error) {
      if (mine !== latest) return;
      $('blendernotes').textContent = error.message;
      $('blendernotes').classList.add('grave');
      $('keep').disabled = true;
    }
  }

  function away() {
    latest++;
    clearTimeout(waits);
    tried.element.remove();
    made = null;
  }

  $('kind').addEventListener('change', () => begin($('kind').value));
  $('blendername').addEventListener('input', tell);
  $('making').addEventListener('submit', async (event) => {
    event.preventDefault();
    $('keep').disabled = true;
    const name = $('blendername').value.trim();
    const answer = await store.step('keep', { settings: settings() }, `${name} is a print of the collection`);
    if (!answer) {
      $('keep').disabled = false;
      return;
    }
    stop();
  });

  function stop() {
    away();
    $('making').hidden = true;
    $('newblender').hidden = false;
    $('newblender').focus();
  }
  $('newblender').addEventListener('click', () => {
    $('making').hidden = false;
    $('newblender').hidden = true;
    begin($('kind').value);
    $('kind').focus();
  });
  $('notkept').addEventListener('click', stop);
  const anew = () => {
    if (!made) return;
    layColours();
    tell();
  };
  store.addEventListener('way', anew);
  store.addEventListener('change', anew);
  table.addEventListener('scaled', anew);
  return {};
}

/** A length as a recipe has it, in mm. */
function mmOf(text) {
  const [value, under] = text.replace('in', '').split('/').map(Number);
  return (value / (under || 1)) * MM;
}

function stepped(value, by) {
  return Number((Math.max(1, Math.round(value / by)) * by).toFixed(4));
}
