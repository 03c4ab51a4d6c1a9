// The stopwatch of the readings page. Without it the times are typed in; nothing is stored, nothing is sent.
"use strict";

(() => {
  const watch = document.getElementById("watch");
  const face = document.getElementById("face");
  const go = document.getElementById("watch-go");
  const lap = document.getElementById("watch-lap");
  const said = document.getElementById("watch-said");
  const fields = [...document.querySelectorAll("[data-timing]")];
  const words = ["first", "second", "third"];
  if (!watch || fields.length === 0) return;

  let since = null; // moment of the last mark [ms], null while the watch stands
  let next = 0; // timing to fill in

  const show = (seconds) => {
    face.firstChild.nodeValue = seconds.toFixed(1);
  };
  const tick = () => {
    if (since === null) return;
    show((performance.now() - since) / 1000);
    requestAnimationFrame(tick);
  };
  const fill = (now) => {
    const seconds = (now - since) / 1000;
    const field = fields[next];
    field.value = seconds.toFixed(2);
    show(seconds);
    said.textContent = `${words[next][0].toUpperCase()}${words[next].slice(1)} timing: ${seconds.toFixed(2)} s`;
    next += 1;
  };
  const stand = () => {
    since = null;
    go.textContent = "Start";
    go.classList.remove("on");
    lap.disabled = true;
  };

  // the moment of pressing counts, not that of letting go
  const pressed = (button, act) => {
    button.addEventListener("pointerdown", (event) => {
      if (event.button !== 0 || button.disabled) return;
      button.dataset.done = "yes";
      act(performance.now());
    });
    button.addEventListener("click", () => {
      if (button.dataset.done) {
        delete button.dataset.done;
        return;
      }
      act(performance.now()); // from the keyboard
    });
    button.addEventListener("pointerleave", () => delete button.dataset.done);
  };

  pressed(go, (now) => {
    if (since !== null) {
      fill(now);
      stand();
      return;
    }
    if (next >= fields.length) next = 0;
    while (next < fields.length - 1 && fields[next].value) next += 1;
    if (fields[next].value) next = 0;
    since = now;
    go.textContent = "Stop";
    go.classList.add("on");
    lap.disabled = next >= fields.length - 1;
    said.textContent = `Timing the ${words[next]}`;
    tick();
  });
  pressed(lap, (now) => {
    if (since === null) return;
    fill(now);
    since = now;
    lap.disabled = next >= fields.length - 1;
  });

  watch.hidden = false;
})();
