// What is told: a sentence that stands for a moment, longer where something went wrong.

const SHORT = 4000;
const LONG = 12000;

/** Show a store's notices in a place. */
export function bindNotices(store, place) {
  let telling = 0;
  store.addEventListener('notice', ({ detail: { text, grave } }) => {
    place.textContent = text;
    place.classList.toggle('grave', grave);
    place.classList.add('shown');
    clearTimeout(telling);
    telling = setTimeout(() => place.classList.remove('shown'), grave ? LONG : SHORT);
  });
}
