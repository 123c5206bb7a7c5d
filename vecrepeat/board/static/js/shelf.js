// The shelf: each design a small cloth, the newest first.

import * as link from './link.js';

const when = new Intl.DateTimeFormat('en-GB', { day: 'numeric', month: 'long' });
/** Small cloths that were drawn, by design and time. */
const drawn = new Map();

export function layShelf({ folder, collections, designs, drawings }, $) {
  $('name').textContent = folder;
  document.title = `${folder}: designs`;
  $('standing').textContent = designs.length ? `${designs.length} ${designs.length === 1 ? 'design' : 'designs'}` : 'No designs yet';
  $('collections').replaceChildren(...collections.map(collectionOf));
  $('collected').hidden = !collections.length;
  $('shelf').replaceChildren(...designs.map(swatchOf));
  $('shelfhead').hidden = !designs.length;
  $('all').hidden = !designs.length;
  $('here').hidden = !drawings.length;
  $('drawings').replaceChildren(...drawings.map((drawing) => {
    const item = document.createElement('li');
    const button = document.createElement('button');
    button.type = 'button';
    button.textContent = `Begin with ${drawing}`;
    button.addEventListener('click', async () => {
      button.disabled = true;
      try {
        location.href = link.pageOf((await link.post('takeup', { drawing })).design);
      } catch (error) {
        $('told').textContent = error.message;
        button.disabled = false;
      }
    });
    item.append(button);
    return item;
  }));
}

/** A collection: its palette, as threads wound on a card, and what it holds. */
function collectionOf({ design, title, prints, colours }) {
  const item = document.createElement('li');
  const anchor = document.createElement('a');
  anchor.href = link.tableOf(design);
  anchor.dataset.collection = design;
  const threads = document.createElement('span');
  threads.className = 'threads';
  threads.append(...colours.map((colour) => {
    const thread = document.createElement('span');
    thread.style.background = colour;
    return thread;
  }));
  const [name, facts] = ['name', 'facts'].map((kind) => {
    const one = document.createElement('span');
    one.className = kind;
    return one;
  });
  name.textContent = title;
  facts.textContent = `${prints} prints in ${colours.length} colours`;
  anchor.append(threads, name, facts);
  item.append(anchor);
  return item;
}

function swatchOf({ design, title, when: time }) {
  const item = document.createElement('li');
  const anchor = document.createElement('a');
  anchor.href = link.pageOf(design);
  anchor.dataset.design = design;
  const picture = document.createElement('span');
  picture.className = 'picture';
  const name = document.createElement('span');
  name.className = 'name';
  name.textContent = title;
  const facts = document.createElement('span');
  facts.className = 'facts';
  facts.textContent = when.format(time * 1000);
  anchor.append(picture, name, facts);
  item.append(anchor);
  const key = `${design} ${time}`;
  if (!drawn.has(key)) drawn.set(key, link.picture('picture', { design }));
  drawn.get(key).then((address) => {
    const image = document.createElement('img');
    image.src = address;
    image.alt = '';
    picture.append(image);
  }, (error) => {
    picture.textContent = error.message;
  });
  return item;
}
