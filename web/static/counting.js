// From presses at each flash to a blink pattern. This rule stands here only; the page and its tests call it.
"use strict";

// All chosen by us; tests/web/test_browser_counting.py would notice.
const PAUSE = { ratio: 1.5, least: 250 }; // a pause is so much longer than a gap between flashes; ms
const LONG = { ratio: 2, least: 250 }; // a long flash is so much longer than a short one; ms
const LONE_GAP = 1200; // ms; flashes never closer than this are one at a time

// Returns the bound between the small values and the rest, Infinity where all are alike.
const boundOf = (values, { ratio, least }) => {
  const sorted = [...values].sort((a, b) => a - b);
  const place = sorted.findIndex((value, i) => i > 0 && value >= ratio * sorted[i - 1] && value - sorted[i - 1] >= least);
  return place < 0 ? Infinity : Math.sqrt(sorted[place] * sorted[place - 1]);
};

// Returns the groups in order: count, length ("long", "short" or ""), and the pause behind, 0 while it lasts.
const groupsOf = (presses, bound) => {
  const lit = presses.map(([down, up]) => up - down);
  const longFrom = boundOf(lit, LONG);
  const groups = [];
  presses.forEach(([down], i) => {
    const length = longFrom === Infinity ? "" : lit[i] > longFrom ? "long" : "short";
    const dark = i ? down - presses[i - 1][1] : 0;
    const last = groups.at(-1);
    if (last && dark <= bound && last.length === length) last.count += 1;
    else {
      if (last) last.pause = dark;
      groups.push({ count: 1, length, pause: 0 });
    }
  });
  return groups;
};

// presses: [down, up] in milliseconds, in order. now: the time, to know whether the last group is over.
// Returns the pattern as benchlore spells it, and whether it was seen twice over.
function countFlashes(presses, now) { // eslint-disable-line no-unused-vars
  if (!presses.length) return { pattern: "", confirmed: false };
  const gaps = presses.slice(1).map(([down], i) => down - presses[i][1]);
  const bound = Math.min(...gaps) >= LONE_GAP ? 0 : boundOf(gaps, PAUSE);
  const groups = groupsOf(presses, bound);
  const over = bound === Infinity ? Math.max(1500, 2.5 * Math.max(0, ...gaps)) : Math.max(bound, 0.7 * Math.max(...gaps));
  const done = now - presses.at(-1)[1] > over ? groups : groups.slice(0, -1);
  const pauses = groups.slice(0, -1).map((group) => group.pause);
  const farFrom = boundOf(pauses, PAUSE);
  const alike = (a, b) => a.count === b.count && a.length === b.length
    && (!a.pause || !b.pause || (a.pause > farFrom) === (b.pause > farFrom));
  // The first group may have been joined halfway: it may be left out.
  for (const skip of [0, 1]) {
    const rest = done.slice(skip);
    for (let period = 1; 2 * period <= rest.length; period += 1) {
      if (!rest.every((group, i) => i < period || alike(group, rest[i - period]))) continue;
      return { pattern: spell(turned(rest, period)), confirmed: true };
    }
  }
  return { pattern: spell(groups), confirmed: false };
}

// Returns one round of the pattern, beginning behind the longest pause.
const turned = (groups, period) => {
  const mean = (place) => {
    const pauses = groups.filter((group, i) => i % period === place && group.pause).map((group) => group.pause);
    return pauses.reduce((sum, pause) => sum + pause, 0) / (pauses.length || 1);
  };
  const places = [...Array(period).keys()];
  const longest = places.reduce((best, place) => (mean(place) > 1.15 * mean(best) ? place : best), period - 1);
  return places.map((place) => groups[(longest + 1 + place) % period]);
};

const spell = (groups) => groups.map(({ count, length }) => `${count} ${length}`.trim()).join(groups[0].length ? " + " : "+");
