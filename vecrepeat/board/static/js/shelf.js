// The shelf: each design a small cloth, the newest first.

import * as link from './link.js';

const when = new Intl.DateTimeFormat('en-GB', { day: 'numeric', month: 'long' });
/** Small cloths that were drawn, by design and time. */
const drawn = new Map();

export function layShelf({ folder, designs, drawings }, $) {
  $('name').textContent = folder;
  document.title = `${folder}: designs`;
  $('standing').textContent = designs.length ? `${designs.length} ${designs.length === 1 ? 'design' : 'designs'}` : 'No designs yet';
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
