// The STOP of a manifold pressure above its limits, in sight while it is typed. Nothing is sent by it; without it the
// next page stops.
"use strict";

(() => {
  const field = document.getElementById("manifold");
  const unit = field?.form.elements["manifold-unit"];
  const place = document.getElementById("manifold-stops");
  if (!field || !place) return;
  const sizes = JSON.parse(place.dataset.units); // of one of each unit, in Pa
  const stops = [...document.querySelectorAll(".of-manifold")].map((each) => each.content.firstElementChild); // the worst first
  const off = field.form.elements.lock_up;

  let shown;

  const typed = () => {
    const parts = /^\s*(\d*[.,]?\d+|\d+[.,])\s*(\S.*?)?\s*$/.exec(field.value);
    const size = sizes[parts?.[2] ?? unit?.value ?? place.dataset.unit];
    return parts && size ? Number(parts[1].replace(",", ".")) * size : null;
  };
  const isRaised = (stop, pressure) =>
    pressure !== null && !(off?.checked && stop.dataset.on) && pressure > Number(stop.dataset.above);
  const look = () => {
    const pressure = typed();
    const raised = stops.find((stop) => isRaised(stop, pressure));
    if (raised === shown) return;
    shown = raised;
    place.replaceChildren(...(raised ? [raised] : []));
    raised?.scrollIntoView({ block: "nearest" });
  };
  for (const each of [field, unit, off]) {
    each?.addEventListener("input", look);
    each?.addEventListener("change", look);
  }
})();
