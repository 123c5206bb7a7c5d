// A picture that the server draws, in a window of its own over the cloth.

let latest = 0;

/** Show a picture as soon as its address has come. */
export async function showPicture($, title, address) {
  const mine = ++latest;
  $('shownhead').textContent = title;
  $('shownwait').textContent = 'Drawing …';
  $('shownpicture').hidden = true;
  if (!$('shown').open) $('shown').showModal();
  try {
    const found = await address;
    if (mine !== latest) return;
    $('shownpicture').src = found;
    $('shownpicture').alt = title;
    await $('shownpicture').decode();
    $('shownwait').textContent = '';
    $('shownpicture').hidden = false;
  } catch (error) {
    if (mine === latest) $('shownwait').textContent = error.message;
  }
}
