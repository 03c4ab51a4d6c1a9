"""Altitude policies and pressure couples in every format: what each alternative would ask for."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from burnerlab.appliance.conversion.convert import low_altitude, unmatched
from burnerlab.appliance.conversion.refusal import not_to_fit
from burnerlab.appliance.conversion.result import (
    Altitude,
    Conversion,
    Couple,
    CoupleInput,
    PolicyBore,
    PolicyRow,
)
from burnerlab.orifice.altitude import FULL_RATING, height_words, place_of_policy
from burnerlab.orifice.drill import NONE_FITS
from burnerlab.quantity import System
from burnerlab.quantity.prose import in_reader_units
from burnerlab.quantity.quantity_text import millimetre, quantity_text
from burnerlab.report.sheet.blocks import (
    BORE,
    POWER,
    BlockColumn,
    Cell,
    Points,
    Section,
    Table,
    basis_of,
    digits,
    fixed,
    percent,
)
from burnerlab.report.sheet.wording import clean, name
from burnerlab.tables.phrase import Phrase, joined
from burnerlab.tables.region import in_terms_of

if TYPE_CHECKING:
    from rich.table import Table as RichTable


# Altitude and its policies on terminal and sheet: what is enlarged, and what each policy would ask for.

CHOOSE = (
    'Choose one: --policy NAME, or altitude_policy = "NAME" under [limits] of the file. Policy none keeps the full '
    "rating with larger bores: only where no rule of the place lowers it."
)
FROM = "Deviations are from that."
SEA_LEVEL = "(bore for sea level)"
NO_BORE = "no bore"


def altitude_head(c: Conversion) -> tuple[str, ...]:
    """What altitude does to the bores below, in a line or two; nothing where it does nothing."""
    found, doubt = c.altitude, "" if c.job is None else low_altitude(c.job)
    if found is None or doubt:
        return (doubt,) if doubt else ()
    place = height_words(found.altitude_m)
    if found.policy is None:
        kept = f"{100 * (found.sea_level.factor or 1.0):.1f} % of the rating"
        text = f"Altitude {place}: no altitude policy is chosen."
        bores = f"No bore is enlarged: each is the one for sea level and gives {kept} here."
        said = " ".join((text, bores, FROM))
        return (found.warning, said) if found.warning else (said,)
    row = found.rows[0]
    share = "the full rating" if row.factor == 1.0 else f"{100 * (row.factor or 1.0):.1f} % of the rating"
    text = f"Altitude {place}, policy {clean(found.policy)}: {share}."
    text += f" {FROM}" if row.factor != 1.0 else ""
    appliance = None if c.job is None else c.job.appliance
    if appliance is not None and (
        known := place_of_policy(found.policy, appliance.region, appliance.tables.altitude_policies)
    ):
        doubt = f"It is a rule of {known}, not of this region: an engineer must name the rule of the place."
        return text, doubt, *_changes(found)
    return (text, *_changes(found))


def _changes(altitude: Altitude) -> tuple[str, ...]:
    """Bores that differ from those for sea level, equal changes together."""
    place = height_words(altitude.altitude_m)
    grouped: dict[str, list[str]] = {}
    for sea, here in altitude.changes():
        if sea.drill != here.drill:
            word = "enlarged" if here.drill_diameter_m > sea.drill_diameter_m else "reduced"
            change = Phrase(
                "bore {word} from {sea} to {here} for {place}",
                word=word,
                sea=bore_words(sea),
                here=bore_words(here),
                place=place,
            )
            grouped.setdefault(change, []).append(name(here.burner))
    return tuple(joined(": ", (change, ", ".join(who))) for change, who in grouped.items()) or (
        "No drill differs from the one for sea level.",
    )


def bore_words(bore: PolicyBore) -> str:
    """A drill with its bore where its name does not say it.

    >>> from burnerlab.appliance.conversion.result import PolicyBore
    >>> made = PolicyBore(burner="a", diameter_m=1e-3, drill="#60", drill_diameter_m=1.016e-3, deviation=0.0)
    >>> bore_words(made)
    '#60 (1.016 mm)'
    """
    drill = clean(bore.drill, 12)
    if drill.endswith("mm"):
        return drill
    return quantity_text("{} ({})", drill, millimetre(bore.drill_diameter_m, ".3f"))


def _every(altitude: Altitude) -> tuple[PolicyRow, ...]:
    return (altitude.sea_level, *altitude.rows)


def policy_label(policy: str) -> str:
    """A policy as a table names it; the one that keeps the rating says what it does to the bores.

    >>> policy_label(""), policy_label("none")
    ('(bore for sea level)', 'none (larger bores)')
    """
    if policy == FULL_RATING:
        return f"{FULL_RATING} (larger bores)"
    return clean(policy) if policy else SEA_LEVEL


def altitude_table(c: Conversion, system: System) -> RichTable | None:
    """A line for each policy where none is chosen: the share of the rating and the drill of every burner."""
    from rich import box
    from rich.table import Table as Lines
    from rich.text import Text

    found = c.altitude
    if found is None or found.policy is not None:
        return None
    lines = Lines(
        box=box.SIMPLE_HEAD, show_edge=False, pad_edge=False, padding=(0, 1, 0, 0), header_style="bold"
    )
    lines.add_column(
        f"altitude policy,\n{in_reader_units(height_words(found.altitude_m), system)}", no_wrap=True
    )
    lines.add_column("rating\n%", justify="right", no_wrap=True)
    lines.add_column(in_terms_of(c.region)("drills, burners in the order above"), ratio=1, overflow="fold")
    for row in _every(found):
        share = "-" if row.factor is None else f"{100 * row.factor:.1f}"
        lines.add_row(Text(policy_label(row.policy)), Text(share), Text(drill_words(row, c)))
    return lines


def altitude_sections(c: Conversion, system: System) -> tuple[Section, ...]:
    """The same on the sheet, with the source of each policy."""
    found = c.altitude
    if found is None:
        return ()
    columns = (
        BlockColumn(title="Altitude policy"),
        BlockColumn(title="Of the rating", side="right"),
        BlockColumn(title="Drills, burners in the order above", wide=True),
        BlockColumn(title="Source", wide=True),
    )
    rows = tuple(
        (
            Cell(text=policy_label(row.policy)),
            Cell(text="-" if row.factor is None else f"{100 * row.factor:.1f} %", value=row.factor),
            Cell(text=drill_words(row, c)),
            Cell(text=clean(row.source)),
        )
        for row in _every(found)
    )
    head = (in_reader_units(line, system) for line in altitude_head(c))
    lead = " ".join(line.rstrip(".") + "." for line in head)
    items = () if found.policy is not None else (Points(items=(CHOOSE,)),)
    table = Table(caption="Drills by altitude policy", columns=columns, rows=rows)
    return (Section(key="altitude", title="Altitude", lead=lead, blocks=(table, *items)),)


def drill_words(row: PolicyRow, c: Conversion) -> str:
    """Its drills, or why it has none; of a burner outside its band, or refused on papers, that none fits."""
    refused = not_to_fit(c)
    fitting = (
        c.tolerance_low <= bore.deviation <= c.tolerance and bore.burner not in refused for bore in row.bores
    )
    marks = (
        clean(bore.drill, 12) if fits else NONE_FITS for bore, fits in zip(row.bores, fitting, strict=True)
    )
    return joined(", ", tuple(marks)) if row.bores else clean(row.why)


# Pressure couples on terminal and sheet: one orifice, and what each of the two gases burns through it.


def couple_head(c: Conversion) -> tuple[str, ...]:
    """That the orifice serves two gases and which of them it is sized on; nothing where there is no couple."""
    found = c.pressure_couple
    if found is None:
        return _alternatives(c)
    reference, other = _gases(found)
    text = (
        f"Pressure couple {found.nominal} mbar ({clean(found.category)}, {found.source.rpartition(', ')[2]})"
    )
    one = f"one orifice for both gases, sized on {reference}. {other} burns what it then gives: never enlarge for it."
    held = (
        f" At the rating on the first gas it gives {100 * c.couple_factor:.1f} % of the rating on {other}, outside the "
        "band: a unit on that gas is held against that."
    )
    return (": ".join((text, one)) + (held if c.couple_factor != 1.0 else ""),)


def _alternatives(c: Conversion) -> tuple[str, ...]:
    """Couples the gas is sold in too, where no category was named; that category or region has no such pressure."""
    gas = name(c.to_gas.title)
    if c.job is not None and (said := unmatched(c.job)):
        return (clean(said),)
    return tuple(
        f"{gas} belongs to {words} too. These orifices are sized on this gas alone; "
        f"for that category add --category {words.rpartition('(')[2].rstrip(')')}: one other orifice then serves both."
        for words in c.pressure_couples_beside
    )


def beside(c: Conversion) -> str:
    """Couples in which the new gas is sold at this pressure too; "" where there is none, or a category was named."""
    if not c.pressure_couples_beside:
        return ""
    words = " and ".join(c.pressure_couples_beside)
    return f"sold as {words} too: name that category, and one orifice serves both gases"


def _gases(couple: Couple) -> tuple[str, str]:
    return (
        f"{clean(couple.reference_gas)} at {couple.reference_gauge_pressure_Pa / 100:.3g} mbar",
        f"{clean(couple.other_gas)} at {couple.other_gauge_pressure_Pa / 100:.3g} mbar",
    )


def bores_of_both_words(couple_input: CoupleInput, system: System) -> str:
    """The bores that hold the band on both gases, rounded inwards; that there is none."""
    low_m, high_m = couple_input.low_bore_m, couple_input.high_bore_m
    scale = BORE.scale(system)
    if low_m is not None and high_m is not None:
        step = 10.0**scale.places
        low, high = math.ceil(scale.of(low_m) * step) / step, math.floor(scale.of(high_m) * step) / step
        if low <= high:
            return f"{fixed(low, scale.places)} to {fixed(high, scale.places)} {scale.unit}"
    return NO_BORE


def _inputs(
    c: Conversion, couple: Couple, couple_input: CoupleInput
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Heat input [W] of both gases on the basis of the ratings, each with its deviation [-]."""
    is_net = c.rating_basis == "net"
    reference, other = (couple.reference_net_to_gross, couple.other_net_to_gross) if is_net else (1.0, 1.0)
    return (
        (couple_input.reference_gross_W * reference, couple_input.reference_deviation),
        (couple_input.other_gross_W * other, couple_input.other_deviation),
    )


def couple_table(c: Conversion, system: System) -> RichTable | None:
    """The heat inputs of both gases, a line for each burner."""
    from rich import box
    from rich.table import Table as Lines
    from rich.text import Text

    found = c.pressure_couple
    if found is None:
        return None
    scale, lines = (
        POWER.scale(system),
        Lines(
            box=box.SIMPLE_HEAD, show_edge=False, pad_edge=False, padding=(0, 1, 0, 0), header_style="bold"
        ),
    )
    lines.add_column("burner", ratio=1, min_width=12, overflow="fold")
    for gas in _gases(found):
        head = f"{in_reader_units(gas, system)},\n{scale.unit} {basis_of(c).word}"
        lines.add_column(head, justify="right", no_wrap=True)
    lines.add_column("bores that hold\nthe band on both", justify="right", no_wrap=True)
    for one in found.inputs:
        ends = _inputs(c, found, one)
        cells = (f"{digits(scale.of(power), 3)} ({percent(off)})" for power, off in ends)
        lines.add_row(*map(Text, (name(one.burner), *cells, bores_of_both_words(one, system))))
    return lines


def couple_sections(c: Conversion, system: System) -> tuple[Section, ...]:
    """The same on the sheet."""
    found = c.pressure_couple
    if found is None:
        return ()
    columns = (
        BlockColumn(title="Burner"),
        *(
            BlockColumn(title=f"{in_reader_units(gas, system)}, {basis_of(c).word}", side="right")
            for gas in _gases(found)
        ),
        BlockColumn(title="Bores that hold the band on both", side="right"),
    )
    rows = tuple(
        (
            Cell(text=name(one.burner)),
            *(_cell(power, off, system) for power, off in _inputs(c, found, one)),
            Cell(text=bores_of_both_words(one, system)),
        )
        for one in found.inputs
    )
    table = Table(caption="Heat input of both gases, deviation from the rating", columns=columns, rows=rows)
    lead = f"{couple_head(c)[0]} Source: {clean(found.source)}."
    return (Section(key="couple", title="Pressure couple", lead=lead, blocks=(table,)),)


def _cell(power_W: float, off: float, system: System) -> Cell:
    return Cell(text=f"{POWER.inline(power_W, system)}, {percent(off)}", value=power_W)
