"""The kit of every market of a model: orifices with counts and part numbers, masses as far as they are known."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from burnerlab.appliance.conversion.evaluation import evaluate_conversion
from burnerlab.appliance.conversion.markets import MarketTarget, convert_market, market_named, targets_of
from burnerlab.appliance.conversion.refusal import DECIDES, decision_on, no_orifice_words, not_to_fit
from burnerlab.appliance.conversion.result import BurnerConversion, Conversion, coefficients_of
from burnerlab.appliance.operation.supply_pressures import same_pressure
from burnerlab.appliance.project.model import Appliance
from burnerlab.bench.kit import Kit, KitPart, KitWindow, kit_window
from burnerlab.orifice.drill import none_fits_words, orifice_words
from burnerlab.orifice.stock import stock_list
from burnerlab.quantity import Kind, read
from burnerlab.quantity.outputs import output
from burnerlab.quantity.summary import Summary, WithSummary
from burnerlab.tables.cautions import closing_cautions
from burnerlab.tables.phrase import Phrase, joined
from burnerlab.tables.problem import UserError
from burnerlab.tables.verdict import Verdict

OF_STOCK, OF_PARTS_LIST, NOT_KNOWN = Phrase("stock"), Phrase("parts list"), Phrase("not known")
NO_SCALE = Phrase("no scale is known: give a parts list with [scale] (--parts)")
NOTES = (
    Phrase(
        "Orifices are those of the conversion, one set, no spares. Regulator or spring, seals, conversion label and "
        "instructions are in a kit only where the parts list names them; a part that is for some markets, as a "
        "regulator of one pressure, names them."
    ),
    Phrase(
        "A mass is one that the stock or the parts list states; none is estimated. A part without a mass or its "
        "scatter is named, and the weigh check of its kit is withheld."
    ),
    Phrase(
        "A leaflet's deviation is that of the nominal bore; the word next to it is the job card's, of the heat input "
        "over the interval as made: drill, coefficient and the supply of the file. Other checks that are OUTSIDE have "
        "a column of their own."
    ),
    Phrase("A scale does not show a wrong orifice of nearly equal mass: read the mark of every orifice."),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class KitListRow:
    """One kind of part in the kit of a market."""

    market: str = field(metadata=output("market"))
    name: str = field(metadata=output("part"))
    number: str = field(
        metadata=output("part number")
    )  # of the stock, or what its label scans as; "" if none
    count: int = field(metadata=output("pieces"))
    burners: str = field(metadata=output("for"))  # "" of a part of the parts list
    bore_m: float | None = field(metadata=output("bore", Kind.DIAMETER))
    mass_kg: float | None = field(metadata=output("g each", Kind.MASS, unit="g"))
    scatter_kg: float | None = field(metadata=output("scatter", Kind.MASS, unit="g"))
    mass_from: str = field(metadata=output("mass from"))
    orifice: str = field(default="", metadata=output("orifice"))  # drill or size; "" of any other part

    @property
    def is_weighable(self) -> bool:
        """Whether both its mass and the scatter of it are known."""
        return self.mass_kg is not None and self.scatter_kg is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class LeafletRow:
    """What the leaflet of a kit says of a burner on one of its gases."""

    market: str = field(metadata=output("market"))
    gas: str = field(metadata=output("gas"))
    gauge_pressure_Pa: float = field(metadata=output("pressure", Kind.GAUGE_PRESSURE))
    burner: str = field(metadata=output("burner"))
    orifices: int = field(metadata=output("orifices"))  # of all burners of the kind
    mark: str = field(metadata=output("orifice"))  # drill and part number
    # None where no orifice fits: the nearest has no place on a leaflet
    heat_input_gross_W: float | None = field(metadata=output("heat input of one", Kind.POWER, basis="gross"))
    heat_input_net_W: float | None = field(metadata=output("heat input of one", Kind.POWER, basis="net"))
    rating_basis: str = field(metadata=output("rated"))  # of the file: what the leaflet prints
    deviation: float | None = field(metadata=output("against aim", Kind.FRACTION, is_change=True))
    verdict: Verdict = field(metadata=output("verdict"))  # of the heat input, as on the job card
    outside: tuple[str, ...] = field(metadata=output("other checks outside"))

    @property
    def is_outside(self) -> bool:
        """Whether its heat input or another check is outside, on which an engineer decides."""
        return bool(self.outside) or self.verdict is Verdict.OUTSIDE

    @property
    def heat_input_W(self) -> float | None:
        """Heat input of one burner on the basis of the file."""
        return self.heat_input_net_W if self.rating_basis == "net" else self.heat_input_gross_W


@dataclass(frozen=True, slots=True, kw_only=True)
class MarketKit:
    """The kit of one market: its parts, what a complete one weighs, its leaflet."""

    market: str = field(metadata=output("market"))
    region: str = field(metadata=output("region"))
    rows: tuple[KitListRow, ...] = field(metadata=output("parts"))
    pieces: int = field(metadata=output("pieces"))
    window: KitWindow | None = field(metadata=output("weigh check"))  # None where it is withheld
    withheld: str = field(metadata=output("weigh check withheld"))  # why; "" where it is not
    leaflet: tuple[LeafletRow, ...] = field(metadata=output("leaflet"))
    # "" where an altitude rule is chosen, or none lowers the rating at the place
    altitude_warning: str = field(default="", metadata=output("no altitude rule chosen"))
    altitude_only: str = field(default="", metadata=output("for one altitude only"))  # "" without a rule
    stop: str = field(
        default="", metadata=output("stop")
    )  # that nothing is packed; "" where every burner has its orifice
    decision: str = field(default="", metadata=output("decision"))  # "" where no check of a burner is outside


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class KitList(WithSummary):
    """The kits of a model."""

    appliance: str = field(metadata=output("appliance"))
    kits: tuple[MarketKit, ...] = field(metadata=output("kits"))
    notes: tuple[str, ...] = field(metadata=output("notes"))
    coefficient_sources: tuple[str, ...] = field(default=(), metadata=output("coefficients from"))

    def summary(self) -> Summary:
        heads = ("market", "part", "part number", "pieces", "for", "g each")
        rows = (
            (one.market, one.name, one.number, str(one.count), one.burners, grams(one.mass_kg))
            for kit in self.kits
            for one in kit.rows
        )
        lines = tuple(one.line for one in closing_cautions("kit"))
        return Summary(f"{self.appliance}: kits for {len(self.kits)} markets", (heads, *rows), lines)


def grams(mass_kg: float | None) -> str:
    """A mass in grams, or that it is not known.

    >>> grams(0.0042), grams(None)
    ('4.20 g', 'not known')
    """
    return NOT_KNOWN if mass_kg is None else f"{1e3 * mass_kg:.2f} g"


def kit_list(appliance: Appliance, markets: Sequence[str] = (), parts: Kit | None = None) -> KitList:
    """The kit of every market, or of those named: both gases of a couple are one kit.

    parts : a parts list: its scale, masses of orifices by code or name, and every further part, which is in each kit
    Raises UserError for a market the file has not, and a file without any.

    >>> from burnerlab.appliance import demonstration
    >>> kit = kit_list(demonstration(), ["B"]).kits[0]
    >>> kit.pieces, kit.window, kit.withheld.partition(" for ")[0]
    (6, None, 'no mass with its scatter')
    """
    if not markets and not appliance.markets:
        market_named(appliance, appliance.name)  # says that there is none, and how one is written
    wanted = [market_named(appliance, each, "--market") for each in markets] or targets_of(appliance)
    for named in (
        () if parts is None else dict.fromkeys(named for one in parts.parts for named in one.markets)
    ):
        market_named(appliance, named, "part.markets")
    stock = _scatters(appliance)
    of_markets = [(market, [evaluate_conversion(c) for c in convert_market(market)]) for market in wanted]
    return KitList(
        appliance=appliance.name,
        kits=tuple(_market_kit(market, changed, stock, parts) for market, changed in of_markets),
        notes=NOTES,
        coefficient_sources=coefficients_of(
            burner for _, (first, *_) in of_markets for burner in first.burners
        ),
    )


Masses = Mapping[str, tuple[float | None, float | None]]
"""Part number of the stock to mass and scatter of one piece [kg]."""


def _scatters(appliance: Appliance) -> Masses:
    own = appliance.tables
    if own.stock is None:
        return {}
    return {
        one.part: (one.mass_kg, one.mass_scatter_kg) for one in stock_list(own.stock, own.drill_tolerance)
    }


def _market_kit(
    market: MarketTarget, conversions: Sequence[Conversion], stock: Masses, parts: Kit | None
) -> MarketKit:
    # one orifice serves every gas of a market: what is not to be fitted on one of them is not packed
    refused = frozenset(name for each in conversions for name in not_to_fit(each))
    rows = (
        *_orifices(market.name, conversions[0], stock, parts, refused),
        *_further(market, conversions, parts),
    )
    scale = None if parts is None else replace(parts, region=conversions[0].region)
    window, withheld = _weigh_check(conversions[0], market.name, rows, scale, refused)
    altitude = None if refused else conversions[0].altitude
    names = [b.name for b in conversions[0].burners if b.name in refused]
    stop = (
        Phrase("STOP. Pack nothing: {reason}. An engineer decides first.", reason=no_orifice_words(names))
        if names
        else ""
    )
    leaflet = tuple(one for each in conversions for one in _leaflet(market.name, each, refused))
    if stop:  # nothing of a kit that is not sent, nor a part number to pick it by
        rows = tuple(map(_not_packed, rows))
    return MarketKit(
        market=market.name,
        region=conversions[0].region,
        rows=rows,
        pieces=sum(one.count for one in rows),
        window=window,
        withheld=withheld,
        leaflet=leaflet,
        decision="" if stop else _decision(conversions, leaflet),
        stop=stop,
        altitude_warning="" if altitude is None else altitude.warning,
        altitude_only="" if altitude is None else altitude.only,
    )


def _decision(conversions: Sequence[Conversion], leaflet: Sequence[LeafletRow]) -> str:
    """Who decides on what is outside on any gas: an engineer, or a test when lit; "" where nothing is."""
    if any(one.verdict is Verdict.OUTSIDE for one in leaflet):
        return DECIDES
    return decision_on(found for c in conversions for b in c.burners for found in c.outside_of(b))


def _orifices(
    market: str, c: Conversion, stock: Masses, parts: Kit | None, refused: frozenset[str]
) -> Iterator[KitListRow]:
    """A row for each different orifice, in the order of the burners; without pieces where none fits, or it stays."""
    by_orifice: dict[tuple[str, str, bool, bool], list[BurnerConversion]] = {}
    for b in c.burners:
        by_orifice.setdefault((b.choice.drill, b.part, b.name in refused, b.stays), []).append(b)
    for (drill, part, is_refused, stays), burners in by_orifice.items():
        if is_refused or stays:
            words = none_fits_words(drill) if is_refused else Phrase("orifice {mark}, stays", mark=drill)
            yield _none_packed(market, words, burners)
            continue
        mass_kg, scatter_kg, source = _mass_of(drill, part, stock, parts)
        yield KitListRow(
            market=market,
            name=Phrase("orifice {mark}", mark=drill),
            number=part,
            count=sum(b.count * b.orifice_count for b in burners),
            burners=", ".join(b.name for b in burners),
            bore_m=burners[0].choice.diameter_m,
            mass_kg=mass_kg,
            scatter_kg=scatter_kg,
            mass_from=source,
            orifice=drill,
        )


def _none_packed(market: str, words: str, burners: Sequence[BurnerConversion]) -> KitListRow:
    """The row of burners that get no orifice: nothing is packed, and no part number stands to be picked by."""
    return KitListRow(
        market=market,
        name=words,
        number="",
        count=0,
        burners=", ".join(b.name for b in burners),
        bore_m=None,
        mass_kg=None,
        scatter_kg=None,
        mass_from=NOT_KNOWN,
    )


def _mass_of(
    drill: str, part: str, stock: Masses, parts: Kit | None
) -> tuple[float | None, float | None, str]:
    """Mass and scatter of one orifice [kg], and where they are from: the parts list goes before the stock."""
    own = None if parts is None else next((one for one in parts.parts if _is_orifice(one, drill, part)), None)
    if own is not None:
        return own.mass_kg, own.scatter_kg, OF_PARTS_LIST
    mass_kg, scatter_kg = stock.get(part, (None, None))
    return mass_kg, scatter_kg, NOT_KNOWN if mass_kg is None else OF_STOCK


def _is_orifice(part: KitPart, drill: str, number: str) -> bool:
    return (bool(number) and part.code == number) or part.orifice_size.casefold() == drill.casefold()


def _further(
    market: MarketTarget, conversions: Sequence[Conversion], parts: Kit | None
) -> Iterator[KitListRow]:
    """Parts of the parts list that are no orifice of this kit; other orifices of the list are of other markets."""
    c = conversions[0]
    for one in () if parts is None else parts.parts:
        is_here = any(_is_orifice(one, b.choice.drill, b.part) for b in c.burners)
        if is_here or one.orifice_size or not _is_for(one, market):
            continue
        row = KitListRow(
            market=market.name,
            name=one.name,
            number=one.code,
            count=one.count,
            burners=", ".join(one.markets),
            bore_m=None,
            mass_kg=one.mass_kg,
            scatter_kg=one.scatter_kg,
            mass_from=OF_PARTS_LIST,
        )
        nominal = [each.to_gauge_pressure_Pa for each in conversions]
        if not one.markets and _is_of_other_pressure(one.name, nominal):
            row = replace(_not_packed(row), burners=Phrase("another pressure"))
        yield row


def _not_packed(row: KitListRow) -> KitListRow:
    """A row of which no piece is packed, without a number to be picked by; one without pieces as it is."""
    if not row.count:
        return row
    return replace(
        row,
        name=Phrase("{part}, not packed", part=row.name),
        number="",
        count=0,
        mass_kg=None,
        scatter_kg=None,
        mass_from=NOT_KNOWN,
    )


PRESSURE = re.compile(r"\d+(?:\.\d+)? ?(?:mbar|bar|kPa|psi|in\.? ?w\.?c\.?)(?![a-z])", re.IGNORECASE)


def _is_of_other_pressure(name: str, nominal_Pa: Sequence[float]) -> bool:
    """Whether the name of a part has one pressure, as of a regulator, and it is none of these.

    >>> names = ("regulator 37 mbar", "regulator 50 mbar", "gauge 0 to 60 mbar")
    >>> [_is_of_other_pressure(name, (2900.0, 3700.0)) for name in names]
    [False, True, False]
    """
    found = PRESSURE.findall(name)
    if len(found) != 1 or re.search(r"\d ?(?:to|-|\N{EN DASH}|/|\.\.) ?\d", name):
        return False
    own_Pa = float(read(found[0], Kind.GAUGE_PRESSURE))
    return not any(same_pressure(own_Pa, each) for each in nominal_Pa)


def _is_for(part: KitPart, market: MarketTarget) -> bool:
    return not part.markets or any(
        named.casefold() in (market.letter.casefold(), market.name.casefold()) for named in part.markets
    )


def _weigh_check(
    conversion: Conversion,
    market: str,
    rows: Sequence[KitListRow],
    parts: Kit | None,
    refused: frozenset[str],
) -> tuple[KitWindow | None, str]:
    """The window of a complete kit, or why there is none."""
    if refused:
        burners = (b.name for b in conversion.burners if b.name in refused)
        return None, Phrase(
            "no orifice fits {burners}, do not fit; see the job card", burners=", ".join(burners)
        )
    packed = [one for one in rows if one.count]
    if not packed:
        return None, Phrase("nothing is packed: every orifice stays")
    unknown = [one.number or one.name for one in packed if not one.is_weighable]
    if unknown:
        return None, Phrase(
            "no mass with its scatter for {parts}; add mass_g and mass_scatter_g to the stock, or name a parts list "
            "(--parts)",
            parts=joined(", ", unknown),
        )
    if parts is None:
        return None, NO_SCALE
    kit = Kit(
        name=f"{parts.name}, {market}",
        false_alarm=parts.false_alarm,
        detection=parts.detection,
        region=parts.region,
        scale=parts.scale,
        parts=tuple(_part(one) for one in packed),
    )
    try:
        return kit_window(kit), ""
    except UserError as error:
        return None, "; ".join(problem.text() for problem in error.problems)


def _part(row: KitListRow) -> KitPart:
    assert row.mass_kg is not None  # ``is_weighable``
    assert row.scatter_kg is not None
    return KitPart(
        name=row.name,
        count=row.count,
        mass_kg=row.mass_kg,
        scatter_kg=row.scatter_kg,
        code=row.number,
        orifice=row.orifice,
    )


def _leaflet(market: str, c: Conversion, refused: frozenset[str]) -> Iterator[LeafletRow]:
    for b in c.burners:
        mark = orifice_words(b.choice.mark, b.choice.diameter_m, c.region)
        yield LeafletRow(
            market=market,
            gas=c.to_gas.title,
            gauge_pressure_Pa=c.to_gauge_pressure_Pa,
            burner=b.name,
            orifices=b.count * b.orifice_count,
            mark=none_fits_words(mark) if b.name in refused else mark,
            heat_input_gross_W=None if b.name in refused else b.predicted_gross_W,
            heat_input_net_W=None if b.name in refused else b.predicted_net_W,
            rating_basis=c.rating_basis,
            deviation=None if b.name in refused else b.choice.deviation,
            verdict=b.headline.verdict,
            outside=tuple(dict.fromkeys(f.topic for f in c.outside_of(b))),
        )
