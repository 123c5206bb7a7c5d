// What the collection says, which colourway is looked at, and the steps that change its file.

import * as link from '../link.js';

export const TAB = Math.random().toString(36).slice(2, 10);

/**
 * Events: `change` when the file says something else, `way` when another colourway is looked at,
 * `standing`, `jobs` with news of them, and `notice` with a sentence to tell.
 */
export class Store extends EventTarget {
  constructor(data) {
    super();
    this.take(data);
    this.way = data.ways[0].name;
    this.steps = Promise.resolve();
  }

  take(data) {
    this.data = data;
    this.standing = { ...this.standing, ...data.standing, lost: false };
    if (!data.ways.some(({ name }) => name === this.way)) this.way = data.ways[0].name;
  }

  /** The palette as it is looked at: colours by name. */
  get palette() {
    return this.data.ways.find(({ name }) => name === this.way).colours;
  }

  /** Whether the palette itself is looked at, and no colourway. */
  get plain() {
    return this.way === this.data.ways[0].name;
  }

  wear(way) {
    this.way = way;
    this.dispatchEvent(new Event('way'));
  }

  recolour(name, colour) {
    return this.step('recolour', { way: this.way, name, colour }, `${name} ${colour}`);
  }

  undo() {
    if (this.standing.undo) this.step('turn', { turn: -1 }, `Undone: ${this.standing.undo}`);
  }

  redo() {
    if (this.standing.redo) this.step('turn', { turn: 1 }, `Done again: ${this.standing.redo}`);
  }

  /** Make a step, one after the other; resolves to the answer, or null where it was not made. */
  step(what, asked, told) {
    this.steps = this.steps.then(async () => {
      let answer = null;
      try {
        answer = await link.post(`collection/${what}`, { ...asked, after: this.standing.count, by: TAB });
        this.notice(told);
      } catch (error) {
        const quicker = error.status === 409 && error.message.startsWith('another tab');
        this.notice(quicker ? 'Another tab was quicker; your last change was not made' : error.message, true);
      }
      await this.again();
      return answer;
    });
    return this.steps;
  }

  /** Take everything from the server anew. */
  async again() {
    this.take(await link.get('collection'));
    this.dispatchEvent(new Event('change'));
  }

  listen() {
    link.listen(
      async (news) => {
        if (news.job || news.jobs) this.dispatchEvent(new CustomEvent('jobs', { detail: news }));
        if (!('count' in news)) return;
        await this.steps;
        const { count, version } = this.standing;
        this.stand({ ...news, count, version, lost: false });
        if (news.count > count || news.version > version) await this.again();
      },
      (error) => {
        if (error instanceof link.Refused) this.notice(error.message, true);
        this.stand({ lost: true });
      },
    );
  }

  stand(standing) {
    this.standing = { ...this.standing, ...standing };
    this.dispatchEvent(new Event('standing'));
  }

  notice(text, grave = false) {
    this.dispatchEvent(new CustomEvent('notice', { detail: { text, grave } }));
  }
}
