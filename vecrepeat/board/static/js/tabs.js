// Tabs of a card: one station is open at a time.

/**
 * Bind the tabs `to-NAME` of sections `station-NAME`; returns what opens one.
 *
 * @param bound what each station is told by its name: `shown` when it is opened, `hidden` when it is left.
 */
export function bindTabs($, bound) {
  const names = Object.keys(bound);

  function open(name) {
    for (const one of names) {
      const chosen = one === name;
      $(`to-${one}`).setAttribute('aria-selected', String(chosen));
      $(`to-${one}`).tabIndex = chosen ? 0 : -1;
      if (!chosen && !$(`station-${one}`).hidden) bound[one].hidden?.();
      $(`station-${one}`).hidden = !chosen;
    }
    bound[name].shown?.();
  }

  for (const name of names) {
    $(`to-${name}`).addEventListener('click', () => open(name));
    $(`to-${name}`).addEventListener('keydown', (event) => {
      const by = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
      if (!by) return;
      event.preventDefault();
      const next = names[(names.indexOf(name) + by + names.length) % names.length];
      open(next);
      $(`to-${next}`).focus();
    });
  }
  return open;
}
