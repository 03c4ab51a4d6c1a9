"""``supply``, ``regulator`` and ``cylinder``: the pressure that reaches the burners, and how long it lasts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.bench_inputs import BUILT_FOR, as_built
from burnerlab.cli.common_inputs import (
    APPLIANCE,
    CHANGED_FOR,
    PRESSURE,
    RATE,
    SURROUNDINGS,
    gas_group,
    market_head,
    market_keys,
    markets_of,
    own_table,
    read_gas,
)
from burnerlab.cli.conversion import TRAIN
from burnerlab.cli.options import json_option, takes, written
from burnerlab.cli.output import (
    NO_BREAK,
    facts,
    gas_fact,
    kW,
    mbar,
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
from burnerlab.cli.proposals import market_names
from burnerlab.quantity import Kind, Rate, in_unit, read, require_basis
from burnerlab.quantity.inputs import Group, Input, as_written
from burnerlab.quantity.outputs import row
from burnerlab.quantity.quantity_text import QuantityText, millimetre, quantity_text, quoted
from burnerlab.quantity.show import duration_text
from burnerlab.tables.problem import Problem, UserError
from burnerlab.tables.verdict import Verdict

if TYPE_CHECKING:
    from pathlib import Path

    from burnerlab.appliance import Appliance, ConversionTarget, Operation
    from burnerlab.appliance.conversion.markets import MarketTarget
    from burnerlab.appliance.conversion.result import Finding
    from burnerlab.appliance.conversion.target import TrainChoice
    from burnerlab.appliance.operation.regulator_curves import (
        BurnerAtSetting,
        InletRow,
        RegulatorCurves,
        SettingRow,
    )
    from burnerlab.appliance.project.basis import RatedBasis
    from burnerlab.gas import DeclaredGas, Gas
    from burnerlab.supply.cylinder import Cylinder, Draw, HoldAtInlet, HoldInAir, HoldTime
    from burnerlab.supply.regulator import Typical

# ``burnerlab supply``: what pressure reaches each burner through regulator, hose, pipe and valves.


@dataclass(frozen=True, slots=True, kw_only=True)
class Served:
    """The appliance on its supply, and which supply of its file serves a new gas ("" where it is not changed)."""

    appliance: Appliance
    by: str = ""
    market: MarketTarget | None = None  # that it is changed for, to this gas of it
    target: ConversionTarget | None = None


def _served(
    file: Appliance,
    to: Gas | DeclaredGas | None,
    train: TrainChoice | None,
    gas: Gas | DeclaredGas | None,
    pressure: float | None,
    market: Sequence[str],
) -> tuple[Served, ...]:
    """The appliance as it is, or changed, for each gas of the markets where some are named."""
    from burnerlab.appliance import ConversionTarget

    if market:
        return tuple(
            replace(_changed(one.appliance, target, train), market=one, target=target)
            for one in markets_of(file, market)
            for target in one.targets
        )
    if to is not None and pressure is not None:
        return (_changed(file, ConversionTarget(gas=to, gauge_pressure_Pa=pressure), train),)
    supply = file.supply if gas is None else replace(file.supply, gas=gas)
    supply = supply if pressure is None else replace(supply, gauge_pressure_Pa=pressure)
    return (Served(appliance=replace(file, supply=supply)),)


def _changed(file: Appliance, target: ConversionTarget, train: TrainChoice | None) -> Served:
    from burnerlab.appliance import changed
    from burnerlab.appliance.conversion.target import new_train

    aimed = replace(target, train=train or "")
    return Served(appliance=changed(file, aimed), by=new_train(file, aimed).words)


def _rules(written: Mapping[str, Any]) -> Iterator[Problem]:
    others = [
        name for name in ("to", "pressure", *(one.name for one in OTHER_GAS.all_inputs())) if name in written
    ]
    if "market" in written:
        if others:
            yield Problem("stands alone: gas and pressure are those of the file", key="--market")
    elif "to" not in written:
        if "train" in written:
            yield Problem("needs --to or --market beside it", value=written["train"], key="--train")
    elif any(one.name in written for one in OTHER_GAS.all_inputs()):
        yield Problem("give one of them, not both", key="--gas and --to")
    elif "pressure" not in written:
        fix = 'e.g. --to propane --pressure "11 inH2O"'
        yield Problem("the pressure of the new gas is missing", key="--pressure", fix=fix)


LEAST_SHOWN = 0.0005  # of a heat input: less prints as 0.0 %
OTHER_GAS = gas_group(is_optional=True)
SERVED = Group(
    make=_served,
    inputs=(
        APPLIANCE,
        Input(
            name="to",
            reader=read_gas,
            metavar="GAS",
            help="The appliance as it is once changed to this gas at --pressure.",
        ),
        CHANGED_FOR,
        TRAIN,
        replace(PRESSURE, is_needed=False, help="Nominal at the manifold, in place of the file's."),
    ),
    parts={"gas": OTHER_GAS},
    rules=_rules,
)
"""The appliance of a file, with another gas through its orifices or changed to it, for each gas: ``Served``."""


ON = Input(
    name="on", reader=as_written, metavar="NAMES", help='Burners that burn: "ring,griddle". All if none.'
)


@click.command(short_help="Pressure and heat input of every burner through its supply.")
@takes(
    served=SERVED,
    names=ON,
)
@json_option
def supply_command(served: tuple[Served, ...], names: str | None, as_json: bool) -> None:
    """Pressure at every orifice of FILE and the input of every burner, with some of its burners on.

    Regulator, hose, pipe, manifold and valves are those under [supply] of FILE; without them the manifold pressure
    is that of the file. The worst of all burners on and of all of one kind on stands beside. --gas and --pressure put
    another gas through the same orifices. --to and --pressure, or each gas of a --market, change the appliance first,
    as convert does: new orifices, and the supply of the new gas that --train says.

    \b
    Examples:
      burnerlab supply range.toml
      burnerlab supply range.toml --on "stock-pot ring,rear burner"
      burnerlab supply range.toml --gas propane --pressure "11 inH2O" --json
      burnerlab supply range.toml --to propane --pressure "11 inH2O"
      burnerlab supply range.toml --market A
    """
    if as_json:
        made = [_json(one, names) for one in served]
        print_json({"markets": made} if served[0].market else made[0])
        return
    for one in served:
        _print_supply(one, names)
    supplies = [one.appliance.supply for one in served]
    occasions = dict.fromkeys(word for one in supplies for word in of_pressure(one.gauge_pressure_Pa))
    print_cautions(*(one.gas for one in supplies), occasions=tuple(occasions))


def _operation(served: Served, names: str | None) -> tuple[Operation, tuple[str, ...]]:
    """The appliance on its supply, and what is unusual of its pressure."""
    from burnerlab.appliance import operate

    found = operate(served.appliance, on=None if names is None else _on(names, served.appliance))
    pressure = written("pressure")
    return found, pressure_notes(found.nominal_gauge_pressure_Pa, pressure) if pressure else ()


def _json(served: Served, names: str | None) -> dict[str, Any]:
    from burnerlab.appliance.conversion.job import present_policy

    found, unusual = _operation(served, names)
    policy = present_policy(served.appliance)
    keys = market_keys(served.market, served.target) if served.market and served.target else {}
    return (
        keys
        | row(found)
        | {
            "supply_of_new_gas": served.by or None,
            "altitude_policy": policy.policy or None,
            "altitude_policy_factor": policy.factor,
            "notes": (*found.notes, *unusual),
        }
    )


def _print_supply(served: Served, names: str | None) -> None:
    from burnerlab.appliance.conversion.job import present_policy

    found, unusual = _operation(served, names)
    policy = present_policy(served.appliance)
    if served.market and served.target:
        click.echo(market_head(served.market, served.target))
    print_overfire(found.warnings)
    click.echo(_text(found, served, policy.words() if policy.factor < 1.0 else ""))
    print_notes("Findings", [_words(finding) for finding in found.findings])
    print_notes("Taken from tables", found.notes)
    print_notes("Notes", unusual)
    print_look_up(one.handbook for one in found.findings if one.verdict != Verdict.WITHIN)
    if served.market:
        click.echo()


def _on(names: str, appliance: Appliance) -> list[str]:
    """Burners by their names, parted by commas; a name that holds a comma itself may stand alone."""
    if any(burner.name.casefold() == names.strip().casefold() for burner in appliance.burners):
        return [names]
    return [name for name in names.split(",") if name.strip()]


def _words(finding: Finding) -> str:
    burner = f"{finding.burner}: " if finding.burner else ""
    evidence = f"; evidence: {finding.evidence}" if finding.evidence else ""
    return f"{finding.verdict} - {finding.topic}: {burner}" + finding.text + evidence  # keeps its quantities


def _against(operation: Operation, aim: str) -> str:
    """The input of all that are on beside their ratings."""
    whole, rated = operation.whole, operation.rated
    here, wanted = (
        quantity(one * rated.of_gross, Kind.POWER, "kW")
        for one in (whole.heat_input_gross_W, whole.aim_gross_W)
    )
    return quantity_text("{} {}, {} {}, {}", here, rated.word, aim, wanted, whole.words())


def _text(operation: Operation, served: Served, altitude: str) -> str:
    from burnerlab.appliance.operation.result import worst_words

    every = all(burner.on for burner in operation.burners)
    on = "all burners" if every else ", ".join(operation.on)
    head = facts(
        [
            ("appliance", operation.appliance),
            ("gas", gas_fact(served.appliance.supply.gas)),
            ("on", on),
            (
                "nominal pressure",
                quantity(operation.nominal_gauge_pressure_Pa, Kind.GAUGE_PRESSURE, "mbar")
                + " gauge at the manifold",
            ),
            (
                "manifold",
                quantity(operation.manifold_gauge_pressure_Pa, Kind.GAUGE_PRESSURE, "mbar") + " gauge",
            ),
            ("heat input", _against(operation, "aim" if altitude else "rated")),
            *worst_words(operation.inputs),
            *([("new gas served by", served.by)] if served.by else []),
            *([("altitude", altitude)] if altitude else []),
            ("evidence", operation.evidence),
        ]
    )
    rows = [
        (
            b.name + (f" ({b.count} burners)" if b.count > 1 else ""),
            mbar(b.gauge_pressure_Pa) if b.on else "off",
            kW(b.heat_input_gross_W * operation.rated.of_gross) if b.on else "-",
            percent(b.deviation),
            percent(b.deviation_alone),
            percent(b.from_nominal),
        )
        for b in operation.burners
    ]
    off = "off aim" if altitude else "off rating"
    alone = "all of its kind on" if any(b.count > 1 for b in operation.burners) else "alone"
    heads = ("burner", "at orifice, mbar", f"kW {operation.rated.word}", off, alone, "by the supply")
    burners = table(heads, rows)
    parts = [head, burners]
    if operation.elements:
        parts.append(_elements(operation))
    ends = (("least", operation.lowest), ("most", operation.highest))
    if all(abs(worst.from_nominal) < LEAST_SHOWN for _, worst in ends):
        return "\n\n".join((*parts, "by the supply: no burner is moved by 0.05 % of its nominal input"))
    for words, worst in ends:
        case = f"{worst.case}: {worst.burner} {percent(worst.from_nominal)} of its nominal input"
        text = f"{words} by the supply: {case}, {percent(worst.deviation)} {off}"
        parts.append(wrapped(text, subsequent="  "))
    return "\n\n".join(parts[:-2]) + "\n\n" + "\n".join(parts[-2:])


def _elements(operation: Operation) -> str:
    rows = [
        (
            element.name,
            mbar(element.inlet_gauge_pressure_Pa),
            mbar(element.outlet_gauge_pressure_Pa),
            mbar(element.drop_Pa, 3),
            element.regime or "-",
            "-" if element.reynolds is None else f"{element.reynolds:.0f}",
        )
        for element in operation.elements
    ]
    beside = [
        wrapped(
            f"{element.name} beside the trade's formulas, flow at the same friction: "
            + ", ".join(
                f"{name} {percent(share - 1.0, 0)}"
                for name, share in element.flow_by_formula_over_this.items()
            ),
            subsequent="  ",
        )
        for element in operation.elements
        if element.flow_by_formula_over_this
    ]
    return "\n".join(
        [table(("element", "inlet, mbar", "outlet, mbar", "drop, mbar", "flow", "Re"), rows), *beside]
    )


# ``burnerlab regulator``: rate against its setting, outlet against its inlet.


@click.command(short_help="Rate, air and flame against the regulator's setting; outlet against its inlet.")
@takes(
    appliance=Group(make=as_built, inputs=(APPLIANCE, *BUILT_FOR)),
    settings=Input(
        name="setting",
        of="train_inlet",
        metavar="P",
        is_many=True,
        help='Set point: "20 psig". Repeatable; in steps over the range of its kind if none.',
    ),
    inlets=Input(
        name="inlet",
        of="train_inlet",
        metavar="P",
        is_many=True,
        help='Inlet pressure: "25 psig". Repeatable; from the least it needs to twice that of FILE if none.',
    ),
    names=ON,
    out=Input(name="out", reader=as_written, metavar="FILE", help="The settings as a new CSV file."),
)
@json_option
def regulator_command(
    appliance: Appliance,
    settings: tuple[float, ...],
    inlets: tuple[float, ...],
    names: str | None,
    out: str | None,
    as_json: bool,
) -> None:
    """Heat input, primary air and flame of every burner of FILE against the setting of its regulator.

    Below it the outlet of the regulator against its inlet. The kind of regulator under [supply.regulator] gives what
    FILE does not; "lp high pressure" is set from 0 to 30 psi. Without a regulator a setting is the pressure at the
    manifold. An orifice that is choked passes gas in proportion to the absolute pressure before it. With --market or
    --plan the orifices are those of that conversion, fixed while the pressure changes.

    \b
    Examples:
      burnerlab regulator range.toml
      burnerlab regulator range.toml --setting "7 inH2O" --setting "9 inH2O" \\
          --on "stock-pot ring"
      burnerlab regulator range.toml --market A --setting "8 inH2O" \\
          --setting "13 inH2O"
      burnerlab regulator range.toml --inlet "8 inH2O" --inlet "14 inH2O" \\
          --out settings.csv --json
    """
    from burnerlab.appliance.operation.regulator_curves import regulator_curves

    on = None if names is None else _on(names, appliance)
    found = regulator_curves(appliance, settings_Pa=settings, inlets_Pa=inlets, on=on)
    if out:
        _write_settings(found, out)
    if as_json:
        print_json(found)
        return
    print_overfire(found.warnings)
    click.echo(_curves_text(found, appliance.supply.gas))
    print_notes("Notes", (*_airless(found), *found.notes))
    highest = max(row.setting_gauge_pressure_Pa for row in found.settings)
    print_cautions(appliance.supply.gas, occasions=of_pressure(highest))


def _write_settings(curves: RegulatorCurves, out: str) -> None:
    from pathlib import Path

    from burnerlab.report.formats import rows_csv_text
    from burnerlab.report.write import write_together

    write_together({Path(out): rows_csv_text(curves.setting_rows()).encode()}, overwrite=False)


def _curves_text(curves: RegulatorCurves, gas: Gas | DeclaredGas) -> str:
    set_Pa, stated_Pa = curves.set_point_gauge_pressure_Pa, curves.stated_inlet_gauge_pressure_Pa
    rated = curves.rated
    head = facts(
        [
            ("appliance", curves.appliance),
            ("gas", gas_fact(gas)),
            ("on", ", ".join(curves.on)),
            ("regulator", curves.regulator or ("none in the file" if set_Pa is None else "kind not named")),
            *(
                []
                if set_Pa is None
                else [("set at", quantity(set_Pa, Kind.GAUGE_PRESSURE, "mbar") + " gauge")]
            ),
            *(
                []
                if stated_Pa is None
                else [("inlet in the file", quantity(stated_Pa, Kind.GAUGE_PRESSURE, "mbar") + " gauge")]
            ),
            ("evidence", curves.evidence),
        ]
    )
    each = [
        (mbar(row.setting_gauge_pressure_Pa) if place == 0 else "", burner)
        for row in curves.settings
        for place, burner in enumerate(row.burners)
    ]
    rates = [
        (
            setting,
            b.burner,
            mbar(b.gauge_pressure_Pa),
            kW(b.heat_input_gross_W * rated.of_gross, 3),
            _ends(b.heat_input_low_gross_W, b.heat_input_high_gross_W, rated),
            percent(b.deviation, 0),
        )
        for setting, b in each
    ]
    flames = [
        (setting, b.burner, "choked" if b.choked else "not choked", *_air(b), b.flame or "-")
        for setting, b in each
    ]
    parts = [
        head,
        table(
            ("set, mbar", "burner", "at orifice, mbar", f"kW {rated.word}", "low to high, kW", "off rating"),
            rates,
            2,
        ),
        table(("set, mbar", "burner", "jet", "primary air", "low to high", "flame"), flames, 2),
    ]
    if curves.set_point_gauge_pressure_Pa is not None:
        heads = ("set, mbar", "lock-up, mbar", "inlet it needs, mbar", f"kW {rated.word}, all on")
        parts.append(table(heads, [_whole(row, rated) for row in curves.settings], left_columns=0))
    if curves.inlets:
        parts.append(_inlets_text(curves.inlets, rated))
    return "\n\n".join(parts)


def _airless(curves: RegulatorCurves) -> list[str]:
    """Why primary air was not evaluated, each reason once with its burner and the settings it stands at."""
    settings: dict[tuple[str, str], list[str]] = {}
    for at_setting in curves.settings:
        for burner in at_setting.burners:
            if burner.why_no_air:
                at = quantity(at_setting.setting_gauge_pressure_Pa, Kind.GAUGE_PRESSURE, "mbar")
                settings.setdefault((burner.burner, burner.why_no_air), []).append(at)
    return [
        quantity_text("{}: primary air and flame not evaluated at {}: {}", burner, _listed(at), why)
        for (burner, why), at in settings.items()
    ]


def _listed(parts: Sequence[str]) -> QuantityText:
    return quantity_text(", ".join("{}" for _ in parts), *parts)


def _whole(row: SettingRow, rated: RatedBasis) -> tuple[str, ...]:
    """Lock-up, inlet and heat input of all burners at one setting."""
    above = " above the file's" if row.inlet_suffices is False else ""
    return (
        mbar(row.setting_gauge_pressure_Pa),
        mbar(row.lock_up_gauge_pressure_Pa),
        mbar(row.least_inlet_gauge_pressure_Pa) + above,
        kW(row.total_heat_input_gross_W * rated.of_gross, 3),
    )


def _inlets_text(inlets: Sequence[InletRow], rated: RatedBasis) -> str:
    rows = [
        (
            mbar(row.inlet_gauge_pressure_Pa) + (" low" if row.inlet_suffices is False else ""),
            mbar(row.outlet_gauge_pressure_Pa),
            quantity_text(
                "{} to {}", mbar(row.outlet_gauge_pressure_low_Pa), mbar(row.outlet_gauge_pressure_high_Pa)
            ),
            mbar(row.lock_up_gauge_pressure_Pa),
            quantity_text(
                "{} ({})",
                kW(row.total_heat_input_gross_W * rated.of_gross, 3),
                _ends(row.total_heat_input_low_gross_W, row.total_heat_input_high_gross_W, rated),
            ),
        )
        for row in inlets
    ]
    heads = ("inlet, mbar", "outlet, mbar", "low to high, mbar", "lock-up, mbar", f"kW {rated.word}, all on")
    return table(heads, rows, left_columns=0)


def _ends(low_gross_W: float, high_gross_W: float, rated: RatedBasis) -> str:
    low, high = (kW(gross_W * rated.of_gross, 3) for gross_W in (low_gross_W, high_gross_W))
    return quantity_text("{} to {}", low, high)


def _air(burner: BurnerAtSetting) -> tuple[str, str]:
    air, low, high = burner.primary_aeration, burner.primary_aeration_low, burner.primary_aeration_high
    if air is None or low is None or high is None:
        return "-", "-"
    return f"{100 * air:.0f} %", f"{100 * low:.0f} to {100 * high:.0f} %"


# ``burnerlab cylinder``: how long an LP cylinder holds a heat input.

ROWS_SHOWN = 8


def _liquid(gas: Gas | DeclaredGas, fix: str = "name propane, propane-hd5 or a --mix") -> Gas:
    from burnerlab.gas import Gas
    from burnerlab.supply.lpg_vapour import liquids

    if not isinstance(gas, Gas):
        what = "a cylinder needs the composition of its liquid"
        raise UserError(Problem(what, value=gas.name, key="--gas", fix=fix))
    liquids(tuple(gas.composition.names))
    return gas


def _named(text: str, key: str) -> Cylinder:
    from burnerlab.supply.cylinder import cylinder_named

    return cylinder_named(text, key=key)


def _cylinder(
    size: Cylinder | None, water_capacity: float | None, diameter: float | None, tare: float | None
) -> Cylinder:
    from burnerlab.supply.cylinder import Cylinder

    if size is not None:
        return size
    assert water_capacity is not None
    assert diameter is not None
    assert tare is not None
    return Cylinder(
        name="own",
        water_capacity_m3=water_capacity,
        diameter_m=diameter,
        tare_kg=tare,
        provenance="measured here",
    )


def _size_or_own(written: Mapping[str, Any]) -> Iterator[Problem]:
    from burnerlab.supply.cylinder import cylinders

    own = [name in written for name in ("water_capacity", "diameter", "tare")]
    if any(own) if "size" in written else not all(own):
        what = "give a size, or water capacity, diameter and tare together"
        accepted = f"--size of {', '.join(cylinders())}"
        yield Problem(what, key="--size", accepted=accepted, fix='e.g. --size "20 lb"')


CYLINDER = Group(
    make=_cylinder,
    inputs=(
        Input(
            name="size",
            reader=_named,
            metavar="NAME",
            help='Nominal size: "20 lb", "100 lb", "11 kg". Quote it.',
        ),
        Input(
            name="water_capacity",
            metavar="V",
            help='In place of --size: "26.2 L", with --diameter and --tare.',
        ),
        Input(
            name="diameter",
            of="cylinder_diameter",
            metavar="D",
            help='Outer diameter of a cylinder of your own: "310 mm".',
        ),
        Input(name="tare", metavar="M", help='Empty mass of a cylinder of your own: "8 kg".'),
    ),
    rules=_size_or_own,
)
"""A cylinder by its nominal size, or of one's own: ``Cylinder``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LeastInlet:
    """The least inlet pressure [Pa gauge] that ends a draw, where it is from, and the ends its kind's table names."""

    pressure_Pa: float
    source: str
    ends_Pa: tuple[float, ...] = ()
    note: str = ""  # what the table says of them


def _typical(text: str, key: str) -> Typical:
    from burnerlab.supply.regulator import typical

    return typical(text, key=key)


def _least(kind: Typical) -> LeastInlet:
    figure = kind.minimum_inlet_Pa
    source = f"{kind.name}: {figure.place} ({figure.provenance})"
    ends = (figure.low, figure.value, figure.high) if figure.low < figure.high else ()
    return LeastInlet(pressure_Pa=figure.value, source=source, ends_Pa=ends, note=figure.note)


def _named_least(regulator: Typical | None, minimum_pressure: float | None) -> LeastInlet | None:
    if minimum_pressure is not None:
        return LeastInlet(pressure_Pa=minimum_pressure, source="as entered")
    return None if regulator is None else _least(regulator)


LEAST_INLET = Group(
    make=_named_least,
    inputs=(
        Input(
            name="regulator",
            reader=_typical,
            metavar="KIND",
            help="Typical regulator whose least inlet pressure ends the draw; without it that of gas and region.",
        ),
        Input(
            name="minimum_pressure",
            of="minimum_inlet",
            metavar="P",
            help='Least inlet pressure, gauge, in place of --regulator: "8 psi".',
        ),
    ),
    not_both=(("regulator", "minimum_pressure"),),
)
"""What ends a draw: ``LeastInlet``; None where it follows from the gas and its region."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fill:
    """How far a cylinder is filled: a share of its water capacity, or a mass."""

    share: float | None = None
    mass_kg: float | None = None


def _fill(text: str, key: str) -> Fill:

    try:
        return Fill(share=read(text, Kind.FRACTION, key=key))
    except UserError as error:
        try:
            return Fill(mass_kg=read(text, Kind.MASS, key=key))
        except UserError:
            raise error from None


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """A draw, what ends it, and the market of a file whose gas it is."""

    draw: Draw
    least: LeastInlet
    market: MarketTarget | None = None
    target: ConversionTarget | None = None


def _demands(
    file: Appliance | None,
    market: str | None,
    gas: Gas | DeclaredGas | None,
    rate: Rate | None,
    cylinder: Cylinder,
    ambient: float,
    least: LeastInlet | None,
    **at: Any,
) -> tuple[Demand, ...]:
    """One for each gas: of a market, else of the file, else the one named."""
    from burnerlab.supply.regulator import cylinder_regulator

    sold = markets_of(file, [market])[0] if file is not None and market is not None else None
    appliance = file if sold is None else sold.appliance
    heat = _rate_of(appliance) if rate is None and appliance is not None else rate
    assert heat is not None  # by the rules of the group
    region, made = "" if appliance is None else appliance.region, []
    for target in (None,) if sold is None else sold.targets:
        named = gas if target is None else target.gas
        burnt = named if named is not None or appliance is None else appliance.supply.gas
        assert burnt is not None  # by the rules of the group
        liquid = _liquid(burnt) if gas is not None else _liquid_of_file(burnt)
        ends = least or (_of_train(file) if file is not None and liquid is file.supply.gas else None)
        ends = ends or _least(cylinder_regulator(liquid, region, size=cylinder.name))
        draw = _draw(liquid, cylinder, ambient, ends, heat, **at)
        made.append(Demand(draw=draw, least=ends, market=sold, target=target))
    return tuple(made)


LEAST_OF_CYLINDERS_Pa = 20e3  # regulators of an appliance need less, those of a cylinder more


def _of_train(file: Appliance) -> LeastInlet | None:
    """What the regulator of a file needs, where it is one of a cylinder."""
    regulator = None if file.supply.train is None else file.supply.train.regulator
    if regulator is None or (regulator.minimum_inlet_Pa or 0.0) < LEAST_OF_CYLINDERS_Pa:
        return None
    assert regulator.minimum_inlet_Pa is not None
    source = regulator.minimum_inlet_source or "as entered in FILE"
    return LeastInlet(pressure_Pa=regulator.minimum_inlet_Pa, source=source)


def _liquid_of_file(gas: Gas | DeclaredGas) -> Gas:
    try:
        return _liquid(gas)
    except UserError as error:
        fix = "name the gas of the cylinder: --gas propane, or a market of FILE by --market"
        raise UserError([replace(each, key="FILE", fix=fix) for each in error.problems]) from None


def _rate_of(appliance: Appliance) -> Rate:
    """All burners of a file at their ratings."""
    from burnerlab.quantity import Rate

    total_W = sum(one.rate_W * one.count for one in appliance.burners)
    return Rate(power_W=total_W, basis=appliance.rating)


def _demand_rules(written: Mapping[str, Any]) -> Iterator[Problem]:
    has_gas = any(one.name in written for one in OTHER_GAS.all_inputs())
    if "market" in written:
        if "file" not in written:
            yield Problem("has a meaning with FILE only", value=written["market"], key="--market")
        if has_gas:
            yield Problem("stands alone: the gas is that of the market", key="--market")
    if "file" in written:
        return
    if not has_gas:
        fix = "e.g. --gas propane, or name an appliance file"
        yield Problem("the gas is missing", key="--gas", fix=fix)
    if "rate" not in written:
        fix = 'e.g. --rate "60 kBtu/h gross", or name an appliance file'
        yield Problem("the heat input is missing", key="--rate", fix=fix)


def _draw(gas: Gas, cylinder: Cylinder, ambient: float, least: LeastInlet, rate: Rate, **at: Any) -> Draw:
    from burnerlab.supply.cylinder import Draw, fill_of_mass, usual_fill

    air_K, start_K, fill = at["air_temperature"], at["liquid_temperature"], at["fill"]
    liquid_K = air_K if start_K is None else start_K
    if fill is None:
        share = usual_fill(gas, cylinder, liquid_K)
    elif fill.share is not None:
        share = fill.share
    else:
        assert fill.mass_kg is not None
        share = fill_of_mass(gas, cylinder, fill.mass_kg, liquid_K)
    return Draw(
        gas=gas,
        cylinder=cylinder,
        fill=share,
        air_temperature_K=air_K,
        heat_input_W=rate.power_W,
        basis=require_basis(rate.basis, "--rate"),
        minimum_inlet_Pa=least.pressure_Pa,
        ambient_pressure_Pa=ambient,
        start_temperature_K=start_K,
        horizon_s=at["time"],
    )


DEMAND = Group(
    make=_demands,
    parts={
        "gas": OTHER_GAS,
        "cylinder": CYLINDER,
        "least": LEAST_INLET,
        "ambient": SURROUNDINGS,
    },
    inputs=(
        replace(APPLIANCE, is_needed=False),
        Input(
            name="market",
            reader=as_written,
            metavar="NAME",
            help="The gases of a market of FILE, by name or letter, each for itself.",
            proposals=market_names,
        ),
        Input(
            name="fill",
            reader=_fill,
            metavar="F",
            help='Liquid at the start, of the water capacity: "80 %"; or its mass: "10 lb". Default: the mass of a '
            "--size in kg, else 80 %.",
        ),
        Input(
            name="air_temperature",
            of="cylinder_air_temperature",
            metavar="T",
            is_needed=True,
            help='Of the air around: "0 C".',
        ),
        Input(
            name="liquid_temperature",
            metavar="T",
            help='Of the liquid at the start: "5 C"; that of the air if none.',
        ),
        replace(
            RATE,
            is_needed=False,
            help='Heat input with its basis: "60 kBtu/h gross"; of FILE all burners without it.',
        ),
        Input(
            name="time", of="draw_time", metavar="T", default="48 h", help='Longest time calculated: "8 h".'
        ),
    ),
    rules=_demand_rules,
)
"""Steady draws from a cylinder, and the inlet pressure that ends each: ``Demand``."""


@click.command(short_help="How long an LP cylinder holds a heat input as it cools.")
@takes(demands=DEMAND, own=own_table("heat_table", "cylinder_heat"))
@json_option
def cylinder_command(demands: tuple[Demand, ...], own: Path | None, as_json: bool) -> None:
    """How long an LP cylinder holds a steady heat input, as evaporation cools it and the air warms it.

    The draw ends when the pressure falls to what the regulator needs, or the liquid is used up. The heat from the air
    is known within a factor of two: the result is an estimate, and its band is shown. Beside it the times for every
    inlet pressure that the table of its kind of regulator names, and in still air, frost and wind.
    FILE gives the gas, the region and the heat input of all its burners; a --market of it gives the gas.

    \b
    Examples:
      burnerlab cylinder cart.toml --market A --size "20 lb" \\
          --air-temperature "20 F"
      burnerlab cylinder --gas propane --size "20 lb" --air-temperature "0 C" \\
          --rate "60 kBtu/h gross"
      burnerlab cylinder --gas butane-commercial --size "13 kg" \\
          --air-temperature "10 C" \\
          --rate "4 kW net" --regulator "butane 30 mbar"
      burnerlab cylinder --gas propane-hd5 --size "100 lb" --fill "40 lb" \\
          --air-temperature "20 F" \\
          --rate "90 kBtu/h gross" --json
    """
    answers = [_hold(one, own, as_json=as_json) for one in demands]
    if as_json:
        made = [one.as_json() for one in answers]
        print_json({"markets": made} if demands[0].market else made[0])
        return
    for place, one in enumerate(answers):
        if one.demand.market and one.demand.target:
            click.echo(("\n" if place else "") + market_head(one.demand.market, one.demand.target))
        click.echo(_cylinder_text(one.found, one.demand.least.source, one.at_inlets[-1:]))
        click.echo(_times_text(one.at_inlets, one.in_air))
        print_notes("Notes", one.notes)
    occasions = ("frost",) if any(one.found.below_freezing for one in answers) else ()
    print_cautions(*(one.draw.gas for one in demands), occasions=occasions)


@dataclass(frozen=True, slots=True, kw_only=True)
class CylinderAnswer:
    """How long a draw holds, at each inlet pressure and in each air beside it."""

    demand: Demand
    found: HoldTime
    at_inlets: Sequence[HoldAtInlet]
    in_air: Sequence[HoldInAir]
    notes: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        market, target = self.demand.market, self.demand.target
        keys = market_keys(market, target) if market and target else {}
        return (
            keys
            | row(self.found)
            | {
                "minimum_pressure_from": self.demand.least.source,
                "at_inlets": [row(one) for one in self.at_inlets],
                "in_air": [row(one) for one in self.in_air],
                "notes": self.notes,
            }
        )


def _hold(demand: Demand, own: Path | None, *, as_json: bool) -> CylinderAnswer:
    from burnerlab.supply.cylinder import hold, hold_at_inlets, hold_in_air

    draw, least = demand.draw, demand.least
    found = hold(draw, own)
    name = draw.cylinder.name if as_json else _size_name(draw.cylinder)
    return CylinderAnswer(
        demand=demand,
        found=found,
        at_inlets=hold_at_inlets(draw, least.ends_Pa, own),
        in_air=hold_in_air(draw, own),
        notes=(*found.notes, *([f"minimum inlet: {least.note}"] if least.note else []), *_notes(draw, name)),
    )


def _heavier_gas(draw: Draw, name: str) -> list[str]:
    """What a size in kilogrammes holds, where the gas is lighter than the liquid that its name is the mass of."""
    from burnerlab.supply.cylinder import mass_of_fill_kg, usual_fill

    cylinder, gas = draw.cylinder, draw.gas
    if cylinder.nominal_kg is None:
        return []
    most_kg = mass_of_fill_kg(gas, cylinder, usual_fill(gas, cylinder, draw.start_K), draw.start_K)
    if most_kg > cylinder.nominal_kg * (1.0 - LEAST_SHORT):
        return []
    return [
        f"{name} is what this size holds of a heavier gas, such as butane: of {gas.name} it takes "
        f"{most_kg:.3g} kg. A cylinder marked for butane is filled with no other gas"
    ]


LEAST_SHORT = 0.03  # of the mass in the name of a size: butanes of trade differ by less
FILLED_BY_MASS = (
    "without --fill a size in kg holds that mass of liquid, or what takes 85 % of the water capacity at 15 °C where"
    " that is less"
)


def _notes(draw: Draw, name: str) -> list[str]:
    """On the size, the filling and the method; name : of the size, as it is printed."""
    cylinder = draw.cylinder
    size = quantity_text(
        "{}: {}, {} wide, {} empty ({})",
        name,
        quoted(cylinder.water_capacity_m3, Kind.VOLUME, "L", ".3g"),
        millimetre(cylinder.diameter_m, ".0f"),
        quoted(cylinder.tare_kg, Kind.MASS, "kg", ".3g"),
        cylinder.provenance,
    )
    return [
        *_heavier_gas(draw, name),
        size,
        "the data stamped on the collar take precedence",
        *([FILLED_BY_MASS] if cylinder.nominal_kg is not None else ()),
        "upright, one temperature for liquid and wetted steel, vapour in the head space not counted",
        "pressures are gauge",
    ]


def _cylinder_text(withdrawal: HoldTime, regulator: str, highest: Sequence[HoldAtInlet]) -> str:
    r = row(withdrawal)
    low, high = r["hold_time_low_min"], r["hold_time_high_min"]
    head = facts(
        [
            ("gas", f"{r['gas']['title']} ({r['gas']['name']})"),
            ("cylinder", quantity_text("{}, filled to {} %: {} of liquid", *_filled(withdrawal.draw))),
            ("air", quoted(withdrawal.draw.air_temperature_K, Kind.TEMPERATURE, "C", ".0f")),
            ("heat input", quantity(1e3 * r["heat_input_kW"], Kind.POWER, "kW") + f" {r['basis']}"),
            ("regulator needs", _needs(1e3 * r["minimum_inlet_kPa"]) + f" gauge; {regulator}"),
            (
                "holds",
                f"{duration_text(60 * r['hold_time_min'])} (estimate: {_times(60 * low, 60 * high)})",
            ),
            *(
                (
                    "near rated flow",
                    f"{duration_text(at.hold_time_s)} ({_times(at.hold_time_low_s, at.hold_time_high_s)}) where the"
                    " regulator needs " + _needs(at.minimum_inlet_Pa),
                )
                for at in highest
                if at.minimum_inlet_Pa > withdrawal.draw.minimum_inlet_Pa
            ),
            ("then", r["ending_words"]),
        ]
    )
    course = r["series"]
    last = len(course["time_min"]) - 1
    picks = sorted({round(i * last / (ROWS_SHOWN - 1)) for i in range(ROWS_SHOWN)})
    rows = [
        (
            f"{course['time_min'][i]:.0f}",
            quoted(1e3 * course["gauge_pressure_kPa"][i], Kind.GAUGE_PRESSURE, "kPa", ".0f", has_unit=False),
            f"{course['temperature_C'][i]:.1f}",
            f"{course['liquid_mass_kg'][i]:.2f}",
            f"{course['liquid_level_percent'][i]:.0f}",
        )
        for i in picks
    ]
    return f"{head}\n\n{table(('min', 'kPa gauge', '°C', 'kg liquid', '% full'), rows, left_columns=0)}"


def _filled(draw: Draw) -> tuple[str, str, str]:
    """The size of a cylinder, how far it is filled, and with how much."""
    liquid = quantity(draw.liquid_kg, Kind.MASS, "kg", 3)
    return _size_name(draw.cylinder), f"{100.0 * draw.fill:.0f}", liquid


def _size_name(cylinder: Cylinder) -> str:
    """A size as its maker calls it, in any system of units; of one in kilogrammes its pounds beside it.

    The blank in it does not break, so that it is read as a name and not as a quantity to be converted.
    """
    name = cylinder.name.replace(" ", NO_BREAK)
    if reader_system() == "metric" or cylinder.nominal_kg is None:
        return name
    return f"{name} ({quantity(cylinder.nominal_kg, Kind.MASS, 'kg', 3)})"


def _needs(pressure_Pa: float) -> str:
    return quantity(pressure_Pa, Kind.GAUGE_PRESSURE, "kPa", 3)


def _times_text(at_inlets: Sequence[HoldAtInlet], in_air: Sequence[HoldInAir]) -> str:
    inlets = [
        (
            quantity(at.minimum_inlet_Pa, Kind.GAUGE_PRESSURE, "kPa", 3, has_unit=False),
            duration_text(at.hold_time_s),
            _times(at.hold_time_low_s, at.hold_time_high_s),
        )
        for at in at_inlets
    ]
    unit, per = _heat_transfer_unit()
    airs = [
        (
            at.air,
            number(per * at.heat_transfer_W_per_m2_K, 3),
            f"{number(per * at.heat_transfer_low_W_per_m2_K, 3)} to "
            f"{number(per * at.heat_transfer_high_W_per_m2_K, 3)}",
            duration_text(at.hold_time_s),
            _times(at.hold_time_low_s, at.hold_time_high_s),
        )
        for at in in_air
    ]
    heads = ("air", unit, "low to high", "holds", "low to high")
    parts = [table(heads, airs)]
    if inlets:
        parts.insert(0, table(("regulator needs kPa gauge", "holds", "low to high"), inlets, left_columns=0))
    return "\n" + "\n\n".join(parts)


def _heat_transfer_unit() -> tuple[str, float]:
    """Of the reader, and how many of it are one W/(m2 K)."""
    if reader_system() == "metric":
        return "W/(m2 K)", 1.0
    area, degree = in_unit(1.0, Kind.AREA, "ft2"), in_unit(1.0, Kind.TEMPERATURE_DIFFERENCE, "°F")
    return "Btu/(h ft2 °F)", in_unit(1.0, Kind.POWER, "Btu/h") / (area * degree)


def _times(low_s: float, high_s: float) -> str:
    return f"{duration_text(low_s)} to {duration_text(high_s)}"
