"""Results as pandas data frames: a row per burner, cell or moment, and the unit in the name of each column."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import fields, is_dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from burnerlab.appliance.conversion.evaluation_result import BurnerFlames
from burnerlab.appliance.conversion.flame_stability import BurnerStability
from burnerlab.appliance.conversion.result import Conversion, Finding
from burnerlab.appliance.operation.result import Operation
from burnerlab.appliance.study.injector_table import InjectorTable
from burnerlab.appliance.study.monte_carlo import InputSpread, ToleranceResult
from burnerlab.burner.shutter_setting import ShutterWindow
from burnerlab.burner.stability_diagram import StabilityDiagram
from burnerlab.burner.tile_evaluation import Band
from burnerlab.layout.carry_over import CarryOver
from burnerlab.layout.heat_map import HeatMap
from burnerlab.layout.hot_panels import Skins
from burnerlab.layout.layout_study import LayoutStudy
from burnerlab.layout.measurement import GridFit
from burnerlab.layout.search import TradeOff
from burnerlab.orifice import OrificeChoice
from burnerlab.quantity import Problem, UserError
from burnerlab.quantity.outputs import columns, flat, row
from burnerlab.report.formats import FlameRow, burner_table
from burnerlab.supply.cylinder import HoldTime, Withdrawal

if TYPE_CHECKING:
    from pandas import DataFrame

Row = Mapping[str, Any]
MISSING = "pandas makes the data frames and is not installed; pip install 'burnerlab[notebook]'"


def to_frame(result: Any) -> DataFrame:
    """A result, or a sequence of results of one kind, as a data frame; its columns carry their units.

    result : a Conversion (a row per burner), InjectorTable, ToleranceResult (burners and the whole appliance, at the
        end of the line, then in the field),
        Operation (a row per burner), HoldTime or Withdrawal (per moment), LayoutStudy or HeatMap (a row per cell);
        CarryOver (per link), Skins (per panel), GridFit (per constant), TradeOff (per design, the present one first),
        ShutterWindow (per gas), StabilityDiagram (per working point); any other result as one row, as many where it
        holds arrays, its figures in handy units; or several results of one kind
    Raises UserError for what holds no figures, ImportError in one sentence without pandas.

    >>> from burnerlab.appliance import convert, demonstration
    >>> frame = to_frame(convert(demonstration(), "propane", 2740.0))
    >>> frame["drill"][0], float(frame["to_orifice_mm"][0])
    ('1.00 mm', 1.0064)
    """
    rows = _rows(result)
    try:
        import pandas as pd
    except ImportError as error:
        raise ImportError(MISSING) from error
    return pd.DataFrame(rows)


def _rows(result: Any) -> Any:
    for kind, rows in ROWS.items():
        if isinstance(result, kind):
            return rows(result)
    several = list(result) if isinstance(result, Sequence) and not isinstance(result, str) else []
    for kind, lines in EACH.items():
        if several and all(isinstance(one, kind) for one in several):
            return [line for one in several for line in lines(one)]
    if _has_figures(result):
        return _columns(_flat(result))
    if several and all(type(one) is type(several[0]) and _has_figures(one) for one in several):
        return [_flat(one) for one in several]
    known = ", ".join(kind.__name__ for kind in (*ROWS, *EACH))
    raise UserError(Problem("has no data frame", value=type(result).__name__, accepted=known))


# things that are frames by themselves


def _conversion(c: Conversion) -> list[Row]:
    return [{one.key: one.value for one in cells} for cells in burner_table(c).figures()]


def _injectors(table: InjectorTable) -> list[Row]:
    return [flat(each) for each in table.rows]


def _tolerance(result: ToleranceResult) -> list[Row]:
    return [
        {"stage": stage.name, **_spread(one)}
        for stage in (result.end_of_line, result.in_the_field)
        for one in (*stage.burners, stage.total)
    ]


def _spread(spread: InputSpread) -> Row:
    causes = {
        f"{c.cause}_{column.key}": column.value(c)
        for c in spread.causes
        for column in columns(type(c))
        if column.name == "relative_standard_deviation"
    }
    return {**flat(spread), **causes}


def _operation(operation: Operation) -> list[Row]:
    return [flat(one) for one in operation.burners]


def _withdrawal(withdrawal: Withdrawal) -> Row:
    parts = {f"{name}_mole_percent": 100.0 * x for name, x in withdrawal.liquid_mole_fractions.items()}
    return {**row(withdrawal.series), **parts}


def _courses(course: HoldTime) -> list[Row]:
    """The nominal course, and both ends of the heat from the air, told apart by their coefficient."""
    rows: list[Row] = []
    for which, one in (("low", course.low), ("nominal", course.nominal), ("high", course.high)):
        columns = _withdrawal(one)
        rows += [
            {"heat_from_air": which, **dict(zip(columns, values, strict=True))}
            for values in zip(*columns.values(), strict=True)
        ]
    return rows


def _map(heat_map: HeatMap) -> Row:
    names = [burner.name for burner in heat_map.layout.burners]
    each = {
        f"{name}_kW_per_m2": np.ravel(one) / 1e3
        for name, one in zip(names, heat_map.by_burner_W_per_m2, strict=True)
    }
    return {**{key: np.ravel(cells) for key, cells in row(heat_map).items()}, **each}


# things that come in numbers


def _stability(stability: BurnerStability) -> Iterable[Row]:
    for rate in stability.rates:
        yield {"burner": stability.name, "gas": stability.gas, **flat(rate)}


def _flames(standings: BurnerFlames) -> Iterable[Row]:
    for rate in standings.rates:
        yield flat(FlameRow(burner=standings.burner, at=rate))


def _choice(choice: OrificeChoice) -> Iterable[Row]:
    yield _in_units(choice)


def _finding(finding: Finding) -> Iterable[Row]:
    yield flat(finding)


# a dataclass in SI as a row in handy units

HANDY: Mapping[str, tuple[str, float]] = {
    "_kg_per_s": ("_kg_per_h", 3600.0),
    "_m3_per_s": ("_m3_per_h", 3600.0),
    "_W_per_mm2": ("_W_per_mm2", 1.0),
    "_per_s": ("_per_s", 1.0),
    "_Pa": ("_mbar", 1e-2),
    "_W": ("_kW", 1e-3),
}
"""Endings of names, and what they become; the first that fits counts."""
SMALL = ("diameter_m", "inner_cone_height_m")  # lengths told in mm
SHARES = ("deviation", "drill_deviation", "from_nominal", "share_below", "share_above")  # told in per cent


def _in_units(result: Any) -> dict[str, Any]:
    """The plain fields of a dataclass, in the units of the trade, which its names then carry."""
    if columns(type(result)):
        return flat(result)
    row: dict[str, Any] = {}
    for field in fields(result):
        value = getattr(result, field.name)
        if isinstance(value, Band):
            row |= {field.name: value.value, f"{field.name}_low": value.low, f"{field.name}_high": value.high}
        elif value is None or isinstance(value, str | bool | int | float | np.generic | np.ndarray):
            row |= _in_unit(field.name, value)
    return row


def _in_unit(name: str, value: Any) -> dict[str, Any]:
    renamed, factor = name, 1.0
    if name in SMALL:
        renamed, factor = name[:-2] + "_mm", 1e3
    elif name in SHARES:
        renamed, factor = f"{name}_percent", 1e2
    else:
        ending = next((ending for ending in HANDY if name.endswith(ending)), "")
        if ending:
            handy, factor = HANDY[ending]
            renamed = name.removesuffix(ending) + handy
    number = isinstance(value, int | float | np.generic | np.ndarray) and not isinstance(value, bool)
    return {renamed: value * factor if number and factor != 1.0 else value}


def _has_figures(result: Any) -> bool:
    """Whether it is a result of ours with a number or an array of its own."""
    if is_dataclass(result) and columns(type(result)):
        return True
    return (
        is_dataclass(result)
        and type(result).__module__.startswith("burnerlab.")
        and any(
            isinstance(getattr(result, field.name), int | float | np.ndarray | Band)
            for field in fields(result)
        )
    )


def _flat(result: Any) -> dict[str, Any]:
    """Its figures and those of its parts; a part's name goes before a name that stands already."""
    row = _in_units(result)
    if columns(type(result)):
        return row
    for field in fields(result):
        part = getattr(result, field.name)
        if _has_figures(part) and not isinstance(part, Band):
            row |= {
                f"{field.name}_{name}" if name in row else name: each
                for name, each in _in_units(part).items()
            }
    return row


def _columns(row: Row) -> Any:
    """One row, or columns of one length where there are arrays; what has another shape than they is left out."""
    shape = max((np.shape(each) for each in row.values()), key=np.prod)
    if not shape:
        return [row]
    return {
        name: np.broadcast_to(each, shape).ravel()
        for name, each in row.items()
        if np.shape(each) in ((), shape)
    }


ROWS: Mapping[type, Callable[[Any], Any]] = {
    Conversion: _conversion,
    InjectorTable: _injectors,
    ToleranceResult: _tolerance,
    Operation: _operation,
    HoldTime: _courses,
    Withdrawal: _withdrawal,
    LayoutStudy: lambda study: _map(study.map),
    HeatMap: _map,
    CarryOver: lambda result: [flat(link) for link in result.links],
    Skins: lambda result: [flat(panel) for panel in result.panels],
    GridFit: lambda result: [flat(constant) for constant in result.constants],
    TradeOff: lambda result: [flat(one) for one in (result.present, *result.designs)],
    ShutterWindow: lambda result: [flat(stretch) for stretch in result.stretches],
    StabilityDiagram: lambda result: [_in_units(point) for point in result.points],
}
EACH: Mapping[type, Callable[[Any], Iterable[Row]]] = {
    BurnerStability: _stability,
    BurnerFlames: _flames,
    OrificeChoice: _choice,
    Finding: _finding,
}
