// @ts-check
// A machine under a finger. While a slider moves, only the numbers and the lines that change are
// fetched, one request at a time and always for where the slider is by then. When it rests, the
// address is kept, the trial runs begin, and pictures that no longer fit are drawn anew.
import { fetchPart } from "./later.js";

const REST = 600; // ms

/**
 * @param {ParentNode} within
 * @param {(within: ParentNode) => void} start
 */
export function moveMachine(within, start) {
  const sure = within.querySelector("#sure"); // trial runs are done: the sentence tells how sure it is
  if (sure) {
    set("sentence", { text: sure.textContent ?? "" });
    sure.remove();
  }
  const form = within.querySelector("#movers");
  const place = form?.closest("[data-moving]");
  if (!(form instanceof HTMLFormElement) || !(place instanceof HTMLElement)) return;
  const base = place.dataset.moving ?? "";
  let busy = false;
  let again = false;
  let resting = 0;
  let inside = true;

  function query() {
    const asked = new URLSearchParams();
    for (const [name, value] of new FormData(form)) if (name !== "moved") asked.set(name, String(value));
    return asked;
  }

  async function follow() {
    if (busy) {
      again = true;
      return;
    }
    busy = true;
    const asked = query();
    asked.set("frame", document.getElementById("pictures")?.dataset.frame ?? "");
    try {
      const answer = await fetch(`${base}/live?${asked}`, { headers: { "x-part": "1" } });
      if (answer.status === 200) show(await answer.json());
    } catch {
      tell("No link to the machine.", true);
    }
    busy = false;
    if (again) {
      again = false;
      follow();
    }
  }

  /** @param {{problem?: string, sentence: string, limits: string, inside: boolean, seen: Object<string, string>,
   *   moved: Object<string, string>, moves: Object<string, Object<string, string>>}} now */
  function show(now) {
    for (const [key, text] of Object.entries(now.moved)) {
      set(`moved-${key}`, { text });
      set(key, { "aria-valuetext": text });
    }
    tell(now.problem ?? now.sentence, Boolean(now.problem));
    if (now.problem) return;
    set("limits", { text: now.limits });
    for (const [key, text] of Object.entries(now.seen)) set(`seen-${key}`, { text });
    for (const [id, move] of Object.entries(now.moves)) set(id, move);
    inside = now.inside;
  }

  async function rest() {
    const asked = query().toString();
    set("sentence", { "aria-live": "polite", text: document.getElementById("sentence")?.textContent ?? "" });
    history.replaceState(null, "", `${base}?${asked}`);
    for (const link of document.querySelectorAll("nav a")) {
      if (link instanceof HTMLAnchorElement) link.search = asked;
    }
    const curve = document.getElementById("curve");
    if (curve?.parentElement) {
      curve.dataset.later = `${base}/curve?${asked}`;
      start(curve.parentElement);
    }
    const numbers = document.getElementById("numbers");
    const pictures = document.getElementById("picture-place");
    if (!inside && pictures) await fetchPart(pictures, `${base}/pictures?${asked}`, start);
    numbers?.classList.add("old");
    if (numbers) await fetchPart(numbers, `${base}/numbers?${asked}`, start);
    numbers?.classList.remove("old");
  }

  form.addEventListener("input", (event) => {
    if (event.target instanceof HTMLInputElement && event.target.type !== "range") return;
    set("sentence", { "aria-live": "off" }); // a voice says it once, at rest
    clearTimeout(resting);
    resting = setTimeout(rest, REST);
    follow();
  });
}

/** @param {string} text @param {boolean} old whether what is shown is not of these settings */
function tell(text, old) {
  set("sentence", { text });
  document.getElementById("shown")?.classList.toggle("old", old);
}

/** @param {string} id @param {Object<string, string>} what attributes; `text` is the content */
function set(id, what) {
  const element = document.getElementById(id);
  if (!element) return;
  for (const [name, value] of Object.entries(what)) {
    if (name === "text") {
      if (element.textContent !== value) element.textContent = value;
    } else if (element.getAttribute(name) !== value) element.setAttribute(name, value);
  }
}
