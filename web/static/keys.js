// One key on every page: "/" goes to the search.
"use strict";
document.addEventListener("keydown", (event) => {
  if (event.key !== "/" || event.ctrlKey || event.metaKey || event.altKey) return;
  const at = document.activeElement;
  if (at && (at.isContentEditable || /^(INPUT|TEXTAREA|SELECT)$/.test(at.tagName))) return;
  const box = document.querySelector("[data-slash]");
  if (!box) return;
  event.preventDefault();
  box.focus();
  box.select();
});
