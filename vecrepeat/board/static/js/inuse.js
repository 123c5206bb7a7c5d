// The cloth in use, in true proportion: scenes that the server draws of what lies here now.

import * as link from './link.js';
import { showPicture } from './shown.js';
import { TAB } from './store.js';

/** In the order of the server's scenes. */
const SCENES = ['Wall', 'Curtain', 'Bolt', 'Cushion'];

export function bindInUse(table, store, $) {
  $('uses').replaceChildren(...SCENES.map((name, scene) => {
    const button = document.createElement('button');
    button.type = 'button';
    button.textContent = name;
    button.addEventListener('click', async () => {
      await store.send();
      showPicture($, `${name}, in true proportion`, link.drawn('use', { scene, row: table.dressing.row, by: TAB }));
    });
    return button;
  }));
}
