"""Inputs that several commands take: a gas, conditions before the orifice, a hole, a reference state.

Commands that give a group words of their own build it from the inputs here.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from burnerlab import quantity
from burnerlab.cli.options import written
from burnerlab.cli.output import (
    for_reader,
    note_library_table,
    note_region_of_file,
    note_system_of_file,
    paper_units,
    provenance_words,
)
from burnerlab.cli.proposals import drill_names, market_names, reference_states, shapes
from burnerlab.cli.user_settings import paper_for_units
from burnerlab.quantity import Bore, Kind, Rate, ReferenceState, read, read_bore
from burnerlab.quantity.inputs import Group, Input, Rules, as_written, read_input, together
from burnerlab.quantity.reference_state import STANDARD_PRESSURE_PA
from burnerlab.tables import OPTION_OF
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance, ConversionTarget, Tolerance
    from burnerlab.appliance.conversion.markets import MarketTarget
    from burnerlab.orifice import Conditions, Drill
    from burnerlab.orifice.discharge_coefficient import Coefficient
    from burnerlab.report.paper_units import PaperUnits
    from burnerlab.report.study_paper import StudyPaper
    from burnerlab.tables.languages import Language


PLAIN = re.compile(r"[0-9]+(\.[0-9]*)?|\.[0-9]+", re.ASCII)
SHAPES_HELP = (
    "Instead: tapered, sharp, rounded, tube, channel (with --length), thin plate, long-radius nozzle."
)


def above_outlet(text: Any, key: str) -> float:
    """A gauge pressure that something can flow at [Pa]."""

    pressure_Pa = read(text, Kind.GAUGE_PRESSURE, key=key)
    if not pressure_Pa > 0.0:
        what = "supply pressure must be above the outlet pressure"
        raise UserError(Problem(what, value=text, key=key, accepted="above 0, gauge", fix='e.g. "11 inH2O"'))
    return pressure_Pa


PRESSURE = Input(
    name="pressure",
    reader=above_outlet,
    metavar="P",
    help='Gauge: "11 inH2O", "28 mbar".',
    example="11 inH2O",
    is_needed=True,
)
ALTITUDE = Input(name="altitude", metavar="H", help='"1500 m", "5000 ft".')
BAROMETER = Input(name="barometer", metavar="P", help='Station pressure, absolute: "83.4 kPa".')
GAS_TEMPERATURE = Input(
    name="gas_temperature", metavar="T", help='Of the gas before the orifice: "15 C", "60 F".', default="15 C"
)
ONE_PLACE = (("altitude", "barometer"),)


def ambient_pressure_Pa(altitude: float | None, barometer: float | None) -> float:
    """Pressure of the surroundings [Pa] from an altitude [m] or a station barometer [Pa]; else that at sea level."""

    if barometer is not None:
        return barometer
    if altitude is None:
        return STANDARD_PRESSURE_PA
    from burnerlab.supply.atmosphere import pressure_at_altitude_Pa

    return float(pressure_at_altitude_Pa(altitude))


SURROUNDINGS = Group(
    make=ambient_pressure_Pa,
    inputs=(ALTITUDE, BAROMETER),
    not_both=ONE_PLACE,
)
"""Pressure of the surroundings [Pa], by altitude or barometer."""


def _conditions(
    pressure: float, altitude: float | None, barometer: float | None, gas_temperature: float
) -> Conditions:
    from burnerlab.orifice import Conditions

    return Conditions(
        gauge_pressure_Pa=pressure,
        ambient_pressure_Pa=ambient_pressure_Pa(altitude, barometer),
        gas_temperature_K=gas_temperature,
    )


CONDITIONS = Group(
    make=_conditions, inputs=(PRESSURE, ALTITUDE, BAROMETER, GAS_TEMPERATURE), not_both=ONE_PLACE
)
"""Pressure before the orifice and its surroundings: ``Conditions``."""


def _reference(at: str, reference_pressure: float | None, saturated: bool | None) -> ReferenceState:

    return ReferenceState.read(at, pressure=reference_pressure, saturated=saturated, key="--at")


def _absolute(text: Any, key: str) -> float:

    return read(text, Kind.ABSOLUTE_PRESSURE, key=key)


AT = Input(
    name="at",
    reader=as_written,
    proposals=reference_states,
    metavar="STATE",
    default="15C/15C",
    help='Combustion/metering temperature "25C/0C", one for both "60F", or a preset name.',
)
REFERENCE = Group(
    make=_reference,
    inputs=(
        AT,
        Input(
            name="reference_pressure",
            reader=_absolute,
            metavar="P",
            help='Absolute, e.g. "14.73 psia" (101.325 kPa).',
        ),
        Input(
            name="saturated",
            flags=("--saturated/--dry",),
            is_flag=True,
            help="Metered volume with water vapour, or dry.",
        ),
    ),
)
"""The state at which volumes and heating values are stated: ``ReferenceState``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """A discharge coefficient, or the law of one, where it is from, and the number of holes."""

    coefficient: Coefficient
    source: str
    count: int = 1


def read_coefficient(text: Any, key: str) -> float:
    """A discharge coefficient [-]."""
    from burnerlab.orifice.discharge_coefficient import check_coefficient

    return check_coefficient(read(text, Kind.FRACTION, key=key), key=key)


def _hole(coefficient: float | None, shape: str | None, length: float | None, count: int) -> Hole:
    from burnerlab.orifice.discharge_coefficient import DEFAULT_SHAPE, law

    if coefficient is not None:
        return Hole(coefficient=coefficient, source="as entered", count=count)
    made = law(shape_name_of(shape or DEFAULT_SHAPE), length)
    source = f"{made.shape.title} ({provenance_words(made.shape.provenance)})"
    return Hole(coefficient=made, source=source, count=count)


def shape_name_of(text: str) -> str:
    """The shape that one word of its name tells apart from the others; else the text as it is.

    >>> shape_name_of("channel")
    'drilled channel'
    """
    from burnerlab.orifice import DISCHARGE

    known = [name for name in DISCHARGE if text.strip().lower() in name.replace("-", " ").split()]
    return known[0] if len(known) == 1 and text not in DISCHARGE else text


def coefficient_or_shape(written: Mapping[str, Any]) -> Iterator[Problem]:
    """A coefficient beside the shape that would give it."""
    if "coefficient" in written and ("shape" in written or "length" in written):
        yield Problem("give the coefficient or the shape, not both", key="--coefficient and --shape")


COEFFICIENT = Input(
    name="coefficient",
    of="coefficient",
    reader=read_coefficient,
    metavar="CD",
    help="Discharge coefficient; that of a tapered orifice without it and --shape.",
)
SHAPE = Input(name="shape", reader=as_written, metavar="SHAPE", help=SHAPES_HELP, proposals=shapes)
COUNT = Input(name="count", of="orifice_count", metavar="INTEGER", default="1", help="Number of holes.")
HOLE = Group(
    make=_hole,
    inputs=(
        COEFFICIENT,
        SHAPE,
        Input(name="length", of="size", metavar="L", help='Length of a channel: "3 mm".'),
        COUNT,
    ),
    rules=coefficient_or_shape,
)
"""Discharge of a hole and the number of holes: ``Hole``."""


def _bore(drill: Bore | None, diameter: Bore | None) -> Bore | None:
    return drill or diameter


def _drill_or_diameter(written: Mapping[str, Any]) -> Iterator[Problem]:
    if len(written) != 1:
        what = "give one of them, not both" if written else "give one of them"
        fix = "in a shell a # needs quotes: --drill '#54'"
        yield Problem(what, key="--drill or --diameter", fix=fix)


def read_drill(text: Any, key: str) -> Bore:
    """A hole by its drill or its diameter."""

    return read_bore(text, key=key)


BORE = Group(
    make=_bore,
    inputs=(
        Input(
            name="drill",
            reader=read_drill,
            proposals=drill_names,
            metavar="DRILL",
            help='Drill that made the hole: "#54", "F", "1/16 in", "1.40 mm". Quote it.',
        ),
        Input(
            name="diameter",
            reader=read_drill,
            metavar="D",
            help='Diameter of the hole: "1.4 mm", "0.055 in".',
        ),
    ),
    rules=_drill_or_diameter,
)
"""A hole by drill or diameter: ``Bore``."""


def read_rate(text: Any, key: str) -> Rate:
    """A heat input that says gross or net."""

    rate = quantity.read_rate(text, key=key)
    if rate.basis is None:
        fix = f'write "{text} gross" or "{text} net"'
        raise UserError(Problem("gross or net?", value=text, key=key, fix=fix))
    return rate


RATE = Input(
    name="rate",
    reader=read_rate,
    metavar="RATE",
    help='Heat input with its basis: "12 kBtu/h gross", "3.5 kW net".',
    example="12 kBtu/h gross",
    is_needed=True,
)


def read_appliance_file(text: Any, key: str) -> Appliance:
    """An appliance by its project file."""
    import click

    from burnerlab.appliance import read_appliance

    appliance = read_appliance(text)
    note_appliance(appliance)
    for words in appliance.missing_orifices:
        click.echo(for_reader("note: " + words), err=True)
    return appliance


def note_appliance(appliance: Appliance) -> None:
    """Answer in the units and words of the region of an appliance, and name the tables of others that it takes."""
    from burnerlab.appliance.project.model import system_of_region

    for table in appliance.tables.of_libraries:
        note_library_table(table)
    note_system_of_file(system_of_region(appliance.region))
    note_region_of_file(appliance.region, _names_of_user(appliance))


def _names_of_user(appliance: Appliance) -> Iterator[str]:
    """What the user named: file, model, burners, markets, surfaces, shields, boxes, panels and igniters."""
    yield from (appliance.name, appliance.model, appliance.file, Path(appliance.file).name)
    yield from (one.name for one in appliance.burners)
    yield from (one.name for one in appliance.markets)
    yield from (one.igniter for one in appliance.burners)
    if appliance.space is not None:
        space = appliance.space
        yield from (one.name for one in space.grates)
        yield from (one.name for one in space.shields)
        yield from (one.name for one in space.boxes)
        yield from (one.name for one in space.panels)


APPLIANCE = Input(name="file", reader=read_appliance_file, metavar="FILE", is_argument=True, is_needed=True)
"""The appliance that the project file FILE describes: ``Appliance``."""


class FileRefusal(NamedTuple):
    """A file of several that cannot be used, and why."""

    file: str
    error: UserError


@dataclass(frozen=True, slots=True, kw_only=True)
class ApplianceFiles:
    """The appliances of the files of a line, those of a folder in the order of their names.

    is_single : one file was named, and no folder: it is answered by itself, or refused
    """

    appliances: tuple[Appliance, ...]
    refusals: tuple[FileRefusal, ...] = ()
    is_single: bool = False


class _ApplianceFiles(Group):
    """One file that must be right, or several of which those that do not read stop no other."""

    def read(self, written: Mapping[str, Any], key_of: Callable[[Input], str]) -> ApplianceFiles:
        """A name of nothing on the disk is a slip of the line: it raises UserError with all others."""
        from burnerlab.appliance.project.project_file import is_folder

        (declared,) = self.inputs
        texts: tuple[str, ...] = read_input(declared, written, "FILE")
        if len(texts) == 1 and not is_folder(texts[0]):
            return ApplianceFiles(appliances=(read_appliance_file(texts[0], "FILE"),), is_single=True)
        paths = [one for each in together(*(partial(_paths_of, text) for text in texts)) for one in each]
        appliances, refusals = [], []
        for path in dict.fromkeys(paths):
            try:
                appliances.append(read_appliance_file(path, "FILE"))
            except UserError as error:
                refusals.append(FileRefusal(path, error))
        return ApplianceFiles(appliances=tuple(appliances), refusals=tuple(refusals))


def _paths_of(text: str) -> tuple[str, ...]:
    """A file, or the appliance files of a folder."""
    from burnerlab.appliance.project.project_file import STANDARD_INPUT, files_of_folder, is_folder

    if is_folder(text):
        return tuple(map(str, files_of_folder(text, "FILE")))
    if text == STANDARD_INPUT or ("\0" not in text and Path(text).exists()):
        return (text,)
    fix = 'check the name; a value with a blank in it needs quotes: --pressure "11 inH2O"'
    raise UserError(Problem("there is no such file", value=text, key="FILE", fix=fix))


APPLIANCE_FILES = _ApplianceFiles(
    make=ApplianceFiles,
    inputs=(replace(APPLIANCE, reader=as_written, metavar="FILE...", is_many=True),),
)
"""One appliance file, several, or folders of them: ``ApplianceFiles``."""

MARKETS = Input(
    name="market",
    reader=as_written,
    proposals=market_names,
    metavar="NAME",
    is_many=True,
    help="A market of FILE, by name or letter; repeatable. All of them without it.",
)


CHANGED_FOR = replace(
    MARKETS,
    help="Changed for a market of FILE, by name or letter, each of its gases for itself; repeatable.",
)


def markets_of(appliance: Appliance, names: Sequence[str]) -> list[MarketTarget]:
    """Markets of a file by name or letter, each once, in the order in which they were written."""
    from burnerlab.appliance.conversion.markets import market_named

    found = [market_named(appliance, one, "--market") for one in names]
    return list({one.letter: one for one in found}.values())


def market_head(market: MarketTarget, target: ConversionTarget) -> str:
    """What stands above an answer for one gas of a market."""
    return f"Market {market.letter}: {market.name}, {target.gas.name}\n"


def market_keys(market: MarketTarget, target: ConversionTarget) -> dict[str, str]:
    """What the JSON of such an answer begins with."""
    return {"letter": market.letter, "market": market.name, "gas_name": target.gas.name}


@dataclass(frozen=True, slots=True, kw_only=True)
class Destination:
    """The folder that files go into; None where none are written."""

    folder: str | None
    overwrite: bool


def write_files(
    to: Destination,
    paper: Callable[[PaperUnits], StudyPaper],
    beside: Mapping[str, bytes] | None = None,
    regions: Iterable[str] = (),
    language: Language | None = None,
    *,
    has_units: bool = False,
) -> list[str]:
    """The paper of a study in its folder, and what goes with it; names of the files, none without a folder.

    regions : of its markets, whose words and units it has; has_units : True for one that has units of its own
    language : in which it is read; English without one
    """
    import click

    if to.folder is None:
        return []
    from burnerlab.report.study_paper import paper_for, write_paper
    from burnerlab.tables.languages import ENGLISH_LANGUAGE

    units, several = paper_units(), {*regions}
    system = units.of(*several)
    region = several.pop() if len(several) == 1 else ""
    made = paper_for(
        paper(units), None if has_units else system, region, language=language or ENGLISH_LANGUAGE
    )
    written = write_paper(
        made, to.folder, overwrite=to.overwrite, beside=beside, size=paper_for_units(system)
    )
    for sentence in written.missing:
        click.echo(f"note: {sentence}", err=True)
    return [str(Path(to.folder) / path.name) for path in written.files]


def language_of(appliance: Appliance, markets: Sequence[str] | None = None) -> Language:
    """The language of a paper for some markets, where it is one; that of the appliance where they have several.

    markets : names or letters, all of the file where it is empty; None for a paper of no market
    """
    from burnerlab.appliance.conversion.markets import market_named, targets_of

    if markets is None:
        return appliance.reader_language
    found = [market_named(appliance, one) for one in markets] or targets_of(appliance)
    languages = {one.appliance.language: one.appliance.reader_language for one in found}
    return languages.popitem()[1] if len(languages) == 1 else appliance.reader_language


def only_with_out(*names: str) -> Rules:
    """A rule: these inputs have no meaning without ``--out``."""

    def rule(written: Mapping[str, Any]) -> Iterator[Problem]:
        useless = [f"--{name.replace('_', '-')}" for name in names if name in written]
        if useless and "out" not in written:
            keys = " and ".join(useless)
            verb = "has" if len(useless) == 1 else "have"
            yield Problem(f"{verb} a meaning with --out only", key=keys, fix="add --out DIR")

    return rule


OVERWRITE = Input(name="overwrite", is_flag=True, help="Replace files that exist.")


def destination(files: str) -> Group:
    """Where a study writes its files: ``Destination``."""
    return Group(
        make=lambda out, overwrite: Destination(folder=out, overwrite=overwrite),
        inputs=(
            Input(name="out", reader=as_written, metavar="DIR", help=f"Write {files} into this folder."),
            OVERWRITE,
        ),
        rules=only_with_out("overwrite"),
    )


def own_table(of: str, about: str = "") -> Input:
    """A table of the user's own, or of a library, in place of a shipped one: its path.

    of : table that it takes the place of; about : what the help says of it
    """
    return Input(
        name=OPTION_OF[of],
        reader=partial(read_own_table, of),
        metavar="CSV",
        help=about or f"Own table of the columns of {of}, or LIBRARY:{of}.csv.",
    )


def read_own_table(of: str, text: Any, key: str) -> Path:
    """A table of the user's own, or of a library as ``LIBRARY:FILE``, which the answer then names."""
    from burnerlab.tables.libraries import library_table

    path = Path(text)
    if "\0" not in text and path.is_file():
        return path
    found = None if "\0" in text else library_table(text, of, key)
    if found is None:
        fix = f"give the path of a file, or LIBRARY:{of}.csv"
        raise UserError(Problem("is not a regular file", value=text, key=key, fix=fix))
    note_library_table(found)
    return found.path


def read_stock(text: Any, key: str) -> Path:
    """A stock of orifices, each of its rows looked at."""
    path = read_own_table("stock", text, key)
    _orifices(path)
    return path


def _orifices(path: Path) -> tuple[Drill, ...]:
    from burnerlab.orifice.stock import stock_list

    return stock_list(path)


STOCK = Input(
    name="stock",
    reader=read_stock,
    metavar="CSV",
    help="Orifices you have (columns part, size, ...), or LIBRARY:stock.csv, in place of drill lists.",
)


def with_stock(appliance: Appliance, stock: Path | None) -> Appliance:
    """The appliance with its orifices from this stock; as it is without one."""
    return appliance if stock is None else replace(appliance, tables=replace(appliance.tables, stock=stock))


def _stock_of_library(text: str, key: str) -> tuple[Drill, ...]:
    """The drills of a stock that ``LIBRARY:stock.csv`` names; none for any other text."""
    from burnerlab.tables.libraries import named_in

    foreign = named_in(text)
    is_stock = foreign is not None and foreign[1].lower().endswith(".csv") and not Path(text).is_file()
    return _orifices(read_stock(text, key)) if is_stock else ()


def read_band(text: Any, key: str) -> Tolerance:
    from burnerlab.appliance import read_tolerance

    return read_tolerance(text, key=key)


def read_drill_names(text: str, key: str) -> tuple[str, ...]:
    """Names of drill lists and of single drills; a CSV file gives its first column, a library its stock."""
    from burnerlab.orifice.drill import drill_names, own_sizes

    if stock := _stock_of_library(text, key):
        return tuple(dict.fromkeys(drill.name for drill in stock))
    return tuple(own_sizes(Path(text))) if text.lower().endswith(".csv") else drill_names(text, key)


def read_drills(text: str, key: str) -> tuple[Drill, ...]:
    """The drills to choose from: shipped lists by name, drills by size, a CSV file of sizes, or a library's stock."""
    from burnerlab.orifice.drill import named_drills

    return _stock_of_library(text, key) or named_drills(read_drill_names(text, key), key)


def _region_of_file() -> str:
    """Region that the project file of the command names; "" where it names none, or says it wrongly."""
    try:
        file = tomllib.loads(Path(written("file")).read_text(encoding="utf-8"))
        region = file.get("appliance", {}).get("region", "")
    except (OSError, ValueError, AttributeError):  # what is wrong with the file is said where it is read
        return ""
    return region.strip().lower() if isinstance(region, str) else ""


def read_policy(text: str, key: str) -> str:
    """The name of an altitude policy. Raises UserError with the names known from the region of the project file."""

    from burnerlab.orifice import policy_names

    name = "-".join(text.lower().replace("_", " ").split())
    if name in policy_names():
        return name
    names = policy_names(region=_region_of_file())
    near = [known for known in names if known.startswith(name)] or get_close_matches(name, names)
    fix = f"did you mean {' or '.join(near)}?" if near else ""
    accepted = ", ".join(names)
    raise UserError(
        Problem("no altitude policy of that name", value=text, key=key, accepted=accepted, fix=fix)
    )


COEFFICIENTS = own_table("layout_coefficients")
