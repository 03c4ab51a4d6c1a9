"""A study: one appliance, what varies, and by which design; a case is a point of it."""

from __future__ import annotations

import hashlib
import math
import tomllib
import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Any, Literal

import numpy as np

from burnerlab.appliance.read import project_data
from burnerlab.appliance.textfile import read_text
from burnerlab.quantity import Kind, read, read_rate
from burnerlab.quantity.error import Problem, UserError

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
STUDY_KEYS = ("appliance", "to", "pressure", "design", "points", "seed", "outputs")
VARY_KEYS = ("parameter", "values", "from", "to", "steps")
DEFAULT_OUTPUTS = ("to_orifice_m", "choice.drill", "predicted_gross_W", "deviation")
TOTAL_OUTPUTS = ("total_predicted_gross_W", "total_mass_flow_kg_per_s")


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


def read_study(path: str | Path) -> Study:
    """The study that a TOML file describes: [study] with its appliance, and [[vary]] for each parameter.

    Raises UserError with every problem found.

    A study in words: ``[study]`` appliance = "cart.toml", to = "propane", pressure = "11 in w.c.", design = "grid";
    ``[[vary]]`` parameter = "burner.stock-pot ring.rate", values = ["8 kW", "9 kW"].

    >>> from tempfile import TemporaryDirectory
    >>> from burnerlab.appliance.demonstration import demonstration_path
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
    file = read_text(path)
    try:
        data = tomllib.loads(file.text)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        raise UserError(
            Problem(f"is not TOML: {error}", file=str(path), fix="check quotes and brackets")
        ) from None
    problems: list[Problem] = []
    study = _table(data, "study", STUDY_KEYS, problems)
    rows = data.get("vary", [])
    if not isinstance(rows, list) or not rows or not all(isinstance(row, dict) for row in rows):
        problems.append(Problem("is missing", key="vary", fix="add [[vary]] with parameter and values"))
        rows = []
    problems += [_unknown(key, ("study", "vary")) for key in data if key not in ("study", "vary")]
    if problems:
        raise UserError([_in(problem, path) for problem in problems])
    try:
        return _study(study, rows, Path(path))
    except UserError as error:
        raise UserError([_in(problem, path) for problem in error.problems]) from None


def _in(problem: Problem, path: str | Path) -> Problem:
    from dataclasses import replace

    return problem if problem.file else replace(problem, file=str(path))


def _unknown(key: str, known: Sequence[str]) -> Problem:
    near = get_close_matches(key, known, n=1)
    fix = f"did you mean {near[0]}?" if near else ""
    return Problem(f"unknown key {key}", key=key, accepted=", ".join(known), fix=fix)


def _table(
    data: Mapping[str, Any], name: str, known: Sequence[str], problems: list[Problem]
) -> dict[str, Any]:
    table = data.get(name)
    if not isinstance(table, dict):
        problems.append(Problem("is missing", key=name, fix=f"add [{name}]"))
        return {}
    problems += [_unknown(key, known) for key in table if key not in known]
    return table


def _study(study: Mapping[str, Any], rows: Sequence[Mapping[str, Any]], path: Path) -> Study:
    design = study.get("design", "grid")
    if design not in DESIGNS:
        raise UserError(Problem("unknown design", str(design), "study.design", accepted=", ".join(DESIGNS)))
    name = study.get("appliance")
    if not isinstance(name, str):
        raise UserError(Problem("is missing", key="study.appliance", fix='add appliance = "cart.toml"'))
    project = path.parent / name
    text = read_text(project).text
    basis = str(project_data(text, str(project)).get("appliance", {}).get("rating", ""))
    varies = tuple(_vary(row, i, design, basis) for i, row in enumerate(rows))
    names = [vary.parameter for vary in varies]
    if len(set(names)) != len(names):
        raise UserError(Problem("a parameter is varied twice", key="vary"))
    if design == "list" and len({len(vary.values) for vary in varies}) != 1:
        raise UserError(Problem("a list design needs as many values of each parameter", key="vary"))
    found = Study(
        project_text=text,
        project_name=str(project),
        to=_text(study, "to", needed="target.gas" not in names),
        pressure=_text(study, "pressure", needed="target.pressure" not in names),
        design=design,
        varies=varies,
        points=_whole(study, "points", 1024 if design == "random" else 0),
        seed=_whole(study, "seed", 1),
        outputs=_outputs(study),
    )
    if not 0 < found.count <= MOST_CASES:
        raise UserError(Problem("number of cases", str(found.count), "vary", accepted=f"1 to {MOST_CASES}"))
    return found


def _text(study: Mapping[str, Any], key: str, *, needed: bool) -> str:
    value = study.get(key, "")
    if not isinstance(value, str) or (needed and not value):
        raise UserError(
            Problem("must be a text", key=f"study.{key}", fix=f"give {key}, or vary target.{key}")
        )
    return value


def _whole(study: Mapping[str, Any], key: str, default: int) -> int:
    value = study.get(key, default)
    if not isinstance(value, int) or isinstance(value, bool) or value < 0:
        raise UserError(Problem("must be a whole number", str(value), f"study.{key}", accepted="0 or more"))
    return value


def _outputs(study: Mapping[str, Any]) -> tuple[str, ...]:
    value = study.get("outputs", [])
    if not isinstance(value, list) or not all(isinstance(one, str) for one in value):
        fix = 'e.g. outputs = ["burner.*.deviation", "total_predicted_gross_W"]'
        raise UserError(Problem("must be a list of names", key="study.outputs", fix=fix))
    return tuple(value) or (*(f"burner.*.{name}" for name in DEFAULT_OUTPUTS), *TOTAL_OUTPUTS)


def _vary(row: Mapping[str, Any], place: int, design: str, basis: str) -> Vary:
    key = f"vary[{place}]"
    unknown = [_unknown(name, VARY_KEYS) for name in row if name not in VARY_KEYS]
    if unknown:
        raise UserError(unknown)
    parameter = row.get("parameter")
    if not isinstance(parameter, str) or "." not in parameter:
        fix = 'e.g. parameter = "target.pressure" or "burner.stock-pot ring.rate"'
        raise UserError(Problem("names no parameter", str(parameter or ""), f"{key}.parameter", fix=fix))
    if "values" in row:
        values = row["values"]
        if not isinstance(values, list) or not values:
            raise UserError(Problem("must be a list of values", key=f"{key}.values"))
        return Vary(
            parameter=parameter,
            values=tuple(_value(parameter, one, f"{key}.values", basis) for one in values),
        )
    if "from" not in row or "to" not in row:
        raise UserError(Problem("needs values, or from and to", key=key))
    low, high = (_value(parameter, row[end], f"{key}.{end}", basis) for end in ("from", "to"))
    if isinstance(low, str) or isinstance(high, str):
        raise UserError(Problem("has no numbers between its ends: list its values", parameter, key))
    if design == "random":
        return Vary(parameter=parameter, low=low, high=high)
    steps = row.get("steps", 0)
    if not isinstance(steps, int) or isinstance(steps, bool) or steps < 2:
        raise UserError(Problem("needs steps of 2 or more beside from and to", key=f"{key}.steps"))
    return Vary(parameter=parameter, values=tuple(np.linspace(low, high, steps).tolist()))


def rate_burner(parameter: str) -> str:
    """The burner whose rate a parameter is, "" for another parameter.

    >>> rate_burner("burner.stock-pot ring.rate")
    'stock-pot ring'
    """
    if parameter.startswith("burner.") and parameter.endswith(".rate"):
        return parameter.removeprefix("burner.").removesuffix(".rate")
    return ""


def _value(parameter: str, value: Any, key: str, basis: str) -> float | str:
    """A value of a parameter: SI where the array form takes it, else the text for the project file."""
    if parameter in TARGET_NUMBERS:
        return read(
            str(value) if parameter == "target.coefficient" else value, TARGET_NUMBERS[parameter], key=key
        )
    if rate_burner(parameter):
        rate = read_rate(value, key=key)
        if rate.basis not in (None, basis):
            raise UserError(Problem(f"the file rates {basis}", str(value), key, fix="leave the basis out"))
        return rate.power_W
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise UserError(Problem("must be a text or a number", str(value), key))
    return str(value)
