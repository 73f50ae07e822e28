// @ts-check
// Values that change by themselves: parts pushed by the machine. Each event carries the log's row
// number, so that after a cut the browser asks for what it missed. What is old greys and says so.

/**
 * @param {ParentNode} within
 * @param {(within: ParentNode) => void} start
 */
export function follow(within, start) {
  const place = within.querySelector("[data-live]");
  if (!(place instanceof HTMLElement) || !place.dataset.live) return;
  const url = place.dataset.live;
  delete place.dataset.live;
  let heard = Date.now();

  /** The browser opens a lost stream anew; one that was refused is tried again from here. */
  function open() {
    const stream = new EventSource(url);
    stream.addEventListener("part", take);
    stream.addEventListener("alive", hear);
    stream.addEventListener("error", () => {
      if (stream.readyState === EventSource.CLOSED && place?.isConnected) setTimeout(open, 3000);
    });
  }
  /** @param {MessageEvent} event */
  function take(event) {
    const { target, html } = JSON.parse(event.data);
    const old = document.getElementById(target);
    const held = old?.contains(document.activeElement) ?? false;
    if (!old || (held && typing())) return;
    if (old.innerHTML !== html) {
      old.innerHTML = html;
      start(old);
      if (held) {
        old.tabIndex = -1; // who goes by keyboard stays where he was
        old.focus();
      }
    }
    hear();
  }
  function hear() {
    heard = Date.now();
    mark();
  }
  /** The server speaks at least every two seconds; three without a word are a cut link. */
  function mark() {
    const late = Math.round((Date.now() - heard) / 1000);
    place?.classList.toggle("old", late >= 3);
    const told = document.getElementById("link");
    if (told) told.textContent = late >= 3 ? `No link for ${late} s: these values are old.` : "";
  }
  open();
  setInterval(mark, 1000);
}

/** Whether the person is typing in the part that would be replaced. */
function typing() {
  return document.activeElement instanceof HTMLInputElement && document.activeElement.value !== "";
}
