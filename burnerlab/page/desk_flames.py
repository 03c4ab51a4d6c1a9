"""Air and flame of every burner on every market, in the cell of its orifice."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, replace
from typing import ClassVar

from burnerlab.appliance.conversion.evaluation_result import (
    BurnerFlames,
    Evaluation,
    FlameMargin,
    TileAt,
    WarmUp,
)
from burnerlab.appliance.conversion.refusal import not_to_fit
from burnerlab.appliance.conversion.result import BurnerConversion, Conversion, Finding
from burnerlab.burner.stability_diagram import OperatingPoint
from burnerlab.burner.tile_evaluation import Band
from burnerlab.page.desk_diagram import (
    HEIGHT,
    WIDTH,
    DiagramPicture,
    MarketFlame,
    diagram_picture,
    loading_unit,
    shutter_airs,
)
from burnerlab.page.desk_fragment import (
    DeskFigure,
    DeskPart,
    Fragment,
    MarketConversion,
    desk_figure,
    desk_mark,
)
from burnerlab.quantity import System
from burnerlab.report.sheet.blocks import FLAME_TEMPERATURE, digits, margin_text, percent, pressure
from burnerlab.report.sheet.checks import burners_words, is_of_flame, outside_checks
from burnerlab.report.sheet.wording import clean, name
from burnerlab.tables.phrase import Phrase, joined
from burnerlab.tables.verdict import Verdict, worst

LIGHT_BACK, TILE = "light-back", "tile: "
NEW_GAS, PRESENT_GAS, NOT_KNOWN = "new gas", "present gas", "not evaluated"


@dataclass(frozen=True, slots=True, kw_only=True)
class FlameCell(Fragment):
    """One burner on one market as its supply serves it: its heat input, and the worst margin of its flame."""

    template: ClassVar[str] = "desk_answer_flame"

    supplied: DeskFigure  # deviation with every burner on, and alone; "" where no supply is described
    supplied_verdict: DeskFigure | None
    margin: DeskFigure  # the smallest, by name with its band; the face of a tile
    moment: DeskFigure  # rate, and cold or hot
    verdict: DeskFigure  # of its flame, or of its tile; "" where no orifice fits
    outside: DeskFigure  # every check of the burner that is outside, but that of its heat input
    beyond: DeskFigure | None  # their mark, where that of the flame is another
    why: str = ""  # where nothing was evaluated


def flame_cells(count: int, market: MarketConversion, system: System) -> Iterator[FlameCell]:
    """The cells of one market, burner by burner; of a market that cannot be calculated without figures."""
    several, c = len(market.conversions) > 1, market.conversion
    refused = () if c is None else not_to_fit(c)
    for place in range(1, count + 1):
        id = f"flame-{place}-{market.letter}"
        if c is not None and c.burners[place - 1].name in refused:  # nothing burns with the nearest
            yield replace(_cell(id, _Words()), verdict=desk_figure(f"{id}-verdict", ""))
            continue
        words = [
            _words(c, c.evaluation, c.burners[place - 1], system, clean(c.to_gas.name) if several else "")
            for c in market.conversions
            if c.evaluation is not None
        ]
        yield _cell(id, _of_all_gases(words))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Words:
    """The texts of a cell, on one gas or of the worst of several."""

    supplied: str = ""
    supplied_verdict: Verdict | None = None
    deviation: float = 0.0  # [-]
    smallest: float = math.inf  # margin
    margin: str = ""
    moment: str = ""
    verdict: Verdict = Verdict.NOT_EVALUATED
    outside: tuple[str, ...] = ()
    gas: str = ""  # where there are several
    why: str = ""


def _of_all_gases(words: Sequence[_Words]) -> _Words:
    """Of several gases that one orifice serves: the worst heat input, the worst flame, everything outside."""
    if len(words) < 2:
        return words[0] if words else _Words()
    supplied = min(words, key=lambda each: (_rank(each.supplied_verdict), -abs(each.deviation)))
    flame = min(words, key=lambda each: (not each.margin, each.verdict.rank, each.smallest))
    return replace(
        flame,
        supplied=supplied.supplied,
        supplied_verdict=supplied.supplied_verdict,
        verdict=worst(each.verdict for each in words),
        outside=tuple(_outside_of_gases(words)),
    )


def _outside_of_gases(words: Sequence[_Words]) -> Iterator[str]:
    """What is outside on some gas, each once; the gas is named where it is not outside on all of them."""
    for topic in dict.fromkeys(topic for each in words for topic in each.outside):
        gases = [each.gas for each in words if topic in each.outside]
        yield topic if len(gases) == len(words) else _on_gas(topic, ", ".join(gases))


def _rank(verdict: Verdict | None) -> int:
    return len(Verdict) if verdict is None else verdict.rank


def _cell(id: str, words: _Words) -> FlameCell:
    by_supply, is_beyond = (
        words.supplied_verdict,
        bool(words.outside) and words.verdict is not Verdict.OUTSIDE,
    )
    return FlameCell(
        id=id,
        supplied=desk_figure(f"{id}-supplied", words.supplied),
        supplied_verdict=None if by_supply is None else desk_mark(f"{id}-supplied-verdict", by_supply),
        margin=desk_figure(f"{id}-margin", words.margin),
        moment=desk_figure(f"{id}-moment", words.moment),
        verdict=desk_mark(f"{id}-verdict", words.verdict),
        outside=desk_figure(f"{id}-outside", ", ".join(words.outside)),
        beyond=desk_mark(f"{id}-beyond", Verdict.OUTSIDE) if is_beyond else None,
        why=words.why,
    )


def _words(c: Conversion, evaluation: Evaluation, b: BurnerConversion, system: System, gas: str) -> _Words:
    """One burner on one gas; the gas is named where there are several."""
    at = b.headline
    is_supplied = at.deviation_all_on is not None
    tile, flames = _new_tile(evaluation, b.name), evaluation.flames_of(b.name)
    margin, moment = _tile_words(tile, system) if tile is not None else flame_words(flames)
    why = "" if margin else next((q.why for q in c.not_evaluated if q.burner == b.name), "")
    warm = None if flames is None else flames.warm_up("new")
    smallest = None if warm is None else worst_margin(warm)
    return _Words(
        supplied=_on_gas(_supplied_words(b), gas) if is_supplied else "",
        supplied_verdict=at.verdict if is_supplied else None,
        deviation=at.deviation,
        smallest=math.inf if smallest is None else smallest.band.value,
        margin=margin,
        moment=_on_gas(moment, gas),
        verdict=worst(f.verdict for f in _flame_checks(c, b.name)),
        outside=tuple(topic.removeprefix(TILE) for topic in outside_checks(c, b)),
        gas=gas,
        why=why,
    )


def _on_gas(words: str, gas: str) -> str:
    """What is so on one gas of several, which is named then."""
    return Phrase("{words} on {gas}", words=words, gas=gas) if words and gas else words


def _new_tile(evaluation: Evaluation, burner: str) -> TileAt | None:
    return next((t for t in evaluation.tiles if t.burner == burner and t.which_gas == "new"), None)


def _supplied_words(b: BurnerConversion) -> str:
    at = b.headline
    all_on = percent(at.deviation_all_on or 0.0)
    if at.deviation_alone is None:
        return f"all on {all_on}"
    if b.count > 1:
        return f"all on {all_on}, all of its kind on {percent(at.deviation_alone)}"
    return f"all on {all_on}, alone {percent(at.deviation_alone)}"


def _flame_checks(c: Conversion, burner: str) -> list[Finding]:
    """Checks of a burner's flame, or of its tile, on the new gas."""
    return [
        f
        for f in c.findings
        if f.burner == burner and f.which_gas == "new" and (is_of_flame(f) or f.topic.startswith(TILE))
    ]


def burner_air_words(c: Conversion, burner: str) -> str:
    """Primary air of a burner on the new gas, cold to hot; "" where it is not known."""
    if c.evaluation is None:
        return ""
    tile, flames = _new_tile(c.evaluation, burner), c.evaluation.flames_of(burner)
    if tile is not None:
        return air_words(tile.cold_primary_aeration, tile.hot_primary_aeration)
    if flames is None:
        return ""
    at, warm = flames.full("new"), flames.warm_up("new")
    return air_words(
        None if at is None else at.primary_aeration, None if warm is None else warm.hot_primary_aeration
    )


def flame_words(flames: BurnerFlames | None) -> tuple[str, str]:
    """The worst margin by name with its band, and when; each "" where it is not known."""
    warm = None if flames is None else flames.warm_up("new")
    smallest = None if warm is None else worst_margin(warm)
    if smallest is None or warm is None:
        return "", ""
    return margin_words(smallest, warm), smallest.moment


def worst_margin(warm: WarmUp) -> FlameMargin | None:
    """The smallest margin of a burner on a gas, each limit where it bites."""
    return min(warm.margins, key=lambda each: each.band.value, default=None)


def margin_words(margin: FlameMargin, warm: WarmUp) -> str:
    """A margin by the name of its limit with its band; one that is only a bound says so.

    >>> hot = Band(value=2.0, low=0.27, high=11.4)
    >>> band_words(hot)
    '2.00 (0.27 to 11)'
    """
    return f"{margin.limit} {_bound_words(margin, warm)}"


def _bound_words(margin: FlameMargin, warm: WarmUp) -> str:
    """A margin with its band, without the name of its limit."""
    words = band_words(margin.band)
    is_bound = margin.limit == LIGHT_BACK and warm.light_back_is_at_least
    return Phrase("at least {band}", band=words) if is_bound else words


def band_words(band: Band) -> str:
    """A margin and both ends of its band; far from its limit it says no more than that."""
    value, low, high = margin_text(band.value), margin_text(band.low, 2), margin_text(band.high, 2)
    return value if value == low == high else f"{value} ({low} to {high})"


# the panels


@dataclass(frozen=True, slots=True, kw_only=True)
class MarketFlameRow(DeskPart):
    """One market in the figures of a panel."""

    letter: str
    air: DeskFigure
    loading: DeskFigure
    lift: DeskFigure
    light_back: DeskFigure
    yellow_tips: DeskFigure
    shutter: DeskFigure


@dataclass(frozen=True, slots=True, kw_only=True)
class FlamePanel(DeskPart):
    """The stability diagram of burners that are alike, on every market, and its figures."""

    id: str
    burners: str
    title: str  # the picture in words
    picture: DiagramPicture
    rows: tuple[MarketFlameRow, ...]
    missing: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FlamePanels(Fragment):
    """A panel for each burner that differs."""

    template: ClassVar[str] = "desk_answer_flames"

    panels: tuple[FlamePanel, ...]
    letters: tuple[tuple[str, str], ...]  # of the pictures: letter, and the market with its gas
    loading: str  # unit
    width: float = WIDTH
    height: float = HEIGHT

    @property
    def titles(self) -> tuple[str, ...]:
        return tuple(panel.title for panel in self.panels)


def flame_panels(markets: Sequence[MarketConversion], system: System) -> FlamePanels:
    """The diagrams of burners with open ports; equal ones share a panel."""
    solved = [each for m in markets for each in m.by_gas if each[1].evaluation is not None]
    groups: dict[tuple[object, ...], list[tuple[int, list[_OnMarket]]]] = {}
    first = solved[0][1] if solved else None
    for place, b in enumerate(first.burners if first is not None else ()):
        found = [one for k, each in enumerate(solved) if (one := _on_market(each, k, b.name)) is not None]
        if found and not b.kind.traits.is_radiant:
            key = tuple(one.key for one in found)
            groups.setdefault(key, []).append((place, found))
    panels = tuple(
        _panel(first, f"panel-{places[0][0] + 1}", places, system)
        for places in groups.values()
        if first is not None
    )
    letters = tuple(
        (letter, _gas_words(market, c, system))
        for market in markets
        for letter, c in market.by_gas
        if c.evaluation is not None
    )
    return FlamePanels(id="flames", panels=panels, letters=letters, loading=loading_unit(system)[1])


def _gas_words(market: MarketConversion, c: Conversion, system: System) -> str:
    """What a letter of the pictures stands for: the market, its gas and pressure."""
    gas, at_Pa = clean(c.to_gas.name), c.to_gauge_pressure_Pa
    on_gas = f"{gas} at {pressure(at_Pa).scale(system).text(at_Pa)}"
    return ": ".join(filter(None, (name(market.name), on_gas)))


@dataclass(frozen=True, slots=True, kw_only=True)
class _OnMarket:
    """A burner on a market, as a panel needs it."""

    flame: MarketFlame
    warm: WarmUp | None
    opening: float | None
    missing: tuple[str, ...]

    @property
    def key(self) -> tuple[object, ...]:
        """What burners alike share."""
        points = tuple(
            (p.label, round(p.aeration, 6), round(p.loading_W_per_mm2, 6)) for p in self.flame.points
        )
        margins = () if self.warm is None else tuple(round(m.band.value, 6) for m in self.warm.margins)
        return self.flame.letter, points, margins, self.opening


def _on_market(on_gas: tuple[str, Conversion], place: int, burner: str) -> _OnMarket | None:
    letter, c = on_gas
    assert c.evaluation is not None
    diagram = next((d for d in c.evaluation.diagrams if d.burner == burner), None)
    flames = c.evaluation.flames_of(burner)
    if diagram is None or flames is None:
        return None
    points = tuple(p for p in diagram.points if p.gas == NEW_GAS)
    if not points:
        return None
    warm = flames.warm_up("new")
    flame = MarketFlame(
        letter=letter,
        place=place,
        points=points,
        hot=tuple(_hot(warm, points)),
        curves=tuple(curve for curve in diagram.curves if curve.gas == NEW_GAS),
        yellow_tips=tuple(line for line in diagram.yellow_tips if line.gas == NEW_GAS),
    )
    missing = tuple(text.replace(f" on {NEW_GAS}", f" on {letter}") for text in diagram.missing)
    opening = None if flames.shutter is None else flames.shutter.opening
    own = tuple(text for text in missing if PRESENT_GAS not in text)
    return _OnMarket(flame=flame, warm=warm, opening=opening, missing=own)


def _hot(warm: WarmUp | None, points: Sequence[OperatingPoint]) -> Iterator[tuple[str, float, float]]:
    """Air on the hot burner at full and lowest rate, at the loading of the same rate cold."""
    if warm is None:
        return
    for rate, band in (
        (points[0].label, warm.hot_primary_aeration),
        (warm.lowest_rate, warm.hot_lowest_rate_primary_aeration),
    ):
        same = next((p for p in points if p.label == rate), None)
        if band is not None and same is not None:
            yield rate, band.value, same.loading_W_per_mm2


def _panel(
    c: Conversion, id: str, places: Sequence[tuple[int, list[_OnMarket]]], system: System
) -> FlamePanel:
    found = places[0][1]
    burners = burners_words(c, [c.burners[place].name for place, _ in places])
    rows = tuple(_flame_row(f"{id}-{one.flame.letter}", one, system) for one in found)
    words = joined("; ", map(_row_words, rows))
    return FlamePanel(
        id=id,
        burners=burners,
        title=Phrase("Stability diagram of {burners}: {words}", burners=burners, words=words),
        picture=diagram_picture([one.flame for one in found], system),
        rows=rows,
        missing=tuple(dict.fromkeys(text for one in found for text in one.missing)),
    )


def _row_words(row: MarketFlameRow) -> Phrase:
    return Phrase(
        "{letter}: {text}, {text2}, lift {text3}, light-back {text4}, yellow tips {text5}",
        letter=row.letter,
        text=row.air.text,
        text2=row.loading.text,
        text3=row.lift.text,
        text4=row.light_back.text,
        text5=row.yellow_tips.text,
    )


def _flame_row(id: str, case: _OnMarket, system: System) -> MarketFlameRow:
    size, unit = loading_unit(system)
    full, warm = case.flame.points[0], case.warm
    margins: dict[str, list[str]] = {}
    for margin in () if warm is None else warm.margins:
        words = _bound_words(margin, warm) if warm is not None else ""
        margins.setdefault(margin.limit, []).append(f"{words}, {margin.moment}")
    cold = Band(value=full.aeration, low=full.aeration_low, high=full.aeration_high)
    hot = None if warm is None else warm.hot_primary_aeration
    airs = shutter_airs(full.state)
    opening = "" if case.opening is None else f"{100 * case.opening:.0f} % open"
    if airs.size > 1:
        opening += f"; air {100 * airs.min():.0f} to {100 * airs.max():.0f} % over its range"
    return MarketFlameRow(
        letter=case.flame.letter,
        air=desk_figure(f"{id}-air", air_words(cold, hot)),
        loading=desk_figure(f"{id}-loading", f"{digits(full.loading_W_per_mm2 / size, 3)} {unit}"),
        lift=desk_figure(f"{id}-lift", _limit_words(margins, "lift")),
        light_back=desk_figure(f"{id}-light-back", _limit_words(margins, LIGHT_BACK)),
        yellow_tips=desk_figure(f"{id}-yellow-tips", _limit_words(margins, "yellow tips")),
        shutter=desk_figure(f"{id}-shutter", opening),
    )


def _limit_words(margins: dict[str, list[str]], limit: str) -> str:
    return "; ".join(margins.get(limit, [NOT_KNOWN]))


# margins and air in words

OF_LIMIT = {"lift": "lift_margin", "light-back": "light_back_margin", "yellow tipping": "yellow_tip_margin"}


def band_of(c: Conversion, finding: Finding) -> str:
    """The margin of a check of the flame with its band; "" for a check that is none, or whose margin is not known."""
    limit = OF_LIMIT.get(finding.topic.split(" at ")[0])
    flames = None if c.evaluation is None else c.evaluation.flames_of(finding.burner)
    if limit is None or flames is None or finding.value is None:
        return ""
    which = finding.which_gas or "new"
    warm = flames.warm_up(which)
    bands = [getattr(rate, limit) for rate in flames.rates if rate.which_gas == which]
    bands += [] if warm is None else [getattr(warm, f.name) for f in fields(warm) if f.name.endswith(limit)]
    for band in bands:
        if band is not None and math.isclose(band.value, finding.value, rel_tol=1e-9):
            words = band_words(band)
            is_bound = limit == OF_LIMIT[LIGHT_BACK] and warm and warm.light_back_is_at_least
            return Phrase("at least {band}", band=words) if is_bound else words
    return ""


def air_words(cold: Band | None, hot: Band | None) -> str:
    """Primary air cold to hot in per cent of the stoichiometric.

    >>> air_words(Band(value=0.513, low=0.42, high=0.64), Band(value=0.493, low=0.41, high=0.61))
    'air 51 to 49 %, cold to hot'
    """
    if cold is not None and hot is not None:
        return f"air {100 * cold.value:.0f} to {100 * hot.value:.0f} %, cold to hot"
    if cold is not None:
        return f"air {100 * cold.value:.0f} %, cold"
    return "" if hot is None else f"air {100 * hot.value:.0f} %, hot"


def _tile_words(tile: TileAt, system: System) -> tuple[str, str]:
    """The temperature of the face with its band; "" where its flame lies outside the table of flames."""
    scale, face = FLAME_TEMPERATURE.scale(system), tile.face_temperature_K
    if face is None:
        return "", ""
    value, low, high = (scale.of(end) for end in (face.value, face.low, face.high))
    return f"face {value:.0f} {scale.unit} ({low:.0f} to {high:.0f})", "in balance with its flame"
