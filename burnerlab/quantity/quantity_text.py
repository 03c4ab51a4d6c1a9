"""A sentence that keeps the quantities it quotes, so that each reader has them in units of their own."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from burnerlab.quantity.show import BORE_PLACES, System, display_unit, in_unit, number
from burnerlab.quantity.units import Kind
from burnerlab.tables.phrase import Phrase

LEAST_DIGITS = 3  # significant, of a figure in other units than it was written in


@dataclass(frozen=True, slots=True, kw_only=True)
class QuotedQuantity:
    """A quantity in a sentence: its value in SI, the unit it is written in, and how."""

    value_SI: float
    kind: Kind
    unit: str
    spec: str  # of the number in that unit, as format takes it
    has_unit: bool = True  # False: the unit stands with another figure of the sentence
    US_unit: str = ""  # where it is not that of its size

    def text(self, system: System = "metric") -> str:
        """As written; to a reader in US units in theirs, of as many significant digits, three at least."""
        figure = format(float(in_unit(self.value_SI, self.kind, self.unit)), self.spec).rstrip(".")
        unit, written = self.unit, figure.partition("e")[0]
        shown = max(len(written.replace(".", "").lstrip("-0")), LEAST_DIGITS)
        if written != figure:  # never in powers of ten
            figure = number(float(figure), shown)
        if system == "US":
            unit = self.US_unit or display_unit(self.value_SI, self.kind, system)[0]
            if self.is_bore and unit in BORE_PLACES:
                return self._with_unit(
                    f"{in_unit(self.value_SI, self.kind, unit):.{BORE_PLACES[unit]}f}", unit
                )
            value = float(f"{in_unit(self.value_SI, self.kind, unit):.{shown}g}")
            figure = number(value, shown)
        return self._with_unit(figure, unit)

    @property
    def is_bore(self) -> bool:
        """Whether it is written as fine as a bore is."""
        return self.kind is Kind.DIAMETER and self.spec == f".{BORE_PLACES.get(self.unit)}f"

    def _with_unit(self, figure: str, unit: str) -> str:
        return f"{figure} {unit}" if self.has_unit else figure


class QuantityText(str):
    """A text in metric units that can be had in others; what is added to it keeps its quantities.

    >>> pressure = quoted(2740.0, Kind.GAUGE_PRESSURE, "mbar", ".3g")
    >>> sentence = "at " + pressure + " before the orifice"
    >>> sentence, sentence.in_system("US")
    ('at 27.4 mbar before the orifice', 'at 11.0 in w.c. before the orifice')
    """

    parts: tuple[str | QuotedQuantity, ...]

    def __new__(cls, parts: Iterable[str | QuotedQuantity], metric: str | None = None) -> QuantityText:
        """metric : the sentence in metric units, where it is known"""
        own = tuple(parts)
        made = super().__new__(cls, _joined(own, "metric") if metric is None else metric)
        made.parts = own
        return made

    def __getnewargs__(self) -> tuple[tuple[str | QuotedQuantity, ...]]:  # type: ignore[override]  # of a copy
        return (self.parts,)

    def __add__(self, other: str, /) -> QuantityText:
        return QuantityText((*self.parts, *_parts(other)), str.__add__(self, other))

    def __radd__(self, other: str, /) -> QuantityText:
        return QuantityText((*_parts(other), *self.parts), str.__add__(other, self))

    def in_system(self, system: System) -> str:
        """The sentence in the units of a reader."""
        return _joined(self.parts, system)


def _joined(parts: Iterable[str | QuotedQuantity], system: System) -> str:
    return "".join(str(part) if isinstance(part, str) else part.text(system) for part in parts)


def _parts(text: str) -> tuple[str | QuotedQuantity, ...]:
    return text.parts if isinstance(text, QuantityText) else (text,)


def quoted(
    value_SI: float, kind: Kind, unit: str, spec: str, *, has_unit: bool = True, US_unit: str = ""
) -> QuantityText:
    """A quantity as a sentence quotes it.

    unit : of metric readers; spec : of the number in that unit

    >>> quoted(4660.0, Kind.POWER, "kW", ".3g").in_system("US")
    '15 900 Btu/h'
    """
    return QuantityText(
        (
            QuotedQuantity(
                value_SI=float(value_SI), kind=kind, unit=unit, spec=spec, has_unit=has_unit, US_unit=US_unit
            ),
        )
    )


def quantity_text(template: str, *parts: str) -> QuantityText:
    """A sentence with a part in the place of each ``{}``; the parts may be quoted quantities.

    Raises ValueError where there are more places than parts, or fewer.

    >>> quantity_text("ports {} wide", quoted(0.00254, Kind.DIAMETER, "mm", ".3g")).in_system("US")
    'ports 0.100 in wide'
    """
    between = template.split("{}")
    made: list[str | QuotedQuantity] = [between[0]]
    metric = [between[0]]
    for part, text in zip(parts, between[1:], strict=True):
        made += [*_parts(part), text]
        metric += [part, text]
    return QuantityText(made, "".join(metric))


def text_in(text: str, system: System) -> str:
    """A text in the units of a reader, where it keeps its quantities; any other as it is."""
    if isinstance(text, Phrase):
        return in_places(lambda value: text_in(value, system), text)
    return text.in_system(system) if isinstance(text, QuantityText) else text


def in_places(change: Callable[[str], str], text: str) -> str:
    """A change of what stands in the places of a phrase, whose words stay; a text without places as it is.

    >>> in_places(str.upper, Phrase("on {gas}", gas="propane"))
    'on PROPANE'
    """
    if not isinstance(text, Phrase):
        return text
    return Phrase(text.template, **{name: change(value) for name, value in text.values.items()})


def has_places(text: str) -> bool:
    """Whether a text is a phrase that quotes figures whose unit stands elsewhere, each in a place of its own.

    >>> has_places(Phrase("{low} to 35", low=millimetre(0.0274, ".3g", has_unit=False))), has_places("27.4")
    (True, False)
    """
    return isinstance(text, Phrase) and has_bare_figures(text)


def has_bare_figures(text: str) -> bool:
    """Whether a text quotes a figure whose unit stands elsewhere, as in the head of its column.

    >>> bare = millimetre(0.0274, ".3g", has_unit=False)
    >>> has_bare_figures(bare), has_bare_figures(Phrase("{low} to 35", low=bare)), has_bare_figures("27.4")
    (True, True, False)
    """
    if isinstance(text, Phrase):
        return any(map(has_bare_figures, text.values.values()))
    return any(not part.has_unit for part in _parts(text) if isinstance(part, QuotedQuantity))


# As sentences of this trade quote them.


def millibar(pressure_Pa: float, spec: str) -> QuantityText:
    """A gauge pressure of gas in mbar, however high.

    >>> millibar(2488.4, ".4g").in_system("US")
    '9.990 in w.c.'
    """
    return quoted(pressure_Pa, Kind.GAUGE_PRESSURE, "mbar", spec)


def kilowatt(power_W: float, spec: str, *, has_unit: bool = True) -> QuantityText:
    """A heat input in kW.

    >>> kilowatt(3660.0, ".3g")
    '3.66 kW'
    """
    return quoted(power_W, Kind.POWER, "kW", spec, has_unit=has_unit)


def millimetre(length_m: float, spec: str, *, has_unit: bool = True) -> QuantityText:
    """A diameter in mm.

    >>> millimetre(0.001, ".3g")
    '1 mm'
    """
    return quoted(length_m, Kind.DIAMETER, "mm", spec, has_unit=has_unit)


def celsius(temperature_K: float, *, has_unit: bool = True) -> QuantityText:
    """A temperature in whole degrees.

    >>> celsius(1005.9).in_system("US")
    '1350 °F'
    """
    return quoted(temperature_K, Kind.TEMPERATURE, "°C", ".0f", has_unit=has_unit)
