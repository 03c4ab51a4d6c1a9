"use strict";
// What is typed goes to the desk at once; what follows from it comes back in parts. Without this file Calculate does the same.
(() => {
  const form = document.getElementById("desk");
  if (!form || !window.fetch) return;
  const by = (id) => document.getElementById(id);
  // texts of the page's language stand beside this script, in English they are here
  const WORDS = JSON.parse(document.currentScript?.dataset.words ?? "{}");
  const say = (text, places = {}) => (WORDS[text] ?? text).replace(/\{(\w+)\}/g, (_, name) => places[name]);
  // a text of an answer, in English where the desk names it among those
  const putText = (one, text, english = []) => {
    if (one.textContent !== text) one.textContent = text;
    if (english.includes(text)) one.setAttribute("lang", "en");
    else one.removeAttribute("lang");
  };
  const fields = () => [...form.elements].filter((one) => one.dataset.key !== undefined);
  const PAUSE = 150, AGAIN = 2000, LOOK = 4000, TYPE_AHEAD = 1000, STORE = "desk-typed", WINDOW = "desk-window", FOLDS = "desk-folds"; // ms
  const typed = new Map(); // name: [text, text before, name of its burner or market], as long as the desk has not taken it
  let turn = 0, timer = 0, asked = null;
  let anew = false; // the page has the labels and rules of another region still
  let isPressed = false, isComposed = false, lastKey = 0; // what an exchange of the page would break off

  // One window writes at a time. Its id outlives a reload; a copy of the window finds none and has its own.
  function keepWindow() {
    form.elements.window.value ||= sessionStorage.getItem(WINDOW) || crypto.getRandomValues(new Uint32Array(2)).join("-");
    sessionStorage.removeItem(WINDOW);
  }
  keepWindow();
  addEventListener("pageshow", keepWindow);
  addEventListener("pagehide", () => sessionStorage.setItem(WINDOW, form.elements.window.value));

  const store = () => typed.size ? sessionStorage.setItem(STORE, JSON.stringify([...typed])) : sessionStorage.removeItem(STORE);

  const owner = (name) => form.elements[`${/^[a-z_]+\[\d+\]/.exec(name)?.[0]}.name`]?.dataset.key ?? "";

  const stands = new Map(); // id: text of a part as it was put in; one that stands is not read again
  const room = document.createElement("template");
  function put(parts) {
    for (const [id, html] of Object.entries(parts)) {
      const part = by(id);
      if (!part || stands.get(id) === html) continue;
      stands.set(id, html);
      room.innerHTML = html;
      become(part, room.content.firstElementChild);
    }
  }

  // What differs alone is changed: the rest is not laid out again, and what is unfolded, or has the focus, stays so.
  function become(one, other) {
    if (one.isEqualNode(other)) return;
    if (one.nodeName !== other.nodeName) return one.replaceWith(other);
    if (!one.attributes) {
      one.data = other.data;
      return;
    }
    for (const { name } of [...one.attributes]) if (name !== "open" && !other.hasAttribute(name)) one.removeAttribute(name);
    for (const { name, value } of other.attributes) if (one.getAttribute(name) !== value) one.setAttribute(name, value);
    const now = [...one.childNodes], next = [...other.childNodes];
    next.forEach((node, n) => { now[n] ? become(now[n], node) : one.append(node); });
    now.slice(next.length).forEach((node) => node.remove());
  }

  function mark(found) {
    const changed = new Set(found.changed);
    for (const one of fields()) {
      const wrong = found.wrong[one.name] || "", query = found.queries[one.name] || "", note = by("note-" + one.name);
      if (wrong) one.setAttribute("aria-invalid", "true");
      else one.removeAttribute("aria-invalid");
      one.classList.toggle("changed", changed.has(one.name));
      one.classList.toggle("query", query !== "");
      if (note) putText(note, wrong || query, found.english);
      const readings = by("readings-" + one.name), texts = found.readings[one.name] || [];
      if (!readings || !texts.length && !readings.firstChild) continue;
      const isHeld = readings.contains(document.activeElement);
      readings.replaceChildren(...texts.map((text) => {
        const button = Object.assign(document.createElement("button"), { className: "word", textContent: say("Read as {text}", { text }) });
        Object.assign(button.dataset, { of: one.name, text });
        return button;
      }));
      if (isHeld) (readings.firstChild ?? fields().slice(fields().indexOf(one) + 1).find((next) => next.offsetParent))?.focus();
    }
    for (const need of form.querySelectorAll(".need")) need.hidden = form.elements[need.closest("label").htmlFor].value !== "";
    for (const [id, text] of Object.entries(found.lines)) if (by(id)) putText(by(id), text);
    form.classList.toggle("stale", found.before);
    form.classList.add("waits");
    by("news")?.remove();
  }

  function lost(text, kept, english) {
    putText(by("lost"), text, english);
    by("lost").hidden = !text;
    by("news")?.remove();
    if (!kept) return;
    stands.clear(); // these lines are in parts
    form.querySelector(".kept").textContent = kept;
    const save = form.querySelector('[formaction="/save"]');
    if (save) save.disabled = true;
  }

  function others({ words = "", address = "", english = [] }) {
    const line = by("others"), link = line.querySelector("a");
    putText(line.firstElementChild, words, english);
    link.hidden = !address;
    link.setAttribute("href", address);
    line.hidden = !words;
    if (!address) by("newest-here")?.remove();
  }

  // The way to the newest text, where the keyboard is: the next stop behind the field that was not taken.
  function newestHere(address) {
    by("newest-here")?.remove();
    const name = document.activeElement?.name, beside = by("readings-" + name) ?? by("note-" + name);
    beside?.after(Object.assign(document.createElement("a"), { id: "newest-here", href: address, textContent: say("Open the newest text") }));
  }

  // Whether another window or program wrote: seen before anything is typed here.
  async function look() {
    if (document.hidden || timer || typed.size) return;
    const base = form.elements.base.value, names = ["units", "file", "open", "on", "window"];
    const query = new URLSearchParams(names.map((name) => [name, form.elements[name].value]));
    try {
      const answer = await fetch(`/newest/${base}?${query}`);
      if (answer.status === 200 && base === form.elements.base.value && !typed.size) others(await answer.json());
    } catch { /* the next entry says that the desk does not answer */ }
  }

  // A desk that was started again has another key; its page is this one if it says the same in every field.
  async function renewed() {
    const answer = await fetch("/", { signal: asked.signal });
    const other = new DOMParser().parseFromString(await answer.text(), "text/html").getElementById("desk");
    const then = other ? [...other.elements].filter((one) => one.dataset.key !== undefined) : [];
    const same = then.length && fields().every((one) => (other.elements[one.name]?.dataset.key ?? "") === one.dataset.key)
      && then.every((one) => form.elements[one.name] || !one.dataset.key);
    if (same) for (const name of ["token", "base", "file"]) form.elements[name].value = other.elements[name].value;
    return same;
  }

  // Which markets are not seen, and whether one of them has a value outside: nobody looks for what is off the screen.
  function beyond() {
    const line = by("beyond"), frame = document.querySelector(".burners .scroll");
    if (!line || !frame || !frame.offsetParent) return;
    const end = frame.getBoundingClientRect().right + 1;
    const heads = [...frame.querySelectorAll("thead .answer")], rows = [...frame.querySelectorAll("tbody > tr:first-child")];
    const letters = heads.map((one) => one.querySelector(".letter")?.textContent || "?");
    const off = heads.map((one, n) => one.getBoundingClientRect().right > end ? n : -1).filter((n) => n >= 0);
    const bad = off.filter((n) => rows.some((row) => row.querySelectorAll(".answer")[n]?.querySelector(".is-triangle")));
    const many = (every) => every.map((n) => letters[n]).join(", ");
    const places = { count: off.length, letters: many(off), outside: many(bad) };
    putText(line, !off.length ? "" : bad.length
      ? say("Markets further to the right: {letters}. A value OUTSIDE in: {outside}.", places)
      : say("Markets further to the right: {letters}.", places));
    line.hidden = !off.length;
  }

  async function ask(address, options) {
    const answer = await fetch(address, { ...options, signal: asked.signal, headers: { accept: "application/json" } });
    if (answer.status === 204) return null;
    if (![200, 409, 422].includes(answer.status)) throw new Error(answer.status);
    return answer.json();
  }

  // What one goes to with Tab; a field is known by its name, anything else by its place.
  const stops = () => [...document.querySelectorAll("a, button, summary, input, select, textarea, [tabindex]")];
  const isWhole = ({ value, selectionStart, selectionEnd }) => selectionEnd - selectionStart === value?.length; // the next key takes its place

  function holdSave() { // what is saved is not saved again
    const saved = form.querySelector("[data-saved]");
    if (saved) saved.disabled = !typed.size;
  }

  function exchange(page, other) {
    const was = document.activeElement, at = stops().indexOf(was), whole = isWhole(was), from = was.selectionStart, to = was.selectionEnd;
    const top = was.getBoundingClientRect().top, aside = document.querySelector(".burners .scroll")?.scrollLeft;
    const open = new Map(folds().map((one) => [foldKey(one), one.open])), own = form.elements.window.value, due = timer;
    timer = 0; // a field that goes away is not one that was left
    form.replaceChildren(...other.childNodes);
    form.className = other.className;
    other.replaceWith(form);
    document.body.replaceChildren(...page.body.childNodes);
    document.title = page.title;
    form.elements.window.value = own;
    stands.clear();
    for (const one of folds()) one.open = open.get(foldKey(one)) ?? one.open;
    for (const [name, [text, , of]] of typed) {
      const one = form.elements[name];
      if (one?.dataset.key === undefined) continue;
      typed.set(name, [text, one.dataset.key, of]);
      one.value = text;
    }
    store();
    holdSave();
    const now = was.dataset.key === undefined ? stops()[at] : form.elements[was.name];
    now?.focus({ preventScroll: true });
    if (whole) now?.select?.();
    else if (now && typeof from === "number" && now.matches("input, textarea")) now.setSelectionRange(from, to);
    timer = due;
    below();
    if (now) scrollBy(0, now.getBoundingClientRect().top - top);
    const frame = document.querySelector(".burners .scroll");
    if (frame) frame.scrollLeft = aside ?? 0;
    beyond();
  }

  // The page of another region in place of this one, while somebody types on: what is typed and the focus stay.
  async function renew(address, mine) {
    const answer = await fetch(address, { signal: asked.signal });
    const page = new DOMParser().parseFromString(await answer.text(), "text/html"), other = page.getElementById("desk");
    if (!other) throw new Error(answer.status);
    // a press of the mouse, or letters that choose in a list, are one act
    const isHeld = () => isPressed || isComposed || document.activeElement?.matches("select") && Date.now() - lastKey < TYPE_AHEAD;
    while (mine === turn && isHeld()) await new Promise((resolve) => { setTimeout(resolve, PAUSE); });
    if (mine !== turn) return;
    exchange(page, other);
    anew = false;
  }

  async function send() {
    clearTimeout(timer);
    timer = 0;
    const mine = ++turn, sent = [...typed].map(([name, [text]]) => [name, text]);
    if (asked) asked.abort();
    asked = new AbortController();
    const control = ["token", "base", "units", "file", "open", "on", "window"].map((name) => [name, form.elements[name].value]);
    try {
      const found = await ask("/edit", { method: "POST", body: new URLSearchParams([...control, ...sent]) });
      if (mine !== turn || !found) return;
      if (found.behind) {
        others({ words: found.behind, address: found.newest, english: found.english });
        newestHere(found.newest);
        lost("", say("not taken: another window wrote since"));
        return;
      }
      lost(found.refused || "", "", found.english);
      if (found.refused) return;
      for (const [name, text] of sent) {
        if (typed.get(name)?.[0] === text) typed.delete(name);
        form.elements[name].dataset.key = text;
      }
      store();
      for (const [name, text] of Object.entries(found.values || {})) { // what follows from it in other fields
        const one = form.elements[name];
        if (one?.dataset.key === undefined || typed.has(name)) continue;
        const whole = one === document.activeElement && isWhole(one);
        one.value = text;
        one.dataset.key = text;
        if (whole) one.select();
      }
      // another region, whose units and altitude rules the whole page has
      anew ||= found.anew || found.units !== form.elements.units.value;
      form.elements.base.value = found.digest;
      form.elements.units.value = found.units;
      history.replaceState(null, "", found.address);
      const follows = anew ? renew(found.address, mine) : ask(found.rest, {}); // the desk works on the rest while this page is laid out
      put(found.parts);
      mark(found);
      beyond();
      const rest = await follows;
      if (mine !== turn || !rest) return;
      put(rest.parts);
      beyond();
      form.classList.remove("waits");
    } catch (error) {
      if (error.name === "AbortError" || mine !== turn) return;
      let again = ["403", "410"].includes(error.message);
      try {
        if (again && await renewed()) return send();
      } catch {
        again = false;
      }
      if (mine !== turn) return;
      if (again) lost(say("The desk was started again and its text is another. Load this page anew: what was typed last is kept."),
        say("not saved, not sent: the desk was started again"));
      else {
        lost(say("No answer from the desk. What you type stays on this page: it is sent when the desk answers, or put in as the page is loaded anew."),
          say("not saved, not sent: no answer"));
        timer = setTimeout(send, AGAIN);
      }
    }
  }

  form.addEventListener("input", ({ target }) => {
    if (target.dataset.key === undefined) return;
    typed.set(target.name, [target.value, typed.get(target.name)?.[1] ?? target.dataset.key, owner(target.name)]);
    store();
    by("news")?.remove();
    by("readings-" + target.name)?.replaceChildren(); // of the text before: Tab goes on to the next field
    clearTimeout(timer);
    timer = target.name.endsWith("].name") ? -1 : setTimeout(send, PAUSE); // a name goes to all that refers to it: once
  });
  for (const name of ["change", "focusout"]) form.addEventListener(name, () => { if (timer) send(); });
  for (const name of ["pointerdown", "pointerup", "pointercancel", "keydown", "change"]) { // a list that is open takes the way up
    addEventListener(name, () => { isPressed = name === "pointerdown"; }, { capture: true });
  }
  for (const name of ["compositionstart", "compositionend"]) {
    form.addEventListener(name, () => { isComposed = name === "compositionstart"; });
  }
  form.addEventListener("keydown", () => { lastKey = Date.now(); });
  form.addEventListener("keydown", (event) => { // the next burner, or market, without a way through the page
    const kind = event.key === "Enter" && event.ctrlKey && /^(burner|market)\[/.exec(event.target.name || "")?.[1];
    const add = kind && form.querySelector(`button[value="add ${kind}"]`);
    if (!add) return;
    event.preventDefault();
    add.click();
  });
  form.addEventListener("click", (event) => { // what a text with a comma may mean
    const { of, text } = event.target.dataset, one = text && form.elements[of];
    if (!one) return;
    event.preventDefault();
    one.value = text;
    one.focus();
    for (const name of ["input", "change"]) one.dispatchEvent(new Event(name, { bubbles: true }));
  });
  form.addEventListener("submit", ({ submitter }) => {
    saves = submitter?.getAttribute("formaction") === "/save";
    ++turn;
    clearTimeout(timer);
    sessionStorage.removeItem(STORE);
  });

  const left = [];
  for (const [name, [text, before, of]] of JSON.parse(sessionStorage.getItem(STORE) || "[]")) {
    const one = form.elements[name];
    if (one?.dataset.key === text && owner(name) === of) continue;
    if (one?.dataset.key !== before || owner(name) !== of) { // another text by now
      const places = { place: one?.labels[0]?.textContent || name, typed: text || say("nothing"), here: one?.dataset.key || say("nothing") };
      left.push(one ? say("{place}: {typed} (here {here})", places) : `${places.place}: ${places.typed}`);
      continue;
    }
    one.value = text;
    typed.set(name, [text, before, of]);
  }
  if (left.length) {
    const line = Object.assign(document.createElement("p"), { className: "lost", id: "left" });
    line.setAttribute("role", "alert");
    line.textContent = say("Typed before and not put in, since the newest text says otherwise: {typed}. Type it again if it holds.",
      { typed: left.join("; ") });
    document.querySelector(".desk-state").after(line);
  }
  // what stood open stands open again, whichever way leads back to this page
  const foldKey = (one) => {
    const at = one.parentElement.closest("[id]");
    return `${at?.id} ${[...(at ?? document).querySelectorAll("details")].indexOf(one)}`;
  };
  const folds = () => [...form.querySelectorAll("details")];
  const stoodOpen = new Set(JSON.parse(sessionStorage.getItem(FOLDS) || "[]"));
  for (const one of folds()) if (stoodOpen.has(foldKey(one))) one.open = true;
  let saves = false; // a saved page is folded: the orifices stand first
  addEventListener("pagehide", () => {
    sessionStorage.setItem(FOLDS, JSON.stringify(folds().filter((one) => one.open && !saves).map(foldKey)));
  });

  // what is gone to, or has the focus, stands below the bar that stays
  function below() {
    const state = form.querySelector(".desk-state"), bar = getComputedStyle(state).display === "contents" ? by("acts") : state;
    document.documentElement.style.scrollPaddingTop = `${Math.min(bar.offsetHeight + 28, innerHeight / 2)}px`; // a label too
  }
  below();
  new ResizeObserver(below).observe(form);

  const place = by(location.hash.slice(1)); // that a link names; of a burner or market just added, copied or moved
  for (let one = place; one; one = one.parentElement) if (one.matches("details")) one.open = true;
  if (place && !place.matches("tbody, .market")) place.scrollIntoView();
  if (place?.matches("tbody, .market")) {
    // a browser that goes to a place on a page puts the focus there once the page is loaded
    addEventListener("load", () => setTimeout(() => {
      const one = place.querySelector("input"), bar = document.querySelector(".desk-state").getBoundingClientRect();
      one?.focus({ preventScroll: true });
      one?.select(); // a name of ours gives way to the first key
      const above = one ? one.getBoundingClientRect().top - Math.max(bar.bottom, 0) - 40 : 0; // its label too
      if (above < 0) scrollBy(0, above);
    }));
  }
  addEventListener("hashchange", () => { // a link to a part of this page unfolds it
    const fold = by(location.hash.slice(1))?.querySelector(":scope > details");
    if (fold) fold.open = true;
  });
  store();
  holdSave();
  if (typed.size) send();
  beyond();
  setInterval(look, LOOK);
  addEventListener("focus", look);
  addEventListener("resize", beyond);
  document.addEventListener("scroll", ({ target }) => { if (target.matches?.(".burners .scroll")) beyond(); }, { passive: true, capture: true });
})();
