// The first page: the folder's designs as small cloths, and a place to begin.

import { bindBeginning } from './beginning.js';
import { Jobs } from './jobs.js';
import * as link from './link.js';
import { sayDeed } from './said.js';
import { layShelf } from './shelf.js';
import { listWritten } from './written.js';

const $ = (id) => document.getElementById(id);

async function start() {
  const jobs = new Jobs($('jobs'), (job) => !job.design || job.kind === 'check' || (job.kind === 'begin' && job.state !== 'done'));
  const again = async () => {
    layShelf(await link.get('home'), $);
    if ($('all').hidden) return;
    sayDeed($('batchsaid'), 'batch', {});
    listWritten($('written'), $('writtenfolder'));
  };
  bindBeginning(jobs, $);
  $('tablet').href = link.SHARING;
  $('batch').addEventListener('click', async () => {
    try {
      jobs.hear({ job: await link.post('start', { kind: 'batch', settings: {} }) });
    } catch (error) {
      $('told').textContent = error.message;
    }
  });
  jobs.addEventListener('ended', again);
  await again();
  link.listen(
    (news) => {
      jobs.hear(news);
      if (news.shares) $('tablet').hidden = false;
    },
    () => {
      $('standing').textContent = 'The program behind this page has stopped: start vecrepeat board again.';
    },
  );
  document.body.dataset.ready = '1';
}

start().catch((error) => {
  $('standing').textContent = error instanceof link.Refused ? `This page can't be used: ${error.message}.` : `The page can't start: ${error.message}`;
});
