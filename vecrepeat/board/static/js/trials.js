// Trials: the same toss under many seeds, the best of them to point at.

import * as link from './link.js';

export function bindTrials(store, $, { asked, take }) {
  let mine = null;
  $('trialstop').addEventListener('click', () => link.post('stop', { number: mine }));
  $('trialsheet').addEventListener('close', () => $('trials').focus());

  store.addEventListener('jobs', async ({ detail }) => {
    const job = detail.job ?? detail.jobs?.find(({ number }) => number === mine);
    if (!job || job.number !== mine) return;
    $('trialbar').hidden = $('trialstop').hidden = ['done', 'stopped', 'failed'].includes(job.state);
    if (job.total) Object.assign($('trialbar'), { max: job.total, value: Math.min(job.done, job.total) });
    if (job.total && job.state === 'working') $('trialsaid').textContent = `${job.done} of ${job.total} tossed`;
    if (job.state === 'failed' || job.state === 'stopped') {
      $('trialsaid').textContent = job.error || 'Stopped.';
    } else if (job.state === 'done') {
      mine = null;
      await show(job.facts);
    }
  });

  async function show({ files, trials, drawn }) {
    $('trialsaid').textContent = `The best ${trials.length} of ${drawn}, each two tiles by two. Point at one to take it.`;
    const { files: written } = await link.get('written');
    const sheet = written.find(({ file }) => files.some((path) => path.endsWith(`/${file}`) || path === file) && file.endsWith('.png'));
    const { address } = await link.post('take', { file: sheet.file });
    const picture = URL.createObjectURL(await (await fetch(address)).blob());
    const image = new Image();
    image.src = picture;
    await image.decode();
    $('triallist').replaceChildren(...trials.map(({ seed, score, picture: [x, y, w, h] }) => {
      const item = document.createElement('li');
      const button = document.createElement('button');
      const cut = document.createElement('canvas');
      [cut.width, cut.height] = [360, Math.round((360 * h * image.height) / (w * image.width))];
      const from = [x * image.width, y * image.height, w * image.width, h * image.height];
      cut.getContext('2d').drawImage(image, ...from, 0, 0, cut.width, cut.height);
      cut.setAttribute('aria-hidden', 'true');
      const name = document.createElement('span');
      name.textContent = score ? `Seed ${seed}, ${score.points} points` : `Seed ${seed}`;
      button.type = 'button';
      button.dataset.seed = seed;
      button.title = score?.words ?? '';
      button.append(cut, name);
      button.addEventListener('click', () => {
        $('trialsheet').close();
        take(seed);
      });
      item.append(button);
      return item;
    }));
    URL.revokeObjectURL(picture);
    $('triallist').querySelector('button')?.focus();
  }

  $('trialform').addEventListener('submit', async (event) => {
    event.preventDefault();
    const { settings, without } = asked();
    $('triallist').replaceChildren();
    $('trialsaid').textContent = 'Tossing …';
    $('trialbar').removeAttribute('value');
    $('trialbar').hidden = $('trialstop').hidden = false;
    try {
      if (without.length) throw new Error(`Lay it once without ${without.join(' and ')} first`);
      await store.send();
      const { seed, ...others } = settings;
      mine = (await link.post('start', { kind: 'trials', settings: { ...others, seeds: Number($('trialseeds').value) } })).number;
    } catch (error) {
      $('trialsaid').textContent = error.message;
      $('trialbar').hidden = $('trialstop').hidden = true;
    }
  });
  return () => {
    $('trialbar').hidden = $('trialstop').hidden = mine === null;
    $('trialsheet').showModal();
  };
}
