// @ts-check
// A part that is calculated while the page stands: asked for until it is done (status 202: not yet).
// Pieces in it, `template data-for`, go to the elements of those ids. With `data-into` it then takes the place of the element of that id; in a `details` it is asked for
// when that is opened.

/**
 * @param {ParentNode} within
 * @param {(within: ParentNode) => void} start what a new part carries
 */
export function fetchParts(within, start) {
  for (const place of within.querySelectorAll("[data-later]")) {
    const ask = () => {
      const url = place.getAttribute("data-later");
      place.removeAttribute("data-later");
      if (url) fetchPart(/** @type {HTMLElement} */ (place), url, start);
    };
    const closed = place.closest("details:not([open])");
    if (closed) closed.addEventListener("toggle", ask, { once: true });
    else ask();
  }
}

/**
 * @param {HTMLElement} place
 * @param {string} url
 * @param {(within: ParentNode) => void} start
 */
export async function fetchPart(place, url, start) {
  place.dataset.asked = url;
  for (let wait = 150; ; wait = Math.min(1.3 * wait, 1500)) {
    let text = "";
    let status = 0;
    try {
      const answer = await fetch(url, { headers: { "x-part": "1" } });
      status = answer.status;
      text = await answer.text();
    } catch {
      text = '<p class="progress">No link to the machine; trying again.</p>';
    }
    if (!place.isConnected || place.dataset.asked !== url) return; // something newer is asked for
    const done = status !== 0 && status !== 202;
    const into = (done && document.getElementById(place.dataset.into ?? "")) || place;
    if (text) into.innerHTML = text;
    for (const piece of into.querySelectorAll("template[data-for]")) {
      const target = document.getElementById(/** @type {HTMLElement} */ (piece).dataset.for ?? "");
      if (piece instanceof HTMLTemplateElement) target?.replaceChildren(piece.content.cloneNode(true));
    }
    if (done) {
      start(into);
      return;
    }
    await new Promise((done) => setTimeout(done, wait));
  }
}
