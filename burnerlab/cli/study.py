"""``injectors``, ``tolerance`` and ``sweep``: many cases of one appliance."""

from __future__ import annotations

import re
import sys
from collections.abc import Sequence
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass, replace
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.common_inputs import (
    ALTITUDE,
    APPLIANCE,
    CHANGED_FOR,
    STOCK,
    Destination,
    destination,
    language_of,
    market_head,
    market_keys,
    markets_of,
    read_drill_names,
    read_policy,
    with_stock,
    write_files,
)
from burnerlab.cli.conversion import TARGET
from burnerlab.cli.gas_inputs import read_gas_at
from burnerlab.cli.options import json_option, takes
from burnerlab.cli.output import (
    facts,
    for_reader,
    gas_fact,
    kW,
    percent,
    print_cautions,
    print_json,
    print_notes,
    quantity,
    reader_system,
    table,
    wrapped,
)
from burnerlab.cli.proposals import categories, country_codes, drill_lists, market_names, policies
from burnerlab.cli.verbosity import is_quiet, print_hint
from burnerlab.quantity import Kind
from burnerlab.quantity.inputs import Group, Input, as_written
from burnerlab.quantity.outputs import row, texts
from burnerlab.quantity.quantity_text import quantity_text
from burnerlab.tables.phrase import Phrase
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from burnerlab.appliance import Appliance, ConversionTarget
    from burnerlab.appliance.conversion.markets import MarketTarget
    from burnerlab.appliance.project.basis import RatedBasis
    from burnerlab.appliance.study.injector_table import InjectorRow, InjectorTable, Supplied
    from burnerlab.appliance.study.monte_carlo import Stage, ToleranceResult
    from burnerlab.gas import DeclaredGas, Gas

# ``burnerlab injectors``: the injector table of a manual.

DEFAULT_CATEGORY, DEFAULT_COUNTRY = (
    "II2H3+",
    "GB",
)  # the commonest pair of families at its commonest pressures
SENTENCE = re.compile(r"(?<!w\.c)\. ")  # its end, not that of a unit
OF_REGION = {"us": ("", "US"), "eu": (DEFAULT_CATEGORY, "IT")}  # category and country of a file's region


def _supply(text: Any, key: str) -> Supplied:
    """One gas at its pressure."""
    from burnerlab.appliance.study.injector_table import supplied

    at = read_gas_at(text, key)
    return supplied(at.gas, at.gauge_pressure_Pa)


@dataclass(frozen=True, slots=True)
class Supplies:
    """Gases at their pressures, and markets of the file by name or letter."""

    cases: tuple[Supplied, ...] = ()
    markets: tuple[str, ...] = ()
    not_known: tuple[str, ...] = ()


def _supplies(
    supply: tuple[Supplied, ...], category: Sequence[str], country: Sequence[str], market: tuple[str, ...]
) -> Supplies:
    from burnerlab.appliance.operation.supply_pressures import not_known

    lines = (
        (line for each in category or ("",) for line in not_known(each, country))
        if category or country
        else ()
    )
    missing = tuple(dict.fromkeys(lines))
    return Supplies(_cases(supply, category, country), market, missing)


def _cases(
    supply: tuple[Supplied, ...], category: Sequence[str], country: Sequence[str]
) -> tuple[Supplied, ...]:
    from burnerlab.appliance.study.injector_table import category_supplies, country_supplies

    found = list(supply)
    for each in category:
        found += category_supplies(each, country)
    if country and not category:
        found += country_supplies(*country)
    if category and not found:
        fix = "leave out --country, or name another category"
        what = "no gas of this category is supplied there, as far as the table knows"
        raise UserError(Problem(what, value=", ".join(category), key="--category", fix=fix))
    return tuple(found)


SUPPLIES = Group(
    make=_supplies,
    inputs=(
        Input(
            name="supply", reader=_supply, metavar="GAS@P", is_many=True, help='"G31@37 mbar". Repeatable.'
        ),
        Input(
            name="category",
            reader=as_written,
            proposals=categories,
            metavar="NAME",
            is_many=True,
            help='Of the appliance: "II2H3B/P". Repeatable.',
        ),
        Input(
            name="country",
            reader=as_written,
            proposals=country_codes,
            metavar="CODE",
            is_many=True,
            help="Two-letter code or name. Repeatable.",
        ),
        Input(
            name="market",
            reader=as_written,
            proposals=market_names,
            metavar="NAME",
            is_many=True,
            help="Of FILE, by name or letter, at its own altitude. Repeatable.",
        ),
    ),
)
"""Gases at their pressures, by name, by category and country, or by market of the file: ``Supplies``."""


@dataclass(frozen=True, slots=True)
class Offered:
    """What orifices are taken from, in place of that of the file."""

    drills: tuple[str, ...] | None = None
    stock: Path | None = None


OFFERED = Group(
    make=Offered,
    inputs=(
        Input(
            name="drills",
            reader=read_drill_names,
            proposals=drill_lists,
            metavar="LISTS",
            help="Orifices to take from, in place of those of FILE.",
        ),
        STOCK,
    ),
    not_both=(("stock", "drills"),),
)
"""Drill lists or a stock: ``Offered``."""


@click.command(short_help="Injector table of an appliance.")
@takes(
    file=APPLIANCE,
    supplies=SUPPLIES,
    altitudes=replace(ALTITUDE, is_many=True, help='"1500 m". Repeatable. That of FILE if none.'),
    policy=Input(
        name="policy",
        reader=read_policy,
        metavar="NAME",
        help="Altitude policy for the rating.",
        proposals=policies,
    ),
    offered=OFFERED,
    to=destination("the table as page, PDF, workbook and CSV"),
)
@json_option
def injectors_command(
    file: Appliance,
    supplies: Supplies,
    altitudes: tuple[float, ...],
    policy: str | None,
    offered: Offered,
    to: Destination,
    as_json: bool,
) -> None:
    """Injector of every burner of FILE for each gas, pressure and altitude, with its heat input and consumption.

    The orifice is the one that convert, plate and kit take, and heat inputs are those of its bore; in Europe its mark,
    in hundredths of a millimetre, is printed too. Without --supply, --category, --country or --market: the present
    gas of FILE and its markets; of a file without markets category II2H3+ as in GB (region eu: as in IT; region us:
    natural gas and LP as in US). Both gases of a pressure couple get one orifice. --out writes the table of a manual,
    with its cautions.

    \b
    Examples:
      burnerlab injectors range.toml
      burnerlab injectors range.toml --country DE --country IT
      burnerlab injectors range.toml --country DE --out manual
      burnerlab injectors range.toml --market A --market B --out manual
      burnerlab injectors range.toml --category II2H3B/P --altitude "0 m" \\
          --altitude "1500 m"
      burnerlab injectors range.toml --stock orifices.csv
      burnerlab injectors range.toml --supply "propane@11 inH2O" \\
          --supply "butane-n@11 inH2O" --json
    """
    from burnerlab.appliance.study.injector_table import injectors
    from burnerlab.report.injector_paper import injector_paper

    file = with_stock(file, offered.stock)
    markets = markets_of(file, supplies.markets)
    cases = supplies.cases or (() if markets else _usual(file))
    found = injectors(
        file,
        cases,
        altitudes,
        drills=offered.drills,
        altitude_policy=policy,
        markets=markets,
        not_known=supplies.not_known,
    )
    files = write_files(
        to,
        lambda units: injector_paper(found, file.file_sha256, units),
        regions={one.region for one in found.rows},
        language=language_of(file, supplies.markets or None),
    )
    if as_json:
        print_json(found, files=files)
    else:
        click.echo(_text(found))
        print_notes("Sources of the pressures", found.sources)
        print_notes("Discharge coefficients", found.coefficient_sources)
        print_notes("Written", files)
        of_markets = [target.gas for market in markets for target in market.targets]
        print_cautions(file.supply.gas, *(case.gas for case in cases), *of_markets)


def _usual(appliance: Appliance) -> tuple[Supplied, ...]:
    """What the file is built for and its markets; of a file without markets the usual supplies of its region."""
    from burnerlab.appliance.study.injector_table import (
        category_supplies,
        country_supplies,
        market_supplies,
        supplied,
    )

    present = supplied(appliance.supply.gas, appliance.supply.gauge_pressure_Pa)
    others = market_supplies(appliance)
    if not others:
        category, country = OF_REGION.get(appliance.region, (DEFAULT_CATEGORY, DEFAULT_COUNTRY))
        others = category_supplies(category, [country]) if category else country_supplies(country)
    return others if any(_is_same(present, case) for case in others) else (present, *others)


def _is_same(present: Supplied, case: Supplied) -> bool:
    """Whether a row of the category has the gas of the file, at its pressure and sized on it: it stands there once."""
    from burnerlab.appliance.operation.supply_pressures import couple_of, same_pressure
    from burnerlab.gas import Gas

    same_gas = present.gas.name == case.gas.name or (
        isinstance(present.gas, Gas)
        and isinstance(case.gas, Gas)
        and present.gas.composition == case.gas.composition
    )
    couple = couple_of(case.supply)
    sized_on_it = couple is None or couple.reference == case.supply
    return same_gas and sized_on_it and same_pressure(present.gauge_pressure_Pa, case.gauge_pressure_Pa)


def _text(injectors: InjectorTable) -> str:
    head = facts(
        [
            ("appliance", f"{injectors.appliance}, rated {injectors.rating_basis}"),
            ("volumes at", injectors.reference),
            (
                "altitude policy",
                "each market its own, above its table"
                if injectors.has_own_altitude_rules
                else injectors.altitude_policy or "not chosen",
            ),
        ]
    )
    outside = [wrapped(f"OUTSIDE: {for_reader(words)}", subsequent="  ") for words in injectors.outside]
    missing = ["\n".join(wrapped(for_reader(words)) for words in injectors.not_known)]
    warned = [
        wrapped(for_reader(words)) for words in (*injectors.altitude_warnings, *injectors.altitude_only)
    ]
    tables = [
        f"{wrapped(for_reader(_place(place[:3])) + place[3])}\n{_supply_table(injectors, list(each))}"
        for place, each in groupby(
            injectors.rows,
            key=lambda row: (row.supply, row.altitude_words, row.country, _rule_beside(row, injectors)),
        )
    ]
    own = SENTENCE.sub(".\n", for_reader(injectors.own_pressure_note))
    legend = (
        "The orifice is the one that card, plate and kit name, on the present supply that of FILE; figures are for one"
        " burner of the kind."
        if injectors.is_of_file
        else "Drills, altitude or its rule are not those of FILE: card, plate and kit may name other orifices."
        " Figures are for one burner of the kind."
    )
    legend = "\n".join(map(wrapped, filter(None, (legend, injectors.aim_note, *own.splitlines()))))
    return "\n\n".join(
        [
            *outside,
            *filter(None, missing),
            head,
            *warned,
            *tables,
            legend,
            *_couples(injectors),
            *_altitudes(injectors),
        ]
    )


def _place(place: tuple[str, str, str]) -> str:
    """Supply, altitude and country above a table."""
    supply, altitude, country = place
    place_words = Phrase("{supply}, altitude {altitude}", supply=supply, altitude=altitude)
    return (
        Phrase("{place}, country {country}", place=place_words, country=country) if country else place_words
    )


def _rule_beside(row: InjectorRow, injectors: InjectorTable) -> str:
    """The altitude policy of a row, where the rows have not all the same."""
    return f", altitude policy {row.altitude_rule}" if injectors.has_own_altitude_rules else ""


def _supply_table(injectors: InjectorTable, rows: Sequence[InjectorRow]) -> str:
    """A line for each burner on one gas, below them what is outside."""
    heads = (
        "burner",
        "orifice",
        "exact, mm",
        f"kW {injectors.rating_basis}",
        injectors.deviation_head[0].lower() + injectors.deviation_head[1:],
        "consumption",
    )
    lines = [
        (
            row.burner + (f" ({row.count} burners)" if row.count > 1 else ""),
            row.fitted,
            row.exact_bore,
            # of the nearest, which is not to be fitted, no figures
            *(
                (
                    row.heat_input_column(injectors.rating_basis),
                    percent(row.deviation),
                    row.consumption,
                )
                if row.has_figures
                else ("", "", "")
            ),
        )
        for row in rows
    ]
    checks = [
        wrapped(for_reader(f"OUTSIDE: {row.burner}: {row.checks_outside}. {row.decision}"), subsequent="  ")
        for row in rows
        if row.checks_outside
    ]
    return "\n".join((table(heads, lines, left_columns=2), *checks))


def _couples(table: InjectorTable) -> list[str]:
    """Which rows share an injector, and that none is enlarged."""
    named = dict.fromkeys((row.pressure_couple, row.sized_on) for row in table.rows if row.pressure_couple)
    if not named:
        return []
    listed = "; ".join(f"{couple} mbar sized on {for_reader(gas)}" for couple, gas in named)
    text = f"Pressure couples: one orifice for both gases, {listed} (reference gas recalled)."
    rule = "The heat input of the other gas is what it then gives. No orifice is enlarged for it."
    return [f"{wrapped(text)}\n{wrapped(rule)}"]


def _altitudes(injectors: InjectorTable) -> list[str]:
    """What altitude does to the marks: enlarged by the policy chosen, or a line for each policy to choose from."""
    from burnerlab.appliance.study.injector_table import NO_COUNTRY, height
    from burnerlab.report.sheet.alternatives import CHOOSE, policy_label

    if not injectors.altitude_policies:
        return []
    heads = ("policy", "of the rating", "orifices, burners in the order of the file")
    chosen = {
        (row.supply, row.altitude_words, row.country or NO_COUNTRY): row.altitude_policy
        for row in injectors.rows
    }
    tables, places = [], []
    for place, each in groupby(
        injectors.altitude_policies,
        key=lambda row: (row.supply, height(row.altitude_m), row.country or NO_COUNTRY),
    ):
        rows = [
            (
                policy_label(row.policy),
                "-" if row.rating_factor is None else f"{100 * row.rating_factor:.1f} %",
                "; ".join(row.orifices) or row.why_none,
            )
            for row in each
        ]
        places.append(place)
        rule = f"\n{wrapped(_bores_by(chosen[place]))}" if injectors.has_own_altitude_rules else ""
        tables.append(f"{wrapped(for_reader(_place(place)))}{rule}\n{table(heads, rows, left_columns=3)}")
    head = "Altitude: each market by its own policy. The tables below compare its bores with those for sea level."
    if not injectors.has_own_altitude_rules:
        head = _bores_by(injectors.altitude_policy or "")
    return [wrapped(head), *tables, *(() if all(chosen[place] for place in places) else (wrapped(CHOOSE),))]


def _bores_by(policy: str) -> str:
    """Which bores stand in a table of this altitude policy, "" for none chosen."""
    if policy:
        return f"Altitude, policy {policy}: orifices above are those of the policy, here with those for sea level."
    return "Altitude: no policy is chosen. No bore above is enlarged: each is the one for sea level."


# ``burnerlab tolerance``: how the heat input spreads as made and in use, and why.


@click.command(short_help="Spread of the heat input at the end of the line and in the field.")
@takes(
    file=APPLIANCE,
    target=replace(TARGET, is_optional=True),
    market=CHANGED_FOR,
    draws=Input(name="draws", metavar="INTEGER", default="200000", help="Simulated appliances."),
    seed=Input(name="seed", metavar="INTEGER", default="1", help="Of the random numbers."),
)
@json_option
def tolerance_command(
    file: Appliance,
    target: ConversionTarget | None,
    market: Sequence[str],
    draws: int,
    seed: int,
    as_json: bool,
) -> None:
    """Distribution of every burner's heat input, at the end of the line and in the field.

    At the end of the line stand drill, coefficient and the setting of the pressure; in the field pressure, gas and
    temperature of the place add to them.

    Without --to the appliance stays on its present gas and orifices; with --to and --pressure, or for each gas of a
    --market, it is converted first.
    The spreads are those of FILE where it gives them, else common ones, each named with its source.

    \b
    Examples:
      burnerlab tolerance range.toml
      burnerlab tolerance range.toml --to propane --pressure "11 inH2O" \\
          --tolerance "5 %"
      burnerlab tolerance range.toml --market A
    """
    from burnerlab.appliance import tolerance

    if market:
        if target is not None:
            what = "give the gas or the market, not both"
            raise UserError(Problem(what, key="--to and --market"))
        _tolerance_of_markets(markets_of(file, market), draws, seed, as_json)
        return
    result = tolerance(file, target, draws=draws, seed=seed)
    if as_json:
        print_json(result)
    else:
        gas = file.supply.gas if target is None else target.gas
        _print_tolerance(result, file, gas)
        print_cautions(gas)


def _tolerance_of_markets(markets: Sequence[MarketTarget], draws: int, seed: int, as_json: bool) -> None:
    """The spread of the appliance changed for each gas of each market, the cautions once."""
    from burnerlab.appliance import tolerance

    made = [
        (market, target, tolerance(market.appliance, target, draws=draws, seed=seed))
        for market in markets
        for target in market.targets
    ]
    if as_json:
        entries = [market_keys(market, target) | row(result) for market, target, result in made]
        print_json({"markets": entries})
        return
    for market, target, result in made:
        click.echo(market_head(market, target))
        _print_tolerance(result, market.appliance, target.gas)
        click.echo()
    print_cautions(*(target.gas for _, target, _ in made), is_apart=True)


def _print_tolerance(result: ToleranceResult, file: Appliance, gas: Gas | DeclaredGas) -> None:
    click.echo(_tolerance_text(result, file, gas))
    print_notes("Notes", result.notes)
    spreads = dict.fromkeys(f"{c.cause}: {c.source}" for c in result.total.causes)
    print_notes("Sources of the spreads", list(spreads))


def _tolerance_text(result: ToleranceResult, file: Appliance, gas: Gas | DeclaredGas) -> str:
    from burnerlab.appliance.project.basis import rated_basis

    rated = rated_basis(file, gas)
    band = f"{percent(result.tolerance_low)} to {percent(result.tolerance_high)}, {result.tolerance_source}"
    head = facts(
        [
            ("appliance", result.appliance),
            (
                "gas",
                quantity_text(
                    "{}, {} gauge",
                    gas_fact(gas),
                    quantity(result.gauge_pressure_Pa, Kind.GAUGE_PRESSURE, "mbar"),
                ),
            ),
            ("band", band),
            ("simulated", f"{result.draws} appliances, seed {result.seed}"),
        ]
    )
    parts = [head, *(_block(stage, rated) for stage in (result.end_of_line, result.in_the_field))]
    causes = [
        (
            c.cause,
            c.words,
            percent(c.relative_standard_deviation, 2).lstrip("+"),
            *(_share(s, c.cause) for s in (result.end_of_line, result.in_the_field)),
        )
        for c in result.total.causes
    ]
    heads = ("cause, whole appliance", "spread", "std. dev.", "line", "field")
    return "\n\n".join(
        [
            *parts,
            table(heads, causes, left_columns=2),
            wrapped(NEITHER),
            wrapped(f"Heat inputs {rated.word}."),
        ]
    )


NEITHER = (
    "Both follow from the spreads above, many of them estimates. A unit inside the band at the end of the line may be"
    " outside it in the field, with other gas and at another pressure, and the other way round."
)


def _share(stage: Stage, cause: str) -> str:
    """Of the variance of the whole appliance at a stage."""
    found = next((one.variance_fraction for one in stage.total.causes if one.cause == cause), None)
    return "-" if found is None else percent(found, 0).lstrip("+")


def _block(stage: Stage, rated: RatedBasis) -> str:
    """The burners at one stage, and how many appliances have one outside the band."""
    rows = []
    for spread in (*stage.burners, stage.total):
        aim, low, high = (
            kW(gross_W * rated.of_gross, 3)
            for gross_W in (spread.aim_gross_W, spread.low_gross_W, spread.high_gross_W)
        )
        span = quantity_text("{} to {}", low, high)
        sd, outside = (
            percent(spread.standard_deviation_W / spread.mean_gross_W).lstrip("+"),
            percent(spread.outside_fraction).lstrip("+"),
        )
        rows.append((spread.name, aim, span, sd, outside, spread.dominant_cause))
    heads = ("burner", "aim kW", "95 % between, kW", "std. dev.", "outside band", "main cause")
    any_outside = percent(stage.any_outside_fraction).lstrip("+")
    error = percent(stage.standard_error, 2).lstrip("+")
    title = f"{stage.name[:1].upper()}{stage.name[1:]} ({', '.join(stage.causes)})"
    share = f"At least one burner outside the band, {stage.name}: {any_outside} of appliances (±{error} by the draw)."
    return f"{wrapped(title)}\n\n{table(heads, rows)}\n\n{wrapped(share)}"


# ``burnerlab sweep``: one appliance, many cases.


@click.command(short_help="Vary any parameter of an appliance over a grid, a list or at random.")
@takes(
    file=Input(name="file", reader=as_written, metavar="FILE", is_argument=True, is_needed=True),
    out=Input(
        name="out",
        reader=as_written,
        metavar="FILE",
        help="Results, .parquet or .csv; in the folder of the study without it.",
    ),
    workers=Input(name="workers", metavar="N", help="Local processes; all cores without it."),
    cluster=Input(
        name="cluster",
        reader=as_written,
        metavar="ADDRESS",
        help="Scheduler of a running dask cluster: tcp://host:port.",
    ),
    chunk=Input(name="chunk", metavar="N", help="Cases of one unit of work."),
)
@json_option
def sweep_command(
    file: str, out: str | None, workers: int | None, cluster: str | None, chunk: int | None, as_json: bool
) -> None:
    """Run the study FILE: an appliance converted once for every case, one row of results each.

    A study names the appliance and what varies: a key of the project file, the rate of a burner, or the gas, pressure,
    altitude, gas temperature or coefficient of the target. An interrupted sweep goes on where it stopped.
    Heat inputs and deviations of a sweep are those at the nominal pressure: it solves no supply.
    Each case is a conversion of its own: target.pressure sizes the orifice anew. What one fixed orifice does from 8 to
    13 in w.c. answers burnerlab regulator FILE --market A --setting "8 inH2O" --setting "13 inH2O".
    The heads of the results carry their units, metric or those of --units us; --json gives the rows, in metric units.

    \b
    Examples:
      burnerlab sweep study.toml
      burnerlab sweep study.toml --out results.csv --units us
      burnerlab sweep study.toml --out results.csv --workers 2

    \b
    A study:
      [study]
      appliance = "market-cart-range.toml"
      to        = "propane"
      design    = "grid"                       # or list, random
      outputs   = ["burner.*.deviation", "total_predicted_gross_W"]
      [[vary]]
      parameter = "target.pressure"
      from = "8 in w.c."
      to   = "13 in w.c."
      steps = 11
      [[vary]]
      parameter = "burner.stock-pot ring.orifice.shape"
      values = ["tapered", "sharp"]
    """
    from burnerlab.appliance.study.design import read_study
    from burnerlab.appliance.study.sweep import MOST_ROWS, metric_rows, output_columns, sweep
    from burnerlab.appliance.study.workers import cluster_executor

    study = replace(read_study(file), system=reader_system())
    target = Path(out) if out else Path(file).with_suffix(".parquet")
    workers_of = cluster_executor(cluster) if cluster else nullcontext()
    with workers_of as executor, _bar(study.count, quiet=as_json or is_quiet()) as progress:
        found = sweep(
            study,
            target,
            executor=executor,
            workers=workers,
            progress=progress,
            chunk=chunk,
            notice=lambda words: click.echo(f"note: {words}", err=True),
        )
    heads = output_columns(study)
    if as_json:
        print_json(
            found, file_columns=heads, file_units=study.system.lower(), rows=metric_rows(study, target)
        )
        return
    click.echo(facts([*texts(found), ("columns", f"{len(heads)}, in {study.system} units")]))
    print_hint("\n" + wrapped(_how_to_read(target, MOST_ROWS)))
    print_cautions()


def _how_to_read(target: Path, most_rows: int) -> str:
    reader = "read_parquet" if target.suffix == ".parquet" else "read_csv"
    return f'To read it in Python: pandas.{reader}("{target}"). --json gives the rows of up to {most_rows} cases.'


@contextmanager
def _bar(total: int, quiet: bool) -> Iterator[Callable[[int, int], None] | None]:
    if quiet or not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True)) as bar:
        task = bar.add_task("cases", total=total)
        yield lambda done, _: bar.update(task, completed=done)
