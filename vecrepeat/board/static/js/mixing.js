// Mixing a colour: lightness, strength and hue by hand, or its code.

import { hexOfOklch, oklchOf } from './oklch.js';

const FIELDS = ['mixlight', 'mixstrong', 'mixhue'];

/**
 * Bind the mixing fields.
 *
 * @param moved told of a colour while a hand moves it, at most once a frame.
 * @param laid told of one that is to stay.
 */
export function bindMixing($, { moved, laid }) {
  let entry = null;
  let waiting = 0;

  const mixed = () => hexOfOklch([Number($('mixlight').value) / 100, Number($('mixstrong').value), Number($('mixhue').value)]);

  for (const id of FIELDS) {
    $(id).addEventListener('input', () => {
      $('mixcode').value = mixed();
      tint(mixed());
      waiting ||= requestAnimationFrame(() => {
        waiting = 0;
        if (entry) moved(entry, mixed());
      });
    });
    $(id).addEventListener('change', () => entry && laid(entry, mixed()));
  }
  $('mixcode').addEventListener('change', () => {
    const code = $('mixcode').value.trim().toLowerCase();
    if (/^#[0-9a-f]{6}$/.test(code) && entry) laid(entry, code);
    else if (entry) $('mixcode').value = entry.now;
  });
  $('mixback').addEventListener('click', () => entry && laid(entry, entry.colour));

  function tint(colour) {
    $('mixing').style.setProperty('--colour', colour);
    const chip = $('maincolours').querySelector('[aria-pressed="true"] .chip');
    if (chip) chip.style.background = colour;
  }

  return {
    /** Show a main colour to be moved, or nothing for null. */
    show(next) {
      const same = entry?.key === next?.key && entry?.now === next?.now;
      entry = next;
      $('mixing').hidden = !entry;
      if (!entry || same) return;
      $('mixed').textContent = entry.name;
      const [lightness, strength, hue] = oklchOf(entry.now);
      [$('mixlight').value, $('mixstrong').value] = [lightness * 100, strength];
      // A grey has no hue of its own: the one that a hand has set stays.
      if (strength > 0.004) $('mixhue').value = hue;
      $('mixcode').value = entry.now;
      $('mixback').hidden = Boolean(entry.own);
      tint(entry.now);
    },
  };
}
