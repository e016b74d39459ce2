// The keys of every page, the panel that shows them, and the press that prints.
"use strict";
const panelOfKeys = document.querySelector("#keys");
const keysOn = panelOfKeys.querySelector("[data-keys-on]");
keysOn.checked = keptHere("benchlore-keys") !== "off";
keysOn.addEventListener("change", () => keepHere("benchlore-keys", keysOn.checked ? "on" : "off"));
document.querySelector("[data-keys]").addEventListener("click", () => panelOfKeys.showModal());

const stops = () => [...document.querySelectorAll("[data-stop]")].filter((each) => each.checkVisibility());
const itemAt = () => document.activeElement.closest("[data-item]") || document.querySelector("[data-item=check]");
const press = (selector, within = document) => within?.querySelector(selector)?.click();
const move = (by) => {
  const all = stops();
  const at = all.indexOf(document.activeElement.closest("[data-item]")?.querySelector("summary[data-stop]") || document.activeElement.closest("[data-stop]"));
  all[Math.min(Math.max(at < 0 ? (by > 0 ? 0 : all.length - 1) : at + by, 0), all.length - 1)]?.focus();
};
const toBox = () => {
  const box = document.querySelector("[data-slash]");
  box?.focus();
  box?.select();
};
const KEYS = {
  "/": toBox,
  "?": () => panelOfKeys.showModal(),
  j: () => move(1),
  k: () => move(-1),
  n: () => press("[data-not]", itemAt()),
  f: () => press("[data-found]", itemAt()),
  u: () => press("[data-undo]"),
};
document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || document.querySelector("dialog[open]")) return;
  const at = document.activeElement;
  if (at.isContentEditable || /^(INPUT|TEXTAREA|SELECT)$/.test(at.tagName)) {
    if (event.key === "Escape" && document.querySelector("[data-stop]")) (at.closest("[data-stop]") || at).blur();
    if (event.key === "Escape") at.closest("[data-stop]")?.focus();
    return;
  }
  const arrow = at.closest("[data-stop]") && { ArrowDown: "j", ArrowUp: "k" }[event.key];
  const key = arrow || event.key;
  if (event.key === "Enter" && at.matches("li[data-stop]")) {
    event.preventDefault();
    at.querySelector("input:not([type=hidden])")?.focus();
  } else if (event.key === "Escape" && at.matches("details[open] > summary")) {
    at.parentElement.open = false;
  } else if (Object.hasOwn(KEYS, key) && (keysOn.checked || arrow)) {
    event.preventDefault();
    KEYS[key]();
  }
});
document.addEventListener("click", (event) => { if (event.target.closest("[data-print]")) window.print(); });
