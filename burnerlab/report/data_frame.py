"""Results as pandas data frames: a row per burner, cell or moment, and the unit in the name of each column."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from burnerlab.appliance.conversion.evaluation_result import BurnerFlames, HotBasis, WarmUp, Which
from burnerlab.appliance.conversion.flame_stability import BurnerStability
from burnerlab.appliance.conversion.result import Conversion, Finding
from burnerlab.appliance.operation.regulator_curves import RegulatorCurves
from burnerlab.appliance.operation.result import Operation
from burnerlab.appliance.study.injector_table import InjectorTable
from burnerlab.appliance.study.monte_carlo import InputSpread, ToleranceResult
from burnerlab.burner.shutter_setting import ShutterWindow
from burnerlab.burner.stability_diagram import StabilityDiagram
from burnerlab.layout.carry_over import CarryOver
from burnerlab.layout.fit_result import GridFit
from burnerlab.layout.heat_map import HeatMap
from burnerlab.layout.hot_panels import Skins
from burnerlab.layout.layout_study import LayoutStudy
from burnerlab.layout.search import TradeOff
from burnerlab.quantity import Problem, UserError
from burnerlab.quantity.outputs import columns, flat, row
from burnerlab.report.formats import FlameRow, burner_table
from burnerlab.supply.cylinder import HoldTime, Withdrawal

if TYPE_CHECKING:
    from pandas import DataFrame

Row = Mapping[str, Any]
NO_WARM_UP = WarmUp(
    basis=HotBasis.UNKNOWN, lowest_rate="", heat_input_gross_W=0.0, cold_primary_aeration=None, cold_lift_margin=None,
    cold_yellow_tip_margin=None, cold_light_back_margin=None,
)  # fmt: skip
"""Of which only the names of the columns are taken, for a burner that glows."""
MISSING = "pandas makes the data frames and is not installed; pip install 'burnerlab[notebook]'"


def to_frame(result: Any) -> DataFrame:
    """A result, or a sequence of results of one kind, as a data frame; its columns carry their units.

    result : a Conversion (a row per burner), InjectorTable, ToleranceResult (burners and the whole appliance, at the
        end of the line, then in the field),
        Operation (a row per burner), RegulatorCurves (per setting and burner), HoldTime or Withdrawal (per moment);
        LayoutStudy or HeatMap (a row per cell);
        CarryOver (per link), Skins (per panel), GridFit (per constant), TradeOff (per design, the present one first),
        ShutterWindow (per gas), StabilityDiagram (per working point, cold, then hot); any other result as one row, as
        many where it holds arrays, its figures in handy units; or several results of one kind. Flames of a burner have
        a row per rate, with what it is from a cold start to hot in the columns ``warm_up_``
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
    for kind, lines in EACH.items():
        if isinstance(result, kind):
            return list(lines(result))
    several = list(result) if isinstance(result, Sequence) and not isinstance(result, str) else []
    for kind, lines in EACH.items():
        if several and all(isinstance(one, kind) for one in several):
            return [line for one in several for line in lines(one)]
    if columns(type(result)):
        return _columns(flat(result))
    if several and columns(type(several[0])) and len({type(one) for one in several}) == 1:
        return [flat(one) for one in several]
    known = ", ".join(kind.__name__ for kind in (*ROWS, *EACH))
    accepted = f"{known}, any other result that declares its figures, and several of one kind"
    raise UserError(Problem("has no data frame", value=type(result).__name__, accepted=accepted))


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


def _study_map(study: LayoutStudy) -> Row:
    """A row per cell, with the band of each."""
    return {**_map(study.map), **{key: np.ravel(cells) for key, cells in row(study.cells).items()}}


# things that come in numbers


def _stability(stability: BurnerStability) -> Iterable[Row]:
    warm = _warm_up(stability.warm_up)
    for rate in stability.rates:
        yield {"burner": stability.name, "gas": stability.gas, **flat(rate), **warm}


def _flames(standings: BurnerFlames) -> Iterable[Row]:
    sides: tuple[Which, ...] = ("present", "new")
    warm = {which: _warm_up(standings.warm_up(which)) for which in sides}
    for rate in standings.rates:
        yield {**flat(FlameRow(burner=standings.burner, at=rate)), **warm[rate.which_gas]}


def _warm_up(warm: WarmUp | None) -> Row:
    """What a burner is from a cold start to hot, the same in the row of each of its rates."""
    figures = dict.fromkeys(flat(NO_WARM_UP)) if warm is None else flat(warm)
    return {f"warm_up_{key}": value for key, value in figures.items() if key != "which_gas"}


def _finding(finding: Finding) -> Iterable[Row]:
    yield flat(finding)


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
    RegulatorCurves: lambda curves: curves.setting_rows(),
    HoldTime: _courses,
    Withdrawal: _withdrawal,
    LayoutStudy: lambda study: _study_map(study),
    HeatMap: _map,
    CarryOver: lambda result: [flat(link) for link in result.links],
    Skins: lambda result: [flat(panel) for panel in result.panels],
    GridFit: lambda result: [flat(constant) for constant in result.constants],
    TradeOff: lambda result: [flat(one) for one in (result.present, *result.designs)],
    ShutterWindow: lambda result: [flat(stretch) for stretch in result.stretches],
    StabilityDiagram: lambda result: [flat(point) for point in (*result.points, *result.hot_points)],
}
EACH: Mapping[type, Callable[[Any], Iterable[Row]]] = {
    BurnerStability: _stability,
    BurnerFlames: _flames,
    Finding: _finding,
}
