// The STOP of a manifold pressure beyond its limits, in sight while it is typed. The first digits of any are a low one:
// below its band it stands once no further digit brings it there, typing rests, or the field is left. Nothing is sent
// by it; without it the next page stops.
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

  const REST = 1200; // ms after a digit
  let shown;
  let resting;
  let isWhole = true; // what stands in the field, and no first digits of it

  const typed = () => {
    const parts = /^\s*(\d*[.,]?\d+|\d+[.,])\s*(\S.*?)?\s*$/.exec(field.value);
    const size = sizes[parts?.[2] ?? unit?.value ?? place.dataset.unit];
    if (!parts || !size) return null;
    const figure = parts[1].replace(",", ".");
    const value = Number(figure);
    const isOpen = !figure.includes("."); // a digit more makes it ten times as large
    const most = isOpen ? Infinity : value + 10 ** (figure.indexOf(".") + 1 - figure.length);
    return { least: value * size, most: most * size };
  };
  const isRaised = ({ dataset }, pressure) =>
    pressure !== null &&
    !(off?.checked && dataset.on) &&
    !(low?.checked && dataset.on && dataset.above) &&
    (pressure.least > Number(dataset.above) || (isWhole ? pressure.least : pressure.most) < Number(dataset.below));
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
      clearTimeout(resting);
      isWhole = whole;
      look();
      if (!whole) resting = setTimeout(() => ((isWhole = true), look()), REST);
    });
  listen(field, "input", false);
  for (const each of [field, unit, off, low]) listen(each, "change", true);
  look();
})();
