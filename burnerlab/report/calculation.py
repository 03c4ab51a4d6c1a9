"""The page of the workbook that calculates: yellow cells to change, and the orifice of every burner as formulas."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from burnerlab.appliance.conversion.headline import NOMINAL, headline, unit_spread
from burnerlab.appliance.conversion.refusal import not_to_fit
from burnerlab.appliance.conversion.result import Conversion, Step
from burnerlab.orifice.drill import NONE_FITS
from burnerlab.quantity import System
from burnerlab.quantity.inputs import input_row
from burnerlab.report.calculation_model import (
    NO_RULE,
    PAGE,
    PERCENT,
    RULES,
    SEA,
    SECOND,
    CalculationModel,
    CellUnit,
    fits_band,
    label_of,
    model,
    second_over_first,
)
from burnerlab.report.calculation_tables import add_drills, add_gases, add_rules, add_steps, add_vapour
from burnerlab.report.chain import Value, guarded
from burnerlab.report.coefficient_page import LawCells, add_coefficients, coefficient_at, laws_of
from burnerlab.report.sheet.terms import WordedText, reworded
from burnerlab.report.sheet.wording import STATEMENT, clean, lines_of_sheet
from burnerlab.report.workbook import HEAD_ROW, NOT_EVALUATED, Workbook
from burnerlab.supply.atmosphere import WEATHER_SPREAD, pressure_at_altitude_Pa
from burnerlab.tables.verdict import Verdict


def add_calculation(
    book: Workbook, c: Conversion, system: System, of_cautions: Callable[[str], str] = str
) -> None:
    """The first page, with its cautions in their own words, and the pages it calculates with."""
    m = model(c, system)
    lead = "Yellow cells can be changed; all others follow from them."
    page = book.page(PAGE, f"Calculation: {clean(c.appliance, 60)} to {clean(c.to_gas.name, 40)}", lead)
    shown = reworded(lines_of_sheet(c), of_cautions)
    lines = (*(WordedText(one.line) for one in shown), of_cautions(STATEMENT))
    for row, line in enumerate(lines, start=2):
        page.write_string(row, 0, line, book.line)
    top = 3 + len(lines)
    if m is None:
        page.write_string(top, 0, f"The calculation is {NOT_EVALUATED}: the conversion holds no job.")
        return
    below = _inputs(book, page, m, top)
    page.freeze_panes(0, 1)
    cells = _burners(book, page, m, below + 1)
    for row, line in enumerate(remarks(m), start=below + 6 + 2 * len(m.steps)):
        page.write_string(row, 0, line)
    add_steps(book, m)
    add_gases(book, m)
    add_vapour(book, m)
    add_drills(book, m)
    add_rules(book, m)
    if laws_of(m):
        add_coefficients(book, m, cells)
    book.follow(_belongs_to(m))


def _belongs_to(m: CalculationModel) -> str:
    """Gas, pressure and place that the figures of the program are of."""
    job, u = m.conversion.job or m.job, m.units
    at = f"{clean(job.target.gas.name, 40)} {u.pressure.of(job.target.gauge_pressure_Pa):.3g} {u.pressure.name}"
    height = job.new_site.altitude_m
    return (
        f"{at}, altitude not given"
        if height is None
        else f"{at}, {u.altitude.of(height):.0f} {u.altitude.name}"
    )


def remarks(m: CalculationModel) -> tuple[str, ...]:
    """What the page leaves out, so that nobody takes it for more than it is."""
    couple = (
        "The drill is taken for the gas the orifices are sized on, no larger than keeps the second gas in the band. No"
        " drill fits with which the second gas exceeds it; a second gas that cannot reach it is held against what the"
        " orifices of the first leave of the rating.",
    )
    return (
        "The pressure is that at the orifice: drop and droop of regulator, hose, pipe and valves, and all burners on or"
        " one kind on, are on the page Burners.",
        "Place in the band: of the drill taken at this pressure, with the interval as made from the drill's hole and"
        " the least and most of the coefficient; empty both where the coefficient is measured.",
        "Where no drill fits there is no size and no heat input, and the deviation is that of the nearest. A drill fits"
        " within the band by itself and with every burner on; what the supply then takes is that of the conversion.",
        "Of the drills below and above, one that fits comes before one that does not, then one within the band by"
        " itself, then the nearer in heat input, of two equally near the smaller.",
        *_not_nearest(m),
        "Orifice tried: one of your own from the yellow cell beside it, else that of the drill taken, which follows"
        " rate, gas and pressure; the present one where none fits.",
        *(couple if m.has_second else ()),
        *_refused(m),
        "Air, flames, checks and shutters do not follow: they are those of the conversion as the program made it.",
    )


def _not_nearest(m: CalculationModel) -> tuple[str, ...]:
    """Burners whose drill is another than the nearest."""
    each = [(step, _beyond(m, burner_values(m, step))) for step in m.steps]
    burners = [clean(step.burner.name, 40) for step, beyond in each if beyond]
    if not burners:
        return ()
    return (
        f"Not the nearest, but as many sizes from it as the conversion takes, for the supply or for millimetres, after"
        f" a change of a cell too; then convert names the drill:"
        f" {', '.join(burners)}.",
    )


def _refused(m: CalculationModel) -> tuple[str, ...]:
    """Burners that none of the drills fits by the conversion."""
    refused = not_to_fit(m.conversion)
    burners = [clean(step.burner.name, 40) for step in m.steps if step.burner.name in refused]
    return (f"None fits by the conversion: {', '.join(burners)}.",) if burners else ()


# The yellow cells of the first page.


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """A yellow cell of the first page with its name, and what it may hold."""

    name: str
    label: str
    value: Value | None
    unit: str
    pattern: str
    note: str
    accepted: dict[str, Any]  # as the writer takes a data validation


def _between(low: float, high: float, what: str, unit: str = "") -> dict[str, Any]:
    return {
        "validate": "decimal",
        "criteria": "between",
        "minimum": low,
        "maximum": high,
        "error_title": what,
        "error_message": f"{what} {low:g} to {high:g} {unit}".strip(),
    }


def _span(row: str, unit: CellUnit, what: str) -> dict[str, Any]:
    """The accepted range of an input, in the unit of its cell."""
    declared = input_row(row)
    low, high = (round(unit.of(end), 4) for end in (declared.low, declared.high))
    return _between(low, high, what, unit.name)


def _entries(m: CalculationModel) -> list[Entry]:
    job, u = m.job, m.units
    site, band, low = job.new_site, job.tolerance, input_row("low_pressure")
    height, barometer = _place(m)
    listed = {"validate": "list", "source": "=gas_names"}
    beyond = (
        f"A domestic low-pressure appliance has {u.pressure.of(low.low):.3g} to {u.pressure.of(low.high):.3g}"
        f" {u.pressure.name}. Check the unit."
    )
    pressure = {
        **_between(u.pressure.of(low.low), u.pressure.of(low.high), "pressure"),
        "error_type": "warning",
        "error_message": beyond,
    }
    sized = "Orifices are sized on this gas. " if m.has_second else ""
    found = [
        Entry(name="new_gas", label="New gas", value=label_of(m.states[0].gas), unit="", pattern="@",
              note=f"{sized}A gas of the page Gases", accepted=listed),
        Entry(name="new_pressure", label="New pressure, gauge", value=u.pressure.of(job.target.gauge_pressure_Pa),
              unit=u.pressure.name, pattern=u.pressure.pattern,
              note="At the orifice. Regulator, hose and valves are not in this workbook.", accepted=pressure),
        Entry(name="altitude", label="Altitude", value=height, unit=u.altitude.name, pattern=u.altitude.pattern,
              note="Standard atmosphere, where no barometer is written",
              accepted=_span("altitude", u.altitude, "altitude")),
        Entry(name="barometer", label="Barometer, absolute", value=barometer, unit=u.barometer.name,
              pattern=u.barometer.pattern,
              note="Of the place itself, not reduced to sea level. Clear the altitude to calculate with it.",
              accepted=_span("barometer", u.barometer, "barometer")),
        Entry(name="gas_temperature", label="Gas temperature", value=u.temperature.of(site.gas_temperature_K),
              unit=u.temperature.name, pattern=u.temperature.pattern, note="At the orifice",
              accepted=_span("gas_temperature", u.temperature, "gas temperature")),
        Entry(name="altitude_rule", label="Altitude rule", value=job.policy.policy or NO_RULE, unit="", pattern="@",
              note=f"A rule of the page {RULES}. '{NO_RULE}' enlarges no orifice for the altitude.",
              accepted={"validate": "list", "source": "=rule_choices"}),
        Entry(name="band_low", label="Band of the heat input, from", value=band.low, unit="", pattern=PERCENT,
              note=f"Against the aim. {clean(band.source)}", accepted=_between(-0.5, 0.0, "band")),
        Entry(name="band_high", label="Band of the heat input, to", value=band.high, unit="", pattern=PERCENT,
              note="", accepted=_between(0.0, 0.5, "band")),
    ]  # fmt: skip
    if m.has_second:
        other = m.states[2]
        found[2:2] = [
            Entry(name="second_gas", label="Second gas of the couple", value=label_of(other.gas), unit="", pattern="@",
                  note="Burnt through the same orifices, which are not changed for it", accepted=listed),
            Entry(name="second_pressure", label="Its pressure, gauge", value=u.pressure.of(other.gauge_pressure_Pa),
                  unit=u.pressure.name, pattern=u.pressure.pattern, note="", accepted=pressure),
        ]  # fmt: skip
    return found


def _place(m: CalculationModel) -> tuple[float | None, float | None]:
    """Altitude and barometer as their cells show them; the barometer only where it says more than the altitude."""
    site, u = m.job.new_site, m.units
    height = site.altitude_m
    standard = float(pressure_at_altitude_Pa(0.0 if height is None else height))
    is_standard = math.isclose(site.ambient_pressure_Pa, standard, rel_tol=1e-9)
    shown = 0.0 if height is None and is_standard else None if height is None else u.altitude.of(height)
    return shown, None if is_standard else u.barometer.of(site.ambient_pressure_Pa)


CHOKED = "Choked: the ambient pressure no longer matters"
NOT_CHOKED = "Not choked: the ambient pressure counts as well"
APART = (
    "IFERROR(AND(ISNUMBER(altitude),barometer*barometer_unit>={low:.10g},barometer*barometer_unit<={high:.10g},"
    "ABS(barometer*barometer_unit/standard_pressure-1)>{spread:g}),FALSE)"
).format(low=input_row("barometer").low, high=input_row("barometer").high, spread=WEATHER_SPREAD)
"""A barometer in its range that no weather gives at the altitude."""
MISSING = (
    ("ISNUMBER(gas_place)", "New gas: not on the page Gases"),
    ("ISNUMBER(temperature)", "Gas temperature: missing or out of range"),
    (f"NOT({APART})", "Barometer: not that of this altitude; clear the altitude, or correct one of them"),
    ("ISNUMBER(absolute_pressure)", "Pressure, altitude or barometer: missing or out of range"),
    ("ISNUMBER(mass_flux)", "Gas: part of it would be liquid at this pressure and temperature"),
    ("ISNUMBER(altitude_factor)", "Altitude rule: no factor for this altitude"),
    ("ISNUMBER(drill_count)", "Drills: not rising, or a gap between them"),
    ("AND(ISNUMBER(band_low),ISNUMBER(band_high))", "Band of the heat input: missing"),
)
COMPLETE = "no input is missing"


MISSING_SECOND = (
    ("ISNUMBER(gas_place_second)", "Second gas: not on the page Gases"),
    ("ISNUMBER(absolute_pressure_second)", "Second gas: its pressure is missing or out of range"),
    ("ISNUMBER(mass_flux_second)", "Second gas: part of it would be liquid at this pressure and temperature"),
)


def _missing(m: CalculationModel) -> str:
    """The formula that names the first input that is missing."""
    formula = f'"{COMPLETE}"'
    for holds, words in reversed((*MISSING, *(MISSING_SECOND if m.has_second else ()))):
        formula = f'IF({holds},{formula},"{words}")'
    return guarded(formula)


def _inputs(book: Workbook, page: Any, m: CalculationModel, top: int) -> int:
    """The yellow cells, then what is missing and the factor of the altitude rule; gives the row below."""
    for column, (text, width) in enumerate((("Input", 30), ("Value", 14), ("Unit", 10), ("Note", 10))):
        page.set_column(column, column, width)
        page.write_string(top, column, text, book.head)
    entries = _entries(m)
    for row, entry in enumerate(entries, start=top + 1):
        page.write_string(row, 0, entry.label, book.bold)
        book.entry(page, (row, 1), entry.value, entry.pattern)
        page.write_string(row, 2, entry.unit, book.unit)
        page.write_string(row, 3, entry.note)
        page.data_validation(row, 1, row, 1, entry.accepted)
        book.name(entry.name, PAGE, (row, 1))
    leaves = ("second_share", "Second gas: of the rating, by the orifices of the first", SHARE, m.second_share,
              "0.0000", "1 where the band can be held on both gases")  # fmt: skip
    shown = (
        ("altitude_factor", "Factor of the altitude rule", _factor(""), m.job.policy.factor, "0.0000",
         "On the rate: the aim is the rate times this factor"),
        *((leaves,) if m.has_second else ()),
        ("", "Flow through the orifices", "=flow_state", m.chain[0]["flow_state"], "General",
         CHOKED if m.chain[0]["flow_state"] == "choked" else NOT_CHOKED),
        ("", "Inputs", _missing(m), COMPLETE, "General", ""),
    )  # fmt: skip
    below = top + 1 + len(entries)
    for row, (name, label, text, value, pattern, note) in enumerate(shown, start=below):
        page.write_string(row, 0, label, book.bold)
        book.formula(page, (row, 1), text, value, book.number_format(pattern))
        if text == "=flow_state":
            book.formula(
                page, (row, 3), f'=IF(flow_state="choked","{CHOKED}","{NOT_CHOKED}")', note, book.wrap
            )
        else:
            page.write_string(row, 3, note)
        if name:
            book.name(name, PAGE, (row, 1))
    return below + len(shown)


SHARE = guarded(
    "IF(mass_flux_second*heating_value_second/(mass_flux*heating_value)<1+band_low,"
    "mass_flux_second*heating_value_second/(mass_flux*heating_value),1)"
)


def _factor(which: str) -> str:
    """The factor on the rate: of the rule, or what a bore for sea level gives here."""
    return guarded(
        f'IF(altitude_rule="{NO_RULE}",IF(ambient_pressure>=sea_level_pressure,1,'
        f"MIN(mass_flux{which}/mass_flux{which}{SEA},1)),IF(rule_factor>0,rule_factor+0,NE))"
    )


# The burners: what is asked of each, its exact orifice, the drill taken and what that burns.


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnerColumn:
    """A column of the table of burners; one with a formula follows, one without is written in."""

    key: str
    head: str
    pattern: str
    formula: str = ""  # {key} stands for the cell of that column of the burner, in either table


def _inside(cell: str, low: float, high: float) -> str:
    return f"ISNUMBER({cell}),{cell}>={low:.10g},{cell}<={high:.10g}"


def _neighbour(step: str) -> str:
    """The heat input of the drill at a place of the list against the aim; a law moves the coefficient as well."""
    return f"(INDEX(drill_bores,{{place}}{step})/{{bore}})^2*{{ratio{step}}}-1"


IN_BAND_BELOW = "AND({below}>=band_low,{below}<=band_high)"
IN_BAND_ABOVE = "AND({above}>=band_low,{above}<=band_high)"
HOLDS = "AND(%s,(1+{%s})*{supplied}-1>=band_low,(1+{%s})*{supplied}-1<=band_high%s)"
SECOND_HOLDS = (
    ",(1+{%s})*mass_flux_second*heating_value_second/(mass_flux*heating_value)/second_share-1<=band_high"
)
"""Of the second gas of a couple through the same hole; its coefficient is that of the first."""
LARGEST_FOR_SECOND = (
    "IFERROR(MATCH({bore}*SQRT((1+band_high)*second_share*mass_flux*heating_value"
    "/(mass_flux_second*heating_value_second)),drill_bores,1),1)"
)
"""Place of the largest drill with which the second gas keeps to its band."""
NEAREST = "IF(ABS({above})<ABS({below}),{place}+1,{place})"


def _drill_place(m: CalculationModel) -> str:
    """Place of what holds the band on supply and second gas, or by itself, then of the nearest in heat input.

    Of two equally near the smaller.
    """
    second = {side: SECOND_HOLDS % side if m.has_second else "" for side in ("below", "above")}
    holds_below = HOLDS % (IN_BAND_BELOW, "below", "below", second["below"])
    holds_above = HOLDS % (IN_BAND_ABOVE, "above", "above", second["above"])
    found = (
        "IF(AND(ISNUMBER(band_low),ISNUMBER(band_high)),IF(ISNUMBER({below}),IF(ISNUMBER({above}),"
        f"IF({holds_below}={holds_above},"
        f"IF({IN_BAND_BELOW}={IN_BAND_ABOVE},{NEAREST},IF({IN_BAND_BELOW},{{place}},{{place}}+1)),"
        f"IF({holds_below},{{place}},{{place}}+1)),"
        "{place}),IF(ISNUMBER({above}),{place}+1,NE)),NE)"
    )
    if not m.has_second:
        return found
    is_in_band = f"(INDEX(drill_bores,{LARGEST_FOR_SECOND})/{{bore}})^2-1>=band_low"
    return f"IF({is_in_band},MIN({found},{LARGEST_FOR_SECOND}),{found})"


TAKEN_DEVIATION = "(INDEX(drill_bores,{taken}+0)/{bore})^2*{coefficient}/{sizing_coefficient}-1"
"""Of a drill that is neither, which the program takes for the supply, or in Europe for its millimetres."""
HEAT = "PI()/4*({%s}*bore_unit)^2*{orifices}*{%s}*mass_flux%s*heating_value%s/rate_unit"
MADE = (
    "IF(AND(ISNUMBER({least}),ISNUMBER({most}),{least}<{most}),(1+{deviation})*(1%sSQRT(("
    '%s({%s},{coefficient})/{coefficient}-1)^2+%s((INDEX(drill_%s,{taken})/{drill_bore})^2-1,0)^2))-1,"not stated")'
)
MADE_LOW, MADE_HIGH = MADE % ("-", "MIN", "least", "MIN", "least"), MADE % ("+", "MAX", "most", "MAX", "most")
MADE_SECOND = {
    end: made.replace("{deviation}", "{second_deviation}").replace("{coefficient}", "{second_coefficient}")
    for end, made in (("low", MADE_LOW), ("high", MADE_HIGH))
}
FITS = (
    "IF(AND(ISNUMBER({deviation})%s),IF(AND(MIN({deviation},(1+{deviation})*{supplied}-1)>=band_low,"
    'MAX({deviation},(1+{deviation})*{supplied}-1)<=band_high%s),"yes","no"),NE)'
)


def _fits(m: CalculationModel) -> str:
    """Within the band by itself and with every burner on, and on the second gas of a couple not over it."""
    second = (f",{SECOND_KNOWN}", f",{FROM_SHARE}<=band_high") if m.has_second else ("", "")
    return FITS % second


IF_FITS = 'IF({fits}="yes",%s,%s)'
NO_PART = "none"
PART_TAKEN = IF_FITS % (
    f'IF(INDEX(drill_parts,{{taken}}+0)&""="","{NO_PART}",INDEX(drill_parts,{{taken}}+0)&"")',
    "NE",
)
"""What is ordered: a hole that follows from a changed cell brings its own."""
MARK_TAKEN = IF_FITS % ('INDEX(drill_marks,{taken}+0)&""', f'IF({{fits}}="no","{NONE_FITS}",NE)')


def _place_formula(deviation: str, made: str, is_outside: str) -> str:
    """Where a deviation lies in the band: over its interval as made; near without one, as that is not known."""
    low, high = made % "low", made % "high"
    return (
        f'IF(AND(ISNUMBER({deviation}),ISNUMBER(band_low),ISNUMBER(band_high)),IF({is_outside},"outside",'
        f'IF(AND(ISNUMBER({low}),{low}>=band_low,{high}<=band_high),"within","near")),NE)'
    )


ON_DRILL = _place_formula("{deviation}", "{made_%s}", '{fits}="no"')
VERDICT = f'IF(OR({{fits}}="yes",{{fits}}="no"),{ON_DRILL},NE)'
"""Without an answer on the second gas of a couple there is none on the first."""
FROM_SHARE = "((1+{second_deviation})/second_share-1)"
SECOND_KNOWN = "(ISNUMBER({second_deviation}))"
"""The deviation of the second gas from what the orifices of the first leave of the aim."""
SECOND_VERDICT = _place_formula(
    FROM_SHARE,
    "((1+{second_made_%s})/second_share-1)",
    f'OR({{fits}}="no",{FROM_SHARE}<band_low,{FROM_SHARE}>band_high)',
)
TRIAL_VERDICT = (
    "IF(AND(ISNUMBER({trial_deviation}),ISNUMBER(band_low),ISNUMBER(band_high)),"
    'IF(OR({trial_deviation}<band_low,{trial_deviation}>band_high%s),"OUTSIDE","inside, as calculated"),NE)'
)
OF_TRIAL = f",(1+{FROM_SHARE})*(1+{{trial_deviation}})/(1+{{deviation}})-1>band_high"
NOT_STATED = "not stated"


def burner_columns(m: CalculationModel) -> tuple[BurnerColumn, ...]:
    """The columns of the first table: what is asked of a burner, its exact orifice and the drill taken."""
    u, basis = m.units, m.job.appliance.rating
    rate, count, coefficient = input_row("heat_input"), input_row("orifice_count"), input_row("coefficient")
    rate_ends = (u.rate.of(rate.low), u.rate.of(rate.high))
    holes = (
        f"{_inside('{orifices}', count.low, count.high)},{{orifices}}=INT({{orifices}}),"
        f"{_inside('{sizing_coefficient}', coefficient.low, coefficient.high)}"
    )
    kW, mm = f"[{u.rate.name} {basis}]", f"[{u.bore.name}]"
    bore = "SQRT(4*{aim}*rate_unit/(PI()*{orifices}*{sizing_coefficient}*mass_flux*heating_value))/bore_unit"
    asked = [
        BurnerColumn(key="burner", head="Burner", pattern="@"),
        BurnerColumn(key="rate", head=f"Rate {kW}", pattern=u.rate.pattern),
        BurnerColumn(key="count", head="Burners of the kind", pattern="0"),
        BurnerColumn(key="orifices", head="Orifices of one burner", pattern="0"),
        BurnerColumn(key="coefficient", head="Discharge coefficient", pattern="0.000"),
        BurnerColumn(key="least", head="its least", pattern="0.000"),
        BurnerColumn(key="most", head="its most", pattern="0.000"),
        BurnerColumn(key="aim", head=f"Aim {kW}", pattern=u.rate.pattern,
                     formula=f"IF(AND({_inside('{rate}', *rate_ends)}),{{rate}}*altitude_factor,NE)"),
        BurnerColumn(key="bore", head=f"Exact orifice {mm}", pattern=f"{u.bore.pattern}0",
                     formula=f"IF(AND({holes}),{bore},NE)"),
    ]  # fmt: skip
    return tuple(asked + _drill_columns(m, kW, mm))


def _drill_columns(m: CalculationModel, kW: str, mm: str) -> list[BurnerColumn]:
    """The drill taken with its part number, what it burns, and where that lies in the band."""
    u = m.units
    return [
        BurnerColumn(key="drill", head="Drill taken", pattern="@", formula=MARK_TAKEN),
        *((BurnerColumn(key="part", head="Part number", pattern="@", formula=PART_TAKEN),) if m.has_parts else ()),
        BurnerColumn(key="drill_bore", head=f"its diameter {mm}", pattern=u.bore.pattern,
                     formula=IF_FITS % ("INDEX(drill_bores,{taken}+0)", "NE")),
        BurnerColumn(key="heat", head=f"Heat input {kW}", pattern=u.rate.pattern,
                     formula=HEAT % ("drill_bore", "coefficient", "", "")),
        BurnerColumn(key="deviation", head="Deviation from the aim", pattern=PERCENT,
                     formula="IF({taken}={place},{below},{above})"),
        BurnerColumn(key="made_low", head="as made, from", pattern=PERCENT,
                     formula=MADE_LOW),
        BurnerColumn(key="made_high", head="as made, to", pattern=PERCENT,
                     formula=MADE_HIGH),
        BurnerColumn(key="verdict", head="Place in the band", pattern="@", formula=VERDICT),
    ]  # fmt: skip


def further_columns(m: CalculationModel) -> tuple[BurnerColumn, ...]:
    """The columns of the second table: drills on both sides, gas used, the second gas, an orifice tried."""
    u = m.units
    kW, mm = f"[{u.rate.name} {m.job.appliance.rating}]", f"[{u.bore.name}]"
    aim = "{aim}" if m.job is m.conversion.job else f"({{rate}}*{_factor(SECOND)[1:]})"
    second = [
        BurnerColumn(key="second_heat", head=f"Second gas, heat input {kW}", pattern=u.rate.pattern,
                     formula=HEAT % ("drill_bore", "second_coefficient", SECOND, SECOND)),
        BurnerColumn(key="second_deviation", head="Second gas, deviation", pattern=PERCENT, formula=(
            f"{HEAT % ('second_bore', 'second_coefficient', SECOND, SECOND)}/{aim}-1"
        ).replace("{second_bore}", "INDEX(drill_bores,{taken}+0)")),
        *(BurnerColumn(key=f"second_made_{end}", head=f"Second gas, as made, {word}", pattern=PERCENT,
                       formula=MADE_SECOND[end]) for end, word in (("low", "from"), ("high", "to"))),
        BurnerColumn(key="second_verdict", head="Second gas, place in the band", pattern="@", formula=SECOND_VERDICT),
    ]  # fmt: skip
    flow = "{heat}*rate_unit/heating_value"
    return (
        BurnerColumn(key="burner", head="Burner", pattern="@"),
        BurnerColumn(key="place", head="Place of the drill below", pattern="0",
                     formula="IFERROR(MATCH({bore},drill_bores,1),0)"),
        BurnerColumn(key="below_drill", head="Drill below", pattern="@",
                     formula='IF({place}>=1,INDEX(drill_marks,{place})&"",NE)'),
        BurnerColumn(key="below", head="its deviation", pattern=PERCENT,
                     formula="IF(AND({place}>=1,ISNUMBER(drill_count))," + _neighbour("") + ",NE)"),
        BurnerColumn(key="above_drill", head="Drill above", pattern="@",
                     formula='IF({place}<drill_count+0,INDEX(drill_marks,{place}+1)&"",NE)'),
        BurnerColumn(key="above", head="its deviation", pattern=PERCENT,
                     formula="IF({place}<drill_count+0," + _neighbour("+1") + ",NE)"),
        BurnerColumn(key="taken", head="Place of the drill taken", pattern="0", formula=_drill_place(m)),
        BurnerColumn(key="supplied", head="With every burner on, over alone at this pressure", pattern="0.000",
                     formula="NE"),
        BurnerColumn(key="fits", head="Fits", pattern="@", formula=_fits(m)),
        BurnerColumn(key="mass_flow", head=f"Gas of one burner [{u.mass_flow.name}]",
                     pattern=u.mass_flow.pattern, formula=f"{flow}/mass_flow_unit"),
        BurnerColumn(key="volume_flow", head=f"Gas of one burner [{u.volume_flow.name}]",
                     pattern=u.volume_flow.pattern, formula=f"{flow}/INDEX(gas_density,gas_place)/volume_flow_unit"),
        *(second if m.has_second else ()),
        BurnerColumn(key="own", head=f"Own orifice to try {mm}", pattern=u.bore.pattern),
        BurnerColumn(key="trial", head=f"Orifice tried {mm}", pattern=u.bore.pattern,
                     formula="IF(ISNUMBER({own}),{own},IF(ISNUMBER({drill_bore}),{drill_bore},{present}))"),
        BurnerColumn(key="trial_heat", head=f"Heat input with it {kW}", pattern=u.rate.pattern,
                     formula=f"IF({{trial}}>0,{HEAT % ('trial', 'trial_coefficient', '', '')},NE)"),
        BurnerColumn(key="trial_deviation", head="its deviation from the aim", pattern=PERCENT,
                     formula="{trial_heat}/{aim}-1"),
        BurnerColumn(key="trial_verdict", head="its place in the band", pattern="@",
                     formula=TRIAL_VERDICT % (OF_TRIAL if m.has_second else "")),
    )  # fmt: skip


SUMS = {"count": "SUM({span})", "aim": "SUMPRODUCT({count},{span})", "heat": "SUMPRODUCT({count},{span})"}


def _burners(book: Workbook, page: Any, m: CalculationModel, top: int) -> dict[int, dict[str, str]]:
    """Both tables of burners, the sums of all below the first; gives the cells of each burner by its place."""
    laws, found = LawCells(model=m), dict[int, dict[str, str]]()
    tables = ((top, burner_columns(m)), (top + 3 + len(m.steps), further_columns(m)))
    for head, columns in tables:
        page.set_row(head, 48)
        for place, column in enumerate(columns):
            page.write_string(head, place, column.head, book.head_right if place else book.head)
    page.set_column(4, max(len(columns) for _, columns in tables) - 1, 12)
    for number, step in enumerate(m.steps):
        cells = {
            key: f"${letter}${head + 2 + number}"
            for head, columns in reversed(tables)
            for key, letter in book.letters([column.key for column in columns]).items()
        }
        found[number] = {key: f"{PAGE}!{cell}" for key, cell in cells.items()}
        cells |= laws.of(step, HEAD_ROW + 1 + number, cells)
        cells["=supplied"] = repr(m.supplied[number])
        cells["present"] = repr(m.units.bore.of(step.burner.orifice.diameter_m))
        if step.burner.name in m.refused:
            cells["=fits"] = '"no"'
        figures = burner_values(m, step)
        if m.has_second:  # which may ask for a drill that is neither of the two beside the exact bore
            cells["=deviation"] = TAKEN_DEVIATION
        if beyond := _beyond(m, figures):
            cells |= {"=taken": f"({_drill_place(m)})+{beyond}", "=deviation": TAKEN_DEVIATION}
        for head, columns in tables:
            for place, column in enumerate(columns):
                at = (head + 1 + number, place)
                _burner_cell(book, page, at, column, figures.get(column.key), cells)
        _burner_limits(page, top + 1 + number, {column.key: n for n, column in enumerate(tables[0][1])}, m)
    for head, columns in tables:
        for place, column in enumerate(columns):
            if column.key in ("verdict", "second_verdict", "trial_verdict"):
                rule = {"type": "cell", "criteria": "==", "value": '"outside"', "format": book.line}
                page.conditional_format(head + 1, place, head + len(m.steps), place, rule)
    _sums(book, page, m, top, {column.key: (place, column) for place, column in enumerate(tables[0][1])})
    return found


def _beyond(m: CalculationModel, figures: dict[str, Any]) -> int:
    """How many places the drill taken stands above the one that the formula finds; below it, less than 0."""
    place, below, above = figures["place"], figures["below"], figures["above"]
    band, second = m.job.tolerance, _second_over_first(m)
    if below is None or above is None:
        found = place if above is None else place + 1
    else:
        ranks = [
            (
                not (fits_band(band, each, figures["supplied"]) and (1.0 + each) * second - 1.0 <= band.high),
                not band.low <= each <= band.high,
                abs(each),
            )
            for each in (below, above)
        ]
        found = place if ranks[0] <= ranks[1] else place + 1
    if second:
        bores = [m.units.bore.of(drill.diameter_m) for drill in m.drills]
        most = max(bisect_right(bores, figures["bore"] * math.sqrt((1.0 + band.high) / second)), 1)
        is_in_band = (bores[most - 1] / figures["bore"]) ** 2 - 1.0 >= band.low
        found = min(found, most) if is_in_band else found
    taken: int = figures["taken"]
    return taken - int(found)


def _second_over_first(m: CalculationModel) -> float:
    """Heat input of the second gas of a couple over that of the first through one hole, each over its aim [-]."""
    share = second_over_first(m.chain) if m.has_second else None
    return 0.0 if share is None else share / m.second_share


def _burner_cell(
    book: Workbook, page: Any, at: tuple[int, int], column: BurnerColumn, value: Any, cells: dict[str, str]
) -> None:
    """A name, a formula with its value, or a yellow cell."""
    formula = cells.get(f"={column.key}", column.formula)
    if column.key == "burner":
        page.write_string(*at, clean(value), book.bold)
    elif formula:
        for ratio in ("*{ratio}", "*{ratio+1}"):
            formula = formula.replace(ratio, cells.get(ratio, ""))
        text = guarded(formula.format_map(cells))
        book.formula(
            page, at, text, NOT_EVALUATED if value is None else value, book.number_format(column.pattern)
        )
    else:
        book.entry(page, at, value, column.pattern)


def _burner_limits(page: Any, row: int, places: dict[str, int], m: CalculationModel) -> None:
    """What the yellow cells of a burner may hold."""
    u = m.units
    rate, coefficient = input_row("heat_input"), input_row("coefficient")
    between = {
        "rate": _between(u.rate.of(rate.low), u.rate.of(rate.high), "rate", u.rate.name),
        "coefficient": _between(coefficient.low, coefficient.high, "discharge coefficient"),
        "least": _between(0.0, coefficient.high, "discharge coefficient"),
        "most": _between(0.0, coefficient.high, "discharge coefficient"),
    }
    for key, name in (("count", "count"), ("orifices", "orifice_count")):
        declared = input_row(name)
        between[key] = _between(declared.low, declared.high, declared.words) | {"validate": "integer"}
    for key, accepted in between.items():
        page.data_validation(row, places[key], row, places[key], accepted)


def _sums(
    book: Workbook, page: Any, m: CalculationModel, top: int, places: dict[str, tuple[int, BurnerColumn]]
) -> None:
    """All burners together: not evaluated as long as one of them is not."""
    first, last, row = top + 2, top + 1 + len(m.steps), top + 1 + len(m.steps)
    letters = book.letters(list(places))
    spans = {key: f"{letter}{first}:{letter}{last}" for key, letter in letters.items()}
    page.write_string(row, 0, "All burners", book.bold)
    figures = [burner_values(m, step) for step in m.steps]
    whole: dict[str, float] = {"count": sum(one["count"] for one in figures)}
    whole["aim"] = sum(one["count"] * one["aim"] for one in figures)
    is_whole = all(one["heat"] is not None for one in figures)
    if is_whole:
        whole["heat"] = sum(one["count"] * one["heat"] for one in figures)
    for key, formula in SUMS.items():
        place, column = places[key]
        total = formula.format(count=spans["count"], span=spans[key])
        known = f"AND(COUNT({spans['count']})={len(m.steps)},COUNT({spans[key]})={len(m.steps)})"
        text = guarded(f"IF({known},{total},NE)")
        book.formula(
            page,
            (row, place),
            text,
            whole.get(key, NOT_EVALUATED),
            book.number_format(column.pattern, is_bold=True),
        )
    place, column = places["deviation"]
    text = guarded(f"{letters['heat']}{row + 1}/{letters['aim']}{row + 1}-1")
    off = whole["heat"] / whole["aim"] - 1.0 if is_whole else NOT_EVALUATED
    book.formula(page, (row, place), text, off, book.number_format(column.pattern, is_bold=True))


def burner_values(m: CalculationModel, step: Step) -> dict[str, Any]:
    """What the table of burners shows of one, in the units of its cells; None is not evaluated."""
    u, burner, choice, sized = m.units, step.burner, step.choice, step.sized
    basis, bores = m.job.appliance.rating, [drill.diameter_m for drill in m.drills]
    place = bisect_right(bores, sized.diameter_m)
    heat, aim = choice.flow.heat_input_W(basis), sized.heat_input_W
    spread = unit_spread(step.discharge, choice.tolerance, choice.diameter_m)
    found = headline(NOMINAL, heat, aim, spread, m.job.tolerance, step.discharge.evidence)
    has_spread = step.discharge.low < step.discharge.high
    supplied, fits = m.supplied[m.steps.index(step)], m.is_fitted(step)
    trial = _heat(m, step, m.first_trial_m(step))
    figures = {
        "burner": burner.name,
        "rate": u.rate.of(burner.rate_W),
        "count": burner.count,
        "orifices": burner.orifice.count,
        "coefficient": choice.flow.coefficient,
        "least": step.discharge.low if has_spread else None,
        "most": step.discharge.high if has_spread else None,
        "aim": u.rate.of(aim),
        "bore": u.bore.of(sized.diameter_m),
        "drill": clean(choice.drill),
        **({"part": clean(m.drills[bores.index(choice.diameter_m)].part) or NO_PART} if m.has_parts else {}),
        "drill_bore": u.bore.of(choice.diameter_m),
        "heat": u.rate.of(heat),
        "deviation": choice.deviation,
        "made_low": NOT_STATED if found.deviation_low is None else found.deviation_low,
        "made_high": NOT_STATED if found.deviation_high is None else found.deviation_high,
        "verdict": found.verdict.value,
        "supplied": supplied,
        "fits": "yes" if fits else "no",
        "mass_flow": u.mass_flow.of(choice.flow.mass_flow_kg_per_s),
        "volume_flow": u.volume_flow.of(choice.flow.mass_flow_kg_per_s / m.states[0].gas.density_kg_per_m3),
        "place": place,
        "below_drill": clean(m.drills[place - 1].name) if place else None,
        "above_drill": clean(m.drills[place].name) if place < len(bores) else None,
        "below": None if place == 0 else _from(aim, _heat(m, step, bores[place - 1])),
        "above": None if place == len(bores) else _from(aim, _heat(m, step, bores[place])),
        "taken": bores.index(choice.diameter_m) + 1,
        "own": None,
        "trial": u.bore.of(m.first_trial_m(step)),
        "trial_heat": None if trial is None else u.rate.of(trial),
        "trial_deviation": _from(aim, trial),
        "trial_verdict": _trial_place(m, _from(aim, trial)),
    }
    if m.has_second:
        figures |= _second_values(m, step, aim, None if trial is None else trial / heat, fits=fits)
    return figures if figures["fits"] == "yes" else figures | _not_fitted(figures)


def _second_values(
    m: CalculationModel, step: Step, aim_W: float, trial: float | None, *, fits: bool
) -> dict[str, Any]:
    """What the second gas of a couple burns through the drill taken, and whether that and the orifice to try fit it.

    trial : heat input of the orifice to try over that of the drill taken [-]; fits : on the first gas
    """
    other = _heat(m, step, step.choice.diameter_m, place=2)
    deviation = _from(aim_W if m.job is m.conversion.job else step.burner.rate_W * m.factor_of_aim, other)
    found = {
        "second_heat": None if other is None else m.units.rate.of(other),
        "second_deviation": deviation,
        "fits": "yes" if fits and m.second_fits(deviation) else "no",
    }
    if trial is not None and deviation is not None and not m.second_fits((1.0 + deviation) * trial - 1.0):
        found["trial_verdict"] = "OUTSIDE"
    return found | _second_as_made(m, step, deviation)


def _second_as_made(m: CalculationModel, step: Step, deviation: float | None) -> dict[str, Any]:
    """Where the second gas of a couple lies in the band, through the drill taken for the first, as made."""
    k = coefficient_at(m, step, step.choice.diameter_m, SECOND)
    if deviation is None or not isinstance(k, float):
        return {}
    least, most = min(step.discharge.low, k), max(step.discharge.high, k)
    discharge = replace(step.discharge, coefficient=k, low=least, high=most)
    spread = None
    if step.discharge.low < step.discharge.high:
        spread = unit_spread(discharge, step.choice.tolerance, step.choice.diameter_m)
    heat = (1.0 + deviation) / m.second_share
    found = headline(NOMINAL, heat, 1.0, spread, m.job.tolerance, step.discharge.evidence)
    low, high = (NOT_STATED, NOT_STATED) if spread is None else spread.around(deviation)
    return {"second_made_low": low, "second_made_high": high, "second_verdict": found.verdict.value}


OF_THE_DRILL = (
    "part", "drill_bore", "heat", "made_low", "made_high", "mass_flow", "volume_flow", "second_heat",
    "second_made_low", "second_made_high",
)  # fmt: skip
"""Columns that are of the drill that is fitted."""


def _not_fitted(figures: dict[str, Any]) -> dict[str, Any]:
    """What the cells of a burner show that no drill fits: no size and no heat input."""
    is_stated = {key for key in OF_THE_DRILL if figures.get(key) not in (None, NOT_STATED)}
    words = {"drill": str(NONE_FITS), "verdict": Verdict.OUTSIDE.value}
    if "second_verdict" in figures:
        words["second_verdict"] = Verdict.OUTSIDE.value
    return dict.fromkeys(is_stated) | words


def _trial_place(m: CalculationModel, deviation: float | None) -> str | None:
    """Where an orifice to try lies, as its cell says it; without the interval as made, inside is no verdict."""
    if deviation is None:
        return None
    is_inside = m.job.tolerance.low <= deviation <= m.job.tolerance.high
    return "inside, as calculated" if is_inside else "OUTSIDE"


def _from(aim_W: float, heat_W: float | None) -> float | None:
    return None if heat_W is None else heat_W / aim_W - 1.0


def _heat(m: CalculationModel, step: Step, bore_m: float, place: int = 0) -> float | None:
    """What a burner burns through a bore in a state of the chain [W]; None where its coefficient is not known."""
    state, flux = m.states[place], m.chain[place].get("mass_flux")
    k = coefficient_at(m, step, bore_m, state.suffix)
    if not isinstance(k, float) or not isinstance(flux, float):
        return None
    area = math.pi / 4.0 * bore_m**2 * step.burner.orifice.count
    return k * area * flux * state.gas.heating_value_J_per_kg
