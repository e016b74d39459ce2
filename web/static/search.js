// Comfort for the search page: Enter sends, the box grows with what is typed.
"use strict";
const box = document.querySelector("textarea[data-grow]");
if (box) {
  const grow = () => {
    box.style.height = "auto";
    box.style.height = `${box.scrollHeight + 4}px`;
  };
  box.addEventListener("input", grow);
  box.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.shiftKey || event.isComposing) return;
    event.preventDefault();
    // An empty field says nothing, so it stays out of the address.
    box.form.requestSubmit();
  });
  box.form.addEventListener("submit", () => {
    for (const field of box.form.querySelectorAll("input, textarea")) field.disabled = field.value === "";
    setTimeout(() => { for (const field of box.form.querySelectorAll("input, textarea")) field.disabled = false; }, 0);
  });
  grow();
}
