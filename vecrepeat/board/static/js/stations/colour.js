// Colour: the cloth in a colourway of the recipe's, to look at, not to keep.

import * as link from '../link.js';

export function bindColour(table, store, $, { dressed }) {
  const { colourways } = store.data;
  $('dressing').hidden = !colourways.length;
  $('nodressing').hidden = colourways.length > 0;
  $('colourway').append(...colourways.map((name) => new Option(name, name)));
  $('colourway').addEventListener('change', async () => {
    try {
      const { value } = $('colourway');
      await table.dress(await link.post('dress', { colourway: value }), !value);
      await dressed();
    } catch (error) {
      store.notice(error.message, true);
    }
  });
  return {};
}
