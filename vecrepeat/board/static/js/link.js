// The line to the server: requests that carry this run's token, and the stream of news.

const TOKEN = decodeURIComponent(location.hash.slice(1));
/** The design that this page shows, "" where it shows none. */
export const DESIGN = new URLSearchParams(location.search).get('design') ?? '';

/** The address of a design's page, or of the first page for none. */
export function pageOf(design) {
  return `${design ? `design.html?${new URLSearchParams({ design })}` : './'}#${TOKEN}`;
}

/** The address of a collection's page. */
export function tableOf(collection) {
  return `collection.html?${new URLSearchParams({ design: collection })}#${TOKEN}`;
}

/** The address of the machine's page about devices. */
export const SHARING = `sharing.html#${TOKEN}`;

export class Refused extends Error {
  constructor(message, status) {
    super(message);
    this.status = status;
  }
}

async function request(path, options = {}) {
  const query = new URLSearchParams({ design: DESIGN, ...options.query });
  const response = await fetch(`/api/${path}?${query}`, {
    ...options,
    headers: { 'X-Board-Token': TOKEN, 'Content-Type': 'application/json' },
  });
  if (response.ok) return response;
  // A device that is not paired, or not any more.
  if (response.status === 401) location.replace('pair.html');
  const text = await response.text();
  let message = text;
  try {
    message = JSON.parse(text).error;
  } catch {
    // The guard answers in plain words.
  }
  throw new Refused(message, response.status);
}

export async function get(path, query) {
  return (await request(path, { query })).json();
}

export async function post(path, body, query) {
  return (await request(path, { method: 'POST', body: JSON.stringify(body), query })).json();
}

/** A picture that the server draws, as an address for an image. */
export async function picture(path, query) {
  return URL.createObjectURL(await (await request(path, { query })).blob());
}

/** A picture of what is asked for. */
export async function blob(path, body) {
  return (await request(path, { method: 'POST', body: JSON.stringify(body) })).blob();
}

/** The same, as an address for an image. */
export async function drawn(path, body) {
  return URL.createObjectURL(await blob(path, body));
}

/** Send a file; `query` says which and what for. */
export async function send(path, file, query) {
  return (await request(path, { method: 'POST', body: file, query })).json();
}

const SILENCE = 12000;

/** Listen to the news for ever; `lost` is told when the server is not there any more. */
export async function listen(heard, lost) {
  for (;;) {
    let silence = 0;
    const stop = new AbortController();
    const wait = () => {
      clearTimeout(silence);
      silence = setTimeout(() => stop.abort(), SILENCE);
    };
    try {
      wait();
      const response = await request('events', { signal: stop.signal });
      const reader = response.body.pipeThrough(new TextDecoderStream()).getReader();
      for (let rest = ''; ; ) {
        const { value, done } = await reader.read();
        if (done) break;
        wait();
        const lines = (rest + value).split('\n');
        rest = lines.pop();
        for (const line of lines) {
          const news = JSON.parse(line);
          if (Object.keys(news).length) heard(news);
        }
      }
      lost(null);
    } catch (error) {
      lost(error);
    }
    clearTimeout(silence);
    await new Promise((done) => setTimeout(done, 700));
  }
}
