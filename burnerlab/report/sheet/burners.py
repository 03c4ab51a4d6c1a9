"""The rows that speak of burners: orifices, heat inputs, drills, air, findings."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import is_dataclass, replace
from typing import Any

from burnerlab.appliance.conversion.checks import by_other_burners
from burnerlab.appliance.conversion.evaluation_result import FlameAt, PressureAt, TileAt, WarmUp
from burnerlab.appliance.conversion.refusal import not_to_fit, refusals
from burnerlab.appliance.conversion.result import BurnerConversion, Conversion, DrillChoice, Headline
from burnerlab.appliance.project.model import NOT_GIVEN
from burnerlab.bench.reading.manifold import MEND
from burnerlab.orifice.drill import NONE_FITS, bore_system
from burnerlab.quantity import System
from burnerlab.quantity.outputs import Column as Declared
from burnerlab.quantity.outputs import columns
from burnerlab.quantity.prose import in_reader_units
from burnerlab.report.sheet import alternatives
from burnerlab.report.sheet.blocks import (
    BORE,
    MASS_FLOW,
    POWER,
    VOLUME_FLOW,
    Basis,
    Block,
    BlockColumn,
    Cell,
    Fact,
    Points,
    PrintScale,
    Section,
    Table,
    basis_of,
    column_of,
    declared_cell,
    digits,
    head,
    percent,
    times,
)
from burnerlab.report.sheet.checks import beside_verdict, outside_lines
from burnerlab.report.sheet.wording import clean, name
from burnerlab.tables.phrase import Phrase
from burnerlab.tables.verdict import Verdict

MOST_PART = 24  # characters of a part number

# Figures declared on a result for which sheet and terminal have no place of their own: no figure can be
# forgotten.

PLACED: Mapping[type, frozenset[str]] = {
    Conversion: frozenset((
        "appliance", "rating_basis", "file_sha256", "version", "reference", "from_gas", "to_gas",
        "from_gauge_pressure_Pa", "to_gauge_pressure_Pa", "to_gauge_pressure_low_Pa", "to_gauge_pressure_high_Pa",
        "pressure_range_source", "altitude_m", "ambient_pressure_Pa", "gas_temperature_K", "altitude_policy",
        "altitude_policy_factor", "couple_factor", "tolerance", "tolerance_source", "drill_list", "burners", "headline",
        "total_rate_gross_W", "total_predicted_gross_W", "total_predicted_net_W", "total_mass_flow_kg_per_s",
        "total_volume_flow_m3_per_s", "findings", "not_evaluated", "prompts", "calculation", "sources", "notes",
        "tolerance_low", "from_altitude_m", "from_ambient_pressure_Pa", "supply_of_new_gas", "category", "model",
        "region", "pressure_couple", "pressure_couples_beside", "altitude", "assumed_primary_aeration",
        "evaluation", "file_name",
    )),
    BurnerConversion: frozenset((
        "name", "kind", "count", "rate_gross_W", "turndown", "coefficient", "coefficient_source",
        "from_orifice_m", "from_drill", "from_predicted_gross_W", "to_orifice_m", "choices", "no_drill_meets",
        "predicted_gross_W", "predicted_low_gross_W",
        "predicted_high_gross_W", "drill_deviation", "headline", "from_air_m3_per_s", "to_air_m3_per_s",
        "to_air_kg_per_s", "air_to_gas_ratio_change", "primary_air_change",
        "volume_flow_m3_per_s", "choked", "aim_gross_W", "orifice_count",
        "primary_aeration_after", "drill", "part", "drill_diameter_m",
        "area_ratio", "low_rate_gross_W",
    )),
    PressureAt: frozenset((
        "burner", "gauge_pressure_all_on_Pa", "gauge_pressure_alone_Pa", "heat_input_all_on_gross_W",
        "all_on_from_nominal",
    )),
    FlameAt: frozenset((
        "which_gas", "gas", "heat_input_gross_W", "primary_aeration", "port_loading_W_per_mm2",
        "inner_cone_height_m",
    )),
    WarmUp: frozenset((
        "which_gas", "basis", "head_temperature_1_min_K", "head_temperature_5_min_K",
        "head_temperature_15_min_K", "mixture_temperature_K", "cold_primary_aeration", "hot_primary_aeration",
        "hot_lowest_rate_primary_aeration", "steady_s", "cold_lift_margin", "hot_yellow_tip_margin",
        "hot_lowest_rate_yellow_tip_margin", "hot_light_back_margin", "nearest_limit", "nearest_moment",
        "light_back_order", "nearest_against",
    )),
    TileAt: frozenset((
        "burner", "which_gas", "gas", "cold_primary_aeration", "hot_primary_aeration",
        "firing_density_net_W_per_m2", "face_temperature_K", "face_ceiling_temperature_K", "radiant_efficiency_net",
        "plenum_side_temperature_K", "evidence",
    )),
}  # fmt: skip
"""Of each result the figures that sheet or terminal print in a place of their own; a test asks for that place."""

FILES_ALONE: Mapping[type, frozenset[str]] = {
    Conversion: frozenset((
        "total_deviation_from_rating",
    )),
    BurnerConversion: frozenset((
        "all_predicted_gross_W", "diameter_ratio", "exact_area_ratio", "exact_diameter_ratio",
        "exact_predicted_gross_W", "from_air_kg_per_s", "from_rate_gross_W", "mass_flow_kg_per_s",
        "predicted_net_W", "primary_aeration_before", "rate_net_W",
    )),
    PressureAt: frozenset((
        "alone_from_nominal", "heat_input_alone_gross_W",
    )),
    FlameAt: frozenset((
        "carbon_monoxide_rank", "gauge_pressure_Pa", "lift_margin", "light_back_is_at_least", "light_back_margin",
        "rate", "wall_gradient_per_s", "yellow_tip_margin",
    )),
    WarmUp: frozenset((
        "cold_lift_is_at_least", "cold_light_back_is_at_least", "cold_light_back_margin", "cold_yellow_tip_margin",
        "heat_input_change", "heat_input_gross_W", "hot_heat_input_gross_W", "lift_rate",
        "light_back_is_at_least", "lowest_rate", "nearest_margin", "primary_aeration_change", "why_not",
    )),
    TileAt: frozenset((
        "ceiling_efficiency_net", "lift_margin", "radiated_W",
    )),
}  # fmt: skip
"""Of each result the figures that JSON, CSV, workbook and data frame hold and no page has a column for."""


def _unplaced(result: Any) -> tuple[Declared, ...]:
    placed = next(PLACED[each] | FILES_ALONE[each] for each in type(result).__mro__ if each in PLACED)
    return tuple(
        column
        for column in columns(type(result))
        if column.name not in placed and not (is_dataclass(column.of(result)) and not column.ends)
    )


def facts(c: Conversion, system: System) -> tuple[Fact, ...]:
    """Those of the conversion as a whole."""
    return tuple(Fact(label=head(each), cell=declared_cell(each, c, system)) for each in _unplaced(c))


def table(results: Sequence[tuple[str, Any]], caption: str, system: System) -> tuple[Table, ...]:
    """Those of results of one kind, each by its name, a column a figure; nothing where every figure has its place."""
    found = _unplaced(results[0][1]) if results else ()
    if not found:
        return ()
    heads = (BlockColumn(title="Burner"), *(BlockColumn(title=head(each), side="right") for each in found))
    rows = tuple(
        (Cell(text=name(called)), *(declared_cell(each, one, system) for each in found))
        for called, one in results
    )
    return (Table(caption=caption, columns=heads, rows=rows),)


def of_burners(c: Conversion, system: System) -> tuple[Table, ...]:
    """Those of the burners."""
    return table([(b.name, b) for b in c.burners], "Other figures of one burner", system)


def lines(c: Conversion, system: System) -> tuple[str, ...]:
    """Those of the conversion and its burners for the terminal: a line for each figure."""
    sentences = [f"{fact.label}: {fact.cell.text}." for fact in facts(c, system)]
    for one in of_burners(c, system):
        for place, column in enumerate(one.columns[1:], start=1):
            each = "; ".join(f"{row[0].text} {row[place].text}" for row in one.rows)
            sentences.append(f"{column.title}: {each}.")
    return tuple(sentences)


# The rows that speak of burners: orifices, heat inputs, drills, air, findings.

HEAT_INPUT = "heat input"
INTERVAL_NOT_KNOWN = "not known"


def interval_words(at: Headline) -> str:
    """The ends of a deviation as made, in per cent, or that they are not known: the coefficient states no interval."""
    low, high = at.deviation_low, at.deviation_high
    return INTERVAL_NOT_KNOWN if low is None or high is None else f"{100 * low:+.1f} to {100 * high:+.1f}"


def evidence_words(c: Conversion) -> tuple[str, ...]:
    """What the heat inputs rest on, said once for the appliance: each coefficient with its spread, then the supply."""
    sentences = []
    for one in dict.fromkeys(step.discharge for step in c.steps):
        words = f"Cd {one.coefficient:.2f} {one.evidence}"
        words += (
            f", {one.low:.2f} to {one.high:.2f}"
            if one.low < one.high
            else ", no interval stated: no input is within"
        )
        sentences.append(words)
    if any(b.headline.verdict == Verdict.NEAR for b in c.burners):
        sentences[-1:] = ["; ".join((sentences[-1], "measure one burner"))] if sentences else []
    if not sentences:  # a conversion put together by hand
        sentences = list(dict.fromkeys(b.headline.evidence for b in c.burners))
    supply = c.evaluation.pressures_of("new") if c.evaluation is not None else None
    sentences += by_other_burners(c.steps)
    return (*sentences, *(() if supply is None else (f"supply {supply.evidence}",)))


def total_words(c: Conversion, interval: str = "") -> str:
    """How far all burners together are from the rating; from the aim as well, where an altitude policy lowers it.

    interval : words for the interval as made, after the first
    """
    at = c.headline
    if c.aim_factor == 1.0:
        return percent(at.deviation) + interval
    from_rating = at.heat_input_gross_W / c.total_rate_gross_W - 1.0
    return f"{percent(at.deviation)}{interval} from the aim, {percent(from_rating)} from the rating"


def band_words(c: Conversion) -> str:
    """The band of the heat input: ``±5 %``, or both ends when they differ."""
    low, high = 100 * c.tolerance_low, 100 * c.tolerance
    return (
        f"±{high:g} %"
        if abs(low + high) < 1e-9
        else Phrase("{low} to {high}", low=f"{low:+g} %", high=f"{high:+g} %")
    )


def called(burner: BurnerConversion) -> Cell:
    """A burner's name, and below it its kind, how many there are and how many orifices feed each."""
    words = [clean(burner.kind)]
    words += [f"{burner.count} burners"] if burner.count > 1 else []
    words += [f"{burner.orifice_count} orifices each"] if burner.orifice_count > 1 else []
    return Cell(text=name(burner.name), also=", ".join(words))


def mark(verdict: Verdict) -> Cell:
    return Cell(text=verdict.value, verdict=verdict)


def _same_size(drill: str, size: str) -> bool:
    """Whether a drill is named by this very size: ``1.25 mm`` and ``1.250 mm``."""
    number, _, unit = drill.partition(" ")
    other, _, other_unit = size.partition(" ")
    try:
        return unit == other_unit and float(number) == float(other)
    except ValueError:
        return False


def orifices(c: Conversion, system: System) -> Section:
    """What is outside, then present and new orifice of every burner with what it will burn, and on which supply."""
    unmet = refusal_lines(c)
    outside = outside_lines(c)
    reasons = (*outside, "Each with its reason under Checks.") if outside else ()
    first = (*reasons, *alternatives.altitude_head(c), *alternatives.couple_head(c))
    blocks: tuple[Block, ...] = (
        *([Points(items=tuple(in_reader_units(one, system) for one in first))] if first else []),
        _orifice_table(c, system),
        *([Points(items=unmet)] if unmet else []),
    )
    supply = f"Supply of the new gas: {clean(c.supply_of_new_gas)}. " if c.supply_of_new_gas else ""
    made = "as made: the tolerance of the drill and the spread of the coefficient, k = 2"
    lead = f"{supply}Heat inputs {basis_of(c).word}; {made}. Evidence: {'; '.join(evidence_words(c))}."
    return Section(key="burners", title="Burners and orifices", lead=lead, blocks=blocks, place="answer")


def inputs(c: Conversion, system: System) -> Section:
    """Heat inputs before and after, and what the drills near the exact diameter would give."""
    lead = (
        f"Figures are for one burner of its kind. Heat inputs are {basis_of(c).word}, at the gas temperature and "
        "ambient pressure of the job, at the nominal pressure unless a column says otherwise; totals count every "
        "burner."
    )
    blocks = (_input_table(c, system), _choice_table(c, system), *of_burners(c, system))
    return Section(key="inputs", title="Heat inputs and drills", lead=lead, blocks=blocks)


def _orifice_table(c: Conversion, system: System) -> Table:
    columns = (
        BlockColumn(title="Burner"),
        BlockColumn(title="Present orifice"),
        BlockColumn(title="New drill"),
        *_headline_columns(c),
    )
    rows = tuple(
        (
            called(b),
            _present(b, system),
            _drill_cell(c, b, system),
            *_headline_cells(c, b),
        )
        for b in c.burners
    )
    return Table(caption="Orifices", columns=columns, rows=rows, stacked=True)


def _present(b: BurnerConversion, system: System) -> Cell:
    """The present drill and its diameter in the units that stand first: beside the drill's name one will do."""
    if not b.from_drill:
        return BORE.show(b.from_orifice_m, system, NOT_GIVEN)
    shown = BORE.show(b.from_orifice_m, bore_system(b.from_drill, system))
    drill = clean(b.from_drill, 24)
    same = _same_size(drill, shown.text)
    return Cell(text=drill, also="" if same else shown.text, value=shown.value, unit=shown.unit)


def refusal_lines(c: Conversion) -> tuple[str, ...]:
    """Why no orifice fits a burner, and who mends that; nothing where one fits each."""
    why = refusals(c)
    by_drill = [clean(b.no_drill_meets) for b in c.burners if b.no_drill_meets]
    supplied = [
        f"{name(b.name)}: {clean(why[b.name])}" for b in c.burners if b.name in why and not b.no_drill_meets
    ]
    return (*by_drill, *supplied, *((MEND,) if why else ()))


def part_lines(c: Conversion) -> tuple[str, ...]:
    """The part number of every new orifice that fits, in one sentence; nothing without a stock."""
    none = not_to_fit(c)
    parts = [f"{name(b.name)} {clean(b.part, MOST_PART)}" for b in c.burners if b.part and b.name not in none]
    return (f"Part numbers: {'; '.join(parts)}.",) if parts else ()


def _drill_cell(c: Conversion, b: BurnerConversion, system: System) -> Cell:
    """The drill taken, below it its part number and the exact bore it stands for; or that none fits."""
    exact = BORE.show(b.to_orifice_m, bore_system(b.choice.drill, system))
    scale = BORE.scale(system)
    if b.name in not_to_fit(c):
        return Cell(
            text=NONE_FITS, also=f"nearest {clean(b.choice.drill, 24)}, do not fit; exact {exact.text}"
        )
    return Cell(
        text=clean(b.choice.drill, 24),
        also=f"{clean(b.part, MOST_PART)}, exact {exact.text}" if b.part else f"exact {exact.text}",
        value=scale.of(b.choice.diameter_m),
        unit=scale.unit,
    )


def _ratio(value: float | None) -> Cell:
    return _maybe(None, "") if value is None else Cell(text=digits(value, 4), value=value)


def _input_table(c: Conversion, system: System) -> Table:
    basis = basis_of(c)
    aimed = c.aim_factor != 1.0
    turned = any(b.turndown is not None for b in c.burners)
    columns = (
        BlockColumn(title="Burner"),
        column_of(BurnerConversion, "rate_gross_W"),
        *([column_of(BurnerConversion, "low_rate_gross_W")] if turned else []),
        *([column_of(BurnerConversion, "aim_gross_W")] if aimed else []),
        column_of(BurnerConversion, "from_predicted_gross_W"),
        column_of(BurnerConversion, "predicted_gross_W"),
        column_of(BurnerConversion, "predicted_low_gross_W"),
        column_of(BurnerConversion, "predicted_high_gross_W"),
        BlockColumn(title=f"Drill, against {_against(c)}", side="right"),
        column_of(BurnerConversion, "area_ratio"),
        BlockColumn(title="Flow at the orifice"),
    )
    rows = tuple(
        (
            called(b),
            POWER.show(b.rate_gross_W * basis.new, system),
            *([POWER.show(times(b.low_rate_gross_W, basis.new), system, "not given")] if turned else []),
            *([POWER.show(b.aim_gross_W * basis.new, system)] if aimed else []),
            POWER.show(times(b.from_predicted_gross_W, basis.present), system),
            POWER.show(b.predicted_gross_W * basis.new, system),
            POWER.show(times(b.predicted_low_gross_W, basis.new), system),
            POWER.show(times(b.predicted_high_gross_W, basis.new), system),
            Cell(text=percent(b.drill_deviation), value=100 * b.drill_deviation, unit="%"),
            _ratio(b.area_ratio),
            Cell(text="choked" if b.choked else "below choking"),
        )
        for b in c.burners
    )
    return Table(
        caption=f"Heat input, {basis.word}",
        columns=columns,
        rows=rows,
        total=_input_total(c, system, turned, aimed),
    )


def _input_total(c: Conversion, system: System, turned: bool, aimed: bool) -> tuple[Cell, ...]:
    basis = basis_of(c)
    aim = sum(b.aim_gross_W * b.count for b in c.burners)
    now = _sum([b.from_predicted_gross_W for b in c.burners], c)
    off = c.total_predicted_gross_W / aim - 1 if aim else 0.0
    low = _sum([b.predicted_low_gross_W for b in c.burners], c)
    high = _sum([b.predicted_high_gross_W for b in c.burners], c)
    return (
        Cell(text="All burners", also=f"{sum(b.count for b in c.burners)} burners"),
        POWER.show(c.total_rate_gross_W * basis.new, system),
        *([Cell(text="")] if turned else []),
        *([POWER.show(aim * basis.new, system)] if aimed else []),
        POWER.show(times(now, basis.present), system),
        POWER.show(c.total_predicted_gross_W * basis.new, system),
        POWER.show(times(low, basis.new), system),
        POWER.show(times(high, basis.new), system),
        Cell(text=percent(off), value=100 * off, unit="%"),
        Cell(text=""),
        Cell(text=""),
    )


def is_supplied(c: Conversion) -> bool:
    """Whether the supply of the new gas was solved: then both cases stand in every table."""
    return c.headline.deviation_all_on is not None


def has_several(c: Conversion) -> bool:
    """Whether a kind has several burners: what is solved of it alone has all of them on."""
    return any(b.count > 1 for b in c.burners)


def _against(c: Conversion) -> str:
    return "aim" if c.aim_factor != 1.0 else "rating"


def _headline_columns(c: Conversion) -> tuple[BlockColumn, ...]:
    """The columns a sheet is read for; the range stands in the head of the verdict."""
    both = (
        (
            BlockColumn(title="All on", side="right"),
            BlockColumn(title="All of its kind on", side="right")
            if has_several(c)
            else BlockColumn(title="Alone", side="right"),
        )
        if is_supplied(c)
        else ()
    )
    worse = f"Worse, against {_against(c)}" if both else f"New, nominal, against {_against(c)}"
    return (
        *both,
        BlockColumn(title=worse, side="right"),
        BlockColumn(title=f"Verdict ({band_words(c)})"),
        BlockColumn(title="Evidence"),
    )


def _headline_cells(c: Conversion, b: BurnerConversion) -> tuple[Cell, ...]:
    """Both cases, then the worse with its ends as made; beside the verdict what else is outside."""
    at = b.headline
    cases = tuple(
        Cell(text="") if one is None else Cell(text=percent(one), value=100 * one, unit="%")
        for one in ((at.deviation_all_on, at.deviation_alone) if is_supplied(c) else ())
    )
    interval = interval_words(at)
    worse = Cell(
        text=percent(at.deviation),
        also=interval if interval == INTERVAL_NOT_KNOWN else f"{interval} %",
        value=100 * at.deviation,
        unit="%",
    )
    place = Verdict.OUTSIDE if b.name in not_to_fit(c) else at.verdict
    verdict = replace(mark(place), also=beside_verdict(c, b))
    return (*cases, worse, verdict, Cell(text=str(at.evidence)))


def _sum(each: list[float | None], c: Conversion) -> float | None:
    known = [value * b.count for value, b in zip(each, c.burners, strict=True) if value is not None]
    return sum(known) if len(known) == len(c.burners) else None


def _choice_table(c: Conversion, system: System) -> Table:
    basis = basis_of(c)
    columns = (
        BlockColumn(title="Burner"),
        BlockColumn(title="Drill"),
        BlockColumn(title="Diameter", side="right"),
        BlockColumn(title=f"At nominal pressure, {basis.word}", side="right"),
        BlockColumn(title=f"Against {'rating' if c.aim_factor == 1.0 else 'aim'}", side="right"),
        BlockColumn(title="Over the drill's tolerance", side="right"),
        BlockColumn(title="Taken"),
    )
    by_drills: dict[tuple[tuple[Cell, ...], ...], list[str]] = {}
    for b in c.burners:
        by_drills.setdefault(tuple(_choice_cells(c, b, system)), []).append(name(b.name))
    rows = tuple(
        (Cell(text=", ".join(burners)), *cells) for drills, burners in by_drills.items() for cells in drills
    )
    return Table(
        caption="Drills near the exact diameter", columns=columns, rows=rows, dense=True, grouped=True
    )


def _choice_cells(c: Conversion, b: BurnerConversion, system: System) -> Iterator[tuple[Cell, ...]]:
    """Each drill near the exact diameter of a burner, and what it would give."""
    basis, power, size = basis_of(c), POWER.scale(system), BORE.scale(system)
    for d in b.choices:
        yield (
            Cell(text=clean(d.mark, 24 + MOST_PART)),
            Cell(text=size.text(d.diameter_m), value=size.of(d.diameter_m), unit=size.unit),
            Cell(
                text=power.text(d.heat_input_gross_W * basis.new),
                value=power.of(d.heat_input_gross_W * basis.new),
                unit=power.unit,
            ),
            Cell(text=percent(d.deviation), value=100 * d.deviation, unit="%"),
            _ends(d, basis, power),
            _choice_mark(b, d, refused=b.name in not_to_fit(c)),
        )


def _choice_mark(b: BurnerConversion, d: DrillChoice, *, refused: bool) -> Cell:
    if d.mark != b.choice.mark:
        return Cell(text="")
    return Cell(text="nearest, do not fit") if refused else Cell(text="taken", is_taken=True)


def _ends(d: DrillChoice, basis: Basis, power: PrintScale) -> Cell:
    """Heat input at both ends of the drill's tolerance."""
    low, high = (
        power.of(end * basis.new) for end in (d.drill_tolerance_low_gross_W, d.drill_tolerance_high_gross_W)
    )
    return Cell(text=f"{digits(low, 3)} to {digits(high, 3)} {power.unit}")


def air(c: Conversion, system: System) -> Section:
    """Air each burner needs, before and after; the rough rule of primary air only where nothing better is known."""
    rough = not _calculated(c)
    rough_columns = ("primary_air_change", "primary_aeration_after") if rough else ()
    columns = (
        BlockColumn(title="Burner"),
        column_of(BurnerConversion, "from_air_m3_per_s"),
        column_of(BurnerConversion, "to_air_m3_per_s"),
        column_of(BurnerConversion, "to_air_kg_per_s"),
        column_of(BurnerConversion, "air_to_gas_ratio_change"),
        *(column_of(BurnerConversion, each) for each in rough_columns),
        BlockColumn(title="Gas used", side="right"),
    )
    rows = tuple(
        (
            called(b),
            VOLUME_FLOW.show(b.from_air_m3_per_s, system),
            VOLUME_FLOW.show(b.to_air_m3_per_s, system),
            MASS_FLOW.show(b.to_air_kg_per_s, system),
            _maybe(b.air_to_gas_ratio_change, "×"),
            *((_maybe(b.primary_air_change, "×"), _maybe(b.primary_aeration_after, "")) if rough else ()),
            VOLUME_FLOW.show(b.volume_flow_m3_per_s, system),
        )
        for b in c.burners
    )
    lead = (
        "Stoichiometric dry air and gas for one burner, as volumes at the reference state; the present gas at "
        "its rating, the new gas with the drill taken"
        f"{', every burner on' if is_supplied(c) else ''}."
    )
    if rough and c.assumed_primary_aeration:
        share = digits(c.assumed_primary_aeration, 2)
        lead += (
            " Primary aeration is calculated where the file has throat and ports of a burner; elsewhere the present "
            f"one is assumed: {share}."
        )
    return Section(
        key="air",
        title="Air",
        lead=lead,
        blocks=(Table(caption="Air and gas of one burner", columns=columns, rows=rows),),
    )


def _calculated(c: Conversion) -> bool:
    """Whether the primary aeration of every burner is calculated on both gases."""
    return c.evaluation is not None and {b.name for b in c.burners} <= c.evaluation.burners_with_aeration


def _maybe(value: float | None, before: str) -> Cell:
    if value is None:
        return Cell(text="not evaluated")
    return Cell(text=f"{before} {digits(value, 3)}".strip(), value=value)
