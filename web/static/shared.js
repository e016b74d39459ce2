// What the scripts of several pages share; loaded before all of them.
"use strict";
document.documentElement.className = "scripted";
// What this browser keeps under a key, null for nothing; whether it could be kept.
const keptHere = (key) => { try { return JSON.parse(localStorage.getItem(key)); } catch { return null; } };
const keepHere = (key, value) => {
  try { localStorage.setItem(key, JSON.stringify(value)); return true; } catch { return false; }
};
// Returns what calls work once it was not called itself for so many milliseconds.
const whenStill = (ms, work) => {
  let waiting = 0;
  return () => { clearTimeout(waiting); waiting = setTimeout(work, ms); };
};
const newButton = (text, pressed) => {
  const made = document.createElement("button");
  made.type = "button";
  made.textContent = text;
  made.addEventListener("click", pressed);
  return made;
};
// Fills a box as if somebody had typed it, so that whatever listens hears of it.
const fillBox = (box, text) => { box.value = text; box.dispatchEvent(new Event("input", { bubbles: true })); };
const pageOf = async (answer) => new DOMParser().parseFromString(await answer.text(), "text/html");
