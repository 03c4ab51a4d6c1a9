// What is typed on a page stays on this phone, over a reload, Back and a lost connection. Nothing is sent by it; without
// it the address carries what was sent.
"use strict";

(() => {
  const MOST = 40; // pages kept; the oldest go first
  const PREFIX = "draft ";
  const forms = [...document.querySelectorAll("main form")];
  if (forms.length === 0) return;
  const key = PREFIX + location.pathname + location.search;
  const typed = () =>
    forms.flatMap((form) => [...form.elements]).filter((one) => one.name && one.type !== "hidden" && one.type !== "submit" && !one.dataset.anew);
  const store = (act) => {
    try {
      return act(sessionStorage);
    } catch {
      return null; // a browser that stores nothing
    }
  };
  const isChoice = (one) => one.type === "radio" || one.type === "checkbox";

  const keep = () => {
    const values = {};
    for (const one of typed()) {
      if (!isChoice(one)) values[one.name] = one.value;
      else if (one.checked) values[one.name] = one.value;
      else values[one.name] ??= null;
    }
    store((kept) => {
      kept.setItem(key, JSON.stringify({ at: Date.now(), values }));
      const moment = (each) => JSON.parse(kept.getItem(each)).at;
      const drafts = Object.keys(kept).filter((each) => each.startsWith(PREFIX));
      for (const each of drafts.sort((a, b) => moment(a) - moment(b)).slice(0, -MOST)) kept.removeItem(each);
    });
  };
  const bring = ({ values }) => {
    for (const one of typed()) {
      if (!(one.name in values)) continue;
      if (isChoice(one)) one.checked = values[one.name] === one.value;
      else one.value = values[one.name];
    }
  };

  // a page that was come to by a link or a button holds what was sent with it, and nothing older
  const [here] = performance.getEntriesByType("navigation");
  if (here?.type === "navigate") store((kept) => kept.removeItem(key));
  const draft = store((kept) => JSON.parse(kept.getItem(key)));
  if (draft) bring(draft);
  // a keypad may have a comma alone: it stands as a point before it is sent, except where it may part thousands
  const COMMA = /^\s*([-+]?\d+),(\d+)\s*([^\d.,]*)$/;
  const point = ({ target }) => {
    const parts = target.matches("input.figure[inputmode=decimal]") && COMMA.exec(target.value);
    const isDoubtful = parts && parts[2].length === 3 && /^[-+]?[1-9]\d{0,2}$/.test(parts[1]);
    if (parts && !isDoubtful) target.value = `${parts[1]}.${parts[2]} ${parts[3]}`.trim();
  };
  for (const form of forms) {
    form.addEventListener("change", point);
    form.addEventListener("input", keep);
    form.addEventListener("change", keep);
  }

  // a STOP that an answer brings up is in sight at the tap
  for (const stop of document.querySelectorAll(".at-once")) {
    stop.closest("fieldset, .look")?.addEventListener("change", () => stop.scrollIntoView({ block: "nearest" }));
  }

  // what a plan or a model asks before lighting stands on the page as soon as it is chosen
  const byPlan = document.getElementById("by-plan");
  if (byPlan) byPlan.parentElement.hidden = true; // of a phone without script
  for (const id of byPlan ? ["model", "plan"] : []) {
    document.getElementById(id)?.addEventListener("change", () => {
      byPlan.formAction = `/#${id}`;
      byPlan.click();
    });
  }

  // another unit is read and tested for leaks by itself
  document.getElementById("serial")?.addEventListener("input", () => {
    for (const one of document.querySelectorAll("[data-anew]")) one.checked = false;
  });
})();
