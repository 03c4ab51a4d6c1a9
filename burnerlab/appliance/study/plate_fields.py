"""Figures for the rating plate or conversion label of every market and gas, and who checks each of them."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial

from burnerlab import tables
from burnerlab.appliance.conversion.markets import MarketTarget, convert_market, market_named, targets_of
from burnerlab.appliance.conversion.refusal import no_orifice_words, not_to_fit
from burnerlab.appliance.conversion.result import BurnerConversion, Conversion
from burnerlab.appliance.project.model import Appliance, system_of_region
from burnerlab.appliance.study.injector_table import rule_words
from burnerlab.orifice.altitude import THIN_AIR
from burnerlab.orifice.drill import EUROPE, none_fits_words, orifice_words
from burnerlab.quantity import Kind, from_unit, in_unit
from burnerlab.quantity.outputs import output
from burnerlab.quantity.prose import in_reader_units, state_in
from burnerlab.quantity.show import PAPER_DIGITS, grouped, number
from burnerlab.quantity.summary import Summary, WithSummary
from burnerlab.tables import cite
from burnerlab.tables.cautions import closing_cautions
from burnerlab.tables.phrase import Phrase, applied, joined

REGIONS = ("us", EUROPE)
AUSTRALIA, NEW_ZEALAND = "au", "nz"
PLATE_REGIONS = (*REGIONS, AUSTRALIA, NEW_ZEALAND)
"""Regions whose plates are known; a file names one of the first two."""
USER = "user"
AS_TYPED = Phrase("as typed by the user")
NOT_KNOWN = Phrase("not known")
NO_CATEGORY = Phrase("not given: write category in the market")
NO_ORIFICE = Phrase("none: no orifice fits")
NO_RULE = Phrase("no altitude rule chosen: write altitude_policy")
RECALLED = "memory"
STATEMENTS = (
    Phrase("A conversion label is added; the first rating plate stays readable."),
    Phrase(
        "A mark of certification stands on a label only as the certifying body allows; none is filled here."
    ),
    Phrase(
        "A qualified person checks each figure against the tested appliance before it is printed on a label."
    ),
)
ROUNDING = Phrase(
    "Each heat input of a burner on the label is rounded to the unit printed; the total is the sum of these figures. "
    "Calculated ones have three digits each. No public text on rounding is known here: the certificate goes before."
)
KINDS = {
    "Btu/h": Kind.POWER,
    "kW": Kind.POWER,
    "MJ/h": Kind.POWER,
    "kPa": Kind.GAUGE_PRESSURE,
    "in w.c.": Kind.GAUGE_PRESSURE,
    "mbar": Kind.GAUGE_PRESSURE,
    "ft": Kind.LENGTH,
    "m": Kind.LENGTH,
    "g/h": Kind.MASS_FLOW,
    "m3/h": Kind.REFERENCE_VOLUME_FLOW,
}
"""Kind of each unit of the table of fields."""

BASIS_WORDS: Mapping[str, Mapping[str, str]] = {
    "us": {"net": Phrase("net"), "gross": Phrase("gross")},
    EUROPE: {"net": Phrase("net (Hi)"), "gross": Phrase("gross (Hs)")},
    AUSTRALIA: {"net": Phrase("net"), "gross": Phrase("gross")},
    NEW_ZEALAND: {"net": Phrase("net"), "gross": Phrase("gross")},
}
"""What a basis is called on the plates of a region, where not by its name."""

SAME_PRESSURE = 0.01  # 11 in w.c. and 2.75 kPa are one supply
Figure = float | str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateField:
    """One field of a plate: what stands in it, where that is from, and who checks it."""

    market: str = field(metadata=output("market"))
    region: str = field(metadata=output("region"))
    gas: str = field(metadata=output("gas"))
    name: str = field(metadata=output("field"))
    burner: str = field(metadata=output("burner"))  # "" for the whole appliance
    value: float | None = field(
        metadata=output("value")
    )  # in the unit; None where it is no number, or not known
    unit: str = field(metadata=output("unit"))
    text: str = field(metadata=output("as printed"))  # with the unit; of a heat input the rated one
    calculated: float | None = field(metadata=output("calculated"))  # in the unit, with the orifices named
    calculated_text: str = field(metadata=output("calculated, as printed"))  # "" where nothing is calculated
    words: str = field(metadata=output("what it is"))
    check: str = field(metadata=output("checked by"))
    source: str = field(metadata=output("field from"))
    provenance: str = field(metadata=output("provenance of the field"))

    @property
    def place(self) -> str:
        """The plate it stands on."""
        return f"{self.market}: {self.gas}, {self.region}"

    @property
    def label(self) -> str:
        """The field with its burner."""
        return joined(" ", (self.name, self.burner)) if self.burner else self.name


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class RatingPlate(WithSummary):
    """The fields of every market and gas of an appliance."""

    appliance: str = field(metadata=output("appliance"))
    fields: tuple[PlateField, ...] = field(metadata=output("fields"))
    notes: tuple[str, ...] = field(metadata=output("notes"))
    stops: tuple[str, ...] = field(
        default=(), metadata=output("stop")
    )  # of each market with a burner that no orifice fits
    # market and warning, where its bores are those for sea level and a rule lowers the rating
    altitude_warnings: tuple[str, ...] = field(default=(), metadata=output("no altitude rule chosen"))
    altitude_only: tuple[str, ...] = field(default=(), metadata=output("for one altitude only"))

    def summary(self) -> Summary:
        heads = ("market", "gas", "field", "as printed", "checked by")
        rows = ((one.market, one.gas, one.label, one.text, one.check) for one in self.fields)
        lines = (*STATEMENTS, *(one.line for one in closing_cautions("plate")))
        return Summary(f"{self.appliance}: {len(self.fields)} fields of plates", (heads, *rows), lines)


def rating_plate(
    appliance: Appliance, markets: Sequence[str] = (), regions: Sequence[str] = ()
) -> RatingPlate:
    """Fields for the plate of every market, or of those named, each of its gases for itself.

    markets : names or letters; all of the file without. Raises UserError for a market the file has not.
    regions : whose plates, of ``PLATE_REGIONS``; that of the market without

    >>> from burnerlab.appliance import demonstration
    >>> plate = rating_plate(demonstration(), ["B"])
    >>> [one.text for one in plate.fields if one.name == "supply pressure"]
    ['29.0 mbar', '37.0 mbar']
    """
    if not markets and not appliance.markets:
        market_named(appliance, appliance.name)  # says that there is none, and how one is written
    wanted = [market_named(appliance, each, "--market") for each in markets] or targets_of(appliance)
    made = [(market, each) for market in wanted for each in convert_market(market)]
    fields = tuple(one for market, each in made for one in plate_fields(each, market.name, regions))
    warned = (
        joined(": ", (market.name, _of_region(each, each.altitude.warning)))
        for market, each in made
        if each.altitude is not None and each.altitude.warning
    )
    return RatingPlate(
        appliance=appliance.name,
        fields=fields,
        notes=tuple(_notes(made, fields, regions)),
        stops=tuple(
            dict.fromkeys(
                joined(": ", (market.name, _stop(sorted(refused))))
                for market, each in made
                if (refused := not_to_fit(each))
            )
        ),
        altitude_warnings=tuple(dict.fromkeys(warned)),
        altitude_only=tuple(
            dict.fromkeys(
                joined(": ", (market.name, _of_region(each, each.altitude.only)))
                for market, each in made
                if each.altitude is not None and each.altitude.only and not not_to_fit(each)
            )
        ),
    )


def _stop(names: Sequence[str]) -> str:
    """That no label is made for a market, and whose orifice is missing."""
    return Phrase("STOP. Make no label: {reason}. An engineer decides first.", reason=no_orifice_words(names))


def _of_region(conversion: Conversion, words: str) -> str:
    """A sentence in the units of the region of its market; of no region in both systems."""
    system = system_of_region(conversion.region)
    return words if system is None else in_reader_units(words, system)


def plate_fields(
    conversion: Conversion, market: str = "", regions: Sequence[str] = ()
) -> tuple[PlateField, ...]:
    """The fields of a conversion's plate in the units of its region, or of those named; without one in both of a file.

    Heat inputs are the ratings after the altitude rule, on the basis of the file, beside them those calculated with the
    drills taken at the nominal pressure; consumption = heat input / heating value. Serial number, marks and whatever a
    certificate says are never filled, nor a rating in thin air for which no altitude rule is chosen.
    """
    is_lpg = _is_lpg(conversion)
    own = (conversion.region,) if conversion.region in REGIONS else REGIONS
    waits = _without_rule(conversion)
    return tuple(
        _field(
            row,
            conversion,
            (market, region),
            burner,
            NO_RULE if waits and row["figure"] in AFTER_RULE else value,
            beside,
        )
        for region in regions or own
        for row in tables.rows("rating_plate")
        if row["region"] == region and row["gas"] in ("all", "lp" if is_lpg else "other")
        for burner, value, beside in _values(row["figure"], conversion, region)
    )


def _is_lpg(conversion: Conversion) -> bool:
    return conversion.job is not None and any(one.family.is_LPG for one in conversion.job.new.groups)


def _values(figure: str, conversion: Conversion, region: str) -> Iterator[tuple[str, Figure, Figure]]:
    """What fills a field and what is calculated beside it, in SI: for the appliance, or each burner with its name.

    Beside a burner that no orifice fits nothing is calculated, nor beside the appliance of it.
    """
    basis, refused = conversion.rating_basis, not_to_fit(conversion)
    if figure == USER:
        yield "", AS_TYPED, None
    elif figure in OF_BURNER:
        for burner in conversion.burners:
            if figure == "burner_mark":
                yield _with_count(burner), _mark(conversion, burner, region), None
            else:
                is_refused = burner.name in refused
                rated = NO_ORIFICE if is_refused else _rated(conversion)(burner, basis)
                own = None if is_refused else calculated_input(burner, basis)
                yield _with_count(burner), rated, own
    else:
        beside = None if refused else CALCULATED.get(figure)
        value = NO_ORIFICE if refused and figure in AFTER_RULE else OF_APPLIANCE[figure](conversion)
        if figure == "total_input" and not isinstance(value, str):
            value = _label_total(conversion, region)
        yield "", value, beside(conversion) if beside else None


def _with_count(burner: BurnerConversion) -> str:
    if burner.count == 1:
        return burner.name
    return Phrase("{burner} ({count} burners)", burner=burner.name, count=burner.count)


def _field(
    row: tables.Row,
    conversion: Conversion,
    place: tuple[str, str],
    burner: str,
    value: Figure,
    calculated: Figure,
) -> PlateField:
    market, region = place
    basis = BASIS_WORDS[region][conversion.rating_basis]
    number, text = _printed(row, value)
    beside, beside_text = (None, "") if calculated is None else _printed(row, calculated, is_calculated=True)
    return PlateField(
        market=market,
        region=region,
        gas=conversion.to_gas.name,
        name=Phrase(row["field"], basis=basis),
        burner=burner,
        value=number,
        unit=row["unit"],
        text=text,
        calculated=beside,
        calculated_text=beside_text,
        words=Phrase(row["words"]),
        check=Phrase(row["check"]),
        source=_source(row),
        provenance=row["provenance"],
    )


def _source(row: tables.Row) -> str:
    return f"{cite(row['source'])}, {row['place']}"


def _printed(row: tables.Row, value: Figure, *, is_calculated: bool = False) -> tuple[float | None, str]:
    """A figure in the unit of its field, and as printed: pressure and calculated heat input as on every paper.

    >>> _printed({"unit": "Btu/h", "decimals": "0"}, 3549.1, is_calculated=True)[1]
    '12 100 Btu/h'
    >>> _printed({"unit": "in w.c.", "decimals": ""}, 996.36)[1]
    '4.00 in w.c.'
    """
    if not isinstance(value, float):
        return None, value or NOT_KNOWN
    unit = row["unit"]
    kind, own = KINDS[unit], float(in_unit(value, KINDS[unit], unit))
    if kind is Kind.GAUGE_PRESSURE:
        return own, f"{number(own, PAPER_DIGITS)} {unit}"
    if is_calculated and kind is Kind.POWER and own > 0.0:
        rounded = float(f"{own:.{PAPER_DIGITS}g}")
        return own, f"{number(rounded, PAPER_DIGITS)} {unit}"
    return own, f"{grouped(own, int(row['decimals']))} {unit}"


def _label_total(conversion: Conversion, region: str) -> float:
    """Rated heat input of the appliance [W]: where the burners stand on the label too, the sum of their figures there.

    Each figure of a burner is rounded as it is printed, and nothing after it: who adds up a label finds its total.
    """
    rated, basis = _rated(conversion), conversion.rating_basis
    for row in tables.rows("rating_plate"):
        if row["region"] == region and row["figure"] == "burner_input":
            kind, unit, places = KINDS[row["unit"]], row["unit"], int(row["decimals"])
            each = (
                (one.count, round(float(in_unit(rated(one, basis), kind, unit)), places))
                for one in conversion.burners
            )
            return float(from_unit(sum(count * printed for count, printed in each), kind, unit))
    return _total(conversion, rated)


def _rated(conversion: Conversion) -> Callable[[BurnerConversion, str], float]:
    """Rating of a burner after the altitude rule, on a basis [W]; of a couple the same on both gases."""
    return lambda burner, basis: _aim(burner, basis) / conversion.couple_factor


def _aim(burner: BurnerConversion, basis: str) -> float:
    """What one burner aims at after the altitude rule, and what its couple leaves of it, on a basis [W]."""
    return burner.aim_gross_W * (burner.rate_net_W / burner.rate_gross_W if basis == "net" else 1.0)


def calculated_input(burner: BurnerConversion, basis: str) -> float:
    """Heat input of one burner with the drill taken at the nominal pressure, on a basis [W]."""
    return burner.predicted_net_W if basis == "net" else burner.predicted_gross_W


def _total(
    conversion: Conversion, each: Callable[[BurnerConversion, str], float], basis: str | None = None
) -> float:
    return sum((one.count * each(one, basis or conversion.rating_basis) for one in conversion.burners), 0.0)


def _mark(conversion: Conversion, burner: BurnerConversion, region: str) -> str:
    each, words = burner.orifice_count, orifice_words(burner.choice.mark, burner.choice.diameter_m, region)
    if burner.name in not_to_fit(conversion):
        return none_fits_words(words)
    return joined("", (f"{each} × ", words)) if each > 1 else words


def _mass_flow(conversion: Conversion, each: Callable[[BurnerConversion, str], float]) -> float:
    """Gas of every burner at its rated or calculated heat input [kg/s]."""
    return _total(conversion, each, "gross") / conversion.to_gas.gross_heating_value_J_per_kg


def _volume_flow(conversion: Conversion, each: Callable[[BurnerConversion, str], float]) -> float:
    """The same at the reference state of the notes [m3/s]."""
    return _mass_flow(conversion, each) / conversion.to_gas.dry_gas_kg_per_m3


def _category(conversion: Conversion) -> Figure:
    """As the file gives it: one that gas and pressure alone suggest is no category of a certificate."""
    if conversion.region != EUROPE:
        return None
    return conversion.category if conversion.is_category_given else NO_CATEGORY


def _least_inlet(conversion: Conversion) -> str:
    """Above the manifold pressure by a drop that the certificate knows; the lower test pressure may lie below it."""
    inches = float(in_unit(conversion.to_gauge_pressure_Pa, Kind.GAUGE_PRESSURE, "in w.c."))
    return Phrase(
        "as typed by the user, above {pressure}", pressure=f"{number(inches, PAPER_DIGITS)} in w.c."
    )


def _without_rule(conversion: Conversion) -> bool:
    """Whether the rating at this altitude waits for a rule that is not chosen."""
    return conversion.altitude_policy is None and 1.0 - conversion.altitude_policy_factor >= THIN_AIR


def _state(conversion: Conversion) -> str:
    """The reference state in the units of the region."""
    system = system_of_region(conversion.region) or "metric"
    return applied(partial(state_in, system=system), conversion.reference)


OF_BURNER = ("burner_input", "burner_mark")
AFTER_RULE = ("burner_input", "total_input", "mass_flow", "volume_flow")
"""Figures of the rating after the altitude rule."""
OF_APPLIANCE: Mapping[str, Callable[[Conversion], Figure]] = {
    "model": lambda conversion: conversion.model,
    "gas": lambda conversion: conversion.to_gas.title or conversion.to_gas.name,
    "category": lambda conversion: _category(conversion),
    "pressure": lambda conversion: conversion.to_gauge_pressure_Pa,
    "least_inlet": lambda conversion: _least_inlet(conversion),
    "altitude": lambda conversion: conversion.altitude_m,
    "altitude_rule": lambda conversion: rule_words(conversion.altitude_policy or ""),
    "total_input": lambda conversion: _total(conversion, _rated(conversion)),
    "mass_flow": lambda conversion: _mass_flow(conversion, _rated(conversion)),
    "volume_flow": lambda conversion: _volume_flow(conversion, _rated(conversion)),
}
CALCULATED: Mapping[str, Callable[[Conversion], Figure]] = {
    "total_input": lambda conversion: _total(conversion, calculated_input),
    "mass_flow": lambda conversion: _mass_flow(conversion, calculated_input),
    "volume_flow": lambda conversion: _volume_flow(conversion, calculated_input),
}
"""What stands beside a rated figure."""


def recalled_fields(fields: Sequence[PlateField]) -> tuple[int, int]:
    """How many of the fields of the regions no public text names, and how many fields there are."""
    rows = {(one.region, one.name): one.provenance for one in fields}
    return sum(one == RECALLED for one in rows.values()), len(rows)


def _sources(fields: Sequence[PlateField]) -> Iterator[str]:
    """How many fields are recalled, and which texts name the others."""
    recalled, all_fields = recalled_fields(fields)
    if recalled:
        yield Phrase(
            "Which fields a plate has: {some} of {all} fields from memory: compare with the standard that applies.",
            some=recalled,
            all=all_fields,
        )
    of_row = {_source(row): cite(row["source"]) for row in tables.rows("rating_plate")}
    seen = [one for one in fields if one.provenance != RECALLED]
    for source in dict.fromkeys(of_row[one.source] for one in seen):
        names = dict.fromkeys(one.name for one in seen if of_row[one.source] == source)
        yield Phrase("Named in {source}: {fields}.", source=source, fields=joined(", ", tuple(names)))


def _notes(
    made: Sequence[tuple[MarketTarget, Conversion]], fields: Sequence[PlateField], regions: Sequence[str]
) -> Iterator[str]:
    yield from STATEMENTS
    yield from _sources(fields)
    yield Phrase(
        "The figure of a heat input or consumption is the file's rating after the altitude rule, on the file's basis; "
        "next to it the calculated one, not measured: nominal pressure, the orifice named; of a kind of burner, of "
        "each."
    )
    if any(one.burner and one.value is not None for one in fields):
        yield ROUNDING
    if any(each.pressure_couple is not None for _, each in made):
        yield Phrase(
            "Of a pressure couple the first figure is the rating on both gases; the calculated one of the second gas "
            "is what the orifice sized on the first gives. Which of them its label carries, the certificate says."
        )
    for market, each in made:
        off = _total(each, calculated_input, "gross") / _total(each, _rated(each), "gross") - 1.0
        if not each.tolerance_low <= off <= each.tolerance and not _without_rule(each):
            yield Phrase(
                "{market}, {gas}: the calculated heat input is {off} % off the rating, beyond the tolerance. Neither "
                "figure goes on a label until the injectors are changed or the certificate says which for this gas.",
                market=market.name,
                gas=each.to_gas.name,
                off=f"{100.0 * off:+.1f}",
            )
    for state in dict.fromkeys(_state(each) for _, each in made):
        yield Phrase("Volumes at {state}.", state=state)
    yield from _pressures(made, regions)
    for name in dict.fromkeys(
        market.name for market, each in made if not regions and each.region not in REGIONS
    ):
        yield Phrase("{market}: the file names no region; the fields of each region stand here.", market=name)


def _pressures(made: Sequence[tuple[MarketTarget, Conversion]], regions: Sequence[str]) -> Iterator[str]:
    """What a plate of Australia or New Zealand says of a market at another pressure than that of the country."""
    if NEW_ZEALAND in regions:
        yield Phrase("Supply pressures of New Zealand are in no table here: take them from the certificate.")
    if AUSTRALIA not in regions:
        return
    for market, each in made:
        usual = [
            float(row["nominal_from"])
            for row in tables.rows("supply_pressures")
            if row["region"] == AUSTRALIA.upper()
            and row["category"] == ("LP" if _is_lpg(each) else "natural")
        ]
        pressure = float(in_unit(each.to_gauge_pressure_Pa, Kind.GAUGE_PRESSURE, "kPa"))
        if not any(math.isclose(pressure, one, rel_tol=SAME_PRESSURE) for one in usual):
            yield Phrase(
                "{market}, {gas}: {pressure} kPa is not the supply pressure of Australia in the tables ({usual} kPa): "
                "a plate for Australia needs a market at that.",
                market=market.name,
                gas=each.to_gas.name,
                pressure=f"{pressure:.2f}",
                usual=", ".join(f"{one:.2f}" for one in usual),
            )
