"""The paper of a product line: the set of orifices, who gets which, and of each model and market its kit and table."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import groupby
from operator import attrgetter

from burnerlab.appliance.study.injector_table import gas_at_pressure, gas_label
from burnerlab.appliance.study.orifice_set import OrificeUse
from burnerlab.appliance.study.product_line import FittedBurner, KitOrifice, ProductLine
from burnerlab.bench.kit_list import grams
from burnerlab.orifice.drill import orifice_words
from burnerlab.quantity.outputs import row
from burnerlab.quantity.quantity_text import kilowatt, millimetre
from burnerlab.quantity.show import number
from burnerlab.quantity.summary import percent
from burnerlab.report.layout_page import PlainTable
from burnerlab.report.paper_units import OF_REGION, PaperUnits
from burnerlab.report.sheet.vocabulary import gas_words
from burnerlab.report.sheet.wording import clean, name
from burnerlab.report.study_paper import StudyPaper
from burnerlab.tables.phrase import Phrase, joined
from burnerlab.tables.verdict import Verdict

NO_ORIFICE = Phrase("none")
PRICE = Phrase("Price of one of each model and market")


def line_paper(line: ProductLine, input_sha256: str, units: PaperUnits = OF_REGION) -> StudyPaper:
    """The orifices of a product line: what none serves, the set, burners by market, a kit and a table for each.

    units : those of its tables of one market
    """
    return StudyPaper(
        kind=Phrase("Orifices of a product line"),
        title=name("; ".join(line.models)),
        subtitle=Phrase(
            "Different orifices: {count}; burners and markets: {uses}",
            count=line.count,
            uses=len(line.uses),
        ),
        headline=(
            *(((Verdict.OUTSIDE.emphatic, line.not_served),) if line.not_served else ()),
            *((Verdict.OUTSIDE.emphatic, words) for words in line.outside),
            *((Phrase("Altitude"), words) for words in line.altitude),
            (Phrase("Served by no orifice"), str(len(line.unserved)) if line.unserved else NO_ORIFICE),
            (Phrase("Deviation, root mean square"), f"{100 * line.rms_deviation:.2f} %"),
            (Phrase("Largest deviation"), f"{100 * line.best.worst_deviation:.1f} %"),
            *(() if line.best.price is None else ((PRICE, number(line.best.price)),)),
            (Phrase("Orifices offered"), clean(line.offered)),
            *(((Phrase("To buy"), ", ".join(clean(one) for one in line.to_buy)),) if line.to_buy else ()),
        ),
        stops=tuple(_stops(line)),
        tables=(*_unserved(line), _set(line), *_models(line), *_sizes(line), *_markets(line, units)),
        notes=(*line.notes, *(clean(one, 300) for one in line.coefficient_sources)),
        rows=tuple(row(use) for use in line.uses),
        input_sha256=input_sha256,
    )


def _mark(use_name: str, part: str) -> str:
    return f"{clean(use_name)} ({clean(part, 24)})" if part else clean(use_name)


def _unserved(line: ProductLine) -> Iterator[PlainTable]:
    rows = tuple(
        (
            clean(one.demand.name),
            _window(*one.demand.window_m),
            ", ".join(f"{_mark(n.drill.name, n.drill.part)} {percent(n.deviation)}" for n in one.nearest)
            or NO_ORIFICE,
        )
        for one in line.unserved
    )
    if rows:
        heads = (
            Phrase("Model, burner, market"),
            Phrase("Hole, {unit}, its tolerance within", unit="mm"),
            Phrase("Nearest orifices"),
        )
        yield PlainTable(caption=Phrase("Served by no orifice"), heads=heads, rows=rows, words=True)


def _window(low_m: float, high_m: float) -> str:
    if low_m > high_m:
        return Phrase("no bore holds band, supply and ends")
    low, high = (millimetre(end, ".3f", has_unit=False) for end in (low_m, high_m))
    return Phrase("{low} to {high}", low=low, high=high)


def _set(line: ProductLine) -> PlainTable:
    rows = tuple(
        (
            _mark(one.drill.name, one.drill.part),
            millimetre(one.drill.diameter_m, ".3f", has_unit=False),
            str(one.demands),
        )
        for one in line.orifices
    )
    heads = (Phrase("Orifice"), Phrase("Bore, {unit}", unit="mm"), Phrase("Burners and markets"))
    return PlainTable(caption=Phrase("The set"), heads=heads, rows=rows)


def _models(line: ProductLine) -> Iterator[PlainTable]:
    """Of each model its burners by market: what to fit, how many, and what it burns against its rating."""
    for model in line.models:
        uses = {(use.demand.burner, use.demand.market): use for use in line.uses if use.demand.model == model}
        unserved = [
            (one.demand.burner, one.demand.market) for one in line.unserved if one.demand.model == model
        ]
        markets = list(dict.fromkeys(market for _, market in (*uses, *unserved)))
        rows = tuple(
            (name(burner), *(_use(uses.get((burner, market))) for market in markets))
            for burner in dict.fromkeys(burner for burner, _ in (*uses, *unserved))
        )
        if uses:
            yield PlainTable(caption=name(model), heads=(Phrase("Burner"), *map(name, markets)), rows=rows)


def _use(use: OrificeUse | None) -> str:
    if use is None:
        return Phrase("no orifice serves")
    mark = f"{use.demand.quantity} × {_mark(use.drill.name, use.drill.part)}"
    return f"{mark}, {' / '.join(percent(each) for each in use.deviations)}"


def _sizes(line: ProductLine) -> Iterator[PlainTable]:
    has_price = any(one.price is not None for one in line.sizes)
    rows = tuple(
        (
            Phrase("{count}, this set", count=one.count) if one.count == line.count else str(one.count),
            f"{100 * one.rms_deviation:.2f}",
            f"{100 * one.worst_deviation:.1f}",
            *(("" if one.price is None else number(one.price),) if has_price else ()),
        )
        for one in line.sizes
    )
    if rows:
        heads = (
            Phrase("Different orifices"),
            Phrase("Root mean square, %"),
            Phrase("Largest, %"),
            *((PRICE,) if has_price else ()),
        )
        yield PlainTable(
            caption=Phrase("What one orifice more or fewer does to the deviation"), heads=heads, rows=rows
        )


# The kit of each model and market, and its table.


def _stops(line: ProductLine) -> Iterator[str]:
    """One box, so that the first page holds more than stops."""
    places = [
        Phrase(
            "{model}, {market} ({burners})",
            model=name(model),
            market=name(market),
            burners=", ".join(burners),
        )
        for (model, market), burners in line.incomplete.items()
    ]
    if places:
        yield Phrase(
            "STOP. Pack nothing for these, no orifice fits the burners named: {places}. An engineer decides first.",
            places=joined("; ", places),
        )


def _markets(line: ProductLine, units: PaperUnits) -> Iterator[PlainTable]:
    """Of each model and market that every burner has its orifice in: the kit, and what each gas then burns."""
    of_market = groupby(line.kits, key=attrgetter("model", "market"))
    fitted: dict[tuple[str, str], list[FittedBurner]] = {}
    for each in line.fitted:
        fitted.setdefault((each.model, each.market), []).append(each)
    for place, several in of_market:
        system = units.of(fitted[place][0].region)
        yield replace(_kit(place, list(several), fitted[place][0].altitude), system=system)
        yield replace(_table(place, fitted[place]), system=system)


def _kit(place: tuple[str, str], parts: Sequence[KitOrifice], altitude: str) -> PlainTable:
    model, market = map(name, place)
    masses = [None if one.drill.mass_kg is None else one.pieces * one.drill.mass_kg for one in parts]
    known = [each for each in masses if each is not None]
    mass = grams(sum(known)) if len(known) == len(masses) else Phrase("mass not known")
    return PlainTable(
        caption=_at_place(
            Phrase(
                "Kit: {model}, {market}. Orifices: {pieces}; {mass}",
                model=model,
                market=market,
                pieces=sum(one.pieces for one in parts),
                mass=mass,
            ),
            altitude,
        ),
        heads=(
            Phrase("Orifice"),
            Phrase("Part number"),
            Phrase("Pieces"),
            Phrase("For"),
            Phrase("Mass of one"),
        ),
        rows=tuple(
            (
                clean(one.drill.name),
                clean(one.drill.part, 24) or NO_ORIFICE,
                str(one.pieces),
                ", ".join(map(name, one.burners)),
                grams(one.drill.mass_kg),
            )
            for one in parts
        ),
        words=True,
    )


def _at_place(caption: str, altitude: str) -> str:
    """A caption with what altitude does to the orifices below it: a page that is cut off still says so."""
    return joined(" ", (joined("", (caption, ".")), altitude)) if altitude else caption


def _table(place: tuple[str, str], rows: Sequence[FittedBurner]) -> PlainTable:
    model, market = map(name, place)
    is_net = rows[0].rating_basis == "net"
    return PlainTable(
        caption=_at_place(
            Phrase("Orifice table: {model}, {market}", model=model, market=market), rows[0].altitude
        ),
        heads=(
            Phrase("Gas and pressure"),
            Phrase("Burner"),
            Phrase("Number"),
            Phrase("Orifice"),
            Phrase("{unit} net", unit="kW") if is_net else Phrase("{unit} gross", unit="kW"),
            Phrase("From the aim"),
        ),
        rows=tuple(
            (
                gas_at_pressure(gas_words(gas_label(one.gas, one.gas_title)), one.gauge_pressure_Pa),
                name(one.burner),
                str(one.orifices),
                clean(orifice_words(_mark(one.drill.name, one.drill.part), one.drill.diameter_m, one.region)),
                kilowatt(one.heat_input_W, "#.3g", has_unit=False),
                percent(one.deviation),
            )
            for one in rows
        ),
        words=True,
    )
