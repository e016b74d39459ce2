// A bench timer that goes on over pages and reloads, and can fill the fix time.
"use strict";
const TIMER = "benchlore-timer";
const panel = document.querySelector("[data-timer]");
const readTimer = () => {
  const kept = keptHere(TIMER) || {};
  return { since: Number(kept.since) || 0, before: Number(kept.before) || 0 };
};
const keepTimer = (timer) => keepHere(TIMER, timer);
// A clock that was set back must not take time away.
const spent = (timer) => timer.before + (timer.since ? Math.max(0, Date.now() - timer.since) : 0);
const clock = (ms) => {
  const minutes = Math.floor(ms / 60000);
  return `${Math.floor(minutes / 60)}:${String(minutes % 60).padStart(2, "0")}`;
};
if (panel) {
  const shown = panel.querySelector("[data-timer-time]");
  const go = panel.querySelector("[data-timer-go]");
  const zero = panel.querySelector("[data-timer-zero]");
  const use = document.querySelector("[data-timer-use]");
  const show = () => {
    const timer = readTimer();
    const time = spent(timer);
    shown.textContent = clock(time);
    go.textContent = timer.since ? "Pause" : (time ? "Go on" : "Start");
    zero.hidden = !time;
    panel.classList.toggle("running", Boolean(timer.since));
    if (use) {
      const minutes = Math.max(1, Math.round(time / 60000));
      use.hidden = !time;
      use.textContent = `Bench timer: ${minutes} min`;
      use.dataset.minutes = String(minutes);
    }
  };
  go.addEventListener("click", () => {
    const timer = readTimer();
    keepTimer(timer.since ? { since: 0, before: spent(timer) } : { since: Date.now(), before: timer.before });
    show();
  });
  zero.addEventListener("click", () => { keepTimer({ since: 0, before: 0 }); show(); });
  const box = document.querySelector("#f-fix_time");
  const fillTime = () => fillBox(box, `${use.dataset.minutes} min`);
  use?.addEventListener("click", () => { fillTime(); box.focus(); });
  window.addEventListener("storage", show);
  setInterval(show, 1000);
  show();
  // A write-up that comes from an answer belongs to the set that the timer ran for.
  if (use && !use.hidden && !box.value && box.form.matches("[data-timer-fills]")) fillTime();
}
// A saved write-up needs its draft no longer.
for (const done of document.querySelectorAll("[data-draft-done]")) {
  localStorage.removeItem(`benchlore-draft:${done.dataset.draftDone}`);
}
