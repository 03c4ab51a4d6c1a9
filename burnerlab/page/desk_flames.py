"""Air and flame of every burner on every market, in the cell of its orifice."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, fields
from typing import ClassVar

from burnerlab.appliance.conversion.evaluation_result import (
    BurnerFlames,
    Evaluation,
    FlameMargin,
    TileAt,
    WarmUp,
)
from burnerlab.appliance.conversion.result import BurnerConversion, Conversion, Finding
from burnerlab.burner.tile_evaluation import Band
from burnerlab.page.desk_fragment import DeskFigure, Fragment, MarketConversion, desk_figure, desk_mark
from burnerlab.quantity import System
from burnerlab.report.sheet.blocks import FLAME_TEMPERATURE, margin_text, percent
from burnerlab.report.sheet.checks import is_of_flame
from burnerlab.tables.verdict import Verdict, worst

LIGHT_BACK, TILE = "light-back", "tile: "


@dataclass(frozen=True, slots=True, kw_only=True)
class FlameCell(Fragment):
    """One burner on one market as its supply serves it: its heat input, and the worst margin of its flame."""

    template: ClassVar[str] = "desk_answer_flame"

    supplied: DeskFigure  # deviation with every burner on, and alone; "" where no supply is described
    supplied_verdict: DeskFigure | None
    margin: DeskFigure  # the smallest, by name with its band; the face of a tile
    moment: DeskFigure  # rate, and cold or hot
    verdict: DeskFigure  # of its flame, or of its tile
    outside: DeskFigure  # the checks of it that are outside
    why: str = ""  # where nothing was evaluated


def flame_cells(count: int, market: MarketConversion, system: System) -> Iterator[FlameCell]:
    """The cells of one market, burner by burner; of a market that cannot be worked out without figures."""
    c = market.conversion
    for place in range(1, count + 1):
        id = f"flame-{place}-{market.letter}"
        if c is None or c.evaluation is None:
            yield _cell(id, _Words())
        else:
            yield _cell(id, _words(c, c.evaluation, c.burners[place - 1], system))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Words:
    """The texts of a cell."""

    supplied: str = ""
    supplied_verdict: Verdict | None = None
    margin: str = ""
    moment: str = ""
    verdict: Verdict = Verdict.NOT_EVALUATED
    outside: str = ""
    why: str = ""


def _cell(id: str, words: _Words) -> FlameCell:
    by_supply = words.supplied_verdict
    return FlameCell(
        id=id,
        supplied=desk_figure(f"{id}-supplied", words.supplied),
        supplied_verdict=None if by_supply is None else desk_mark(f"{id}-supplied-verdict", by_supply),
        margin=desk_figure(f"{id}-margin", words.margin),
        moment=desk_figure(f"{id}-moment", words.moment),
        verdict=desk_mark(f"{id}-verdict", words.verdict),
        outside=desk_figure(f"{id}-outside", words.outside),
        why=words.why,
    )


def _words(c: Conversion, evaluation: Evaluation, b: BurnerConversion, system: System) -> _Words:
    at = b.headline
    is_supplied = at.deviation_all_on is not None
    tile, flames = _new_tile(evaluation, b.name), evaluation.flames_of(b.name)
    margin, moment = _tile_words(tile, system) if tile is not None else flame_words(flames)
    why = "" if margin else next((q.why for q in c.not_evaluated if q.burner == b.name), "")
    return _Words(
        supplied=_supplied_words(b) if is_supplied else "",
        supplied_verdict=at.verdict if is_supplied else None,
        margin=margin,
        moment=moment,
        verdict=worst(f.verdict for f in _flame_checks(c, b.name)),
        outside=", ".join(_outside_topics(c, b.name)),
        why=why,
    )


def _new_tile(evaluation: Evaluation, burner: str) -> TileAt | None:
    return next((t for t in evaluation.tiles if t.burner == burner and t.which_gas == "new"), None)


def _supplied_words(b: BurnerConversion) -> str:
    at = b.headline
    alone = "" if at.deviation_alone is None else f", alone {percent(at.deviation_alone)}"
    return f"all on {percent(at.deviation_all_on or 0.0)}{alone}"


def _flame_checks(c: Conversion, burner: str) -> list[Finding]:
    """Checks of a burner's flame, or of its tile, on the new gas."""
    return [
        f
        for f in c.findings
        if f.burner == burner and f.which_gas == "new" and (is_of_flame(f) or f.topic.startswith(TILE))
    ]


def _outside_topics(c: Conversion, burner: str) -> Iterator[str]:
    topics = (f.topic.removeprefix(TILE) for f in _flame_checks(c, burner) if f.verdict is Verdict.OUTSIDE)
    return iter(dict.fromkeys(topics))


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
    bound = "at least " if margin.limit == LIGHT_BACK and warm.light_back_is_at_least else ""
    return f"{margin.limit} {bound}{band_words(margin.band)}"


def band_words(band: Band) -> str:
    """A margin and both ends of its band; far from its limit it says no more than that."""
    value, low, high = margin_text(band.value), margin_text(band.low, 2), margin_text(band.high, 2)
    return value if value == low == high else f"{value} ({low} to {high})"


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
            bound = (
                "at least " if limit == OF_LIMIT[LIGHT_BACK] and warm and warm.light_back_is_at_least else ""
            )
            return bound + band_words(band)
    return ""


def air_words(cold: Band | None, hot: Band | None) -> str:
    """Primary air cold to hot in per cent of the stoichiometric.

    >>> air_words(Band(value=0.513, low=0.42, high=0.64), Band(value=0.493, low=0.41, high=0.61))
    'air 51 to 49 %, cold to hot'
    """
    ends = [(word, band) for word, band in (("cold", cold), ("hot", hot)) if band is not None]
    if not ends:
        return ""
    values = " to ".join(f"{100 * band.value:.0f}" for _, band in ends)
    return f"air {values} %, {' to '.join(word for word, _ in ends)}"


def _tile_words(tile: TileAt, system: System) -> tuple[str, str]:
    """The temperature of the face with its band; "" where its flame lies outside the table of flames."""
    scale, face = FLAME_TEMPERATURE.scale(system), tile.face_temperature_K
    if face is None:
        return "", ""
    value, low, high = (scale.of(end) for end in (face.value, face.low, face.high))
    return f"face {value:.0f} {scale.unit} ({low:.0f} to {high:.0f})", "in balance with its flame"
