// Families: find as you type. The page works without it.
"use strict";

const findBox = document.querySelector("input[data-find]");
if (findBox) {
  const list = document.querySelector(findBox.dataset.find);
  let asking = null;
  const ask = async () => {
    if (asking) asking.abort();
    asking = new AbortController();
    const address = new URL(findBox.form.action);
    if (findBox.value.trim()) address.searchParams.set("find", findBox.value.trim());
    try {
      const answer = await fetch(address, { signal: asking.signal });
      if (!answer.ok) return;
      const page = await pageOf(answer);
      list.replaceChildren(...page.querySelector(findBox.dataset.find).childNodes);
      history.replaceState(null, "", address);
    } catch { /* aborted by the next letter, or the server is gone: the button still sends the form */ }
  };
  findBox.addEventListener("input", whenStill(150, ask));
}
