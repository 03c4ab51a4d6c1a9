// The stopwatch of the readings page. Without it the times are typed in; nothing is sent.
"use strict";

(() => {
  const watch = document.getElementById("watch");
  const face = document.getElementById("face");
  const go = document.getElementById("watch-go");
  const lap = document.getElementById("watch-lap");
  const undoing = document.getElementById("watch-undo");
  const said = document.getElementById("watch-said");
  const fields = [...document.querySelectorAll("[data-timing]")];
  // a page in another language brings the words of this script in it
  const own = JSON.parse(document.currentScript?.dataset.words ?? "{}");
  const say = (text, places = {}) =>
    Object.entries(places).reduce((made, [name, value]) => made.replace(`{${name}}`, () => value), own[text] ?? text);
  const labels = [say("First timing"), say("Second timing"), say("Third timing")];
  const timed = [say("Timing the first"), say("Timing the second"), say("Timing the third")];
  if (!watch || fields.length === 0) return;

  const BOUNCE_ms = 250; // a second press so soon is the same finger
  const SLEPT_ms = 50; // by so much a clock that stood while the screen was off falls behind that of the day
  const least_s = Number(watch.dataset.least); // of a timing by hand
  const place = "watch";
  const carried = (name) => go.form.elements[name]?.value ?? "";
  const unit = ["model", "serial", "burner"].map(carried).join("\n");

  // a running timing: its start by the clock of the page and by that of the day, null while the watch stands
  let run = null;
  let next = 0; // timing to fill in
  let last = -Infinity; // moment of the last press
  const presses = []; // how things stood before each, the last one at the end

  const keep = (value) => {
    try {
      if (value) sessionStorage.setItem(place, JSON.stringify(value));
      else sessionStorage.removeItem(place);
    } catch {
      // a browser that stores nothing: a reload ends the timing
    }
  };
  const kept = () => {
    try {
      return JSON.parse(sessionStorage.getItem(place));
    } catch {
      return null;
    }
  };
  const day = (now) => Date.now() - performance.now() + now;
  const elapsed = (now) => {
    const byDay = day(now) - run.day;
    if (run.at === null) return byDay / 1000; // started before this page was loaded
    const byPage = now - run.at;
    return (run.away && byDay - byPage > SLEPT_ms ? byDay : byPage) / 1000;
  };

  const show = (seconds) => {
    face.firstChild.nodeValue = seconds.toFixed(1);
  };
  let drawn = 0; // the frame asked for; one at a time
  const tick = () => {
    if (run === null) return;
    show(Math.max(0, elapsed(performance.now())));
    cancelAnimationFrame(drawn);
    drawn = requestAnimationFrame(tick);
  };
  const fill = (seconds) => {
    fields[next].value = seconds.toFixed(2);
    fields[next].dispatchEvent(new Event("input", { bubbles: true }));
    show(seconds);
    said.textContent = `${labels[next]}: ${seconds.toFixed(2)} s`;
    if (seconds < least_s) {
      said.textContent += `. ${say("Too short to time by hand, an extra press? Undo it and the timing runs on.")}`;
    }
    next += 1;
  };
  const look = () => {
    const runs = run !== null;
    watch.classList.toggle("runs", runs);
    go.textContent = runs ? say("End timing") : say("Start");
    lap.disabled = !runs || next >= fields.length - 1;
    undoing.disabled = presses.length === 0;
    keep(runs ? { unit, next, day: run.day } : null);
    if (runs) tick();
  };
  const start = (now) => {
    run = { at: now, day: day(now), away: document.hidden };
  };

  const acts = new Map([
    [go, (now) => {
      if (run !== null) {
        fill(elapsed(now));
        run = null;
      } else {
        next = Math.max(0, fields.findIndex((one) => !one.value)); // the first one where none is empty
        start(now);
        said.textContent = timed[next];
      }
    }],
    [lap, (now) => {
      fill(elapsed(now));
      start(now);
    }],
  ]);
  const press = (button, now) => {
    if (button.disabled || now - last < BOUNCE_ms) return null;
    const before = { run, next, last, values: fields.map((one) => one.value), said: said.textContent };
    last = now;
    acts.get(button)(now);
    presses.push(before);
    look();
    return before;
  };
  const undo = (before) => {
    ({ run, next, last } = before);
    presses.length = presses.indexOf(before);
    fields.forEach((one, n) => {
      if (one.value === before.values[n]) return;
      one.value = before.values[n];
      one.dispatchEvent(new Event("input", { bubbles: true }));
    });
    said.textContent = before.said;
    if (run === null) show(0);
    look();
  };

  // the moment of pressing counts, not that of letting go; each press acts once, whatever the browser makes of it after
  for (const button of acts.keys()) {
    let held = null; // the finger, pen or mouse that is down on it, and how things stood before
    button.addEventListener("pointerdown", (event) => {
      if (event.button !== 0 || held !== null) return;
      held = { id: event.pointerId, before: press(button, event.timeStamp) };
    });
    addEventListener("pointerup", (event) => {
      if (held?.id === event.pointerId) held = null;
    });
    addEventListener("pointercancel", (event) => {
      if (held?.id !== event.pointerId) return;
      if (held.before) undo(held.before); // the finger turned out to scroll the page
      held = null;
    });
    const isKey = (event) => event.key === "Enter" || event.key === " ";
    button.addEventListener("keydown", (event) => {
      if (!isKey(event)) return;
      event.preventDefault();
      if (!event.repeat) press(button, event.timeStamp);
    });
    button.addEventListener("keyup", (event) => {
      if (isKey(event)) event.preventDefault();
    });
    button.addEventListener("click", (event) => {
      if (event.detail === 0) press(button, event.timeStamp); // by a voice or a screen reader, no finger and no key
    });
    button.addEventListener("contextmenu", (event) => event.preventDefault()); // of a long press
  }

  undoing.addEventListener("click", () => { // a timing ended too early runs on as if it had not been
    if (presses.length > 0) undo(presses.at(-1));
  });

  document.addEventListener("visibilitychange", () => {
    if (document.hidden && run !== null) run.away = true;
  });
  const before = kept();
  if (before !== null && before.unit === unit && before.next < fields.length) {
    run = { at: null, day: before.day, away: true };
    next = before.next;
    said.textContent = say("{timing}; it ran on while the page was loaded", { timing: timed[next] });
    look();
  }
  watch.hidden = false;
})();
