"""The pages that the calculating page of the workbook reads: steps of the chain, gases, vapour, drills, rules."""

from __future__ import annotations

from typing import Any

from burnerlab import tables
from burnerlab.gas.component import constant
from burnerlab.gas.heat_capacity import GAS_CONSTANT
from burnerlab.gas.real_gas import EXPONENTS, HIGHEST_Pa, LOWEST_Pa
from burnerlab.orifice.altitude import FOOT_m, policy_names
from burnerlab.orifice.drill import Drill, tolerance_band
from burnerlab.quantity.inputs import input_row
from burnerlab.report.calculation_model import (
    DRILLS,
    GASES,
    NO_RULE,
    RULES,
    SECOND,
    SPARE_DRILLS,
    STEPS,
    VAPOUR,
    CalculationModel,
    label_of,
)
from burnerlab.report.chain import (
    CHAIN,
    NO_DEW,
    NO_LIQUID,
    VISCOSITY_TERMS,
    GasRow,
    Value,
    dew_pressure,
    guarded,
    vapour_rows,
)
from burnerlab.report.sheet.wording import clean
from burnerlab.report.workbook import HEAD_ROW, NOT_EVALUATED, Workbook
from burnerlab.supply.atmosphere import WEATHER_SPREAD, pressure_at_altitude_Pa, standard_atmosphere
from burnerlab.tables import cite
from burnerlab.tables.problem import UserError

Row = tuple[str, str, str, str, str, Value, str]  # name, label, unit, pattern, formula, value, note


def add_steps(book: Workbook, m: CalculationModel) -> None:
    """Units, constants and place, then the chain of each state: a step a row, a state a column."""
    lead = "From gas, pressure and place to the mass flux of an ideal orifice, in SI. Names are those of the cells."
    page = book.page(STEPS, "Chain of the calculation", lead)
    heads = ["Step", "Name of the cell", "Unit", *(state.title for state in m.states), "Remark"]
    book.heads(page, heads, [44, 24, 11, *(16 for _ in m.states), 70])
    last = 3 + len(m.states)
    row = HEAD_ROW + 1
    for name, label, unit, pattern, formula, value, note in (*_constants(m), *_place_rows(m)):
        _step(book, page, row, (label, name, unit))
        style = book.number_format(pattern)
        if formula:
            book.formula(page, (row, 3), guarded(formula), value, style)
        else:
            page.write_number(row, 3, value, style)
        page.write_string(row, last, note, book.unit)
        book.name(name, STEPS, (row, 3))
        row += 1
    for link in CHAIN:
        _step(book, page, row, (link.label, link.name, link.unit))
        for place, (state, figures) in enumerate(zip(m.states, m.chain, strict=True)):
            formula = link.formula.format(
                s=state.suffix,
                v=SECOND if state.suffix.startswith(SECOND) else "",
                gas=state.gas_cell,
                pressure=state.pressure_cell,
                ambient=state.ambient or AMBIENT,
            )
            value = (
                _place_of(m, state.gas) if link.name == "gas_place" else figures.get(link.name, NOT_EVALUATED)
            )
            book.formula(page, (row, 3 + place), guarded(formula), value, book.number_format(link.pattern))
            book.name(f"{link.name}{state.suffix}", STEPS, (row, 3 + place))
        page.write_string(row, last, link.note, book.unit)
        row += 1


def _step(book: Workbook, page: Any, row: int, texts: tuple[str, ...]) -> None:
    for column, text in enumerate(texts):
        page.write_string(row, column, text, book.bold if column == 0 else book.wrap)


AMBIENT = (
    "IF(ISNUMBER(barometer),IF(OR(barometer*barometer_unit<{low:.10g},barometer*barometer_unit>{high:.10g},"
    "AND(ISNUMBER(altitude),ABS(barometer*barometer_unit/standard_pressure-1)>{spread:g})),NE,"
    'barometer*barometer_unit),IF(barometer="",standard_pressure+0,NE))'
).format(low=input_row("barometer").low, high=input_row("barometer").high, spread=WEATHER_SPREAD)


def _place_of(m: CalculationModel, gas: GasRow) -> int:
    return m.gases.index(gas) + 1


def _constants(m: CalculationModel) -> tuple[Row, ...]:
    u, air = m.units, standard_atmosphere()
    SI = (
        ("pressure_unit", f"1 {u.pressure.name} in Pa", "Pa", u.pressure.factor),
        ("barometer_unit", f"1 {u.barometer.name} in Pa", "Pa", u.barometer.factor),
        ("altitude_unit", f"1 {u.altitude.name} in m", "m", u.altitude.factor),
        ("temperature_unit", f"1 {u.temperature.name} of difference in K", "K", u.temperature.factor),
        ("temperature_zero", f"0 {u.temperature.name} in K", "K", u.temperature.offset),
        ("rate_unit", f"1 {u.rate.name} in W", "W", u.rate.factor),
        ("bore_unit", f"1 {u.bore.name} in m", "m", u.bore.factor),
        ("mass_flow_unit", f"1 {u.mass_flow.name} in kg/s", "kg/s", u.mass_flow.factor),
        ("volume_flow_unit", f"1 {u.volume_flow.name} in m3/s", "m3/s", u.volume_flow.factor),
    )
    physics = (
        ("gas_constant", "Molar gas constant R", "J/(mol K)", GAS_CONSTANT, "SI of 2019"),
        ("standard_gas_constant", "Molar gas constant of ISO 6976", "J/(mol K)", constant("R"), "ISO 6976:2016"),
        ("sea_level_pressure", "Standard atmosphere: pressure at sea level", "Pa", air.pressure_Pa, "ISO 2533"),
        ("sea_level_temperature", "temperature at sea level", "K", air.temperature_K, "ISO 2533"),
        ("air_gradient", "temperature by height", "K/m", air.gradient_K_per_m, "ISO 2533"),
        ("air_exponent", "exponent of its pressure", "-", air.exponent, "ISO 2533: -g/(R a)"),
        ("lowest_pressure", "Lowest pressure of the gas density", "Pa", LOWEST_Pa, "range of the equation of state"),
        ("highest_pressure", "Highest pressure of the gas density", "Pa", HIGHEST_Pa, "range of the equation of state"),
    )  # fmt: skip
    return (
        *((name, label, unit, "General", "", value, "") for name, label, unit, value in SI),
        *((name, label, unit, "General", "", value, note) for name, label, unit, value, note in physics),
    )


def _place_rows(m: CalculationModel) -> tuple[Row, ...]:
    """Temperature and place: what the yellow cells say of them, in SI."""
    site = m.job.new_site
    warm, height = input_row("gas_temperature"), input_row("altitude")
    in_K, in_m = "gas_temperature*temperature_unit+temperature_zero", "altitude*altitude_unit"
    standard = float(pressure_at_altitude_Pa(site.altitude_m or 0.0))
    stock = m.stock_rows
    first, last = stock[0] + 1, stock[1] + 1
    rising = f"SUMPRODUCT(({DRILLS}!$B${first + 1}:$B${last}<={DRILLS}!$B${first}:$B${last - 1})"
    rising += f'*({DRILLS}!$B${first + 1}:$B${last}<>""))=0'
    return (
        ("temperature", "Gas temperature T", "K", "0.00",
         f"IF(AND(ISNUMBER(gas_temperature),{in_K}>={warm.low - 1e-6},{in_K}<={warm.high + 1e-6}),{in_K},NE)",
         site.gas_temperature_K, ""),
        ("standard_pressure", "Standard atmosphere at the altitude", "Pa", "0.0",
         f"IF(ISNUMBER(altitude),IF(AND({in_m}>={height.low:g},{in_m}<={height.high:g}),"
         f"sea_level_pressure*(1+air_gradient*{in_m}/sea_level_temperature)^air_exponent,NE),"
         'IF(altitude="",sea_level_pressure+0,NE))',
         standard, "p0 (1 + a h/T0)^(-g/(R a))"),
        ("place_altitude", "Altitude of the place", "m", "0",
         f"IF(ISNUMBER(altitude),{in_m},"
         "sea_level_temperature/air_gradient*((ambient_pressure/sea_level_pressure)^(1/air_exponent)-1))",
         site.pressure_altitude_m, "of the barometer, where no altitude is written"),
        ("drill_count", "Drills", "-", "0",
         f"IF(AND(COUNT(drill_bores)=MATCH(1E+99,drill_bores,1),{rising}),COUNT(drill_bores),NE)",
         len(m.drills), "not evaluated unless they rise without a gap"),
    )  # fmt: skip


def add_gases(book: Workbook, m: CalculationModel) -> None:
    """A row for each gas: what the chain needs of it."""
    vapours = vapour_rows(m.gases)
    basis, reference = m.job.appliance.rating, m.conversion.reference
    lead = f"Heating value {basis}, density of the dry gas at: {reference}. The appliance's own gases stand first."
    page = book.page(GASES, "Gases", lead)
    columns = [
        ("names", "Gas", 24.0), ("", "Title", 36.0), ("molar_mass", "Molar mass [kg/mol]", 12.0),
        ("heating_value", f"Heating value [J/kg {basis}]", 14.0), ("density", "Density [kg/m3]", 12.0),
        *((f"virial_{i}", f"B, T^-{e:g} [m3/mol K^{e:g}]", 14.0) for i, e in enumerate(EXPONENTS)),
        *((f"heat_{i}", f"cp/R, (T/1000 K)^{i}", 13.0) for i in range(5)),
        *((f"viscosity_{i}", f"Viscosity, power {i} [Pa s]", 13.0) for i in range(VISCOSITY_TERMS)),
        *((f"share_{i}", f"{one.component}, mole fraction", 10.0) for i, one in enumerate(vapours)),
        ("", "Composition from", 60.0),
    ]  # fmt: skip
    book.heads(page, [head for _, head, _ in columns], [width for _, _, width in columns])
    for number, gas in enumerate(m.gases, start=HEAD_ROW + 1):
        cells: tuple[Value, ...] = (
            label_of(gas), clean(gas.title), gas.molar_mass_kg_per_mol, gas.heating_value_J_per_kg,
            gas.density_kg_per_m3, *gas.virial, *gas.heat, *gas.viscosity,
            *(gas.fractions.get(one.component, 0.0) for one in vapours), clean(cite(gas.source)),
        )  # fmt: skip
        for column, value in enumerate(cells):
            book.cell(page, number, column, value)
    for column, (name, _, _) in enumerate(columns):
        if name:
            ends = (HEAD_ROW + 1, column), (HEAD_ROW + len(m.gases), column)
            book.name(f"gas_{name}", GASES, *ends)


def add_vapour(book: Workbook, m: CalculationModel) -> None:
    """Vapour pressures of what can condense, and the dew pressure of the gases in use."""
    lead = (
        "ln(p/pc) = (Tc/T)(A0 τ + A1 τ^1.5 + A2 τ^2.5 + A3 τ^5), τ = 1 - T/Tc (Ambrose and Walton);"
        " the gas starts to condense at 1/Σ(share/p)."
    )
    page = book.page(VAPOUR, "Vapour", lead)
    states = [state for state in m.states if state.suffix in ("", SECOND)]
    heads = ["Component", "Tc [K]", "pc [Pa]", "A0", "A1", "A2", "A3", "Vapour pressure [Pa]"]
    heads += [f"{state.title.partition(',')[0]}, share/p [1/Pa]" for state in states]
    book.heads(page, heads, [20, 10, 12, 10, 10, 10, 10, 16, *(18 for _ in states)])
    rows, t = vapour_rows(m.gases), m.states[0].temperature_K
    for number, one in enumerate(rows):
        row, r = HEAD_ROW + 1 + number, HEAD_ROW + 2 + number
        cells: tuple[Value, ...] = (
            one.component,
            one.critical_temperature_K,
            one.critical_pressure_Pa,
            *one.terms,
        )
        for column, value in enumerate(cells):
            book.cell(page, row, column, value)
        tau = f"(1-temperature/$B{r})"
        exponent = f"($D{r}*{tau}+$E{r}*{tau}^1.5+$F{r}*{tau}^2.5+$G{r}*{tau}^5)*$B{r}/temperature"
        formula = f'IF(ISNUMBER(temperature),IF(temperature<$B{r},$C{r}*EXP({exponent}),"{NO_LIQUID}"),NE)'
        pressure = one.pressure_Pa(t)
        book.formula(page, (row, 7), guarded(formula), pressure, book.number_format("0"))
        for place, state in enumerate(states):
            share = f"INDEX(gas_share_{number},gas_place{state.suffix})"
            amount = state.gas.fractions.get(one.component, 0.0)
            value = amount / pressure if isinstance(pressure, float) else 0.0
            formula = guarded(f"IF(ISNUMBER($H{r}),{share}/$H{r},0)")
            book.formula(page, (row, 8 + place), formula, value, book.number_format("0.000E+00"))
    last = HEAD_ROW + 1 + len(rows)
    page.write_string(last, 0, "Dew pressure [Pa]", book.bold)
    for place, state in enumerate(states):
        letter = "IJ"[place]
        span = f"{letter}{HEAD_ROW + 2}:{letter}{last}"
        formula = f"IF(SUM({span})>0,1/SUM({span}),{NO_DEW:g})" if rows else f"{NO_DEW:g}+0"
        style = book.number_format('[>1E+90]"none";0')
        book.formula(page, (last, 8 + place), guarded(formula), dew_pressure(state.gas, t), style)
        book.name(f"vapour_dew{state.suffix}", VAPOUR, (last, 8 + place))


PART = 4  # column of the part numbers, where the stock has any


def add_drills(book: Workbook, m: CalculationModel) -> None:
    """The drills an orifice is chosen from, by rising diameter, with the diameters a hole of each may have."""
    bore = m.units.bore
    lead = (
        "Yellow cells are the stock. Diameters must rise from row to row without a gap: move the rows below up"
        f" where one is taken out. {SPARE_DRILLS} rows are free."
    )
    page = book.page(DRILLS, "Drills", lead, landscape=False)
    unit = bore.name
    parts = ("Part number",) if m.has_parts else ()
    heads = (
        "Mark", f"Diameter [{unit}]", f"Hole, least [{unit}]", f"Hole, largest [{unit}]", *parts,
        "List, and where the tolerance is from",
    )  # fmt: skip
    book.heads(page, heads, (16, 14, 14, 14, *(16 for _ in parts), 60))
    for number, drill in enumerate(m.drills, start=HEAD_ROW + 1):
        least, largest, source = _tolerance(m, drill)
        book.entry(page, (number, 0), clean(drill.name), "@")
        for column, value in ((1, drill.diameter_m), (2, least), (3, largest)):
            book.entry(page, (number, column), None if value is None else bore.of(value), f"{bore.pattern}0")
        for _ in parts:
            book.entry(page, (number, PART), clean(drill.part) or None, "@")
        page.write_string(number, len(heads) - 1, clean(f"{drill.kind}; {source}"))
    first, last = m.stock_rows
    for row in range(HEAD_ROW + 1 + len(m.drills), last + 1):
        for column in range(len(heads) - 1):
            book.entry(page, (row, column), None, "@" if column in (0, PART) else f"{bore.pattern}0")
    names = {"marks": 0, "bores": 1, "least": 2, "most": 3} | ({"parts": PART} if parts else {})
    for name, column in names.items():
        book.name(f"drill_{name}", DRILLS, (first, column), (last, column))
    page.data_validation(
        first + 1, 1, last, 1,
        {"validate": "custom", "value": f"=B{first + 2}>B{first + 1}", "error_title": "diameter",
         "error_message": "Diameters rise from row to row."},
    )  # fmt: skip


def _tolerance(m: CalculationModel, drill: Drill) -> tuple[float | None, float | None, str]:
    """Least and largest hole of a drill; None where the table ends below it."""
    try:
        band = tolerance_band(drill, m.job.appliance.tables.drill_tolerance)
    except UserError:
        return None, None, "no tolerance is known"
    return band.low_m, band.high_m, f"{cite(band.source)} ({band.provenance})"


def add_rules(book: Workbook, m: CalculationModel) -> None:
    """The altitude rules, band by band, and the factor of the one chosen at the altitude of the place."""
    own = m.job.appliance.tables.altitude_policies
    rows = tables.read("altitude_policies", own)
    lead = (
        "Factor on the rate where the altitude is above the first and not above the second height:"
        " 1 - step - fraction (height - counted from)/1000 ft. Which rule holds is set by the local code."
    )
    page = book.page(RULES, "Altitude rules", lead)
    heads = (
        "Rule", "Title", "Above [ft]", "Up to [ft]", "Counted from [ft]", "Fraction per 1000 ft", "Step",
        "Factor here", "From", "Rules to choose",
    )  # fmt: skip
    book.heads(page, heads, (28, 50, 10, 10, 12, 12, 8, 10, 60, 28))
    feet = m.job.new_site.pressure_altitude_m / FOOT_m
    chosen = 0.0
    for number, entry in enumerate(rows, start=HEAD_ROW + 1):
        r = number + 1
        keys = ("from_ft", "to_ft", "counted_from_ft", "per_1000ft", "step")
        figures = [float(entry[key]) if entry[key] else None for key in keys]
        cells: tuple[Value | None, ...] = (clean(entry["policy"]), clean(entry["title"]), *figures)
        for column, value in enumerate(cells):
            book.cell(page, number, column, value)
        here = f"place_altitude/{FOOT_m}"
        formula = f'IF(AND($A{r}=altitude_rule,OR($C{r}="",{here}>$C{r}),OR($D{r}="",{here}<=$D{r})),'
        formula += f"1-$G{r}-$F{r}*({here}-$E{r})/1000,0)"
        value = _rule_factor(entry["policy"] == m.job.policy.policy, figures, feet)
        chosen += value
        book.formula(page, (number, 7), guarded(formula), value, book.number_format("0.0000"))
        page.write_string(number, 8, clean(f"{cite(entry['source'])} ({entry['provenance']})"))
    last = HEAD_ROW + len(rows)
    names = (NO_RULE, *map(clean, policy_names(own, m.job.appliance.region)))
    for number, name in enumerate(names, start=HEAD_ROW + 1):
        page.write_string(number, 9, name)
    book.name("rule_choices", RULES, (HEAD_ROW + 1, 9), (HEAD_ROW + len(names), 9))
    page.write_string(last + 1, 0, "Rule chosen", book.bold)
    style = book.number_format("0.0000")
    book.formula(page, (last + 1, 7), f"=SUM(H{HEAD_ROW + 2}:H{last + 1})", chosen, style)
    book.name("rule_factor", RULES, (last + 1, 7))


def _rule_factor(applies: bool, figures: list[float | None], feet: float) -> float:
    low, high, counted_from, per_1000ft, step = figures
    if not applies or (low is not None and feet <= low) or (high is not None and feet > high):
        return 0.0
    return 1.0 - (step or 0.0) - (per_1000ft or 0.0) * (feet - (counted_from or 0.0)) / 1000.0
