// Long work: what waits, works and has ended, the same in every tab.

import * as link from './link.js';
import { copyButton } from './said.js';

/** Start a job; resolves to it once it has ended well. */
export async function runJob(store, asked) {
  const over = new Map();
  let number = null;
  const ended = Promise.withResolvers();
  const settle = () => {
    const job = over.get(number);
    if (job?.state === 'done') ended.resolve(job);
    else if (job) ended.reject(new Error(job.error || job.state));
  };
  const hear = ({ detail }) => {
    for (const job of [detail.job, ...(detail.jobs ?? [])]) if (job && OVER.includes(job.state)) over.set(job.number, job);
    settle();
  };
  store.addEventListener('jobs', hear);
  try {
    ({ number } = await link.post('start', asked));
    settle();
    return await ended.promise;
  } finally {
    store.removeEventListener('jobs', hear);
  }
}

const OVER = ['done', 'stopped', 'failed'];
const WORDS = { waiting: 'Waits its turn', working: 'At work', done: 'Done', stopped: 'Stopped', failed: 'Failed' };
const KINDS = { export: 'Print file', compose: 'SVG pattern', proof: 'Proof', spec: 'Spec sheet', separate: 'Plates', cloth: 'Cut of cloth', roll: 'Wallpaper', batch: 'All designs', colourways: 'Line-up', check: 'Check', trials: 'Trials', linesheet: 'Line sheet', swatches: 'Swatches', begin: 'First cloth' };

/** Events: `ended` with a job that has ended since the page was opened. */
export class Jobs extends EventTarget {
  /** @param place where the list is shown, @param shows which jobs it shows. */
  constructor(place, shows) {
    super();
    Object.assign(this, { place, shows, jobs: new Map(), items: new Map() });
  }

  hear(news) {
    if (news.jobs) for (const job of news.jobs.toReversed()) this.#take(job);
    if (news.job) this.#take(news.job);
  }

  #take(job) {
    const before = this.jobs.get(job.number);
    this.jobs.set(job.number, job);
    if (this.shows(job)) {
      this.#show(job);
    } else {
      this.items.get(job.number)?.remove();
      this.items.delete(job.number);
    }
    if (before && OVER.includes(job.state) && !OVER.includes(before.state)) {
      this.dispatchEvent(new CustomEvent('ended', { detail: job }));
    }
  }

  #show(job) {
    let item = this.items.get(job.number);
    if (!item) {
      item = itemOf(job);
      this.items.set(job.number, item);
      this.place.prepend(item);
    }
    const part = (name) => item.querySelector(`.${name}`);
    item.dataset.state = job.state;
    part('state').textContent = WORDS[job.state];
    const working = job.state === 'working';
    part('bar').hidden = !working;
    if (working && job.total) {
      part('bar').max = job.total;
      part('bar').value = Math.min(job.done, job.total);
    }
    part('stop').hidden = OVER.includes(job.state);
    part('result').textContent = job.error || [...job.lines, ...job.notes].join('\n');
    part('result').hidden = !part('result').textContent;
    // What scrolls must be reached by keys.
    part('result').tabIndex = part('result').scrollHeight > part('result').clientHeight ? 0 : -1;
  }
}

function itemOf(job) {
  const item = document.createElement('li');
  item.className = 'job';
  const head = make('p', 'head');
  head.append(make('strong', 'kind', KINDS[job.kind] ?? job.kind), make('span', 'state'));
  const bar = make('progress', 'bar');
  bar.setAttribute('aria-label', `${KINDS[job.kind] ?? job.kind}: how far it is`);
  const stop = make('button', 'stop', 'Stop');
  stop.type = 'button';
  stop.addEventListener('click', () => link.post('stop', { number: job.number }));
  const deeds = make('div', 'row wrap');
  deeds.append(stop, copyButton(job.said, 'Copy command'));
  item.append(head, bar, make('p', 'result'), deeds);
  return item;
}

function make(tag, name, text = '') {
  const element = document.createElement(tag);
  element.className = name;
  element.textContent = text;
  return element;
}
