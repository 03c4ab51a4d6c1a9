"""A study: one appliance, what varies, and by which design; a case is a point of it."""

from __future__ import annotations

import hashlib
import math
import warnings
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Annotated, Any, Literal

import numpy as np

from burnerlab.appliance.project import keys as key
from burnerlab.appliance.project.file_tables import ProjectFile
from burnerlab.appliance.project.keys import Values, table
from burnerlab.appliance.project.problems import Problems
from burnerlab.appliance.project.project_file import project_data, read_file, read_text
from burnerlab.appliance.project.toml_lines import KeyPath, parse_on
from burnerlab.quantity import Kind, System, read, read_rate
from burnerlab.quantity.inputs import complaint, words_of
from burnerlab.tables.problem import Problem, UserError, did_you_mean

Design = Literal["grid", "list", "random"]
DESIGNS: tuple[Design, ...] = ("grid", "list", "random")
TARGET_NUMBERS = {
    "target.pressure": Kind.GAUGE_PRESSURE,
    "target.altitude": Kind.LENGTH,
    "target.gas_temperature": Kind.TEMPERATURE,
    "target.coefficient": Kind.FRACTION,
}
TARGET_TEXTS = ("target.gas",)
MOST_CASES = 1_000_000_000
RANDOM_POINTS = 1024
LEAST_STEPS = 2
BURNER_OUTPUTS = ("to_orifice_m", "choice.drill", "predicted_gross_W", "deviation")
TOTAL_OUTPUTS = ("total_predicted_gross_W", "total_mass_flow_kg_per_s")
TWO_MEANINGS = {
    "area_ratio": "exact_area_ratio for the exact bore (as in 0.1.0), taken_area_ratio for the drill taken",
    "diameter_ratio": "exact_diameter_ratio for the exact bore (as in 0.1.0), choice.diameter_m for the drill taken",
}
"""Outputs that were of the exact bore in 0.1.0 and are of the drill in a conversion: a study says which it means."""
DEFAULT_OUTPUTS = (*(f"burner.*.{name}" for name in BURNER_OUTPUTS), *TOTAL_OUTPUTS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Vary:
    """A parameter and the values it takes: numbers in SI, or texts as the project file writes them."""

    parameter: str
    values: tuple[float | str, ...] = ()
    low: float | None = None  # ends of a random design
    high: float | None = None

    @property
    def numeric(self) -> bool:
        return self.low is not None or (bool(self.values) and not isinstance(self.values[0], str))


@dataclass(frozen=True, slots=True, kw_only=True)
class Study:
    """What is varied of which appliance; plain data, so that it travels to any worker."""

    project_text: str
    project_name: str
    to: str  # library gas or file, "" when a parameter gives it
    pressure: str
    design: Design
    varies: tuple[Vary, ...]
    points: int  # of a random design
    seed: int
    outputs: tuple[str, ...]
    system: System = field(default="metric", repr=False)  # units of the columns of results in files

    @property
    def count(self) -> int:
        """Number of cases."""
        if self.design == "random":
            return self.points
        lengths = [len(vary.values) for vary in self.varies]
        return math.prod(lengths) if self.design == "grid" else lengths[0]

    @property
    def fingerprint(self) -> str:
        """What results of an interrupted sweep are known by."""
        return hashlib.sha256(repr(self).encode()).hexdigest()[:16]

    def cases(self, start: int, stop: int) -> list[list[float | str]]:
        """The values of cases ``start`` to ``stop``, one list per parameter."""
        if self.design == "list":
            return [list(vary.values[start:stop]) for vary in self.varies]
        if self.design == "grid":
            lengths = tuple(len(vary.values) for vary in self.varies)
            places = np.unravel_index(np.arange(start, stop), lengths)
            return [[vary.values[i] for i in place] for vary, place in zip(self.varies, places, strict=True)]
        return self._random(start, stop)

    def _random(self, start: int, stop: int) -> list[list[float | str]]:
        from scipy.stats import qmc

        sobol = qmc.Sobol(len(self.varies), seed=self.seed)
        with (
            warnings.catch_warnings()
        ):  # it would rather have a power of two; a chunk is a part of the sequence
            warnings.simplefilter("ignore", UserWarning)
            points = (sobol.fast_forward(start) if start else sobol).random(stop - start)
        found: list[list[float | str]] = []
        for vary, column in zip(self.varies, points.T, strict=True):
            if vary.low is not None and vary.high is not None:
                found.append((vary.low + (vary.high - vary.low) * column).tolist())
            else:
                found.append(
                    [
                        vary.values[i]
                        for i in np.minimum((column * len(vary.values)).astype(int), len(vary.values) - 1)
                    ]
                )
        return found


# What the file says, before its values are read as the parameter wants them.


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise complaint(
            f"must be a text, got {words_of(value)}", accepted="text in quotes", fix="put it in quotes"
        )
    return value


def _at_least(least: int) -> Callable[[Any], int]:
    def reader(value: Any) -> int:
        if not isinstance(value, int) or isinstance(value, bool) or value < least:
            raise complaint("must be a whole number", accepted=f"{least} or more", fix="write a whole number")
        return value

    return reader


def _names(value: Any) -> tuple[str, ...]:
    if not isinstance(value, list) or not all(isinstance(one, str) for one in value):
        fix = 'e.g. outputs = ["burner.*.deviation", "total_predicted_gross_W"]'
        raise complaint("must be a list of names", accepted="names of results", fix=fix)
    for name in value:
        if fix := TWO_MEANINGS.get(name.split(".")[-1], ""):
            raise complaint(
                f'"{name}" has two meanings', accepted="exact bore or drill taken", fix=f"write {fix}"
            )
    return tuple(value) or DEFAULT_OUTPUTS


def _parameter(value: Any) -> str:
    if not isinstance(value, str) or "." not in value:
        fix = 'e.g. parameter = "target.pressure" or "burner.stock-pot ring.rate"'
        raise complaint("names no parameter", accepted="a key of the target or of the file", fix=fix)
    return value


def _scalar(value: Any) -> Any:
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise complaint(
            "must be a text or a number", accepted="a value of the parameter", fix="write one value"
        )
    return value


def _values(value: Any) -> tuple[Any, ...]:
    if not isinstance(value, list) or not value:
        raise complaint("must be a list of values", accepted="a list", fix='e.g. values = ["0 m", "1500 m"]')
    return tuple(value)


@table()
@dataclass(frozen=True, slots=True, kw_only=True)
class StudyTable:
    """[study]"""

    appliance: Annotated[
        str,
        key.text(
            "cart.toml", "Project file, in the folder of the study", "a file name", _text, kind="file name"
        ),
    ]
    to: Annotated[
        str, key.text("propane", "New gas, unless target.gas is varied", "a gas of the library", _text)
    ] = ""
    pressure: Annotated[
        str,
        key.text(
            "11 in w.c.", "New gauge pressure, unless target.pressure is varied", "a gauge pressure", _text
        ),
    ] = ""
    design: Annotated[Design, key.choice(DESIGNS, "a design", "How the values are combined")] = "grid"
    points: Annotated[
        int | None,
        key.text(RANDOM_POINTS, "Cases of a random design", "0 or more", _at_least(0), kind="whole number"),
    ] = None
    seed: Annotated[
        int, key.text(1, "Start of a random design", "0 or more", _at_least(0), kind="whole number")
    ] = 1
    outputs: Annotated[
        tuple[str, ...],
        key.text(["burner.*.deviation"], "Results to keep", "names of results", _names, kind="words"),
    ] = DEFAULT_OUTPUTS


def _values_or_ends(values: Values) -> Values:
    if "values" not in values and not {"from", "to"} <= values.keys():
        raise complaint("needs values, or from and to", accepted="values, or from and to", fix="add values")
    return values


@table(_values_or_ends)
@dataclass(frozen=True, slots=True, kw_only=True)
class VaryTable:
    """[[vary]]"""

    parameter: Annotated[
        str, key.text("target.altitude", "What varies", "target.KEY or burner.NAME.KEY", _parameter)
    ]
    values: Annotated[
        tuple[Any, ...], key.text(["0 m", "1500 m"], "Its values", "a list", _values, kind="values")
    ] = ()
    low: Annotated[Any, key.text("0 m", "Lowest value", "a value of the parameter", _scalar, name="from")] = (
        None
    )
    high: Annotated[
        Any, key.text("1500 m", "Highest value", "a value of the parameter", _scalar, name="to")
    ] = None
    steps: Annotated[
        int,
        key.text(
            5, "Values from lowest to highest", "2 or more", _at_least(LEAST_STEPS), kind="whole number"
        ),
    ] = 0


@table()
@dataclass(frozen=True, slots=True, kw_only=True)
class StudyFile:
    """A whole study file."""

    study: Annotated[StudyTable, key.part(StudyTable, "What is studied", {"appliance": "cart.toml"})]
    vary: Annotated[
        tuple[VaryTable, ...],
        key.parts(
            VaryTable,
            50,
            "Parameters and their values",
            {"parameter": "target.altitude", "values": ["0 m", "1500 m"]},
            least=1,
            is_alone=False,
        ),
    ]


def read_study(path: str | Path) -> Study:
    """The study that a TOML file describes: [study] with its appliance, and [[vary]] for each parameter.

    Raises UserError with every problem of the file.

    A study in words: ``[study]`` appliance = "cart.toml", to = "propane", pressure = "11 in w.c.", design = "grid";
    ``[[vary]]`` parameter = "burner.stock-pot ring.rate", values = ["8 kW", "9 kW"].

    >>> from tempfile import TemporaryDirectory
    >>> from burnerlab.appliance.project.project_file import demonstration_path
    >>> text = f'''[study]
    ... appliance = "{demonstration_path().as_posix()}"
    ... to = "propane"
    ... pressure = "11 in w.c."
    ... design = "grid"
    ... [[vary]]
    ... parameter = "target.altitude"
    ... values = ["0 m", "1500 m"]
    ... '''
    >>> with TemporaryDirectory() as folder:
    ...     file = Path(folder) / "study.toml"
    ...     _ = file.write_text(text, encoding="utf-8")
    ...     read_study(file).count
    2
    """
    name = str(path)
    return read_file(
        StudyFile, parse_on(read_text(path).text, name), name, partial(_study, Path(path).parent)
    )


def _study(folder: Path, file: StudyFile, problems: Problems) -> Study | None:
    """The study of a file; what is wrong between its tables goes into ``problems``."""
    table, names = file.study, [vary.parameter for vary in file.vary]
    text, basis, project = "", "", folder / table.appliance
    with problems.at("study", "appliance"):
        text = read_text(project).text
        basis = str(project_data(text, str(project)).get("appliance", {}).get("rating", ""))
    varies = tuple(
        _vary(vary, ("vary", place), table.design, basis, problems) for place, vary in enumerate(file.vary)
    )
    for place, name in enumerate(names):
        if name in names[:place]:
            problems.add(
                ("vary", place), "a parameter is varied twice", value=name, fix="list all its values at once"
            )
    for key_, value, parameter in (
        ("to", table.to, "target.gas"),
        ("pressure", table.pressure, "target.pressure"),
    ):
        if not value and parameter not in names:
            problems.add(("study", key_), "is missing", fix=f"add {key_}, or vary {parameter}")
    if table.design == "list" and len({len(vary.values) for vary in varies}) != 1:
        problems.add(("vary",), "a list design needs as many values of each parameter")
    if problems.problems:
        return None
    study = Study(
        project_text=text,
        project_name=str(project),
        to=table.to,
        pressure=table.pressure,
        design=table.design,
        varies=varies,
        points=table.points if table.points is not None else RANDOM_POINTS if table.design == "random" else 0,
        seed=table.seed,
        outputs=table.outputs,
    )
    if not 0 < study.count <= MOST_CASES:
        problems.add(("vary",), "number of cases", value=str(study.count), accepted=f"1 to {MOST_CASES}")
    return study


def _vary(table: VaryTable, where: KeyPath, design: str, basis: str, problems: Problems) -> Vary:
    """A parameter with its values in SI where the array form takes them."""
    ends: dict[str, float | str] = {}
    values: tuple[float | str, ...] = ()
    if fix := _misspelt(table):
        problems.add((*where, "parameter"), "is no parameter", value=table.parameter, fix=fix)
        return Vary(parameter=table.parameter)
    if table.values:
        with problems.at(*where, "values"):
            values = tuple(_value(table.parameter, one, basis) for one in table.values)
        return Vary(parameter=table.parameter, values=values)
    for end, value in (("from", table.low), ("to", table.high)):
        with problems.at(*where, end):
            ends[end] = _value(table.parameter, value, basis)
    low, high = ends.get("from", 0.0), ends.get("to", 0.0)
    if isinstance(low, str) or isinstance(high, str):
        problems.add(where, "has no numbers between its ends: list its values", value=table.parameter)
    elif design == "random":
        return Vary(parameter=table.parameter, low=low, high=high)
    elif table.steps < LEAST_STEPS:
        problems.add((*where, "steps"), "needs steps of 2 or more beside from and to", fix="add steps = 5")
    else:
        values = tuple(np.linspace(low, high, table.steps).tolist())
    return Vary(parameter=table.parameter, values=values)


def _misspelt(vary: VaryTable) -> str:
    """What may be meant by a parameter that is none of the target, nor between two ends a key of a file; "" for one."""
    name = vary.parameter
    if name.startswith("target."):
        known = [*TARGET_NUMBERS, *TARGET_TEXTS]
        return "" if name in known else did_you_mean(name, known)
    head, _, last = name.rpartition(".")
    last_words = sorted({one.path.rpartition(".")[2] for one in key.every_key(ProjectFile)})
    if vary.values or last in last_words:
        return ""  # a value that no key takes is refused with its case
    near = did_you_mean(last, last_words)
    return f"{near} in {head}" if near else "write a key of the file"


def rate_burner(parameter: str) -> str:
    """The burner whose rate a parameter is, "" for another parameter.

    >>> rate_burner("burner.stock-pot ring.rate")
    'stock-pot ring'
    """
    if parameter.startswith("burner.") and parameter.endswith(".rate"):
        return parameter.removeprefix("burner.").removesuffix(".rate")
    return ""


def _value(parameter: str, value: Any, basis: str) -> float | str:
    """A value of a parameter: SI where the array form takes it, else the text for the project file."""
    if parameter in TARGET_NUMBERS:
        return read(str(value) if parameter == "target.coefficient" else value, TARGET_NUMBERS[parameter])
    if rate_burner(parameter):
        rate = read_rate(value)
        if rate.basis not in (None, basis):
            raise UserError(Problem(f"the file rates {basis}", str(value), fix="leave the basis out"))
        return rate.power_W
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise UserError(Problem("must be a text or a number", str(value)))
    return str(value)
