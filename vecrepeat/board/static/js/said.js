// A deed as the command that does the same, to copy.

import * as link from './link.js';

/** Show lines of text that can be copied. */
export function showSaid(place, text) {
  place.classList.add('said');
  place.hidden = !text;
  if (place.dataset.text === text) return;
  place.dataset.text = text;
  const code = document.createElement('code');
  code.textContent = text;
  place.replaceChildren(code, copyButton(text, 'Copy'));
}

/** A button that copies a text. */
export function copyButton(text, word) {
  const button = document.createElement('button');
  button.type = 'button';
  button.textContent = word;
  button.setAttribute('aria-label', `${word}: ${text}`);
  button.addEventListener('click', async () => {
    await navigator.clipboard.writeText(text);
    button.textContent = 'Copied';
    setTimeout(() => {
      button.textContent = word;
    }, 2000);
  });
  return button;
}

/** Show a deed as the server words it; what can't be said shows nothing. Returns an error or null. */
export async function sayDeed(place, kind, settings, besides = []) {
  try {
    const { said } = await link.post('say', { kind, settings });
    showSaid(place, [said, ...besides].join('\n'));
    return null;
  } catch (error) {
    showSaid(place, '');
    return error;
  }
}
