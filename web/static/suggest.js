// Suggestions from what the notebook already says, so that one thing keeps one name: buttons under the field.
"use strict";
const lists = new Set(["symptom", "parts"]);
for (const box of document.querySelectorAll("[data-suggest]")) {
  const field = box.dataset.suggest;
  const row = document.createElement("div");
  row.className = "suggested";
  row.setAttribute("aria-label", "Suggestions");
  row.setAttribute("role", "group");
  row.hidden = true;
  box.after(row);
  let asked = 0;
  const separator = () => (box.value.includes("\n") ? "\n" : ",");
  const current = () => (lists.has(field) ? box.value.split(separator()).pop() : box.value).trim();
  const take = (text) => {
    const items = box.value.split(separator()).slice(0, -1).map((each) => each.trim()).filter(Boolean);
    fillBox(box, lists.has(field) ? [...items, text].join(separator() === "," ? ", " : "\n") : text);
    box.focus();
    row.hidden = true;
  };
  const show = (texts) => {
    row.replaceChildren(...texts.map((text) => newButton(text, () => take(text))));
    row.hidden = texts.length === 0;
    if (box.closest(".write-up")) row.scrollIntoView({ block: "nearest" });  // not under the bar that saves
  };
  const ask = async () => {
    const text = current();
    // A whole sentence is a complaint, not the beginning of a name.
    if (!text || (field === "search" && text.length > 40)) { show([]); return; }
    const turn = ++asked;
    try {
      const answer = await fetch(`/api/suggest?${new URLSearchParams({ field, text })}`);
      const { suggestions } = await answer.json();
      if (turn !== asked) return;
      show(suggestions.filter((each) => each !== text));
    } catch {
      show([]);
    }
  };
  const askSoon = whenStill(150, ask);
  box.addEventListener("input", (event) => { if (event.isTrusted) askSoon(); });
  box.parentNode.addEventListener("keydown", (event) => {
    if (event.key === "Escape") { show([]); box.focus(); return; }
    const step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
    const stops = [box, ...row.children];
    const at = stops.indexOf(event.target);
    if (!step || row.hidden || at < 0 || !stops[at + step]) return;
    event.preventDefault();
    stops[at + step].focus();
  });
}
