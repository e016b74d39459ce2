// Families: find as you type, lamps that replay a blink pattern, and printing. Every page works without it.
"use strict";

const findBox = document.querySelector("input[data-find]");
if (findBox) {
  const list = document.querySelector(findBox.dataset.find);
  let waiting = null;
  let asking = null;
  const ask = async () => {
    if (asking) asking.abort();
    asking = new AbortController();
    const address = new URL(findBox.form.action);
    if (findBox.value.trim()) address.searchParams.set("find", findBox.value.trim());
    try {
      const answer = await fetch(address, { signal: asking.signal });
      if (!answer.ok) return;
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      list.replaceChildren(...page.querySelector(findBox.dataset.find).childNodes);
      history.replaceState(null, "", address);
    } catch (error) {
      // Aborted by the next letter, or the server is gone: the button still sends the form.
      if (error.name !== "AbortError") list.dataset.stale = "yes";
    }
  };
  findBox.addEventListener("input", () => {
    clearTimeout(waiting);
    waiting = setTimeout(ask, 150);
  });
}

const stillWanted = matchMedia("(prefers-reduced-motion: reduce)");
let playing = null;

const stop = () => {
  if (!playing) return;
  clearTimeout(playing.timer);
  playing.lamp.classList.remove("lit");
  playing.button.setAttribute("aria-pressed", "false");
  playing = null;
};

const play = (button) => {
  const again = playing && playing.button === button;
  stop();
  if (again || stillWanted.matches) return;
  const lamp = button.closest("[data-replays]").querySelector("[data-lamp]");
  const steps = JSON.parse(button.dataset.steps);
  button.setAttribute("aria-pressed", "true");
  playing = { button, lamp, timer: 0 };
  let place = 0;
  const next = () => {
    // Three times over is enough to compare; it also ends by itself when nobody looks.
    if (place === steps.length * 3) return stop();
    const [lit, dark] = steps[place % steps.length];
    place += 1;
    lamp.classList.add("lit");
    playing.timer = setTimeout(() => {
      lamp.classList.remove("lit");
      playing.timer = setTimeout(next, dark);
    }, lit);
  };
  next();
};

const offerReplays = () => {
  if (stillWanted.matches) stop();
  for (const each of document.querySelectorAll("[data-replays]")) each.hidden = stillWanted.matches;
};
stillWanted.addEventListener("change", offerReplays);
offerReplays();
for (const button of document.querySelectorAll("[data-steps]")) button.addEventListener("click", () => play(button));

for (const button of document.querySelectorAll("[data-print]")) {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
}
