// Do the prints belong together: the findings of the cohesion check, with what to do.

import * as link from '../link.js';
import { sayDeed } from '../said.js';
import { TAB } from './store.js';

export function bindTogether(store, $) {
  $('look').addEventListener('click', async () => {
    $('look').disabled = true;
    $('looked').textContent = 'Looking at all prints …';
    try {
      const { found } = await link.post('collection/find', { profile: $('limits').value, by: TAB });
      $('looked').textContent = found.length ? `${found.length} found` : 'Nothing found: they belong together.';
      $('findings').replaceChildren(...found.map(({ what, advice, measure }) => {
        const item = document.createElement('li');
        const [head, more] = [document.createElement('strong'), document.createElement('p')];
        head.textContent = measure ? `${what}: ${measure}` : what;
        more.textContent = advice;
        item.append(head, more);
        return item;
      }));
    } catch (error) {
      $('looked').textContent = error.message;
    }
    $('look').disabled = false;
  });
  const say = () => sayDeed($('lookedsaid'), 'cohesion', { profile: $('limits').value });
  $('limits').addEventListener('change', say);
  store.addEventListener('change', () => {
    if ($('findings').children.length) $('looked').textContent = 'The collection has changed since.';
  });
  return { shown: say };
}
