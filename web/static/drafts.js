// What is typed into a write-up is kept in this browser until it is saved, and offered back after a reload.
"use strict";
const form = document.querySelector("form[data-draft]");
if (form) {
  const key = `benchlore-draft:${form.dataset.draft}`;
  const fields = () => [...form.elements].filter(
    (each) => each.name && !["hidden", "submit", "button", "file"].includes(each.type));
  const read = () => {
    const typed = {};
    for (const each of fields()) {
      if (each.type === "checkbox" || each.type === "radio") {
        (typed[each.name] ??= []).push(...(each.checked ? [each.value] : []));
      } else {
        typed[each.name] = each.value;
      }
    }
    return typed;
  };
  const write = (typed) => {
    for (const each of fields()) {
      if (!(each.name in typed)) continue;
      if (each.type === "checkbox" || each.type === "radio") each.checked = typed[each.name].includes(each.value);
      else each.value = typed[each.name];
      each.dispatchEvent(new Event("input", { bubbles: true }));
    }
  };
  // The key goes with what was typed: sent a second time, it is still one case.
  const once = form.elements.namedItem("once");
  const opened = JSON.stringify(read());
  const state = form.querySelector("[data-draft-state]");
  const offer = document.querySelector("[data-draft-offer]");
  const keep = (always) => {
    const typed = read();
    if ("sent" in form.dataset || (always !== true && JSON.stringify(typed) === opened)) return;
    const kept = keepHere(key, { when: Date.now(), typed, once: once?.value });
    if (state) state.textContent = kept ? "Kept in this browser until it is saved." : "This browser keeps no drafts: save before you leave the page.";
  };
  // What came back from the server with its faults is what was typed: it is the draft now.
  const typed = "draftTyped" in form.dataset;
  if (typed) keep(true);
  const draft = typed ? null : keptHere(key);
  if (draft && draft.typed && JSON.stringify(draft.typed) !== opened) {
    offer.hidden = false;
    offer.querySelector("[data-draft-when]").textContent = new Date(draft.when).toLocaleString([], { dateStyle: "medium", timeStyle: "short" });
    offer.querySelector("[data-draft-take]").addEventListener("click", () => {
      offer.hidden = true;
      write(draft.typed);
      if (once && draft.once) once.value = draft.once;
      for (const folded of form.querySelectorAll("details")) folded.open = true;
      form.querySelector("textarea, input:not([type=hidden])").focus();
    });
    offer.querySelector("[data-draft-drop]").addEventListener("click", () => {
      localStorage.removeItem(key);
      offer.hidden = true;
    });
  }
  form.addEventListener("input", whenStill(250, () => keep()));
  window.addEventListener("pagehide", () => keep());
  form.addEventListener("submit", () => keep());
  // The technician's initials are the same tomorrow.
  const tech = form.elements.namedItem("tech");
  if (tech) {
    if (!tech.value && form.dataset.draft === "new") tech.value = localStorage.getItem("benchlore-tech") || "";
    form.addEventListener("submit", () => localStorage.setItem("benchlore-tech", tech.value));
  }
  document.querySelector("#faults")?.focus();
}
