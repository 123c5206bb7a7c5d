// What was written when, to be taken from the page.

import { fileSize } from './lengths.js';
import * as link from './link.js';

let when = null;

/** List the files of a design, or of all for "". */
export async function listWritten(list, where, design = link.DESIGN) {
  // Making one takes as long as all else that a page loads.
  when ??= new Intl.DateTimeFormat('en-GB', { day: 'numeric', month: 'short', hour: '2-digit', minute: '2-digit' });
  const { folder, files } = await link.get('written', { design });
  list.classList.add('written');
  where.textContent = files.length ? `In the folder ${folder}, newest first:` : 'Nothing yet.';
  list.replaceChildren(...files.map(({ file, name, bytes, when: time }) => {
    const item = document.createElement('li');
    const [told, facts, take] = ['span', 'span', 'button'].map((tag) => document.createElement(tag));
    told.className = 'name';
    told.textContent = name;
    facts.className = 'facts';
    facts.textContent = `${fileSize(bytes)}, ${when.format(time * 1000)}`;
    take.type = 'button';
    take.textContent = 'Take';
    take.setAttribute('aria-label', `Take ${name}`);
    take.addEventListener('click', async () => {
      const { address } = await link.post('take', { file }, { design });
      const anchor = document.createElement('a');
      anchor.href = address;
      anchor.download = '';
      anchor.click();
    });
    item.append(told, facts, take);
    return item;
  }));
}
