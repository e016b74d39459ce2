// The form fills itself while it is being typed: only boxes in which nobody typed, each to be looked at.
"use strict";
const filling = document.querySelector("form[data-fills]");
const GUESS = "Check this: ";
const looks = (box) => box.closest(".box").querySelector("[data-look]");
const tell = (box, text) => {
  let line = looks(box);
  if (text && line?.dataset.look) return; // it is a guess until somebody types there
  if (!text) { line?.remove(); return; }
  if (!line) {
    line = document.createElement("p");
    line.className = "look";
    line.dataset.look = "";
    box.after(line);
  }
  line.textContent = text;
  if (!text.startsWith(GUESS)) return;
  const kept = document.createElement("input"); // sent along, so that a refused form says it again
  Object.assign(kept, { type: "hidden", name: "look", value: [box.name, text.slice(GUESS.length, -1), box.value].join("|") });
  line.append(kept);
};
if (filling) {
  const SENT = ["complaint", "model", "chassis_family", "symptom", "root_cause", "comeback_of"];
  const FILLED = ["model", "chassis_family", "make", "device", "blinks", "symptom"];
  const box = (name) => filling.elements.namedItem(name);
  const row = (name, buttons) => {
    const place = box(name).closest(".box");
    let shown = place.querySelector("[data-offers]");
    if (!shown) {
      shown = document.createElement("div");
      shown.className = "suggested";
      shown.dataset.offers = "";
      place.append(shown);
    }
    shown.replaceChildren(...buttons);
    shown.hidden = !buttons.length;
  };
  const add = (name, text) => {
    const target = box(name);
    const items = ["symptom", "parts"].includes(name) && target.value.trim() ? [target.value.trim(), text] : [text];
    fillBox(target, items.join(items.join().includes("\n") ? "\n" : ", "));
    delete target.dataset.filled;
    target.focus();
  };
  let filledNow = "";
  const fill = (found) => {
    for (const name of FILLED) {
      const target = box(name);
      const text = found[name] || "";
      const before = target.dataset.filled ?? "";
      if ("touched" in target.dataset || target.value !== before || text === before) continue;
      target.dataset.filled = text;
      filledNow = name;
      fillBox(target, text);
      filledNow = "";
      tell(target, text && `${GUESS}from what you typed.`);
    }
  };
  const offer = (offers) => {
    for (const name of ["board", "check", "parts", "proof", "symptom"]) {
      const texts = (offers[name] || []).filter((text) => !box(name).value.includes(text));
      row(name, texts.map((text) => newButton(text, () => add(name, text))));
    }
    const shown = [...box("root_cause").parentNode.querySelectorAll(".suggested:not([hidden], [data-offers]) button")];
    const known = (offers.root_cause || []).filter((text) => !shown.some((each) => each.textContent === text)).map((text) => newButton(`Call it ${text}`, () => fillBox(box("root_cause"), text)));
    const empty = ["board", "check", "parts"].filter((name) => offers[name] && !box(name).value);
    const take = () => {
      for (const name of empty) { fillBox(box(name), offers[name][0]); tell(box(name), `${GUESS}as in earlier cases of this cause.`); }
      filling.querySelector("details").open = true;
    };
    row("root_cause", empty.length ? [...known, newButton(`Take its ${empty.join(", ")}`, take)] : known);
  };
  const alike = filling.querySelector("[data-alike]");
  const warn = (cases) => {
    alike.replaceChildren(...cases.map((each) => {
      const line = document.createElement("p");
      const link = document.createElement("a");
      link.href = `/cases/${each.case}`;
      link.textContent = each.case;
      line.append(`${each.says} `, link, `: ${each.root_cause} `);
      if (each.comeback) {
        line.append(newButton("Yes, it came back", () => {
          filling.querySelector("details").open = true;
          fillBox(box("comeback_of"), each.case);
        }));
      }
      return line;
    }));
    alike.hidden = !cases.length;
  };
  let asked = 0;
  const ask = async () => {
    const turn = ++asked;
    const typed = SENT.map((name) => [name, box(name).value.trim().slice(0, 1500)])
      .filter(([name, text]) => text && text !== box(name).dataset.filled);
    if (!typed.length) return;
    try {
      const answer = await fetch(`/api/write-up?${new URLSearchParams(typed)}`);
      const found = await answer.json();
      if (turn !== asked || !answer.ok) return;
      fill(found.fill);
      for (const name of ["model", "chassis_family", "root_cause"]) {
        if (found.says[name] || box(name).dataset.filled === undefined) tell(box(name), found.says[name]);
      }
      offer(found.offers);
      warn(found.alike);
    } catch { /* the form does without */ }
  };
  const askSoon = whenStill(300, ask);
  filling.addEventListener("input", (event) => {
    const { name, dataset } = event.target;
    if (event.isTrusted) {
      dataset.touched = "";
      if (looks(event.target)) tell(event.target, "");
    }
    if (SENT.includes(name) && name !== filledNow) askSoon();
  });
  ask();
}
