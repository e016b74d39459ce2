// A write-up that is saved while the program cannot be reached waits in this browser, and is sent once it answers.
"use strict";
const QUEUE = "benchlore-queue";
const DRAFT = "benchlore-draft:new";
const AGAIN_MS = 10_000;
const MOST_WAITING = 50;
const REACHED_MS = 4_000;
const waitingForm = document.querySelector("form[data-fills]");
const queued = () => keptHere(QUEUE) || [];
const keepQueue = (entries) => localStorage.setItem(QUEUE, JSON.stringify(entries));
const without = (key) => keepQueue(queued().filter((each) => each.key !== key));
const sayQueue = (text, path = "") => {
  const state = document.querySelector("[data-queue-state]");
  if (!state) return;
  const link = document.createElement("a");
  [link.href, link.textContent] = [path, path.split("/").pop()];
  state.replaceChildren(`${text} `, ...(path ? [link] : []));
};
const sayWaiting = (why) => {
  const count = queued().length;
  if (count) sayQueue(`${why} ${count === 1 ? "1 write-up waits" : `${count} write-ups wait`} in this browser.`);
};
const reached = async () => {
  try {
    return (await fetch("/static/mark.svg", { method: "HEAD", cache: "no-store", signal: AbortSignal.timeout(REACHED_MS) })).ok;
  } catch { return false; }
};
// What the shop has questions about becomes the draft, which the form offers back.
const askAbout = (entry) => {
  if ((keptHere(DRAFT)?.once ?? entry.key) !== entry.key) {
    sayWaiting("The shop has a question: save or throw away first what is typed now.");
    return;
  }
  const typed = { caution: [], outcome: [] };
  for (const [name, value] of entry.pairs) {
    if (name in typed && Array.isArray(typed[name])) typed[name].push(value);
    else typed[name] = value;
  }
  localStorage.setItem(DRAFT, JSON.stringify({ when: entry.when, typed, once: entry.key }));
  without(entry.key);
  sayQueue("The shop has a question about a write-up that waited. Look at it here:", "/cases/new");
};
const sendOne = async (entry) => {
  const page = await pageOf(await fetch("/cases/new"));
  const token = page.querySelector("#write-up [name=csrf_token]")?.value;
  if (!token) { sayWaiting("Sign in to send it."); return false; }
  const answer = await fetch("/cases/new", { method: "POST", body: new URLSearchParams([...entry.pairs, ["csrf_token", token]]) });
  if (answer.ok && /\/cases\/[0-9]{8}-/.test(answer.url)) {
    without(entry.key);
    const here = waitingForm?.elements.namedItem("once").value === entry.key;
    if (here) waitingForm.dataset.sent = "";
    if (keptHere(DRAFT)?.once === entry.key) localStorage.removeItem(DRAFT);
    const { pathname } = new URL(answer.url);
    if (here) location.assign(pathname);
    else sayQueue("Sent and saved as", pathname);
    return true;
  }
  if ([401, 403].includes(answer.status)) { sayWaiting("Sign in to send it."); return false; }
  if ([409, 413, 422].includes(answer.status)) askAbout(entry);
  return answer.status < 500;
};
let sending = false;
const sendAll = async () => {
  if (sending || !queued().length) return;
  sending = true;
  try {
    for (const entry of queued()) if (!await sendOne(entry)) break;
  } catch {
    sayWaiting("benchlore does not answer.");
  } finally {
    sending = false;
  }
};
if (waitingForm) {
  let sure = false;
  waitingForm.addEventListener("submit", async (event) => {
    if (sure) return;
    event.preventDefault();
    const { submitter } = event;
    if (await reached()) {
      sure = true;
      waitingForm.requestSubmit(submitter);
      return;
    }
    const pairs = [...new FormData(waitingForm, submitter)].filter(([name, value]) => name !== "csrf_token" && typeof value === "string");
    const key = waitingForm.elements.namedItem("once").value;
    const rest = queued().filter((each) => each.key !== key);
    try {
      if (rest.length >= MOST_WAITING) throw new Error("full");
      keepQueue([...rest, { key, when: Date.now(), pairs }]);
      const left = document.querySelector("#f-pictures").value ? " Its photographs are not kept: add them to the case then." : "";
      sayWaiting(`benchlore does not answer: this is sent by itself as soon as it does.${left}`);
    } catch {
      sayQueue("benchlore does not answer, and this browser can keep no more: leave this page open and save again later.");
    }
  });
}
window.addEventListener("online", sendAll);
setInterval(sendAll, AGAIN_MS);
sendAll();
