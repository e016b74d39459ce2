// A lamp that replays a blink pattern. Every page works without it.
"use strict";
const stillWanted = matchMedia("(prefers-reduced-motion: reduce)");
let playing = null;

const stopLamp = () => {
  if (!playing) return;
  clearTimeout(playing.timer);
  playing.lamp.classList.remove("lit");
  playing.button.setAttribute("aria-pressed", "false");
  playing = null;
};

const playLamp = (button) => {
  const again = playing && playing.button === button;
  stopLamp();
  if (again || stillWanted.matches) return;
  const lamp = button.closest("[data-replays]").querySelector("[data-lamp]");
  const steps = JSON.parse(button.dataset.steps);
  button.setAttribute("aria-pressed", "true");
  playing = { button, lamp, timer: 0 };
  let place = 0;
  const next = () => {
    // Three times over is enough to compare; it also ends by itself when nobody looks.
    if (place === steps.length * 3) return stopLamp();
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
  if (stillWanted.matches) stopLamp();
  for (const each of document.querySelectorAll("[data-replays]")) each.hidden = stillWanted.matches;
};
stillWanted.addEventListener("change", offerReplays);
offerReplays();
document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-steps]");
  if (button) playLamp(button);
});
