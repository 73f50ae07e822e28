// @ts-check
// A form keeps what was typed until the machine has it. `data-keep` names the draft; a form with
// `data-part` is sent without leaving the page and its answer fills the element of that id. Every
// try carries the same key, so that a repeated one is not a second entry.

/**
 * @param {ParentNode} within
 * @param {(within: ParentNode) => void} start
 */
export function keepForms(within, start) {
  for (const form of within.querySelectorAll("form[data-keep]")) {
    keep(/** @type {HTMLFormElement} */ (form));
  }
  for (const form of within.querySelectorAll("form[data-part]")) {
    sendAsPart(/** @type {HTMLFormElement} */ (form), start);
  }
  for (const field of within.querySelectorAll("input[data-kind], input[data-key]")) {
    understand(/** @type {HTMLInputElement} */ (field));
  }
}

/** @param {HTMLFormElement} form */
function draftOf(form) {
  return `draft ${location.pathname} ${form.dataset.keep}`;
}

/** A key of its own for each thing typed. */
function newKey() {
  return crypto.getRandomValues(new Uint32Array(4)).join("-");
}

/** What a field held when the page was drawn. @param {HTMLInputElement | HTMLSelectElement | HTMLTextAreaElement} field */
export function drawn(field) {
  if (!(field instanceof HTMLSelectElement)) return field.defaultValue;
  return ([...field.options].find((option) => option.defaultSelected) ?? field.options[0])?.value;
}

/** Fields whose content is kept, by id or name; the key belongs to what was typed. @param {HTMLFormElement} form */
export function fieldsOf(form) {
  /** @type {Map<string, HTMLInputElement | HTMLSelectElement | HTMLTextAreaElement>} */
  const found = new Map();
  for (const field of form.elements) {
    const typed = field instanceof HTMLSelectElement || field instanceof HTMLTextAreaElement;
    if (!typed && !(field instanceof HTMLInputElement)) continue;
    if (!["hidden", "radio", "checkbox", "file"].includes(field.type) || field.name === "key") {
      found.set(field.id || field.name, field);
    }
  }
  return found;
}

/** @param {HTMLFormElement} form */
function keep(form) {
  const draft = draftOf(form);
  const held = JSON.parse(localStorage.getItem(draft) ?? "{}");
  for (const [name, field] of fieldsOf(form)) {
    if (typeof held[name] === "string") field.value = held[name];
  }
  form.addEventListener("input", () => {
    const fields = fieldsOf(form);
    const key = fields.get("key");
    if (key) key.value = newKey();
    // Only what was typed: the rest is the machine's to say when the page is drawn again.
    const typed = [...fields].filter(([name, field]) => name === "key" || field.value !== drawn(field)).map(([name, field]) => [name, field.value]);
    localStorage.setItem(draft, JSON.stringify(Object.fromEntries(typed)));
  });
  form.addEventListener("submit", () => {
    if (!form.dataset.part) localStorage.removeItem(draft);
  });
}

/**
 * @param {HTMLFormElement} form
 * @param {(within: ParentNode) => void} start
 */
function sendAsPart(form, start) {
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const place = document.getElementById(form.dataset.part ?? "");
    const button = event.submitter instanceof HTMLButtonElement ? event.submitter : null;
    if (!place || form.dataset.sending) return;
    form.dataset.sending = "1";
    const body = new FormData(form, button);
    const pressed = Date.now();
    const draft = draftOf(form); // the answer may lead to another address
    if (!body.get("key")) body.set("key", newKey());
    for (let wait = 500; ; wait = Math.min(2 * wait, 5000)) {
      // It happened when the button was pressed, however late it arrives.
      body.set("ago", String((Date.now() - pressed) / 1000));
      try {
        const answer = await fetch(form.action, { method: "POST", body, headers: { "x-part": "1" } });
        const text = await answer.text();
        if (answer.status < 500) {
          place.innerHTML = text;
          start(place);
          const key = fieldsOf(form).get("key");
          // What was typed while this was on its way has a key of its own, and stays.
          if (answer.ok && (!key?.value || key.value === body.get("key"))) {
            localStorage.removeItem(draft);
            form.reset();
            key?.removeAttribute("value");
            form.dispatchEvent(new Event("kept", { bubbles: true }));
          }
          break;
        }
      } catch {
        const told = form.querySelector("[data-told]") ?? place;
        told.innerHTML = '<span class="progress">No link; what you typed is kept and sent when it is back.</span>';
      }
      await new Promise((done) => setTimeout(done, wait));
    }
    delete form.dataset.sending;
  });
}

/** Show beside a field how its text is understood. @param {HTMLInputElement} field */
function understand(field) {
  const told = document.getElementById(`${field.id}-understood`);
  let timer = 0;
  const ask = async () => {
    if (!told) return;
    const { kind = "", key = "", job = "" } = field.dataset;
    const asked = new URLSearchParams({ kind, key, job, text: field.value });
    try {
      const answer = await fetch(`/understood?${asked}`, { headers: { "x-part": "1" } });
      told.textContent = await answer.text();
    } catch {
      told.textContent = "";
    }
  };
  field.addEventListener("input", () => {
    clearTimeout(timer);
    timer = setTimeout(ask, 250);
  });
  // Typed before this page was listening, or kept from the last visit.
  if (field.value !== field.defaultValue) ask();
}
