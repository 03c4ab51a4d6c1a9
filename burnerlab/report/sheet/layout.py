"""What a sheet says of the geometry: where the heat lands, who lights whom, how hot the outside gets, on both gases."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, TypeVar

from burnerlab.appliance.conversion.job import Job
from burnerlab.appliance.conversion.orifice_choice import changed_by
from burnerlab.appliance.conversion.result import Conversion
from burnerlab.appliance.project.model import Appliance
from burnerlab.layout.carry_over import CarryOver, carry_over
from burnerlab.layout.cooking_surface import Span
from burnerlab.layout.hot_panels import Skins, skins
from burnerlab.layout.layout_study import LayoutStudy, study_layout
from burnerlab.quantity import System
from burnerlab.report.sheet.blocks import (
    AREA_INPUT,
    FLAME_TEMPERATURE,
    FLUX,
    GAP,
    BlockColumn,
    Cell,
    Picture,
    Points,
    PrintScale,
    Section,
    Table,
    digits,
    fixed,
)
from burnerlab.report.sheet.wording import clean, name
from burnerlab.tables.problem import UserError

T = TypeVar("T")
MAP_KEY = "heat_map"
SHEET_GRID = (48, 36)
ANSWERED = {
    "heat distribution": "an estimate only, see where the heat lands; measure it on a grid",
    "carry-over": "an estimate only, see carry-over; test required from each burner to the next on each gas",
    "touch temperature": "an estimate only, see surface temperatures; test required",
}
"""Questions of a conversion that the geometry answers in part, and what is still open of each."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Geometry:
    """Heat maps, carry-over and skins of one conversion."""

    maps: tuple[tuple[LayoutStudy, LayoutStudy], ...]  # of each surface that some burner heats, on both gases
    carried: CarryOver | None
    skins: Skins | None


_recent: list[
    tuple[Job, _Geometry]
] = []  # the last conversions: several formats and figures ask for the same one


def _geometry(c: Conversion) -> _Geometry | None:
    """Heat maps, carry-over and skins of an evaluated conversion; None without geometry in its file."""
    job = c.job
    if c.evaluation is None or job is None or job.appliance.space is None:
        return None
    for known, found in _recent:
        if known is job:
            return found
    both = (job.appliance, changed_by(job, c.steps))
    geometry = _Geometry(
        maps=tuple(_studies(both)),
        carried=_or_none(lambda: carry_over(*both)),
        skins=_or_none(lambda: skins(both[0])),
    )
    _recent[:] = [*_recent[-3:], (job, geometry)]
    return geometry


def _or_none(work: Callable[[], T]) -> T | None:
    """What is found, None where the file does not give enough for it."""
    try:
        return work()
    except UserError:
        return None


def _studies(both: tuple[Appliance, Appliance]) -> Iterator[tuple[LayoutStudy, LayoutStudy]]:
    space = both[0].space
    for grate in space.grates if space else ():
        try:
            now, new = (study_layout(case, grate.name, grid=SHEET_GRID) for case in both)
        except UserError:
            continue
        yield now, new


def sections(c: Conversion, system: System) -> tuple[Section, ...]:
    """The sections of a conversion whose file has the geometry; nothing for one that was not evaluated."""
    found = _geometry(c)
    if found is None:
        return ()
    parts = (
        *(_map(found.maps, system) if found.maps else ()),
        None if found.carried is None else _carry(found.carried, system),
        None if found.skins is None else _skins(found.skins, system),
    )
    return tuple(part for part in parts if part is not None)


def partly_answered(c: Conversion) -> dict[str, str]:
    """Questions the geometry answers in part, and what is still open of each."""
    found = _geometry(c)
    if found is None:
        return {}
    has = {
        "heat distribution": bool(found.maps),
        "carry-over": found.carried is not None,
        "touch temperature": found.skins is not None,
    }
    return {topic: why for topic, why in ANSWERED.items() if has[topic]}


def figure(c: Conversion, system: System = "metric") -> Any:
    """The map of the first surface on both gases. Raises ImportError without matplotlib."""
    from burnerlab.report.figures.heat_map import heat_map_figure

    found = _geometry(c)
    assert found is not None
    return heat_map_figure(found.maps[0], system)


# the map


def _map(studies: tuple[tuple[LayoutStudy, LayoutStudy], ...], system: System) -> tuple[Section, Section]:
    """The figures of each surface, on the page of the supply, and the map of the first in the annex."""
    rows = tuple(_map_row(study, system) for pair in studies for study in pair)
    columns = (
        BlockColumn(title="Surface"),
        BlockColumn(title="Gas"),
        BlockColumn(title=f"Mean, {FLUX.scale(system).unit}", side="right"),
        BlockColumn(title="Band", side="right"),
        BlockColumn(title="(max − min)/mean", side="right"),
        BlockColumn(title="Variation, %", side="right"),
        BlockColumn(title=f"Gross input per area, {AREA_INPUT.scale(system).unit}", side="right"),
    )
    table = Table(
        caption="Heat taken up by each cooking surface", columns=columns, rows=rows, grouped=True, dense=True
    )
    now, new = studies[0]
    surface, scale = name(now.map.layout.surface.name), FLUX.scale(system)
    means = [scale.text(one.map.evenness.mean) for one in (now, new)]
    unit = "kW per square metre" if system == "metric" else "Btu/h per square inch"
    picture = Picture(
        key=MAP_KEY,
        title=f"Heat taken up by the {surface}",
        caption=f"Darker is more; lines in {unit}; dashes are the burners, grey frames the shields. Left "
        "the present gas, right the new one, at the rates of the file.",
        description=f"Maps of the {surface}: mean {means[0]} on the present gas, {means[1]} on the new.",
    )
    lead = (
        "Radiation from the geometry, hot gas as a stated shape whose fraction is not measured: an estimate, with the "
        "band of that fraction. No standard that could be read sets a limit on evenness. A rule of thumb of about "
        f"{AREA_INPUT.inline(now.trade_W_per_m2.value, system)} is common practice without a source."
    )
    return (
        Section(key="layout", title="Where the heat lands", lead=lead, blocks=(table,), place="supply"),
        Section(key="heat_map", title="Map of the heat", lead="", blocks=(picture,)),
    )


def _map_row(study: LayoutStudy, system: System) -> tuple[Cell, ...]:
    even, flux, area = study.map.evenness, FLUX.scale(system), AREA_INPUT.scale(system)
    return (
        Cell(text=name(study.map.layout.surface.name)),
        Cell(text=clean(study.gas)),
        Cell(text=digits(flux.of(even.mean), 3), value=flux.of(even.mean), unit=flux.unit),
        Cell(text=_span(study.band.mean_W_per_m2, flux)),
        Cell(text=digits(even.spread, 3), value=even.spread),
        Cell(
            text=f"{100 * even.coefficient_of_variation:.0f}",
            value=100 * even.coefficient_of_variation,
            unit="%",
        ),
        Cell(
            text=digits(area.of(study.gross_W_per_m2), 3), value=area.of(study.gross_W_per_m2), unit=area.unit
        ),
    )


def _span(span: Span, scale: PrintScale) -> str:
    return f"{digits(scale.of(span.low), 3)} to {digits(scale.of(span.high), 3)}"


# carry-over


def _carry(carry_over: CarryOver, system: System) -> Section:
    gap = GAP.scale(system)
    columns = (
        BlockColumn(title="From"),
        BlockColumn(title="To"),
        BlockColumn(title="By"),
        BlockColumn(title=f"Free, {gap.unit}", side="right"),
        BlockColumn(title=f"Likely up to, {gap.unit}", side="right"),
        BlockColumn(title="Carry-over"),
    )
    rows = tuple(
        (
            Cell(text=name(link.from_burner)),
            Cell(text=name(link.to_burner)),
            Cell(text=link.by),
            Cell(
                text=fixed(gap.of(link.free_distance_m), gap.places),
                value=gap.of(link.free_distance_m),
                unit=gap.unit,
            ),
            Cell(text="–" if link.likely_reach_m is None else fixed(gap.of(link.likely_reach_m), gap.places)),
            Cell(text=link.strength),
        )
        for link in carry_over.links
    )
    notes = [f"Weak: {clean(one, 300)}" for one in carry_over.weak_links]
    notes += [
        f"When {name(one.igniter)} fails, out of reach: {', '.join(map(name, one.out_of_reach))}."
        for one in carry_over.when_an_igniter_fails
        if one.out_of_reach
    ]
    notes += list(carry_over.prompts)
    lead = (
        "Which burner can light which, the worst of both gases at full rate and at about a third of it. A prompt to "
        "test: the reach of a flame from port to port is recalled handbook practice."
    )
    table = Table(caption="Links between burners", columns=columns, rows=rows, grouped=True)
    points = Points(items=tuple(notes))
    return Section(
        key="carry_over", title="Carry-over", lead=lead, blocks=(table, points) if rows else (points,)
    )


# skins


def _skins(skins: Skins, system: System) -> Section:
    columns = (
        BlockColumn(title="Panel"),
        BlockColumn(title="Published figure"),
        BlockColumn(title="At", side="right"),
        BlockColumn(title="Known by"),
        BlockColumn(title="Panel is"),
    )
    rows = tuple(_skin_rows(skins, system))
    items = [
        f"{name(panel.name)}: {FLAME_TEMPERATURE.inline(panel.outer_temperature_K, system)} calculated outside, band "
        f"{FLAME_TEMPERATURE.inline(panel.outer_temperature_low_K, system)} to "
        f"{FLAME_TEMPERATURE.inline(panel.outer_temperature_high_K, system)}."
        for panel in skins.panels
    ]
    items += [
        clean(note, 300) for note in dict.fromkeys(n for panel in skins.panels for n in panel.disagreements)
    ]
    items += list(skins.notes)
    lead = (
        "Outer temperature of each panel by a one-dimensional network, and product limits as published, with their "
        "disagreements; thresholds of burns are listed by the command skins. An estimate; no clearance follows from it."
    )
    table = Table(
        caption="Panels and published product limits", columns=columns, rows=rows, grouped=True, dense=True
    )
    return Section(
        key="skins", title="Surface temperatures", lead=lead, blocks=(Points(items=tuple(items)), table)
    )


def _skin_rows(skins: Skins, system: System) -> Iterator[tuple[Cell, ...]]:
    for panel in skins.panels:
        for one in panel.limits:
            if one.kind not in ("product limit", "combustible"):
                continue
            yield (
                Cell(text=name(panel.name)),
                Cell(text=clean(one.name)),
                FLAME_TEMPERATURE.show(one.temperature_K, system),
                Cell(text="recalled" if one.provenance == "memory" else one.provenance),
                Cell(text=one.position),
            )
