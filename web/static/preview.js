// The body as it will read, a moment after the typing stops.
"use strict";
const source = document.querySelector("textarea[data-preview]");
const pane = document.querySelector("[data-preview-pane]");
if (source && pane) {
  const target = pane.querySelector("[data-preview-body]");
  let asked = 0;
  const show = async () => {
    const turn = ++asked;
    pane.hidden = source.value.trim() === "";
    if (pane.hidden) return;
    const token = source.form.elements.namedItem("csrf_token").value;
    try {
      const answer = await fetch("/preview", {
        method: "POST",
        headers: { "X-CSRFToken": token },
        body: new URLSearchParams({ body: source.value }),
      });
      const html = await answer.text();
      if (turn === asked && answer.ok) target.innerHTML = html;
    } catch {
      if (turn === asked) target.textContent = "The server does not answer just now; what you type is kept.";
    }
  };
  source.addEventListener("input", whenStill(300, show));
  show();
}
