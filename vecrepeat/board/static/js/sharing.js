// The machine's page about devices: how one gets in, which are in, and how they are let go.

import * as link from './link.js';

const $ = (id) => document.getElementById(id);
const time = new Intl.DateTimeFormat('en-GB', { hour: '2-digit', minute: '2-digit' });

function show({ address, fingerprint, word, closed, most, devices }) {
  $('standing').textContent = `${devices.length} of ${most} paired`;
  $('wayin').hidden = !word;
  $('shut').hidden = !closed;
  $('address').textContent = address;
  $('fingerprint').textContent = fingerprint;
  $('word').textContent = word ?? '';
  $('code').alt = `A code that holds ${address}`;
  $('howmany').textContent = devices.length === most
    ? 'No more may be paired. Let one go, or start the board with --devices and a larger number.'
    : devices.length ? '' : 'None.';
  $('devices').replaceChildren(...devices.map(({ number, at, since }) => {
    const item = document.createElement('li');
    const go = document.createElement('button');
    go.type = 'button';
    go.textContent = 'Let it go';
    go.setAttribute('aria-label', `Let device ${number} go`);
    go.addEventListener('click', async () => show(await link.post('sharing/letgo', { number })));
    item.append(`Device ${number}, at ${at}, since ${time.format(since * 1000)}`, go);
    return item;
  }));
}

async function start() {
  const again = async () => show(await link.get('sharing'));
  for (const home of document.querySelectorAll('.home')) home.href = link.pageOf('');
  await again();
  $('code').src = await link.picture('sharing/code');
  $('code').hidden = false;
  $('reopen').addEventListener('click', async () => show(await link.post('sharing/reopen', {})));
  link.listen(
    (news) => news.sharing && again(),
    () => {
      $('standing').textContent = 'The program behind this page has stopped: start vecrepeat board again.';
    },
  );
  document.body.dataset.ready = '1';
}

start().catch((error) => {
  $('standing').textContent = `This page can't be used: ${error.message}`;
});
