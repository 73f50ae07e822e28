// @ts-check
// A page drawn from a file that somebody may change outside: `data-file` is asked for its digest,
// and when that is another than `data-digest` the page is drawn again. What was typed stays typed.
import { drawn, fieldsOf } from "./forms.js";

const LOOK = 2000; // ms

/**
 * @param {ParentNode} within
 * @param {(within: ParentNode) => void} start
 */
export function watchFile(within, start) {
  for (const place of within.querySelectorAll("[data-file]")) {
    if (place instanceof HTMLElement) watch(place, start);
  }
}

/**
 * @param {HTMLElement} place
 * @param {(within: ParentNode) => void} start
 */
function watch(place, start) {
  const own = place.dataset.again;
  // Drafts go by the address: a form that came as an answer has the address of its own page.
  if (own && decodeURIComponent(location.pathname) !== own) history.replaceState(null, "", own);
  const timer = setInterval(async () => {
    if (!place.isConnected) return clearInterval(timer);
    if (document.hidden || place.dataset.sending) return;
    try {
      const answer = await fetch(place.dataset.file ?? "", { headers: { "x-part": "1" } });
      if (!answer.ok || (await answer.text()) === place.dataset.digest) return;
      const page = await fetch(place.dataset.again ?? location.href);
      if (!place.isConnected || place.dataset.sending) return;
      const read = new DOMParser().parseFromString(await page.text(), "text/html");
      const renewed = read.querySelector("[data-file]");
      if (!(renewed instanceof HTMLElement)) return; // the file cannot be read as it stands
      clearInterval(timer);
      replace(place, document.adoptNode(renewed), start);
    } catch {
      // no link: the next look tells
    }
  }, LOOK);
}

/**
 * @param {HTMLElement} old
 * @param {HTMLElement} renewed
 * @param {(within: ParentNode) => void} start
 */
function replace(old, renewed, start) {
  const at = document.activeElement?.id ?? "";
  if (old instanceof HTMLFormElement && renewed instanceof HTMLFormElement) {
    const twins = fieldsOf(renewed);
    for (const [name, field] of fieldsOf(old)) {
      const twin = twins.get(name);
      if (twin && field.value !== drawn(field)) twin.value = field.value;
    }
  }
  const frame = document.createElement("div");
  frame.append(renewed);
  old.replaceWith(frame);
  start(frame);
  const same = at ? document.getElementById(at) : null;
  if (same instanceof HTMLElement) {
    same.focus();
    if (same instanceof HTMLInputElement && same.type === "text") same.setSelectionRange(same.value.length, same.value.length);
  }
}
