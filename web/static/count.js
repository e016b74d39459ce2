// "Count it": press the pad at each flash; the pattern is found, replayed to compare, and filled in.
"use strict";
const counter = document.querySelector("#count");
const countButton = document.querySelector("[data-count]");
if (counter && countButton) {
  const pad = counter.querySelector("[data-pad]");
  const said = counter.querySelector("[data-count-said]");
  const use = counter.querySelector("[data-count-use]");
  const replays = counter.querySelector("[data-replays]");
  let presses = [];
  let down = 0;
  let shown = "";

  const replay = async (pattern) => {
    const answer = await fetch(`/api/blinks?${new URLSearchParams({ pattern })}`);
    if (!answer.ok || pattern !== shown) return;
    const { readings } = await answer.json();
    replays.querySelector("[data-steps]").dataset.steps = JSON.stringify(readings[0].steps);
    replays.hidden = stillWanted.matches;
  };
  const look = () => {
    if (!counter.open || down) return;
    const { pattern, confirmed } = countFlashes(presses, performance.now());
    const text = !pattern ? "" : confirmed ? `${pattern}, seen twice over` : `${pattern} so far; go on until it has come round twice`;
    if (said.textContent !== text) said.textContent = text;
    use.disabled = !pattern;
    use.textContent = confirmed ? `Use ${pattern}` : "Use it as it is";
    if (confirmed && pattern !== shown) { shown = pattern; replay(pattern); }
    if (!confirmed) { shown = ""; stopLamp(); replays.hidden = true; }
    use.dataset.pattern = pattern;
  };
  const begin = () => { if (!down) { down = performance.now(); pad.classList.add("down"); } };
  const end = () => {
    if (!down) return;
    presses.push([down, performance.now()]);
    down = 0;
    pad.classList.remove("down");
    look();
  };
  const afresh = () => { presses = []; shown = ""; down = 0; look(); pad.focus(); };
  pad.addEventListener("pointerdown", (event) => { pad.setPointerCapture(event.pointerId); begin(); });
  pad.addEventListener("pointerup", end);
  pad.addEventListener("pointercancel", end);
  pad.addEventListener("keydown", (event) => {
    if (event.key === "Tab" || event.key === "Escape") return;
    event.preventDefault();
    if (!event.repeat) begin();
  });
  pad.addEventListener("keyup", end);
  pad.addEventListener("blur", end);
  countButton.addEventListener("click", () => { counter.showModal(); afresh(); });
  counter.querySelector("[data-count-again]").addEventListener("click", afresh);
  counter.addEventListener("close", () => stopLamp());
  use.addEventListener("click", () => {
    counter.close();
    fillBox(document.querySelector("#blinks"), use.dataset.pattern);
  });
  setInterval(look, 250);
}
