"use strict";
// What is typed goes to the desk at once; what follows from it comes back in parts. Without this file Calculate does the same.
(() => {
  const form = document.getElementById("desk");
  if (!form || !window.fetch) return;
  const by = (id) => document.getElementById(id);
  const fields = () => [...form.elements].filter((one) => one.dataset.key !== undefined);
  const PAUSE = 150, AGAIN = 3000, STORE = "desk-typed"; // ms
  const typed = new Map(); // name: [text, text before], as long as the desk has not taken it
  let turn = 0, timer = 0, asked = null;

  const store = () => typed.size ? sessionStorage.setItem(STORE, JSON.stringify([...typed])) : sessionStorage.removeItem(STORE);

  function put(parts) {
    for (const [id, html] of Object.entries(parts)) {
      const part = by(id);
      if (part && !part.contains(document.activeElement)) part.outerHTML = html;
    }
  }

  function mark(found) {
    const changed = new Set(found.changed);
    for (const one of fields()) {
      const wrong = found.wrong[one.name] || "", note = by("note-" + one.name);
      if (wrong) one.setAttribute("aria-invalid", "true");
      else one.removeAttribute("aria-invalid");
      one.classList.toggle("changed", changed.has(one.name));
      if (note && note.textContent !== wrong) note.textContent = wrong;
    }
    form.classList.toggle("stale", found.before);
    form.classList.add("waits");
    by("news")?.remove();
  }

  function lost(text) {
    by("lost").textContent = text;
    by("lost").hidden = !text;
  }

  async function ask(address, options) {
    const answer = await fetch(address, { ...options, signal: asked.signal, headers: { accept: "application/json" } });
    if (answer.status === 204) return null;
    if (![200, 422].includes(answer.status)) throw new Error(answer.status);
    return answer.json();
  }

  async function send() {
    clearTimeout(timer);
    timer = 0;
    const mine = ++turn, sent = [...typed].map(([name, [text]]) => [name, text]);
    if (asked) asked.abort();
    asked = new AbortController();
    const control = ["token", "base", "units", "file", "open", "on"].map((name) => [name, form.elements[name].value]);
    try {
      const found = await ask("/edit", { method: "POST", body: new URLSearchParams([...control, ...sent]) });
      if (mine !== turn || !found) return;
      lost(found.refused || "");
      if (found.refused) return;
      for (const [name, text] of sent) {
        if (typed.get(name)?.[0] === text) typed.delete(name);
        form.elements[name].dataset.key = text;
      }
      store();
      form.elements.base.value = found.digest;
      history.replaceState(null, "", found.address);
      put(found.parts);
      mark(found);
      const rest = await ask(found.rest, {});
      if (mine !== turn || !rest) return;
      put(rest.parts);
      form.classList.remove("waits");
    } catch (error) {
      if (error.name === "AbortError" || mine !== turn) return;
      const again = ["403", "410"].includes(error.message);
      lost(again ? "The desk was started again. Load this page anew: what was typed last is kept."
        : "No answer from the desk. What you type stays on this page and is sent as soon as it answers.");
      if (!again) timer = setTimeout(send, AGAIN);
    }
  }

  form.addEventListener("input", ({ target }) => {
    if (target.dataset.key === undefined) return;
    typed.set(target.name, [target.value, typed.get(target.name)?.[1] ?? target.dataset.key]);
    store();
    clearTimeout(timer);
    timer = target.name.endsWith("].name") ? -1 : setTimeout(send, PAUSE); // a name goes to all that refers to it: once
  });
  form.addEventListener("change", () => { if (timer) send(); });
  form.addEventListener("submit", () => { ++turn; clearTimeout(timer); });

  for (const [name, [text, before]] of JSON.parse(sessionStorage.getItem(STORE) || "[]")) {
    const one = form.elements[name];
    if (one?.dataset.key !== before) continue; // another text by now
    one.value = text;
    typed.set(name, [text, before]);
  }
  store();
  if (typed.size) send();
})();
