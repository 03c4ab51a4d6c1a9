"""The first answer of the desk: every burner's orifice on every market, with what it gives at the nominal pressure."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import ClassVar

from burnerlab.appliance.conversion.refusal import no_orifice_words, not_to_fit, refusals
from burnerlab.appliance.conversion.result import (
    PRESENT_HEAT_INPUT,
    BurnerConversion,
    Conversion,
    verdict_of_interval,
)
from burnerlab.appliance.project.model import Appliance
from burnerlab.orifice.drill import NONE_FITS, bore_system
from burnerlab.orifice.flow import SUBCRITICAL
from burnerlab.page.desk_fragment import (
    DeskFigure,
    DeskPart,
    Fragment,
    MarketConversion,
    desk_figure,
    desk_mark,
)
from burnerlab.page.result_text import minus
from burnerlab.quantity import System
from burnerlab.quantity.prose import in_reader_units
from burnerlab.quantity.quantity_text import text_in
from burnerlab.report.sheet.alternatives import bores_of_both_words, drill_words, policy_label
from burnerlab.report.sheet.blocks import ALTITUDE, AMBIENT, BORE, POWER, basis_of, percent, pressure
from burnerlab.report.sheet.burners import band_words, interval_words
from burnerlab.report.sheet.wording import clean, name
from burnerlab.tables.verdict import Verdict, worst

FAMILY = re.compile(r"family (\d)")
NO_RULE = "WARNING: No altitude rule chosen: choose it before drilling"
MOST_MARK = 24  # characters of an orifice's mark
MOST_PART = 24  # characters of a part number


@dataclass(frozen=True, slots=True, kw_only=True)
class OrificeCell(Fragment):
    """One burner on one market: what to drill, and what it gives at the nominal pressure.

    A market that cannot be calculated has cells without figures.
    """

    template: ClassVar[str] = "desk_answer_orifice"

    place: int  # of the burner in the file, from 1
    letter: str
    market: str  # name, gases and pressures: nobody drills for another gas who reads one cell alone
    mark: DeskFigure  # of the orifice, in the largest type
    bore: DeskFigure  # the exact one, with that of the mark where the mark does not say it
    rate: DeskFigure
    deviation: DeskFigure
    as_made: DeskFigure  # ends of the deviation by drill and coefficient, in per cent
    verdict: DeskFigure
    air: DeskFigure  # primary air: cold in the first answer, cold to hot in the whole one
    refused: DeskFigure  # why no drill meets the band; "" where one does
    remarks: tuple[DeskFigure, ...] = ()  # that no altitude rule is chosen; the other gas of a couple


@dataclass(frozen=True, slots=True, kw_only=True)
class AltitudeRule(DeskPart):
    """What an altitude rule makes of the rating at the place of a market, and of the bores."""

    name: DeskFigure
    share: DeskFigure  # of the rating
    bores: DeskFigure  # drills in the order of the burners, or why there are none


@dataclass(frozen=True, slots=True, kw_only=True)
class MarketHead(Fragment):
    """What a column of markets stands for."""

    template: ClassVar[str] = "desk_answer_market"

    letter: str
    name: str
    gas: DeskFigure
    place: DeskFigure
    total: DeskFigure  # all burners together, at the nominal pressure
    band: DeskFigure
    altitude: DeskFigure  # that no altitude rule is chosen where one lowers the rating; "" elsewhere
    rules: tuple[AltitudeRule, ...] = ()  # to choose from, each with its bores
    remarks: tuple[str, ...] = ()
    problems: tuple[str, ...] = ()  # why it cannot be calculated
    like: str = ""  # the letter of a market before it with the same problems, which stand there


@dataclass(frozen=True, slots=True, kw_only=True)
class PresentBurner(DeskPart):
    """A burner as it stands in the file."""

    name: str
    orifice: DeskFigure
    rate: DeskFigure
    deviation: DeskFigure
    verdict: DeskFigure


@dataclass(frozen=True, slots=True, kw_only=True)
class PresentState(Fragment):
    """The appliance as the file describes it, on its own gas with its own orifices."""

    template: ClassVar[str] = "desk_answer_present"

    gas: DeskFigure
    basis: str
    burners: tuple[PresentBurner, ...]
    mark: DeskFigure | None = None  # the worst of its heat inputs


@dataclass(frozen=True, slots=True, kw_only=True)
class ApartGas(DeskPart):
    """A gas of a market that no orifice of the first gas serves."""

    letter: str  # of the market
    gas: str
    words: DeskFigure


@dataclass(frozen=True, slots=True, kw_only=True)
class ApartGases(Fragment):
    """Markets whose gases are of different families: each family needs orifices of its own."""

    template: ClassVar[str] = "desk_answer_apart"

    gases: tuple[ApartGas, ...]


def apart_gases(markets: Sequence[MarketConversion]) -> ApartGases:
    """The gases that belong into a market of their own; none for a market whose gases share their orifices."""
    found = []
    for market in markets:
        first, *others = market.conversions or (None,)
        for c in others:
            if first is None or not _are_apart(first, c):
                continue
            one, other = clean(first.to_gas.name), clean(c.to_gas.name)
            text = f"Market {market.letter}: {one} and {other} need two sets of orifices"
            found.append(
                ApartGas(
                    letter=market.letter, gas=other, words=desk_figure(f"apart-{market.letter}-{other}", text)
                )
            )
            break
    return ApartGases(id="apart", gases=tuple(found))


def _are_apart(first: Conversion, other: Conversion) -> bool:
    """Whether two gases belong to no family in common."""
    one, two = (set(FAMILY.findall(c.to_gas.family)) for c in (first, other))
    return bool(one) and bool(two) and one.isdisjoint(two)


def orifice_cells(count: int, market: MarketConversion, system: System) -> Iterator[OrificeCell]:
    """The cells of one market for a number of burners, in the order of the file."""
    c = market.conversion
    for place in range(1, count + 1):
        yield _empty(place, market) if c is None else _cell(c, place, market, system)


def _market_words(market: MarketConversion, system: System) -> str:
    """Name, gases and pressures of a market, as they stand before each of its orifices."""
    every = [(clean(c.to_gas.name), c.to_gauge_pressure_Pa) for c in market.conversions]
    gases = [f"{gas} at {pressure(at_Pa).scale(system).text(at_Pa)}" for gas, at_Pa in every]
    return minus(": ".join(filter(None, (name(market.name), ", ".join(gases)))))


def _empty(place: int, market: MarketConversion) -> OrificeCell:
    """The cell of a market that cannot be calculated."""
    letter = market.letter
    id = f"orifice-{place}-{letter}"
    return OrificeCell(
        id=id,
        place=place,
        letter=letter,
        market=name(market.name),
        mark=desk_figure(f"{id}-mark", ""),
        bore=desk_figure(f"{id}-bore", ""),
        rate=desk_figure(f"{id}-rate", ""),
        deviation=desk_figure(f"{id}-deviation", ""),
        as_made=desk_figure(f"{id}-as-made", ""),
        verdict=desk_mark(f"{id}-verdict", Verdict.NOT_EVALUATED),
        air=desk_figure(f"{id}-air", ""),
        refused=desk_figure(f"{id}-refused", ""),
    )


def _cell(c: Conversion, place: int, market: MarketConversion, system: System) -> OrificeCell:
    letter = market.letter
    id, b = f"orifice-{place}-{letter}", c.burners[place - 1]
    air = b.primary_aeration_after if b.primary_aeration_before is not None else None
    each = f"{b.orifice_count} × " if b.orifice_count > 1 else ""
    is_refused = b.name in not_to_fit(c)  # then nothing of what the nearest gives stands in its cell
    made = f"({interval_words(b.headline)})"
    return OrificeCell(
        id=id,
        place=place,
        letter=letter,
        market=_market_words(market, system),
        mark=desk_figure(f"{id}-mark", NONE_FITS if is_refused else each + clean(b.choice.drill, MOST_MARK)),
        bore=desk_figure(f"{id}-bore", _bore_words(b, system, is_refused=is_refused)),
        rate=desk_figure(f"{id}-rate", "" if is_refused else _rate_words(c, b, system)),
        deviation=desk_figure(f"{id}-deviation", "" if is_refused else percent(b.drill_deviation)),
        as_made=desk_figure(f"{id}-as-made", "" if is_refused else made),
        verdict=desk_mark(f"{id}-verdict", Verdict.OUTSIDE if is_refused else nominal_verdict(c, b)),
        air=desk_figure(f"{id}-air", "" if air is None or is_refused else f"air {100 * air:.0f} %, cold"),
        refused=desk_figure(f"{id}-refused", text_in(refusals(c).get(b.name, ""), system)),
        remarks=tuple(
            desk_figure(f"{id}-remark-{k}", text)
            for k, text in enumerate(_remarks(c, b, system, is_refused=is_refused), start=1)
        ),
    )


def _rate_words(c: Conversion, b: BurnerConversion, system: System) -> str:
    return POWER.scale(system).text(b.predicted_gross_W * basis_of(c).new)


def _bore_words(b: BurnerConversion, system: System, *, is_refused: bool) -> str:
    """The calculated bore; before it the part number of a stock, and that of the mark, unless the mark is its size."""
    scale = BORE.scale(bore_system(b.choice.drill, system))
    exact = f"exact {scale.text(b.to_orifice_m)}"
    if is_refused:
        return f"nearest {clean(b.choice.drill, MOST_MARK)}, do not fit; {exact}"
    is_size = b.choice.drill.endswith(f" {scale.unit}")
    words = exact if is_size else f"{scale.text(b.choice.diameter_m)}, {exact}"
    return f"{clean(b.part, MOST_PART)}, {words}" if b.part else words


def nominal_verdict(c: Conversion, b: BurnerConversion) -> Verdict:
    """Of the drill at the nominal pressure over its whole interval as made, whatever the supply then does to it.

    c : before its supply is solved, when its headline is that of the nominal pressure
    """
    at, band = b.headline, (c.tolerance_low, c.tolerance)
    low, high = at.deviation_low, at.deviation_high
    ends = None if low is None or high is None else (low, high)
    return verdict_of_interval(at.deviation, ends, *band)


def _remarks(c: Conversion, b: BurnerConversion, system: System, *, is_refused: bool) -> Iterator[str]:
    if altitude_warning(c, system):
        yield NO_RULE
    couple = c.pressure_couple
    if couple is None:
        return
    own = next(row for row in couple.inputs if row.burner == b.name)
    is_other = c.to_gas.name == couple.other_gas
    ratio = 1.0
    if c.rating_basis == "net":
        ratio = couple.reference_net_to_gross if is_other else couple.other_net_to_gross
    gas, at_Pa, heat_W, off = (
        (
            couple.reference_gas,
            couple.reference_gauge_pressure_Pa,
            own.reference_gross_W,
            own.reference_deviation,
        )
        if is_other
        else (couple.other_gas, couple.other_gauge_pressure_Pa, own.other_gross_W, own.other_deviation)
    )
    heat, at = POWER.scale(system).text(heat_W * ratio), pressure(at_Pa).scale(system).text(at_Pa)
    if not is_refused:
        yield f"{clean(gas)} at {at}: {heat}, {percent(off)}"
    yield f"bores for both gases: {bores_of_both_words(own, system)}"


def market_head(market: MarketConversion, system: System, like: str = "") -> MarketHead:
    """Gas, pressure and place of a market, with all burners together at the nominal pressure.

    like : letter of a market before it that has the same problems
    """
    c, id = market.conversion, f"market-{market.letter}"
    words = {"gas": "", "place": "", "total": "", "band": ""}
    remarks: tuple[str, ...] = ()
    if c is not None:
        at, basis, refused = c.to_gauge_pressure_Pa, basis_of(c), not_to_fit(c)
        whole_W = POWER.scale(system).text(c.total_predicted_gross_W * basis.new)
        aim = sum(b.aim_gross_W * b.count for b in c.burners)
        words = {
            "gas": f"{clean(c.to_gas.title)} at {pressure(at).scale(system).text(at)}",
            "place": _place(c, system),
            "total": no_orifice_words([clean(b.name) for b in c.burners if b.name in refused])
            if refused
            else f"all burners at the nominal pressure: {whole_W} {basis.word}, "
            f"{percent(c.total_predicted_gross_W / aim - 1.0)}",
            "band": f"band {band_words(c)} of the {'rating' if c.aim_factor == 1.0 else 'aim'}",
        }
        rests_on = [clean(text_in(note, system)) for note in c.notes if note != SUBCRITICAL]
        remarks = tuple(filter(None, (clean(text_in(c.supply_of_new_gas, system)), *rests_on)))
    return MarketHead(
        id=id,
        altitude=desk_figure(f"{id}-altitude", "" if c is None else altitude_warning(c, system)),
        rules=() if c is None else tuple(_altitude_rules(c, id)),
        letter=market.letter,
        name=name(market.name),
        remarks=tuple(minus(text) for text in remarks),
        problems=market.problems,
        like=like,
        gas=desk_figure(f"{id}-gas", words["gas"]),
        place=desk_figure(f"{id}-place", words["place"]),
        total=desk_figure(f"{id}-total", words["total"]),
        band=desk_figure(f"{id}-band", words["band"]),
    )


def altitude_warning(c: Conversion, system: System) -> str:
    """That bores for sea level stand where a rule lowers the rating, in the reader's units; "" elsewhere."""
    return "" if c.altitude is None else in_reader_units(c.altitude.warning, system)


def _altitude_rules(c: Conversion, id: str) -> Iterator[AltitudeRule]:
    """Every rule that may be chosen for a market, where none is."""
    if c.altitude is None or not c.altitude.warning:
        return
    for number, row in enumerate((c.altitude.sea_level, *c.altitude.rows), start=1):
        yield AltitudeRule(
            name=desk_figure(f"{id}-rule-{number}", policy_label(row.policy)),
            share=desk_figure(
                f"{id}-rule-{number}-share", "–" if row.factor is None else f"{100 * row.factor:.1f} %"
            ),
            bores=desk_figure(f"{id}-rule-{number}-bores", drill_words(row, c)),
        )


def _place(c: Conversion, system: System) -> str:
    where = (
        AMBIENT.scale(system).text(c.ambient_pressure_Pa)
        if c.altitude_m is None
        else ALTITUDE.scale(system).text(c.altitude_m)
    )
    policy = "" if c.aim_factor == 1.0 else f", rating × {c.aim_factor:.3f}"
    return f"at {where}{policy}"


def present_state(appliance: Appliance, markets: Sequence[MarketConversion], system: System) -> PresentState:
    """The appliance as it stands, from the first of its conversions; empty where none was worked out."""
    c = next((market.conversion for market in markets if market.conversion is not None), None)
    if c is None:
        return PresentState(id="present", gas=desk_figure("present-gas", ""), basis="", burners=())
    basis, at = basis_of(c), c.from_gauge_pressure_Pa
    rows = []
    for place, (b, burner) in enumerate(zip(c.burners, appliance.burners, strict=True), start=1):
        id = f"present-{place}"
        found = next((f for f in c.findings if f.topic == PRESENT_HEAT_INPUT and f.burner == b.name), None)
        off = "" if found is None or found.value is None else percent(found.value / 100.0)
        rows.append(
            PresentBurner(
                name=name(b.name),
                orifice=desk_figure(
                    f"{id}-orifice",
                    f"not given; {BORE.scale(system).text(burner.orifice.diameter_m)}, calculated for its rate"
                    if burner.orifice.is_calculated
                    else clean(b.from_drill, MOST_MARK) or BORE.scale(system).text(burner.orifice.diameter_m),
                ),
                rate=desk_figure(
                    f"{id}-rate",
                    ""
                    if b.from_predicted_gross_W is None
                    else POWER.scale(system).text(b.from_predicted_gross_W * basis.present),
                ),
                deviation=desk_figure(f"{id}-deviation", off),
                verdict=desk_mark(f"{id}-verdict", Verdict.NOT_EVALUATED if found is None else found.verdict),
            )
        )
    gas = f"{clean(c.from_gas.title)} at {pressure(at).scale(system).text(at)}"
    verdict = worst(row.verdict.verdict or Verdict.NOT_EVALUATED for row in rows)
    return PresentState(
        id="present",
        gas=desk_figure("present-gas", gas),
        basis=basis.word,
        burners=tuple(rows),
        mark=desk_mark("present-mark", verdict),
    )
