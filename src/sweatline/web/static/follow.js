// @ts-check
// A form whose answer follows its sliders: `data-follow` names the element that the answer fills.

/**
 * @param {ParentNode} within
 * @param {(within: ParentNode) => void} start
 */
export function followSliders(within, start) {
  for (const found of within.querySelectorAll("form[data-follow]")) {
    const form = /** @type {HTMLFormElement} */ (found);
    const place = document.getElementById(form.dataset.follow ?? "");
    if (!place) continue;
    let busy = false;
    let again = false;

    const follow = async () => {
      if (busy) {
        again = true;
        return;
      }
      busy = true;
      const asked = new URLSearchParams();
      for (const [name, value] of new FormData(form)) asked.set(name, String(value));
      try {
        const answer = await fetch(`${form.action}?${asked}`, { headers: { "x-part": "1" } });
        if (answer.status !== 202) {
          place.innerHTML = await answer.text();
          start(place);
        }
      } catch {
        place.classList.add("stale");
      }
      busy = false;
      if (again) {
        again = false;
        follow();
      }
    };

    form.addEventListener("input", (event) => {
      const field = event.target;
      if (field instanceof HTMLInputElement) {
        const told = document.getElementById(`moved-${field.id}`);
        const words = (field.dataset.words ?? "").split("|");
        const step = Math.round((Number(field.value) - Number(field.min)) / Number(field.step));
        if (told) told.textContent = words[step] ?? field.value;
        field.setAttribute("aria-valuetext", told?.textContent ?? field.value);
      }
      follow();
    });
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      follow();
    });
  }
}
