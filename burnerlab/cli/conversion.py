"""``convert`` and ``demo``: what an appliance is changed to, and its sheet."""

from __future__ import annotations

import datetime
import re
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from itertools import count, groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import click

from burnerlab.cli.common_inputs import (
    ALTITUDE,
    APPLIANCE_FILES,
    BAROMETER,
    COEFFICIENT,
    GAS_TEMPERATURE,
    MARKETS,
    ONE_PLACE,
    OVERWRITE,
    PRESSURE,
    REFERENCE,
    SHAPE,
    STOCK,
    ApplianceFiles,
    FileRefusal,
    above_outlet,
    coefficient_or_shape,
    markets_of,
    only_with_out,
    read_band,
    read_drill_names,
    read_policy,
    shape_name_of,
    with_stock,
)
from burnerlab.cli.errors import OK, USER_ERROR, refusal_lines, refusal_report
from burnerlab.cli.gas_inputs import gas_group
from burnerlab.cli.options import in_words_of_options, json_option, named_by_options, takes
from burnerlab.cli.output import paper_units, print_cautions, print_json, prints_json, reader_system, wrapped
from burnerlab.cli.proposals import categories, drill_lists, papers, policies
from burnerlab.cli.user_settings import read_paper, remembered_paper
from burnerlab.cli.verbosity import is_quiet
from burnerlab.quantity import Kind, ReferenceState, System, check_low_pressure, read
from burnerlab.quantity.inputs import Group, Input, as_written, read_input
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance, Conversion, ConversionTarget
    from burnerlab.appliance.conversion.markets import MarketTarget
    from burnerlab.appliance.conversion.target import TrainChoice
    from burnerlab.bench.reading_plan import CarbonMonoxideLimit
    from burnerlab.gas import DeclaredGas, Gas
    from burnerlab.report import SheetFiles
    from burnerlab.report.paper_units import PaperUnits

# What an appliance is changed to, as the options of ``convert`` and ``tolerance`` say it.

POLICY_HELP = "Altitude policy for the rating: none, or a rule of the region of FILE."
TRAIN_HELP = (
    "Supply of the new gas: new ([new_supply] of FILE), reset (that of FILE with its regulator reset), none. "
    "Left out: new where FILE has one for this gas and pressure, else reset."
)
TRAIN = Input(name="train", choices=("new", "reset", "none"), help=TRAIN_HELP)
"""Which supply serves the new gas; None leaves it to the file."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplyPressureRange:
    """Lowest and highest supply pressure, gauge [Pa]."""

    low_Pa: float
    high_Pa: float


BETWEEN = re.compile(
    r"\s*(?P<low>.+?)\s*(?:\.\.+|…|–|\bto\b|(?<=[0-9A-Za-z.]) ?- ?(?=[0-9.]))\s*(?P<high>.+?)\s*"
)


def read_pressure_range(text: str, key: str) -> SupplyPressureRange:
    """A range such as "25 mbar..35 mbar" or "25 to 35 mbar"; a unit said once counts for both ends.

    >>> read_pressure_range("25..35 mbar", "--pressure-range")
    SupplyPressureRange(low_Pa=2500.0, high_Pa=3500.0)
    """

    found = BETWEEN.fullmatch(text)
    if found is None:
        raise UserError(Problem("not a range", value=text, key=key, accepted='such as "25 mbar..35 mbar"'))
    low, high = found["low"], found["high"]
    if re.fullmatch(r"[0-9.]+", low, re.ASCII):
        low = f"{low} {high.lstrip('0123456789. ')}"
    low_Pa, high_Pa = (read(end, Kind.GAUGE_PRESSURE, key=key) for end in (low, high))
    if not low_Pa < high_Pa:
        raise UserError(Problem("the lower end comes first", value=text, key=key))
    return SupplyPressureRange(low_Pa=low_Pa, high_Pa=high_Pa)


def constant_coefficient(coefficient: float | None, shape: str | None) -> float | None:
    """A discharge coefficient for every new orifice, as given or that of a shape; None leaves each burner's own."""
    from burnerlab.orifice.discharge_coefficient import shape_named

    if coefficient is not None or shape is None:
        return coefficient
    row = shape_named(shape_name_of(shape))
    if row.correlation:
        fix = "write shape and length of each orifice into the appliance's file"
        raise UserError(
            Problem("the coefficient of this shape depends on the hole", value=shape, key="--shape", fix=fix)
        )
    return row.coefficient


def _rules(written: Mapping[str, Any]) -> Iterator[Problem]:
    """A pressure that no low-pressure appliance has, and a coefficient beside a shape."""

    yield from coefficient_or_shape(written)
    if "pressure" not in written or "allow_high_pressure" in written:
        return
    try:
        pressure_Pa = above_outlet(written["pressure"], "")
    except UserError:
        return  # said where it is read
    try:
        check_low_pressure(pressure_Pa, written["pressure"], key="--pressure")
    except UserError as error:
        yield from in_words_of_options(error).problems


def _target(
    gas: Gas | DeclaredGas,
    reference: ReferenceState,
    pressure: float,
    coefficient: float | None,
    shape: str | None,
    **rest: Any,
) -> ConversionTarget:
    from burnerlab.appliance import ConversionTarget

    span: SupplyPressureRange | None = rest["pressure_range"]
    return ConversionTarget(
        gas=gas,
        gauge_pressure_Pa=pressure,
        low_gauge_pressure_Pa=span.low_Pa if span else None,
        high_gauge_pressure_Pa=span.high_Pa if span else None,
        altitude_m=rest["altitude"],
        ambient_pressure_Pa=rest["barometer"],
        gas_temperature_K=rest["gas_temperature"],
        category=rest["category"],
        altitude_policy=rest["policy"],
        drills=rest["drills"],
        tolerance=rest["tolerance"],
        coefficient=constant_coefficient(coefficient, shape),
        reference=reference,
        allow_high_pressure=rest["allow_high_pressure"],
    )


DRILLS = Input(
    name="drills",
    reader=read_drill_names,
    proposals=drill_lists,
    metavar="LISTS",
    help="number,letter,fraction,metric,hundredth, drills of your own, or a CSV; in place of those of FILE or region.",
)
TARGET = Group(
    make=_target,
    parts={"gas": gas_group("--to"), "reference": REFERENCE},
    inputs=(
        replace(
            PRESSURE,
            help='Nominal, gauge, at the manifold: "11 inH2O", "37 mbar".',
            missing="the pressure of the new gas is missing: gauge, at the manifold",
        ),
        Input(
            name="pressure_range",
            reader=read_pressure_range,
            metavar="RANGE",
            help='Of the new supply: "25 mbar..35 mbar".',
        ),
        Input(
            name="category",
            reader=as_written,
            proposals=categories,
            metavar="NAME",
            default="",
            help="Gas group or appliance category, to choose that range.",
        ),
        replace(ALTITUDE, help='Of the place: "1500 m", "5000 ft".'),
        replace(BAROMETER, help="Station pressure, absolute, in place of the altitude."),
        replace(GAS_TEMPERATURE, default=None),
        Input(name="policy", reader=read_policy, metavar="NAME", help=POLICY_HELP, proposals=policies),
        DRILLS,
        Input(
            name="tolerance",
            reader=read_band,
            metavar="PERCENT",
            help='Band of the heat input: "5 %", or the name of a tolerance.',
        ),
        replace(COEFFICIENT, help="Discharge coefficient of every new orifice."),
        replace(SHAPE, help="Shape of every new orifice, in place of the coefficient."),
        Input(name="allow_high_pressure", is_flag=True, help="Confirm a pressure outside 5 to 150 mbar."),
    ),
    not_both=ONE_PLACE,
    rules=_rules,
)
"""Gas, pressure, place, band and drills of the changed appliance: ``ConversionTarget``; what is None the file says."""


# Showing a conversion: the summary, the JSON object, and the files of the sheet.


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetRequest:
    """Which files of the sheet, where, and in which units."""

    out: str | None
    formats: tuple[str, ...]
    overwrite: bool
    system: System  # of the terminal
    date: str
    paper: str  # "" without one that was chosen
    units: PaperUnits
    dial_m3: float | None = None  # one turn of the dial of the meter that the job card times [m3]
    carbon_monoxide: CarbonMonoxideLimit | None = None  # of the test plan
    beside: Mapping[str, bytes] = field(default_factory=dict)  # files that go with them, by name
    market: str = ""  # letter and name of the market they are made for


def _formats(text: str, key: str) -> tuple[str, ...]:
    from burnerlab.report import FORMATS

    formats = tuple(text.lower().replace(" ", "").split(","))
    problems = [
        Problem("not a format of the sheet", value=text, key=key, accepted=", ".join(FORMATS))
        for text in formats
        if text not in FORMATS
    ]
    if problems:
        raise UserError(problems)
    return formats


def sheet(
    out: str | None,
    formats: tuple[str, ...] | None = None,
    overwrite: bool = False,
    date: str | None = None,
    paper: str | None = None,
    dial: float | None = None,
    **limit: Any,
) -> SheetRequest:
    """The files of a sheet: all formats and today's date where nothing else is wanted, paper as remembered.

    limit : ``co_limit`` and ``co_scope`` of the test plan
    """
    from burnerlab.report import FORMATS

    today = datetime.date.today().isoformat()
    return SheetRequest(
        out=out,
        formats=formats or tuple(FORMATS),
        overwrite=overwrite,
        system=reader_system(),
        date=today if date is None else date,
        paper=paper or remembered_paper(),
        units=paper_units(),
        dial_m3=dial,
        carbon_monoxide=_carbon_monoxide(**limit),
    )


def _carbon_monoxide(
    co_limit: float | None = None, co_scope: str | None = None
) -> CarbonMonoxideLimit | None:
    """The limit of carbon monoxide that the user names; what it holds for is never left open."""
    from burnerlab.bench.reading_plan import CarbonMonoxideLimit

    if (co_limit is None) != (not (co_scope or "").strip()):
        fix = 'name both, such as --co-limit "400 ppm" --co-scope "this appliance type, by report 12"'
        raise UserError(
            Problem("a limit of carbon monoxide and its scope go together", key="--co-limit", fix=fix)
        )
    return (
        None
        if co_limit is None
        else CarbonMonoxideLimit(limit=float(f"{co_limit:.6g}"), scope=" ".join((co_scope or "").split()))
    )


SHEET = Group(
    make=sheet,
    inputs=(
        Input(name="out", reader=as_written, metavar="DIR", help="Write the sheet into this folder."),
        Input(
            name="formats", reader=_formats, metavar="LIST", help="html,pdf,xlsx,csv,json,card,plan (all)."
        ),
        OVERWRITE,
        Input(name="date", reader=as_written, metavar="TEXT", help="Printed in the header (today)."),
        Input(
            name="paper",
            reader=read_paper,
            proposals=papers,
            metavar="[a4|letter]",
            help="Of the sheet; without it that of burnerlab settings, else A4, in US units Letter.",
        ),
        Input(name="dial", metavar="V", help='Of the meter, one turn, for card and plan: "2 ft3", "10 L".'),
        Input(
            name="co_limit",
            of="carbon_monoxide",
            metavar="V",
            help="Most carbon monoxide free of air, for job card and test plan; nothing predicts it.",
        ),
        Input(
            name="co_scope", reader=as_written, metavar="TEXT", help="What that limit holds for, and by whom."
        ),
    ),
    rules=only_with_out("formats", "overwrite", "date", "paper", "dial", "co_limit", "co_scope"),
)
"""Where and how the sheet is written: ``SheetRequest``."""


def write(conversion: Conversion, request: SheetRequest) -> SheetFiles | None:
    """The files of the sheet, when a folder was named; what could not be made is said on the error stream."""
    from burnerlab.report import SheetOptions, write_sheet

    if request.out is None:
        return None
    options = SheetOptions(
        overwrite=request.overwrite,
        date=request.date,
        system=request.units.of(conversion.region),
        paper=request.paper,
        dial_m3=request.dial_m3,
        beside=request.beside,
        market=request.market,
        carbon_monoxide=request.carbon_monoxide,
    )
    try:
        written = write_sheet(conversion, request.out, request.formats, options)
    except UserError as error:
        raise in_words_of_options(error) from None
    for sentence in written.missing:
        click.echo(sentence, err=True)
    return written


def _written(conversion: Conversion, request: SheetRequest) -> list[str]:
    """Names of the files written, each in the folder that the user named."""
    written = write(conversion, request)
    return [str(Path(request.out or "") / path.name) for path in written.files] if written else []


def _print_summary(conversion: Conversion, system: System, files: Sequence[str]) -> None:
    from burnerlab.report.terminal import summary, summary_text

    has_sheet, quiet = bool(files), is_quiet()
    if sys.stdout.isatty():
        summary(conversion, system=system, has_sheet=has_sheet, is_quiet=quiet)
    else:
        text = summary_text(conversion, system=system, has_sheet=has_sheet, is_quiet=quiet)
        click.echo(text.strip("\n"))
        click.echo()
    for line in _written_lines(files):
        click.echo(line)
    if files:
        click.echo()


def _written_lines(files: Sequence[str]) -> Iterator[str]:
    """A line for the files of one name, with each ending: what was written takes no screen from the answer.

    >>> list(_written_lines(["a/cart.html", "a/cart.pdf", "a/cart-card.pdf"]))
    ['written: a/cart.html, .pdf', 'written: a/cart-card.pdf']
    """
    for _, several in groupby(map(Path, files), key=lambda path: path.with_suffix("")):
        first, *others = several
        yield "written: " + ", ".join((str(first), *(path.suffix for path in others)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Sized:
    """Conversions of a file with their orifices, not yet evaluated: to one target, or for each gas of a market."""

    conversions: tuple[Conversion, ...]
    market: MarketTarget | None = None


def _entries(sized: Sequence[Sized], request: SheetRequest, as_json: bool, met: dict[str, None]) -> list[Any]:
    """Evaluate them, write the sheets of each market into a folder of its own, print or return them as JSON has them.

    met : occasions for cautions, which are added
    """
    from burnerlab.appliance.conversion.evaluation import evaluate_conversion
    from burnerlab.report import to_json

    found: list[Any] = []
    for one in sized:
        own = request
        if one.market is not None:
            folder = None if request.out is None else str(Path(request.out) / _folder_name(one.market))
            own = replace(request, out=folder, market=f"{one.market.letter} ({one.market.name})")
        evaluated = [evaluate_conversion(conversion) for conversion in one.conversions]
        files = [_written(conversion, own) for conversion in evaluated]
        met |= dict.fromkeys(each for conversion in evaluated for each in conversion.occasions)
        if as_json:
            entries = [
                to_json(conversion) | {"files": its} for conversion, its in zip(evaluated, files, strict=True)
            ]
            of_market = one.market and {"letter": one.market.letter, "market": one.market.name}
            found += [of_market | {"conversions": entries}] if of_market else entries
            continue
        if one.market is not None:
            click.echo(f"Market {one.market.letter}: {one.market.name}\n")
        for conversion, its in zip(evaluated, files, strict=True):
            _print_summary(conversion, request.system, its)
    return found


def _folder_name(market: MarketTarget) -> str:
    """A folder for the sheets of a market, of letters, figures and hyphens."""
    from burnerlab.report.write import hyphenated

    return "-".join(filter(None, (market.letter, hyphenated(market.name))))[:60]


# ``burnerlab convert``: an appliance file changed to another gas.


@dataclass(frozen=True, slots=True, kw_only=True)
class New:
    """What a file is changed to: one target, or markets of the file."""

    file: Appliance
    target: ConversionTarget | None = None
    markets: tuple[MarketTarget, ...] = ()

    def sized(self, train: TrainChoice | Literal[""]) -> list[Sized]:
        """Its conversions with their orifices: what cannot be used raises UserError before anything is printed."""
        from burnerlab.appliance import convert_to
        from burnerlab.appliance.conversion.markets import convert_market

        if self.target is not None:
            return [Sized(conversions=(convert_to(self.file, replace(self.target, train=train)),))]
        markets = [
            replace(one, targets=tuple(replace(target, train=train) for target in one.targets))
            for one in self.markets
        ]
        return [Sized(conversions=tuple(convert_market(one)), market=one) for one in markets]


@dataclass(frozen=True, slots=True, kw_only=True)
class FilesToConvert:
    """What each file of a line is changed to, and the files refused; one by itself is answered without its name."""

    changes: tuple[New, ...]
    refusals: tuple[FileRefusal, ...]
    is_single: bool


def _files(
    files: ApplianceFiles,
    target: ConversionTarget | tuple[str, ...] | None,
    market: tuple[str, ...],
    stock: Path | None,
) -> FilesToConvert:
    """target : gas and pressure, or drills alone, from which the orifices of markets are taken"""
    if files.is_single:
        changes = tuple(_new(one, target, market, stock) for one in files.appliances)
        return FilesToConvert(changes=changes, refusals=(), is_single=True)
    made, refusals = [], list(files.refusals)
    for file in files.appliances:
        try:
            made.append(_new(file, target, market, stock))
        except UserError as error:
            refusals.append(FileRefusal(file.file, error))
    return FilesToConvert(changes=tuple(made), refusals=tuple(refusals), is_single=False)


def _new(
    file: Appliance,
    target: ConversionTarget | tuple[str, ...] | None,
    market: tuple[str, ...],
    stock: Path | None,
) -> New:
    from burnerlab.appliance import ConversionTarget
    from burnerlab.appliance.conversion.markets import targets_of

    file = with_stock(file, stock)
    if isinstance(target, ConversionTarget):
        return New(file=file, target=target)
    if not market and not file.markets:
        TARGET.read({}, lambda missing: f"--{missing.name.replace('_', '-')}")  # says what is missing
    markets = markets_of(file, market) if market else targets_of(file)
    return New(file=file, markets=tuple(with_drills(one, target) for one in markets))


def with_drills(market: MarketTarget, drills: tuple[str, ...] | None) -> MarketTarget:
    """A market whose orifices are taken from these lists, in place of those of the file; None for those."""
    if drills is None:
        return market
    return replace(market, targets=tuple(replace(one, drills=drills) for one in market.targets))


def _new_rules(written: Mapping[str, Any]) -> Iterator[Problem]:
    others = [one for one in TARGET.all_inputs() if one.name in written and one.name != DRILLS.name]
    if "market" in written and others:
        beside = ", ".join(one.option for one in others)
        what = "stands alone: gas, pressure, place and rules are those of the file"
        yield Problem(what, key="--market", fix=f"write it into the [[market]] and leave out {beside}")
    if "stock" in written and "drills" in written:
        yield Problem("give the stock or the drills, not both", key="--stock and --drills")


class _WithoutMarket(Group):
    """A target that is not read beside a market, whose rule says that both do not go together, but for its drills."""

    def read(self, written: Mapping[str, Any], key_of: Callable[[Input], str]) -> Any:
        """The drills alone where nothing else of a target is written, None where they are not; else the target."""
        entries = {one.name for one in self.all_inputs() if one.name in written}
        if "market" not in written and entries - {DRILLS.name}:
            return super().read(written, key_of)
        return read_input(DRILLS, written, key_of(DRILLS))


TARGET_OR_MARKET = _WithoutMarket(
    make=TARGET.make,
    inputs=TARGET.inputs,
    parts=TARGET.parts,
    not_both=TARGET.not_both,
    rules=TARGET.rules,
    is_optional=True,
)
MARKET = replace(
    MARKETS,
    help="A market of FILE, by name or letter; repeatable. All of them without it and without --to.",
)
NEW = Group(
    make=_files,
    inputs=(MARKET, STOCK),
    parts={"files": APPLIANCE_FILES, "target": TARGET_OR_MARKET},
    rules=_new_rules,
)
"""Appliance files, and what each is changed to: ``FilesToConvert``."""


@click.command(short_help="Change appliance files to another gas.")
@takes(new=NEW, train=TRAIN, sheet=SHEET)
@json_option
def convert_command(
    new: FilesToConvert,
    train: TrainChoice | None,
    sheet: SheetRequest,
    as_json: bool,
) -> int:
    """New orifices for every burner of FILE, what each will give, and what must be looked at.

    FILE describes the appliance (TOML; burnerlab demo writes one to start from; - reads the standard input). What is
    not written here is that of FILE. --train chooses the supply of the new gas. With --out the sheet is written as
    well: HTML, PDF, workbook, CSV and JSON, its job card of one page, and the test plan of
    its units, as JSON for the bench and on paper. An orifice counts by its nominal bore; in line both ends
    of the tolerance of its hole count. Without --to the appliance is changed for each [[market]] of FILE, or
    for those of --market.

    Several files, or a folder of them, are changed one after the other, each with a folder of its own in --out. One
    that is refused stops no other: it is named, and the exit status is 2.

    \b
    Examples:
      burnerlab convert range.toml --to propane --pressure "11 inH2O"
      burnerlab convert range.toml --to G31 --pressure "37 mbar" \\
          --pressure-range "25..45 mbar"
      burnerlab convert range.toml --to propane --pressure "11 inH2O" \\
          --altitude "5000 ft" --out sheet
      burnerlab convert range.toml --to propane --pressure "11 inH2O" \\
          --out sheet --formats card --dial "1 ft3"
      burnerlab convert range.toml --to "mix:methane=0.9,ethane=0.1" \\
          --pressure "20 mbar" --json
      burnerlab convert range.toml --market "continental, third family" \\
          --stock orifices.csv
      burnerlab convert range.toml fryer.toml --out papers
    """
    if new.is_single:
        (change,) = new.changes
        _show_single(change, change.sized(train or ""), sheet, as_json)
        return OK
    return _show_several(new, train or "", sheet, as_json)


def _show_single(change: New, sized: Sequence[Sized], request: SheetRequest, as_json: bool) -> None:
    met: dict[str, None] = {}
    found = _entries(sized, request, as_json, met)
    if as_json:
        print_json(found[0] if change.target is not None else {"markets": found})
        return
    print_cautions(occasions=tuple(met), is_apart=True)


def _show_several(
    new: FilesToConvert, train: TrainChoice | Literal[""], request: SheetRequest, as_json: bool
) -> int:
    """Each file under its name; one that is refused is named, and stops no other.

    Raises UserError where every file is refused.
    """
    refusals, ready = list(new.refusals), []
    for change in new.changes:
        with _refused_into(refusals, change.file.file):
            ready.append((change, change.sized(train)))
    if not ready:
        raise UserError([problem for refusal in refusals for problem in refusal.error.problems])
    met: dict[str, None] = {}
    found = [_refusal(one) for one in refusals]
    folders = _folders([change.file.file for change, _ in ready])
    for (change, sized), folder in zip(ready, folders, strict=True):
        if not as_json:
            click.echo(f"{change.file.file}: {change.file.name}\n")
        own = replace(request, out=None if request.out is None else str(Path(request.out) / folder))
        late: list[FileRefusal] = []
        with _refused_into(late, change.file.file):
            key = "markets" if change.target is None else "conversions"
            found.append({"file": change.file.file, key: _entries(sized, own, as_json, met)})
        found += [_refusal(one) for one in late]
        refusals += late
    if refusals and not prints_json():
        names = ", ".join(one.file for one in refusals)
        click.echo(wrapped(f"REFUSED: {len(refusals)} of {len(found)} files: {names}") + "\n")
    if as_json:
        print_json({"files": found})
    else:
        print_cautions(occasions=tuple(met), is_apart=True)
    return USER_ERROR if refusals else OK


@contextmanager
def _refused_into(refusals: list[FileRefusal], file: str) -> Iterator[None]:
    """What a file is refused for, in the words of the command line, into a list."""
    try:
        with named_by_options(()):
            yield
    except UserError as error:
        refusals.append(FileRefusal(file, error))


def _refusal(refusal: FileRefusal) -> dict[str, Any]:
    """Print why a file is refused on the error stream, and that it is on the output; return what JSON holds of it."""
    if not prints_json():
        for line in refusal_lines(refusal.error):
            click.echo(line, err=True)
        click.echo(wrapped(f"REFUSED, not converted: {refusal.file}") + "\n")
    return {"file": refusal.file, "error": refusal_report(refusal.error)}


def _folders(files: Sequence[str]) -> list[str]:
    """A folder for the papers of each file, after its name; a number behind one that is there already.

    >>> _folders(["a/range.toml", "b/Range.toml", "fryer.toml"])
    ['range', 'range-2', 'fryer']
    """
    from burnerlab.report.write import stem

    made: list[str] = []
    for name in (stem(Path(file).stem) for file in files):
        numbered = (name if number == 1 else f"{name}-{number}" for number in count(1))
        made.append(next(one for one in numbered if one not in made))
    return made


# ``burnerlab demo``: the whole job on an invented appliance.

TO_GAS, TO_PRESSURE = "propane", "11 in w.c."
FILE_NAME = "market-cart-range.toml"


@click.command(short_help="Convert a demonstration appliance and write its sheet.")
@takes(
    folder=Input(
        name="folder", reader=as_written, metavar="[DIR]", is_argument=True, default="burnerlab-demo"
    ),
    overwrite=OVERWRITE,
)
@json_option
def demo_command(folder: str, overwrite: bool, as_json: bool) -> None:
    """Write a demonstration appliance, change it from natural gas to propane, and write the sheet.

    The appliance is an invented cooking cart with six burners. Into DIR (burnerlab-demo) go its file, a start for one
    of your own, burnerlab.schema.json, with which an editor of TOML completes and checks it, and the sheet as HTML,
    PDF, workbook, CSV and JSON, with its job card and test plan. Files that are there already stay, and nothing is
    written, unless --overwrite is given.

    \b
    Examples:
      burnerlab demo
      burnerlab demo my-folder --units us
    """
    from burnerlab.appliance import convert, demonstration_path, read_appliance
    from burnerlab.appliance.conversion.evaluation import evaluate_conversion
    from burnerlab.appliance.project.json_schema import SCHEMA_FILE, schema_text
    from burnerlab.report import to_json

    request = sheet(out=folder, overwrite=overwrite)
    beside = {FILE_NAME: demonstration_path().read_bytes(), SCHEMA_FILE: schema_text().encode("utf-8")}
    request = replace(request, beside=beside)
    file = Path(folder) / FILE_NAME
    appliance = replace(read_appliance(demonstration_path()), file=str(file))
    conversion = convert(appliance, TO_GAS, TO_PRESSURE)
    conversion = evaluate_conversion(conversion)
    files = _written(conversion, request)
    if as_json:
        print_json(to_json(conversion) | {"files": files})
        return
    _print_demonstration(conversion, request, file)
    print_cautions(occasions=conversion.occasions)


def _print_demonstration(conversion: Conversion, request: SheetRequest, file: Path) -> None:
    """The answer, where its papers are, and the line that gives all of it: less than a screen."""
    from burnerlab.report.terminal import brief, brief_text

    if sys.stdout.isatty():
        brief(conversion, system=request.system)
    else:
        click.echo(brief_text(conversion, system=request.system).strip("\n"))
    click.echo()
    click.echo(f"written to {file.parent}: job card (open it first), sheet, test plan, file")
    if not is_quiet():
        click.echo(f'all of it: burnerlab convert {file} --to {TO_GAS} --pressure "{TO_PRESSURE}"')
