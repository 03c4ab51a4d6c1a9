"""``burner``: primary air, ports, flame limits, and a shutter setting for both gases."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import click
import numpy as np

from burnerlab.burner.burner import EvaluationOptions
from burnerlab.burner.primary_air import best_throat, primary_air, shutter_for
from burnerlab.burner.state import BurnerState
from burnerlab.burner.tile_evaluation import Band
from burnerlab.cli.common_inputs import APPLIANCE, PRESSURE
from burnerlab.cli.gas_inputs import GasAt, gas_group, read_gas_at
from burnerlab.cli.options import json_option, takes, written
from burnerlab.cli.output import (
    facts,
    gas_fact,
    kW,
    number,
    of_pressure,
    percent,
    pressure_notes,
    print_cautions,
    print_json,
    print_look_up,
    print_notes,
    print_overfire,
    quantity,
    reader_system,
    table,
    wrapped,
)
from burnerlab.cli.proposals import burner_names
from burnerlab.cli.verbosity import is_quiet, notes_to_print
from burnerlab.gas import DeclaredGas, Gas
from burnerlab.orifice import Conditions
from burnerlab.quantity import Kind, in_unit
from burnerlab.quantity.inputs import Group, Input, as_written
from burnerlab.quantity.outputs import columns, output, row
from burnerlab.quantity.quantity_text import quantity_text
from burnerlab.tables.figure import Evidence
from burnerlab.tables.problem import Problem, UserError, did_you_mean
from burnerlab.tables.verdict import Verdict

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance
    from burnerlab.appliance.conversion.flame_stability import BurnerStability
    from burnerlab.burner.shutter_setting import ShutterWindow
    from burnerlab.burner.stability_point import FlameObservation

# What ``burnerlab burner`` tells of settings: the shutter opening of a wanted aeration, the throat,
# secondary air.


@dataclass(frozen=True, slots=True, kw_only=True)
class Throats:
    """The throat as built and those of most air, the shutter as it is set and fully open."""

    throat_m: float | None = field(default=None, metadata=output("throat", Kind.LENGTH))
    best_throat_m: float | None = field(default=None, metadata=output("throat of most air", Kind.LENGTH))
    best_throat_aeration: float | None = field(default=None, metadata=output("its air", Kind.FRACTION))
    best_throat_open_m: float | None = field(
        default=None, metadata=output("throat of most air, shutter open", Kind.LENGTH)
    )
    best_throat_open_aeration: float | None = field(
        default=None, metadata=output("its air, shutter open", Kind.FRACTION)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ShutterTarget:
    """The opening of the shutter that gives a wanted aeration, and the air there."""

    aeration: float = field(metadata=output("wanted", Kind.FRACTION))
    words: str = field(metadata=output("in words"))
    opening: float | None = field(default=None, metadata=output("opening", Kind.FRACTION))
    reached: bool | None = field(default=None, metadata=output("reached"))
    aeration_there: Band | None = field(
        default=None, metadata=output("air there", Kind.FRACTION, is_band=True)
    )


def throats(state: BurnerState) -> Throats:
    """The throats of a burner; without figures where it has none."""

    if state.geometry.throat_m is None or np.isnan(state.primary_aeration):
        return Throats()
    geometry, rest = state.geometry, (state.fuel, state.flow, state.surroundings, state.options)
    here = best_throat(geometry, *rest)
    wide = best_throat(replace(geometry, shutter_opening=1.0), *rest)
    return Throats(
        throat_m=float(np.asarray(geometry.throat_m)),
        best_throat_m=here.diameter_m,
        best_throat_aeration=here.aeration,
        best_throat_open_m=wide.diameter_m,
        best_throat_open_aeration=wide.aeration,
    )


def shutter_target(state: BurnerState | None, aeration: float) -> ShutterTarget:
    """The opening that gives the aeration asked for, with the band of the air there."""

    if state is None or state.geometry.shutter_area_m2 is None or np.isnan(state.primary_aeration):
        why = "needs ports, throat and the area of the air shutter fully open"
        return ShutterTarget(aeration=aeration, words=why)
    geometry, rest = state.geometry, (state.fuel, state.flow, state.surroundings, state.options)
    best = shutter_for(geometry, *rest, aeration)
    share = float(best.area_m2 / np.asarray(geometry.shutter_area_m2))
    air = primary_air(replace(geometry, shutter_opening=share), *rest)
    there = Band(value=float(air.aeration), low=float(air.low), high=float(air.high))
    ends = f"({100 * there.low:.0f} to {100 * there.high:.0f})"
    words = (
        f"shutter {100 * share:.0f} % open for {100 * aeration:.0f} % primary air {ends}; set it by the flame"
        if best.reached
        else f"{100 * aeration:.0f} % primary air is not reached: {100 * there.value:.0f} % {ends}"
        " with the shutter fully open"
    )
    return ShutterTarget(
        aeration=aeration,
        words=words,
        opening=share if best.reached else None,
        reached=bool(best.reached),
        aeration_there=there,
    )


def setting_lines(burner: dict[str, Any]) -> Iterator[str]:
    """Throat, secondary air and the opening asked for, in words."""
    from burnerlab.appliance.project.burner_kind import BurnerKind

    if BurnerKind(burner["kind"]).traits.is_radiant:
        return
    if burner.get("best_throat_mm"):
        yield _throat(burner)
    if (burner.get("secondary_air_m3_per_h") or 0.0) > 0.0:  # not where the primary air is unknown
        air = _about(burner["secondary_air_m3_per_h"] / 3600.0, Kind.VOLUME_FLOW, ("m3/h", "ft3/h"))
        opening = _about(1e-6 * burner["secondary_opening_mm2"], Kind.AREA, ("mm2", "in2"))
        yield f"secondary air about {air}: {opening} of opening at 0.305 m/s (1.00 ft/s), within half to double"
    if "shutter_target" in burner:
        yield burner["shutter_target"]["words"]


def _about(value_SI: float, kind: Kind, units: tuple[str, str]) -> str:
    """A figure of two digits in the unit of a metric reader, or of one in the United States."""
    unit = units[reader_system() == "US"]
    return f"{number(float(f'{in_unit(value_SI, kind, unit):.2g}'), 2)} {unit}"


def _throat(burner: dict[str, Any]) -> str:
    """The throats of most air beside the one as built, on a curve that is flat there."""
    best, wide = (
        quantity_text(
            "{} would draw the most air, {} %",
            quantity(1e-3 * burner[f"{key}_mm"], Kind.DIAMETER, "mm", 3),
            f"{burner[f'{key}_aeration_percent']:.0f}",
        )
        for key in ("best_throat", "best_throat_open")
    )
    now = quantity(1e-3 * burner["throat_mm"], Kind.DIAMETER, "mm", 3)
    if burner["best_throat_mm"] == burner["best_throat_open_mm"]:
        return quantity_text("throat {}; {} (calculated, indicative)", now, best)
    words = "throat {}; with the shutter as it is {}; fully open {} (calculated, indicative)"
    return quantity_text(words, now, best, wide)


# ``burnerlab burner``: primary air, ports and the flame's limits of every burner.

UNITS_OF_A_RECORD = 1000  # newest units of the record whose flames are set beside the limits
AS_BUILT, CHANGED = "as in the file", "as a conversion to this gas would drill them"


def _on_gas(
    file: Appliance, gas: Gas | DeclaredGas | None, pressure: float | None, converted: bool
) -> Appliance:
    """The appliance of the file on another gas, through its own orifices or those made for that gas."""
    from burnerlab.appliance import ConversionTarget, changed

    new_gas = file.supply.gas if gas is None else gas
    new_Pa = file.supply.gauge_pressure_Pa if pressure is None else pressure
    if converted:
        return changed(file, ConversionTarget(gas=new_gas, gauge_pressure_Pa=new_Pa))
    if gas is None and pressure is None:
        return file
    supply = replace(
        file.supply,
        gas=new_gas,
        gauge_pressure_Pa=new_Pa,
        low_gauge_pressure_Pa=None,
        high_gauge_pressure_Pa=None,
    )
    return replace(file, supply=supply)


ON_GAS = Group(
    make=_on_gas,
    inputs=(
        APPLIANCE,
        replace(PRESSURE, is_needed=False, help="Nominal at the manifold, in place of the file's."),
        Input(name="converted", is_flag=True, help="With the orifices a conversion to --gas would take."),
    ),
    parts={"gas": gas_group(is_optional=True)},
)
"""The appliance of a file, on its own gas or on another: ``Appliance``."""


@click.command(short_help="Primary air, ports and flame limits of every burner.")
@takes(
    appliance=ON_GAS,
    name=Input(
        name="burner",
        reader=as_written,
        metavar="NAME",
        help="One burner; all if none.",
        proposals=burner_names,
    ),
    hot_ratio=Input(
        name="hot_ratio",
        metavar="RATIO",
        help='Hot primary air over cold, measured on this burner: "0.93". Its margins with it are shown too.',
    ),
    targets=Input(
        name="also",
        reader=read_gas_at,
        metavar="GAS@P",
        is_many=True,
        help='Search one shutter setting for FILE\'s gas and this one too: "propane@11 inH2O". Repeatable.',
    ),
    aeration=Input(
        name="target_aeration",
        metavar="PERCENT",
        help='Also the shutter opening for this primary aeration: "55 %".',
    ),
    record=Input(
        name="record",
        reader=as_written,
        metavar="FILE",
        help="Bench record: what flames of this model did, printed with the limits.",
    ),
)
@json_option
def burner_command(
    appliance: Appliance,
    name: str | None,
    hot_ratio: float | None,
    targets: tuple[GasAt, ...],
    aeration: float | None,
    record: str | None,
    as_json: bool,
) -> None:
    """Primary aeration, port flow, and how far the flame of each burner of FILE is from lift, light-back, yellow tips.

    Needs ports and throat of the burner in FILE; the area of its air shutter, where it has one. --gas and --pressure
    put another gas through the same orifices, or with --converted through those made for it. A margin of 1 is
    the limit, below 1 it is crossed; every limit here is recalled or estimated. Stability points of your own, from
    the table stability_points of FILE or with --record, are listed with the side of the limit they fall on.

    \b
    Examples:
      burnerlab burner range.toml
      burnerlab burner range.toml --burner "stock-pot ring" --gas propane \\
          --pressure "11 inH2O" --converted --json
      burnerlab burner range.toml --burner "stock-pot ring" \\
          --also "propane@11 inH2O"
      burnerlab burner range.toml --gas propane --pressure "11 inH2O" \\
          --converted --target-aeration "55 %"
    """
    from burnerlab.appliance.conversion.flame_stability import stabilities

    names = _names(appliance, name)
    found = stabilities(appliance, names=names, options=EvaluationOptions(hot_ratio=hot_ratio))
    windows = {each: _window(appliance, each, targets) for each in names} if targets else {}
    pressure = written("pressure")
    unusual = pressure_notes(appliance.supply.gauge_pressure_Pa, pressure) if pressure else ()
    result = _json(appliance, found, windows, CHANGED if written("converted") else AS_BUILT)
    observed = _recorded(appliance, record)
    for burner, one in zip(result["burners"], found, strict=True):
        burner["stability_points"] = _own_points(appliance, one, observed)
        if aeration is not None:
            burner["shutter_target"] = row(shutter_target(one.full, aeration))
    worst = _rate(result, appliance, names)
    result |= {"notes": unusual}
    if as_json:
        print_json(result)
        return
    print_overfire(result["warnings"])
    click.echo(_text(result, worst, appliance))
    for burner in result["burners"]:
        print_notes(burner["name"], _lines(burner))
    print_notes("Notes", unusual)
    print_look_up(_explained(result["burners"]))
    print_cautions(appliance.supply.gas, occasions=of_pressure(appliance.supply.gauge_pressure_Pa))


def _names(appliance: Appliance, name: str | None) -> list[str]:

    known = [burner.name for burner in appliance.burners]
    if name is None:
        return known
    fitting = [each for each in known if each.casefold() == name.strip().casefold()]
    if not fitting:
        what, fix = "is not a burner of this appliance", did_you_mean(name, known)
        raise UserError(Problem(what, value=name, key="--burner", accepted=", ".join(known), fix=fix))
    return fitting


def _recorded(appliance: Appliance, record: str | None) -> tuple[FlameObservation, ...]:
    """What a bench record says that the flames of this model did."""
    if record is None:
        return ()
    from burnerlab.bench.learning.calibration import recorded_tests
    from burnerlab.bench.learning.flame_observations import flame_observations
    from burnerlab.bench.learning.samples import gather
    from burnerlab.cli.record_output import to_read

    with to_read(record) as opened:
        tests = recorded_tests(opened, appliance.model or appliance.name, UNITS_OF_A_RECORD)
    gathered = gather(tests, appliance)  # what a flame did is seen through any orifice
    return flame_observations((*gathered.samples, *gathered.of_unknown_orifices))


def _own_points(
    appliance: Appliance, stability: BurnerStability, observed: Sequence[FlameObservation]
) -> list[dict[str, Any]]:
    """Points of the user's own on one burner, those of the file's table first."""
    from burnerlab.appliance.conversion.flame_stability import own_points

    if stability.case is None:
        return []
    return [row(point) for point in own_points(appliance, stability.name, [stability.case], observed)]


def _point_lines(points: Sequence[dict[str, Any]]) -> Iterator[str]:
    """A line for each point: what was seen, where, and the side of the model's limit."""
    for point in points:
        opening, air = point["opening_percent"], point["aeration_percent"]
        where = [f"{point['load_percent']:.0f} % rate"]
        where += [] if opening is None else [f"shutter {opening:.0f} %"]
        where += [] if air is None else [f"air {air:.0f} % {point['aeration_origin']}"]
        model = point["comparison"]
        if point["margin"] is not None:
            ends = f"{_margin(point['margin_low'])} to {_margin(point['margin_high'])}"
            margin = f"margin {_margin(point['margin'])} ({ends})"
            model = f"{point['side']} the limit of {point['limit']}, {margin}: {model}"
        yield f"your own, {point['flame']} at {', '.join(where)}: {model} ({point['source']})"


def _window(appliance: Appliance, name: str, targets: Sequence[GasAt]) -> ShutterWindow | None:
    from burnerlab.appliance.conversion.flame_stability import shutter_search

    return shutter_search(appliance, name, [(one.gas, one.gauge_pressure_Pa) for one in targets])


# JSON


def _json(
    appliance: Appliance,
    burners: Sequence[BurnerStability],
    windows: dict[str, ShutterWindow | None],
    orifices: str,
) -> dict[str, Any]:

    supply = appliance.supply
    conditions = Conditions(
        gauge_pressure_Pa=supply.gauge_pressure_Pa,
        ambient_pressure_Pa=supply.ambient_pressure_Pa,
        gas_temperature_K=supply.gas_temperature_K,
    )
    return {
        "appliance": appliance.name,
        "gas": supply.gas.name,
        **row(conditions),
        "orifices": orifices,
        "burners": [_burner(burner) | _shutter(windows, burner.name) for burner in burners],
        "evidence": Evidence.ESTIMATE,  # as a whole; each limit and finding has its own
    }


def _rate(result: dict[str, Any], appliance: Appliance, names: Sequence[str]) -> tuple[tuple[str, str], ...]:
    """Put the heat input against the rating to each burner; returns the worst in words, for the head of the answer."""
    from burnerlab.appliance.operation.result import nominal_inputs, overfire_lines, worst_first, worst_words

    rated = {one.burner: (one, finding) for one, finding in nominal_inputs(appliance, names)}
    inputs = [one for one, _ in rated.values()]
    for burner in result["burners"]:
        one, finding = rated[burner["name"]]
        burner["heat_input"] = row(one)
        burner["findings"].insert(0, row(finding))
    result["warnings"] = overfire_lines(
        inputs, appliance.supply.gas.words, appliance.supply.gauge_pressure_Pa
    )
    result["inputs_worst_first"] = [row(one) for one in worst_first(inputs)]
    return worst_words(inputs)


def _burner(stability: BurnerStability) -> dict[str, Any]:
    from burnerlab.appliance.conversion.flame_stability import RatedState

    head = {"name": stability.name, "kind": stability.kind, "count": stability.count, "gas": stability.gas}
    rates = [row(rate) for rate in stability.rates]
    nothing = dict.fromkeys(key for column in columns(RatedState) for key in (column.key, *column.ends))
    return {
        **head,
        **(rates[0] | row(throats(stability.rates[0].state)) if rates else nothing),
        "rates": rates[1:],
        "warm_up": None if stability.warm_up is None else row(stability.warm_up),
        "findings": [row(finding) for finding in stability.findings],
        "not_evaluated": [row(missing) for missing in stability.not_evaluated],
        "notes": stability.notes,
    }


def _shutter(windows: dict[str, ShutterWindow | None], name: str) -> dict[str, Any]:
    window = windows.get(name)
    return {} if window is None else {"shutter_window": row(window)}


# text


def _evidence(burners: list[dict[str, Any]]) -> str:
    """How far the figures go, and which of them were fitted to units of one's own."""
    own = dict.fromkeys(
        f["topic"] for b in burners for f in b["findings"] if f["evidence"] == Evidence.MEASURED
    )
    beside = f"; measured here: {', '.join(own)}" if own else ""
    return f"estimate: ranks settings, decides nothing; test required{beside}"


def _text(result: dict[str, Any], worst: Sequence[tuple[str, str]], appliance: Appliance) -> str:
    from burnerlab.appliance.project.basis import rated_basis

    rated = rated_basis(appliance)
    pressure = quantity(100.0 * result["gauge_pressure_mbar"], Kind.GAUGE_PRESSURE, "mbar")
    head = facts(
        [
            ("appliance", result["appliance"]),
            ("gas", gas_fact(appliance.supply.gas)),
            ("pressure", pressure + " gauge at the manifold"),
            ("orifices", result["orifices"]),
            *worst,
            ("evidence", _evidence(result["burners"])),
        ]
    )
    rows = []
    for burner in result["burners"]:
        aeration, low, high = (_share(burner[key]) for key in AERATION)
        rows.append(
            (
                burner["name"] + (f" ({burner['count']} burners)" if burner["count"] > 1 else ""),
                kW(1e3 * burner["heat_input"]["heat_input_gross_kW"] * rated.of_gross, 3),
                percent(burner["heat_input"]["deviation_percent"] / 100.0, 0),
                aeration if aeration == "-" else f"{aeration} ({low} to {high})",
                _share((burner["warm_up"] or {}).get("hot_primary_aeration_percent")),
                number(burner["port_loading_W_per_mm2"], 3),
                number(burner["wall_gradient_per_s"], 3),
                *_hardest(burner),
                number(burner["inner_cone_height_mm"], 2),
            )
        )
    heads = (
        "burner", f"kW {rated.word}", "off rating", "primary air %", "hot %", "W/mm2", "gradient 1/s", "lift",
        "light-back", "yellow tip", "cone, mm",
    )  # fmt: skip
    foot = (
        "lift, light-back and yellow tip: margins; the limit lies at 1, and a check may want more. Lift cold, "
        "light-back at the lowest rate on hot metal, yellow tips 15 min after a cold start, where that is known."
    )
    return "\n\n".join((head, table(heads, rows), *(() if is_quiet() else (wrapped(foot),))))


def _margin(value: float | None) -> str:
    """A margin so that 0.995 is not read as 1, and a large one only as far away."""
    from burnerlab.report.sheet.blocks import margin_text

    return "-" if value is None or math.isnan(value) else margin_text(value)


def _hardest(burner: dict[str, Any]) -> tuple[str, str, str]:
    """Lift, light-back and yellow-tip margin, each where it is hardest; those of full rate where that is not known."""
    warm, (lift, back, yellow) = burner["warm_up"], MARGINS
    if warm is None:
        return _margin(burner[lift]), _margin(burner[back]), _margin(burner[yellow])
    hot = [warm[f"hot_{yellow}"], warm[f"hot_lowest_rate_{yellow}"]]
    tips = [one for one in hot if one is not None] or [warm[f"cold_{yellow}"]]
    back_margin = warm[f"hot_{back}"] if warm[f"hot_{back}"] is not None else warm[f"cold_{back}"]
    return _margin(warm[f"cold_{lift}"]), _margin(back_margin), _margin(min(tips, key=_order))


def _order(value: float | None) -> float:
    return math.inf if value is None else value


MARGINS = ("lift_margin", "light_back_margin", "yellow_tip_margin")
HEADS_C = tuple(f"head_temperature_{minutes}_min_C" for minutes in (1, 5, 15))


def _warm_up_lines(warm: dict[str, Any] | None) -> list[str]:
    """Metal, air and when it is steady, from a cold start."""
    if warm is None or warm[HEADS_C[0]] is None:
        return []
    heads = ", ".join(f"{warm[key]:.0f} °C" for key in HEADS_C)
    steady = warm["steady_s"]
    when = (
        "not within two hours"
        if steady is None
        else f"after {math.ceil(steady / 60.0)} min"
        if steady
        else "from the start"
    )
    return [
        f"from a cold start: metal at the ports {heads} after 1, 5, 15 min; mixture that leaves them"
        f" {warm['mixture_temperature_C']:.0f} °C; primary air {warm['cold_primary_aeration_percent']:.1f} to"
        f" {warm['hot_primary_aeration_percent']:.1f} % (at {warm['lowest_rate']}"
        f" {warm['hot_lowest_rate_primary_aeration_percent']:.1f} %), within 2 % of its last value {when};"
        f" {_rate_drift(warm)}"
    ]


def _rate_drift(warm: dict[str, Any]) -> str:
    """How the heat input changes as the gas at the orifice warms, or what is wanted for it."""
    value, low, high = (warm[f"heat_input_change{end}_percent"] for end in ("", "_low", "_high"))
    if value is None:
        needs = "the temperature of the gas at the hot orifice (hot_gas_temperature of its orifice)"
        return f"change of the heat input not evaluated: it needs {needs}"
    return f"heat input {value:+.1f} % ({low:+.1f} to {high:+.1f}), as the gas at the orifice warms"


AERATION = ("primary_aeration_percent", "primary_aeration_low_percent", "primary_aeration_high_percent")


def _share(value_percent: float | None) -> str:
    return "-" if value_percent is None or math.isnan(value_percent) else f"{value_percent:.0f}"


def _explained(burners: Sequence[dict[str, Any]]) -> Iterator[str]:
    """Where the findings that are not within are explained, those that are outside first."""
    for verdict in (Verdict.OUTSIDE, Verdict.NEAR):
        yield from (f["handbook"] for one in burners for f in one["findings"] if f["verdict"] == verdict)


def _lines(burner: dict[str, Any]) -> list[str]:
    lines = [
        f"{found['verdict']} - {found['topic']}: " + found["text"]  # which keeps its quantities
        for found in burner["findings"]
        if found["verdict"] != Verdict.WITHIN
    ]
    within = [found["topic"] for found in burner["findings"] if found["verdict"] == Verdict.WITHIN]
    if within:
        lines.append(f"within - {', '.join(within)}")
    by_reason: dict[str, list[str]] = {}
    for missing in burner["not_evaluated"]:
        by_reason.setdefault(missing["why"], []).append(missing["topic"])
    lines += [f"not evaluated - {', '.join(topics)}: {why}" for why, topics in by_reason.items()]
    if "shutter_window" in burner:
        lines.append(burner["shutter_window"]["words"])
    own = _point_lines(burner["stability_points"])
    notes = notes_to_print("Notes", burner["notes"])
    return [*lines, *own, *_warm_up_lines(burner["warm_up"]), *setting_lines(burner), *notes]
