// @ts-check
// At the bench: the advice spoken aloud, the screen kept awake, and the forms behind four buttons.

/** @param {ParentNode} within */
export function atTheBench(within) {
  const bench = within.querySelector("[data-bench]");
  if (!(bench instanceof HTMLElement)) return;
  speak(bench);
  stayAwake();
  for (const place of bench.querySelectorAll("[data-tabs]")) tabs(place);
}

/** Say what is to be done, and again when it changes. @param {HTMLElement} bench */
function speak(bench) {
  const button = bench.querySelector("button[data-say]");
  const step = document.getElementById("step");
  if (!(button instanceof HTMLButtonElement) || !step || !("speechSynthesis" in window)) return;
  button.hidden = false;
  button.setAttribute("aria-pressed", "false");
  let said = "";
  function say() {
    const told = step?.querySelector("[data-told]")?.getAttribute("data-told") ?? "";
    // A countdown goes on second by second: only another word is worth saying.
    const word = told.split(".")[0];
    if (!told || word === said) return;
    said = word;
    speechSynthesis.cancel();
    speechSynthesis.speak(new SpeechSynthesisUtterance(told.replaceAll("°", " degrees ")));
  }
  const watch = new MutationObserver(say);
  button.addEventListener("click", () => {
    const on = button.getAttribute("aria-pressed") !== "true";
    button.setAttribute("aria-pressed", String(on));
    button.textContent = on ? "Be silent" : "Say it aloud";
    said = "";
    if (on) {
      watch.observe(step, { childList: true, subtree: true });
      say();
    } else {
      watch.disconnect();
      speechSynthesis.cancel();
    }
  });
}

/** Keep the screen on where the browser allows it. */
function stayAwake() {
  if (!("wakeLock" in navigator)) return;
  const ask = () => {
    if (document.visibilityState === "visible") navigator.wakeLock.request("screen").catch(() => {});
  };
  document.addEventListener("visibilitychange", ask);
  ask();
}

/** One form at a time, opened and shut by its button. @param {Element} place */
function tabs(place) {
  const nav = place.querySelector(".tabs");
  if (!(nav instanceof HTMLElement)) return;
  nav.hidden = false;
  const buttons = [...nav.querySelectorAll("button[data-shows]")];
  /** @param {string} wanted */
  function show(wanted) {
    for (const button of buttons) {
      const id = button.getAttribute("data-shows") ?? "";
      const form = document.getElementById(id);
      if (form) form.hidden = id !== wanted;
      button.setAttribute("aria-expanded", String(id === wanted));
    }
    if (wanted) document.querySelector(`#${wanted} input:not([type=hidden])`)?.focus();
  }
  for (const button of buttons) {
    const id = button.getAttribute("data-shows") ?? "";
    button.setAttribute("aria-controls", id);
    button.addEventListener("click", () => {
      show(button.getAttribute("aria-expanded") === "true" ? "" : id);
    });
  }
  show("");
}
