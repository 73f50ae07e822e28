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
  const stream = new EventSource(url);
  stream.addEventListener("part", (event) => {
    const { target, html } = JSON.parse(event.data);
    const old = document.getElementById(target);
    if (!old || (old.contains(document.activeElement) && typing())) return;
    if (old.innerHTML !== html) {
      old.innerHTML = html;
      start(old);
    }
    heard = Date.now();
    mark();
  });
  let heard = Date.now();
  /** The server speaks at least every two seconds; three without a word are a cut link. */
  function mark() {
    const late = Math.round((Date.now() - heard) / 1000);
    place?.classList.toggle("old", late >= 3);
    const told = document.getElementById("link");
    if (told) told.textContent = late >= 3 ? `No link for ${late} s: these values are old.` : "";
  }
  stream.addEventListener("alive", () => {
    heard = Date.now();
    mark();
  });
  setInterval(mark, 1000);
}

/** Whether the person is typing in the part that would be replaced. */
function typing() {
  return document.activeElement instanceof HTMLInputElement && document.activeElement.value !== "";
}
