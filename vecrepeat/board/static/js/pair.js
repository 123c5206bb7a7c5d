// A device's first page: the word is typed, and gets it a token.

import * as link from './link.js';

const $ = (id) => document.getElementById(id);

$('pair').addEventListener('submit', async (event) => {
  event.preventDefault();
  $('told').textContent = '';
  try {
    const { token } = await link.post('pair', { word: $('word').value });
    location.replace(`./#${token}`);
  } catch (error) {
    $('told').textContent = error instanceof link.Refused ? `${error.message[0].toUpperCase()}${error.message.slice(1)}.` : 'The board can’t be reached.';
    $('word').select();
  }
});
