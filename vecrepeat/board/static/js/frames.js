// Work that is done once a frame, however often it is asked for.

/** Does work once a frame with the last of what it was given. */
export function framed(work) {
  let given = null;
  let asked = 0;
  return {
    ask(...values) {
      given = values;
      asked ||= requestAnimationFrame(() => {
        asked = 0;
        work(...given);
      });
    },
    now() {
      if (!asked) return;
      cancelAnimationFrame(asked);
      asked = 0;
      work(...given);
    },
    stop() {
      cancelAnimationFrame(asked);
      asked = 0;
    },
  };
}
