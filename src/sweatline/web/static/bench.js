// @ts-check
// At the bench: the advice spoken aloud, the screen kept awake, and the forms behind four buttons,
// which close when the machine has what was typed, so that the advice is seen.

/** @param {ParentNode} within */
export function atTheBench(within) {
  const bench = within.querySelector("[data-bench]");
  if (!(bench instanceof HTMLElement)) return;
  speak(bench);
  tellShortly(bench);
  stayAwake();
  for (const place of bench.querySelectorAll("[data-tabs]")) tabs(place);
}

/** Say what is to be done, and again when it changes. @param {HTMLElement} bench */
function speak(bench) {
  const button = bench.querySelector("button[data-say]");
  const told = document.getElementById("told");
  if (!(button instanceof HTMLButtonElement) || !told || !("speechSynthesis" in window)) return;
  button.hidden = false;
  button.setAttribute("aria-pressed", "false");
  function say() {
    const words = told?.textContent?.replaceAll("°", " degrees ");
    speechSynthesis.cancel();
    if (words) speechSynthesis.speak(new SpeechSynthesisUtterance(words));
  }
  const watch = new MutationObserver(say);
  button.addEventListener("click", () => {
    const on = button.getAttribute("aria-pressed") !== "true";
    button.setAttribute("aria-pressed", String(on));
    button.textContent = on ? "Be silent" : "Say it aloud";
    watch.disconnect();
    if (on) {
      watch.observe(told, { childList: true });
      say();
    } else {
      speechSynthesis.cancel();
    }
  });
}

/** What was kept is told for a while; a problem stands. @param {HTMLElement} bench */
function tellShortly(bench) {
  const said = bench.querySelector("#said");
  if (!said) return;
  let timer = 0;
  new MutationObserver(() => {
    clearTimeout(timer);
    if (!said.childElementCount || said.querySelector(".problem, .progress")) return;
    timer = setTimeout(() => said.replaceChildren(), 8000);
  }).observe(said, { childList: true });
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
  place.addEventListener("kept", (event) => {
    const open = buttons.find((button) => button.getAttribute("aria-expanded") === "true");
    const form = document.getElementById(open?.getAttribute("data-shows") ?? "");
    if (!(event.target instanceof Node) || !form?.contains(event.target)) return;
    const here = form.contains(document.activeElement);
    show("");
    if (here && open instanceof HTMLElement) open.focus();
  });
  show("");
}
