// Answers as they are typed, and presses that change the answer where it stands. Without it, links and forms do.
"use strict";
const form = document.querySelector("#ask");
const live = document.querySelector("[data-live]");
const answerRegion = () => document.querySelector("#answer");
const say = (text) => { live.textContent = text; };
let asking = null;
let typing = false; // the newest entry of the history is what is being typed

// Readings that were typed but not sent yet go along with every press.
const withReadings = (url) => {
  for (const box of document.querySelectorAll("input[name=noted]:not([type=hidden])")) {
    if (box.value === box.defaultValue) continue;
    url.searchParams.append("at", box.closest("label").querySelector("[name=at]").value);
    url.searchParams.append("noted", box.value);
  }
  return url;
};

const asked = () => {
  const pairs = [...new FormData(form)].filter(([, value]) => value.trim());
  return withReadings(new URL(pairs.length ? `/?${new URLSearchParams(pairs)}` : "/", location.href));
};

const byKey = (key) => [...document.querySelectorAll("[data-key]")].find((each) => each.dataset.key === key);

// Puts a fetched page in place of the answer; what was open stays open, and the focus stays in its place.
const put = (page, keys) => {
  const held = document.activeElement.closest("#mind, #answer") ? document.activeElement : null;
  const top = held?.getBoundingClientRect().top;
  const open = [...document.querySelectorAll("details[open][data-key]")].map((each) => each.dataset.key);
  for (const region of ["#mind", "#answer"]) {
    document.querySelector(region).replaceWith(document.adoptNode(page.querySelector(region)));
  }
  document.title = page.title;
  for (const key of open) byKey(key)?.setAttribute("open", "");
  document.querySelector("#blinks").toggleAttribute("aria-invalid", Boolean(document.querySelector("#e-blinks")));
  if (typeof offerReplays === "function") offerReplays();
  const shown = (each) => each?.checkVisibility();
  const first = held?.matches("li") ? "[data-item=check]" : "[data-item=check] [data-not]";
  const target = [...keys.map(byKey), ...(held ? [byKey(held.dataset.key), document.querySelector(`#next ~ * ${first}`), byKey("next")] : [])].find(shown);
  if (!target) return;
  target.focus({ preventScroll: true });
  // At the top of the page it stays there: the cautions are not pushed off the screen.
  if (held && scrollY) scrollBy(0, target.getBoundingClientRect().top - top);
  else target.scrollIntoView({ block: "nearest" });
};

// how: "type" while typing, "press" for a press or Enter, "back" when the history moved.
const show = async (url, how, keys = []) => {
  asking?.abort();
  asking = new AbortController();
  try {
    const answer = await fetch(url, { signal: asking.signal, redirect: "manual" });
    if (answer.type === "opaqueredirect") {
      if (how === "type") say("Enter opens this case.");
      else location.assign(url);
      return false;
    }
    const page = await pageOf(answer);
    if (!page.querySelector("#answer")) throw new Error("no answer");
    if (how !== "type") {
      for (const name of ["q", "family", "blinks"]) form.elements.namedItem(name).value = page.querySelector(`#${name}`).value;
    }
    put(page, keys);
    if (how !== "back") history[how === "type" && typing ? "replaceState" : "pushState"](null, "", url);
    typing = how === "type";
    return true;
  } catch (error) {
    if (error.name === "AbortError") return false;
    if (how === "type") say("The server does not answer just now.");
    else location.assign(url);
    return false;
  }
};

let waiting = 0;
form.addEventListener("input", () => {
  clearTimeout(waiting);
  waiting = setTimeout(() => show(asked(), "type"), 200);
});
form.addEventListener("submit", async (event) => {
  event.preventDefault();
  clearTimeout(waiting);
  const url = asked();
  if (url.search === "") url.search = "?q="; // the page says what to do
  if (await show(url, "press", ["top"])) say(document.title);
});
form.elements.namedItem("q").addEventListener("keydown", (event) => {
  if (event.key !== "Enter" || event.shiftKey || event.isComposing) return;
  event.preventDefault();
  form.requestSubmit();
});

const pressed = async (url, did, keys) => {
  if (await show(url, "press", keys) && did) say(`${did}; next: ${answerRegion().dataset.next}`);
};
document.addEventListener("click", (event) => {
  const link = event.target.closest("#mind a, #answer a");
  if (!link || event.button || event.ctrlKey || event.metaKey || event.shiftKey || event.altKey) return;
  const url = new URL(link.href);
  if ("open" in link.dataset) link.href = withReadings(url).href;
  if (url.pathname !== "/" || !url.search) return;
  event.preventDefault();
  pressed(withReadings(url), link.dataset.did, "undo" in link.dataset ? [`check ${link.dataset.undo}`] : []);
});
// A reading is kept in the address as soon as its box is left.
document.addEventListener("change", async (event) => {
  if (event.target.name !== "noted") return;
  const { value, dataset } = event.target;
  if (await show(withReadings(new URL(location.href)), "press", [])) say(value ? `Noted ${value} for ${dataset.key.slice(6)}` : "Reading removed");
});
document.addEventListener("submit", (event) => {
  if (event.target.id !== "noting") return;
  event.preventDefault();
  const { name, value } = event.submitter;
  if (!name) return document.activeElement.closest("[data-stop]")?.focus();
  const url = asked();
  url.searchParams.delete("found");
  url.searchParams.append(name, value);
  pressed(url, ...(name === "found" ? [`Found: ${value}`, ["write"]] : [`${value} ruled out`, []]));
});
let here = location.search;
addEventListener("popstate", () => {
  if (location.search !== here || !location.hash) show(location.href, "back");
  here = location.search;
});
