// The STOP of a manifold pressure beyond its limits: above them in sight while it is typed, below them once the field is
// left, for the first digits of any are a low one. Nothing is sent by it; without it the next page stops.
"use strict";

(() => {
  const field = document.getElementById("manifold");
  const unit = field?.form.elements["manifold-unit"];
  const place = document.getElementById("manifold-stops");
  if (!field || !place) return;
  const sizes = JSON.parse(place.dataset.units); // of one of each unit, in Pa
  const stops = [...document.querySelectorAll(".of-manifold")].map((each) => each.content.firstElementChild); // the worst first
  const off = field.form.elements.lock_up;
  const low = field.form.elements.low_rate; // turned low, a pressure may rise to the highest of the supply

  let shown;
  let isWhole = true; // what stands in the field, and no first digits of it

  const typed = () => {
    const parts = /^\s*(\d*[.,]?\d+|\d+[.,])\s*(\S.*?)?\s*$/.exec(field.value);
    const size = sizes[parts?.[2] ?? unit?.value ?? place.dataset.unit];
    return parts && size ? Number(parts[1].replace(",", ".")) * size : null;
  };
  const isRaised = ({ dataset }, pressure) =>
    pressure !== null &&
    !(off?.checked && dataset.on) &&
    !(low?.checked && dataset.on && dataset.above) &&
    (pressure > Number(dataset.above) || (isWhole && pressure < Number(dataset.below)));
  const look = () => {
    const pressure = typed();
    const raised = stops.find((stop) => isRaised(stop, pressure));
    if (raised === shown) return;
    shown = raised;
    place.replaceChildren(...(raised ? [raised] : []));
    raised?.scrollIntoView({ block: "nearest" });
  };
  const listen = (element, event, whole) =>
    element?.addEventListener(event, () => {
      isWhole = whole;
      look();
    });
  listen(field, "input", false);
  for (const each of [field, unit, off, low]) listen(each, "change", true);
  look();
})();
