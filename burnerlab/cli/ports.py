"""``burnerlab ports``: ports, throat and air inlet with which every limit holds on every gas."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.common_inputs import APPLIANCE, RATE, Destination, destination, read_drills
from burnerlab.cli.gas_inputs import GasAt, read_gas_at
from burnerlab.cli.options import in_words_of_options, json_option, takes
from burnerlab.cli.output import (
    facts,
    for_reader,
    number,
    percent,
    print_cautions,
    print_json,
    print_notes,
    quantity,
    table,
    wrapped,
)
from burnerlab.cli.proposals import burner_names
from burnerlab.cli.record_output import text_input
from burnerlab.quantity import Kind, Rate
from burnerlab.quantity.inputs import Group, Input, as_written
from burnerlab.quantity.outputs import row
from burnerlab.quantity.quantity_text import QuantityText, millimetre, quantity_text, quoted
from burnerlab.tables.figure import Evidence
from burnerlab.tables.problem import Problem, UserError, did_you_mean

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance
    from burnerlab.appliance.project.basis import RatedBasis
    from burnerlab.appliance.study.port_study import PortCase
    from burnerlab.burner.port_region import LimitMiss, PortDesign, PortGas, PortRegion, PortTolerance

MOST_LIMITS = 12  # printed
OF_THE_FILE = ("rate", "turndown", "pressure_spread", "port_temperature")
"""Options that stand in for a file."""


def _file_or_options(written: Mapping[str, Any]) -> Iterator[Problem]:
    if "file" in written:
        for name in OF_THE_FILE:
            if name in written:
                key = "--" + name.replace("_", "-")
                yield Problem(
                    "stands in FILE", value=written[name], key=key, fix="leave it out, or leave FILE out"
                )
    else:
        if "rate" not in written:
            yield Problem("give FILE, or the rate", key="--rate", fix='e.g. --rate "12 kBtu/h gross"')
        if "gas" not in written:
            yield Problem("give FILE, or a gas", key="--gas", fix='e.g. --gas "propane@11 inH2O"')
        for name in ("burner", "market"):
            if name in written:
                yield Problem("has a meaning with FILE only", value=written[name], key=f"--{name}")


def _case(
    file: Appliance | None,
    burner: str | None,
    gas: tuple[GasAt, ...],
    market: tuple[str, ...],
    rate: Rate | None,
    **plain: float | None,
) -> PortCase:
    from burnerlab.appliance.conversion.markets import market_named
    from burnerlab.appliance.study.port_study import plain_port_case, port_case

    gases = [(one.gas, one.gauge_pressure_Pa) for one in gas]
    if file is not None:
        sold = [target for name in market for target in market_named(file, name, "--market").targets]
        return port_case(file, _name(file, burner), [*gases, *sold])
    assert rate is not None  # by the rules of the group
    assert rate.basis is not None
    return plain_port_case(
        rate.power_W,
        rate.basis,
        gases,
        turndown=plain["turndown"] or 1.0,
        pressure_spread=plain["pressure_spread"],
        port_temperature_K=plain["port_temperature"],
    )


def _name(appliance: Appliance, name: str | None) -> str:
    """The burner named, or the only one."""
    known = [burner.name for burner in appliance.burners]
    if name is None and len(known) == 1:
        return known[0]
    fitting = [each for each in known if name is not None and each.casefold() == name.strip().casefold()]
    if not fitting:
        what = "is not a burner of this appliance" if name else "name one burner of FILE"
        fix = did_you_mean(name, known) if name else f'e.g. --burner "{known[0]}"'
        raise UserError(Problem(what, value=name or "", key="--burner", accepted=", ".join(known), fix=fix))
    return fitting[0]


CASE = Group(
    make=_case,
    inputs=(
        replace(APPLIANCE, is_needed=False),
        Input(
            name="burner",
            reader=as_written,
            metavar="NAME",
            help="Burner of FILE.",
            proposals=burner_names,
        ),
        Input(
            name="gas",
            reader=read_gas_at,
            metavar="GAS@P",
            is_many=True,
            help='A gas it must burn, in addition to that of FILE: "propane@11 inH2O". Repeatable.',
        ),
        text_input(
            "market",
            "NAME",
            "Also the gases of a market of FILE, by name or letter. Repeatable.",
            is_many=True,
        ),
        replace(RATE, is_needed=False, help='Without FILE: heat input on every gas, "12 kBtu/h gross".'),
        Input(name="turndown", metavar="PERCENT", help='Without FILE: lowest over full rate: "33 %".'),
        Input(
            name="pressure_spread",
            of="half_width",
            metavar="PERCENT",
            help='Without FILE: how far the supply pressure moves either way: "10 %".',
        ),
        Input(
            name="port_temperature",
            metavar="T",
            help='Without FILE: temperature of the mixture that leaves hot ports ("100 C").',
        ),
    ),
    rules=_file_or_options,
)
"""A burner of a file, or one by its rate: ``PortCase``."""


SHOP = Group(
    make=dict,
    inputs=(
        Input(name="length", of="size", metavar="L", help='Of a row of ports: "400 mm"; from FILE without it.'),
        Input(name="rows", of="port_rows", metavar="INTEGER", help="Rows of ports; those of FILE, or two."),
        Input(name="port_depth", of="size", metavar="L", help='Wall that is drilled: "3 mm"; from FILE without it.'),
        Input(name="port_drills", reader=read_drills, metavar="LIST",
              help='Drills for ports: "metric", "1.5 mm,1.6 mm,#52".'),
        Input(name="least_throat", of="size", metavar="D", help='Smallest throat: "12 mm".'),
        Input(name="largest_throat", of="size", metavar="D", help='Largest throat: "20 mm".'),
    ),
)  # fmt: skip
"""What the maker can drill and bore: what ``in_shop`` takes beside the case."""


def _tolerance(**ends: float | None) -> PortTolerance:
    from burnerlab.appliance.study.port_study import port_tolerance

    return port_tolerance(**ends)


TOLERANCE = Group(
    make=_tolerance,
    inputs=(
        Input(name="orifice_spread", of="half_width", metavar="PERCENT", help="Of the orifice's area (2 %)."),
        Input(name="port_spread", of="drawing_spread", metavar="D", help="Of the port's diameter (0.03 mm)."),
        Input(
            name="throat_spread", of="drawing_spread", metavar="D", help="Of the throat's diameter (0.1 mm)."
        ),
    ),
)
"""How true it is made, either way: ``PortTolerance``."""


@click.command(short_help="Ports, throat and air inlet with which every limit holds on every gas.")
@takes(case=CASE, shop=SHOP, tolerance=TOLERANCE, to=destination("the pictures and the variants that hold"))
@json_option
def ports_command(
    case: PortCase, shop: dict[str, Any], tolerance: PortTolerance, to: Destination, as_json: bool
) -> None:
    """Region of port diameter, count, throat and open air inlet in which every limit holds on two or three gases.

    32 768 burners are tried. Each has on the gas of FILE its orifice, on each other the drill that a conversion fits
    for its rate; without FILE the exact bore. Each that holds is tried again at all eight corners of the tolerance of
    orifice, ports and throat. Slack is the distance from the nearest limit as a fraction of it. Limits are recalled or
    estimated: no design here is the answer, every one asks for a test of its flame.

    \b
    Examples:
      burnerlab ports range.toml --burner "griddle tube left" \\
          --gas "propane@11 inH2O" --out study
      burnerlab ports range.toml --burner "griddle tube left" --market A \\
          --market B
      burnerlab ports --rate "12.5 kBtu/h gross" \\
          --gas "natural-gas-typical@7 inH2O" --gas "propane@11 inH2O" \\
          --turndown "33 %" --length "400 mm" --rows 2 --port-depth "3 mm" \\
          --port-drills metric
    """
    from burnerlab.appliance.study.port_study import in_shop
    from burnerlab.burner.port_region import port_region

    case = in_shop(case, **shop)
    space, template = case.space, case.template
    words = case.burner or f"{number(space.heat_input_gross_W / 1e3, 3)} kW burner"
    targets = _targets(words, to)
    found = port_region(template, case.gases, space, tolerance)
    notes = (*NOTES, OF_PRESENT) if case.burner else NOTES
    files = _written(found, words, targets, to)
    if as_json:
        print_json(
            found, burner=case.burner, gases=[row(gas) for gas in found.gases], space=row(space),
            tolerance=row(tolerance), outside=case.outside, evidence=Evidence.ESTIMATE, notes=notes, files=files,
        )  # fmt: skip
        return
    for line in case.outside:
        click.echo(wrapped(for_reader(line)))
    click.echo(("\n" if case.outside else "") + _text(found, words, case.rated))
    print_notes("Not evaluated", found.not_evaluated)
    print_notes("Notes", notes)
    for path in files:
        click.echo(f"written: {path}")
    print_cautions(*(gas.fuel.gas for gas in found.gases))


NOTES = (
    "Every design needs a test of its flame on every gas, cold and hot, at full and low rate: the limits are"
    " recalled or estimated, and slack is distance from the limit of the rule, not from lift or light-back.",
    "The best of the shares is no goal: a design within a wide part of the region bears a shop's spread better than one"
    " at its edge. Take the open inlet as the shutter's setting to start from.",
)

OF_PRESENT = "The hot burner of FILE, with its metal and its place, stands for every variant."


def _targets(words: str, to: Destination) -> dict[str, Any]:
    from burnerlab.report.figures.port_region import port_region_targets

    if to.folder is None:
        return {}
    try:
        return dict(port_region_targets(words, to.folder, to.overwrite))
    except UserError as error:
        raise in_words_of_options(error) from None


def _written(region: PortRegion, words: str, targets: dict[str, Any], to: Destination) -> list[str]:
    from burnerlab.report.figures.port_region import write_port_region

    if not targets:
        return []
    gases = ", ".join(gas.title for gas in region.gases)
    made = write_port_region(region, f"{words}: {gases}", targets, to.overwrite)
    for sentence in made.missing:
        click.echo(sentence, err=True)
    return [str(path) for path in made.files]


# what is printed


def _text(region: PortRegion, words: str, rated: RatedBasis) -> str:
    space, spread = region.space, region.tolerance
    head = facts(
        [
            ("burner", words),
            ("heat input", quantity(space.heat_input_gross_W * rated.of_gross, Kind.POWER, "kW", 3)
             + f" {rated.word} on {region.gases[0].title}"),
            *((for_reader(gas.title), _orifice(gas)) for gas in region.gases),
            ("rows", _rows(region)),
            ("tolerance", f"orifice area ±{100 * spread.orifice_area:g} %, ports ±{1e3 * spread.port_m:g} mm,"
             f" throat ±{1e3 * spread.throat_m:g} mm"),
            ("holds", f"{_share(region.nominal_fraction)} of {region.count} variants at nominal sizes,"
             f" {_share(region.corners_fraction)} at all corners,"
             f" {_share(region.clear_fraction)} clear of near as well"),
            ("evidence", "estimate: recalled limits; test required"),
        ]
    )  # fmt: skip
    parts = [head, "", _designs(region), "", _limits(region.limits)]
    if region.present is not None:
        parts[1:1] = ["", _present(region.present)]
    if region.nearest_miss is not None:
        parts[2:2] = [_empty(region.nearest_miss), ""]
        if region.relaxations:
            eased = [
                (one.words, _share(one.nominal_fraction), _share(one.corners_fraction))
                for one in region.relaxations
            ]
            parts += ["", table(("eased, one at a time", "nominal", "all corners"), eased)]
            opens = [for_reader(one.words) for one in region.relaxations if one.corners_fraction > 0.0]
            parts += [wrapped(f"opens the region: {'; '.join(opens) or 'none of these'}")]
    return "\n".join(parts)


def _orifice(gas: PortGas) -> str:
    bore = quantity(gas.orifice_diameter_m, Kind.DIAMETER, "mm", 4)
    at = quantity(gas.gauge_pressure_Pa, Kind.GAUGE_PRESSURE, "mbar", 3)
    if gas.drill.endswith(" mm"):
        return quantity_text("drill {} at {}", gas.drill, at)
    if gas.drill:
        return quantity_text("drill {} ({}) at {}", gas.drill, bore, at)
    return quantity_text("orifice {} at {}", bore, at)


def _rows(region: PortRegion) -> str:
    space = region.space
    long = quantity_text("{} long", millimetre(space.row_length_m or 0.0, ".0f"))
    length = "length not given" if space.row_length_m is None else long
    if space.rows is None:
        return quantity_text("not given, {}", length)
    return quantity_text(
        "{}, {}, pitch at least {} diameters", str(space.rows), length, f"{space.least_pitch:g}"
    )


def _share(value: float) -> str:
    return "none" if value == 0.0 else f"{number(100 * value, 2)} %"


def _empty(miss: PortDesign) -> str:
    """What is missed least, and by how much."""
    least = miss.slack if miss.corner_slack is None else miss.corner_slack
    off = "" if least is None else f", {number(-100.0 * least, 2)} % beyond its limit"
    return wrapped(f"No variant holds at all corners. Nearest miss: {_binds(miss)} binds{off}.")


def _present(present: PortDesign) -> str:
    """Whether the burner as built holds, in a line."""
    if present.holds:
        return wrapped(f"The present burner holds at all corners; nearest to its edge: {_binds(present)}.")
    if present.slack is None:
        return wrapped(f"The present burner is not evaluated: {_binds(present)} is not known.")
    when = "nominal" if present.slack < 0.0 else "at all corners of its tolerance"
    return wrapped(f"The present burner does not hold {when}: {_binds(present)}.")


def _binds(design: PortDesign) -> str:
    gas = for_reader(design.binding_gas)
    return f"{design.binding_limit} on {gas}" if gas else design.binding_limit


def _designs(region: PortRegion) -> str:
    rows = []
    named: Sequence[tuple[str, PortDesign | None]] = [
        ("*", region.present),
        *zip("ABCDEFGH", region.designs, strict=False),
        ("x", region.nearest_miss),
    ]
    for letter, one in named:
        if one is None:
            continue
        held = (
            "-"
            if one.inlet_low_m2 is None or one.inlet_high_m2 is None
            else quantity_text("{} to {}", _opening(one.inlet_low_m2), _opening(one.inlet_high_m2))
        )
        rows.append(
            (
                f"{letter} {one.label}",
                millimetre(one.port_diameter_m, ".2f", has_unit=False),
                str(one.port_count),
                "-" if one.port_pitch_m is None else millimetre(one.port_pitch_m, ".2f", has_unit=False),
                millimetre(one.throat_diameter_m, ".1f", has_unit=False),
                _opening(one.inlet_area_m2),
                held,
                _slack(one.slack),
                _slack(one.corner_slack),
                _binds(one),
            )
        )
    heads = (
        "design",
        "port mm",
        "ports",
        "pitch mm",
        "throat mm",
        "inlet mm2",
        "holds at, mm2",
        "nominal",
        "corners",
        "binds",
    )
    foot = "inlet: open area; holds at: open areas that hold at all corners; nominal, corners: least slack"
    return f"{table(heads, rows)}\n\n{wrapped(foot)}"


def _opening(area_m2: float) -> QuantityText:
    return quoted(area_m2, Kind.AREA, "mm2", ".0f", has_unit=False)


def _slack(value: float | None) -> str:
    return "not known" if value is None else percent(value)


def _limits(limits: Sequence[LimitMiss]) -> str:
    rows = [
        (one.limit, one.gas or "all", _share(one.missed_fraction), _share(one.missed_alone_fraction))
        for one in limits[:MOST_LIMITS]
        if one.missed_fraction > 0.0
    ]
    foot = "missed by: of all variants, at nominal sizes; alone by: every other limit holds"
    return f"{table(('what ends the region', 'gas', 'missed by', 'alone by'), rows, left_columns=2)}\n\n{wrapped(foot)}"
