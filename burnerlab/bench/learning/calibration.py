"""A shop's constants learned from its bench record, and the tables that hold them.

Each step takes over what the one before gives: primary air rests on the jet, the margins on the primary air.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from burnerlab import __version__, tables
from burnerlab.appliance.project.model import Appliance, OwnTables
from burnerlab.bench.learning.discharge_coefficient import TABLE as DISCHARGE
from burnerlab.bench.learning.discharge_coefficient import discharge_constants
from burnerlab.bench.learning.flame_limits import BACK, LIFT, YELLOW, limit_constants
from burnerlab.bench.learning.primary_air import learn_air, usable
from burnerlab.bench.learning.samples import (
    HERE,
    CalibrationSetup,
    Fuels,
    Gathered,
    LeftOut,
    ModelConstant,
    gather,
    rules,
    shipped_fuels,
)
from burnerlab.bench.record.database import Record, in_words, whole_file
from burnerlab.bench.record.document import defused
from burnerlab.bench.record.entry import BenchTest
from burnerlab.bench.record.query import history, units
from burnerlab.orifice.discharge_coefficient import BENCH_RECORD
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.tables.problem import Problem, UserError

# Learn a shop's constants from its bench record: orifices first, then mixing tubes, then the flame's
# limits.

LEARNT = (
    "entrainment theory",
    "hot factor",
    "throat loss",
    "inlet loss",
    "port discharge, thin",
    "port discharge, deep",
    "port discharge, unknown depth",
    LIFT,
    BACK,
    YELLOW,
)
"""Rows of the burner coefficients a record can tell; the discharge coefficient of each shape comes beside them."""
STILL = "a test of every unit stays required: these are figures of the units recorded, not of the next one"


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """Constants before and after a record was read."""

    model: str = field(metadata=output("model"))
    units: int = field(metadata=output("units"))
    samples: int = field(metadata=output("samples"))
    first_tested_at: str = field(metadata=output("first tested"))
    last_tested_at: str = field(metadata=output("last tested"))
    level: float = field(metadata=output("level of the intervals", Kind.FRACTION))
    burners: tuple[str, ...] = field(metadata=output("burners"))  # the constants were learned on
    gases: tuple[str, ...] = field(metadata=output("gases"))
    gauge_pressures_Pa: tuple[float, float] | None = field(
        metadata=output("gauge pressures", Kind.GAUGE_PRESSURE)
    )  # least and most
    constants: tuple[ModelConstant, ...] = field(metadata=output("constants"))
    left_out: tuple[LeftOut, ...] = field(metadata=output("tests left out"))
    cautions: tuple[str, ...]

    @property
    @computed_output("tells a constant")
    def is_learned(self) -> bool:
        """Whether the record fixes any constant better than it was known."""
        return bool(self.written)

    @property
    def written(self) -> tuple[ModelConstant, ...]:
        """The constants that a calibrated table holds."""
        return tuple(constant for constant in self.constants if constant.is_in_table)


def calibrate(
    tests: Iterable[BenchTest],
    appliance: Appliance,
    *,
    plans: Mapping[str, Appliance] | None = None,
    only: Iterable[str] = (),
    hot: bool = False,
    fuels: Fuels | None = None,
) -> Calibration:
    """What tests of an appliance's units tell of its constants.

    plans : by digest, the appliance as the units of a plan are built, from ``built_by_plans``; a test counts only
        through an orifice that is known (``known_orifices``), the others are listed in ``left_out``
    only : burner coefficients to learn, the others as they stand; all of LEARNT when empty
    hot : primary air was sampled from hot burners: your own ratio of hot to cold air, row "hot factor", is learned
        with the air of the cold one
    fuels : figures and burning velocity of a gas; those of the shipped tables unless given
    Raises UserError for a coefficient that no record can tell.

    >>> from burnerlab.appliance import demonstration
    >>> calibrate([], demonstration()).constants
    ()
    """
    tables = frozenset(only)
    unknown = sorted(tables - set(LEARNT))
    if unknown:
        raise UserError(
            Problem("cannot be learned from a record", unknown[0], "only", accepted=", ".join(LEARNT))
        )
    gathered = gather(tests, appliance, plans)
    fuel = fuels or shipped_fuels(appliance.tables.burner_coefficients)
    setup = CalibrationSetup(appliance=appliance, fuel=fuel, coefficient={}, hot=hot)
    jets = list(discharge_constants(gathered.samples, setup))
    setup = CalibrationSetup(
        appliance=appliance, fuel=fuel, coefficient={c.row: c.value for c in jets if c.is_learned}, hot=hot
    )
    air = learn_air(gathered.samples, setup, tables)
    limits, lost = limit_constants(gathered.samples, setup, air, tables)
    constants = (*jets, *air.constants, *limits)
    return _result(
        appliance, gathered, constants, (*(one.words for one in gathered.left_out), *gathered.notes, *lost)
    )


def _result(
    appliance: Appliance, gathered: Gathered, constants: tuple[ModelConstant, ...], notes: tuple[str, ...]
) -> Calibration:
    pressures = [sample.gauge_pressure_Pa for sample in gathered.samples]
    return Calibration(
        model=appliance.model or appliance.name,
        constants=constants,
        units=gathered.units,
        samples=len(gathered.samples),
        first_tested_at=gathered.first_tested_at,
        last_tested_at=gathered.last_tested_at,
        level=rules()["stated level"],
        burners=tuple(dict.fromkeys(sample.burner.name for sample in gathered.samples)),
        gases=tuple(dict.fromkeys(sample.gas.name for sample in gathered.samples)),
        gauge_pressures_Pa=(min(pressures), max(pressures)) if pressures else None,
        left_out=gathered.left_out,
        cautions=(*_cautions(appliance, gathered, constants), *notes),
    )


def _cautions(appliance: Appliance, samples: Gathered, constants: tuple[ModelConstant, ...]) -> Iterator[str]:
    for constant in constants:
        if constant.outliers:
            yield f"{constant.name}: left out as outliers: {', '.join(constant.outliers)}; look at these units"
        if constant.beyond_prior:
            yield (
                f"{constant.name}: all of {constant.low:.3g} to {constant.high:.3g} lies outside "
                f"{constant.prior_low:g} to {constant.prior_high:g} of the shipped sources: check meter and bore"
            )
    learned = {constant.row for constant in constants if constant.is_learned and constant.table == DISCHARGE}
    for burner in appliance.burners:
        if burner.orifice.coefficient is not None and burner.orifice.shape in learned:
            yield f"{burner.name} has a coefficient in the project file, which takes precedence over the table"
    blind = len({s.burner.name for s in samples.samples if s.aeration is not None} - {
        s.burner.name for s in usable(samples.samples)
    })  # fmt: skip
    if blind:
        yield f"primary air of {blind} burners is not used: throat, ports or gas composition are not given"
    if any(constant.is_in_table for constant in constants):
        yield STILL


def recorded_tests(record: Record, model: str, last: int) -> tuple[BenchTest, ...]:
    """Every current test of the newest units of a model, at most ``last`` units.

    Raises UserError when there is none.
    """
    newest = units(record, model=model, limit=last)
    if not newest:
        from burnerlab.bench.record.query import models

        names = ", ".join(models(record))
        raise UserError(Problem("no unit of this model in the record", model, "model", accepted=names))
    serials = list(dict.fromkeys(entry.serial for entry in newest))
    every = (entry for serial in serials for entry in history(record, serial))
    return tuple(entry.test for entry in every if entry.is_current and entry.test.model == model)


def last_link(record: Record) -> str:
    """The newest link of the record's chain: one hash of every test in it, as ``check`` shows it."""
    with in_words(record.path):
        row = record.connection.execute("SELECT chain FROM tests ORDER BY id DESC LIMIT 1").fetchone()
    return row[0] if row else ""


# Calibrated constants as tables of the same columns as the shipped ones, ready for ``[tables]`` of a
# project file.

KEYS = {"discharge": "shape", "burner_coefficients": "name"}
HASH_SHOWN = 16
DAY = 10  # characters of a date


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordSource:
    """The record a calibration is from."""

    file: str = field(metadata=output("record"))
    sha256: str = field(metadata=output("sha256"))  # newest link of its chain: of every test in it


def source_line(calibration: Calibration, record: RecordSource) -> str:
    """Where the constants are from, for the column ``source``."""
    first, last = calibration.first_tested_at[:DAY], calibration.last_tested_at[:DAY]
    return (
        f"{BENCH_RECORD} {Path(record.file).name}, sha256 {record.sha256[:HASH_SHOWN]}, {calibration.units} units of "
        f"{calibration.model}, {first} to {last}, burnerlab {__version__}"
    )


def _rows_in_use(table: str, own: OwnTables) -> list[dict[str, str]]:
    """Rows the new table starts from: an own table's, else all of the discharge table, which is replaced whole."""
    path: Path | None = getattr(own, table)
    if path is not None:
        return [dict(row) for row in tables.read_csv(path)]
    return [dict(row) for row in tables.rows(table)] if table == "discharge" else []


def _replaced(row: Mapping[str, str], constant: ModelConstant, source: str, place: str) -> dict[str, str]:
    figures = {"low": f"{constant.low:.5g}", "high": f"{constant.high:.5g}"}
    if constant.table == "discharge":
        figures |= {"coefficient": f"{constant.value:.5g}", "correlation": ""}
    else:
        figures["value"] = f"{constant.value:.5g}"
    spread = (
        "" if constant.spread is None else f"; spread between units counted as {100 * constant.spread:.2f} %"
    )
    if constant.spread_read is not None:
        spread += f", as read {100 * constant.spread_read:.2f} %"
    out = f"; left out: {' '.join(constant.outliers)}" if constant.outliers else ""
    note = f"low and high are its 95 % interval; {constant.units} units{spread}{out}; {constant.why}"
    return {
        **row,
        **figures,
        KEYS[constant.table]: constant.row,
        "source": source,
        "place": place,
        "provenance": HERE,
        "note": note,
    }


def table_text(table: str, calibration: Calibration, source: str, own: OwnTables) -> str:
    """A table with the calibrated rows in place, as CSV; "" when none of its rows was learned."""
    learned = {constant.row: constant for constant in calibration.written if constant.table == table}
    if not learned:
        return ""
    key = KEYS[table]
    shipped = {row[key]: row for row in tables.rows(table)}
    rows = {row[key]: row for row in _rows_in_use(table, own)}
    for name, constant in learned.items():
        rows[name] = _replaced(
            rows.get(name, dict(shipped.get(name, {}))), constant, source, _place(calibration)
        )
    buffer = io.StringIO()
    buffer.write("# calibrated from a bench record; rows fitted together belong together\n")
    columns = list(tables.rows(table)[0])
    writer = csv.DictWriter(buffer, columns, lineterminator="\n", extrasaction="ignore", restval="")
    writer.writeheader()
    writer.writerows(rows.values())
    return buffer.getvalue()


def _place(calibration: Calibration) -> str:
    text = f"{', '.join(calibration.burners)} on {', '.join(calibration.gases)}"
    if calibration.gauge_pressures_Pa is not None:
        low, high = calibration.gauge_pressures_Pa
        text += f" at {low:.0f} to {high:.0f} Pa"
    return defused(text)


def write_tables(
    calibration: Calibration, record: RecordSource, own: OwnTables, folder: Path, overwrite: bool = False
) -> tuple[Path, ...]:
    """The tables that hold a constant learned from the record, in ``folder``, each whole or not at all.

    Raises UserError when nothing was learned: no table is written then.
    """
    source = source_line(calibration, record)
    texts = {table: table_text(table, calibration, source, own) for table in KEYS}
    paths = {folder / f"{table}.csv": text for table, text in texts.items() if text}
    if not paths:
        raise UserError(
            Problem("the record determines no constant better than it was known; no table is written")
        )
    present = [path for path in paths if path.exists() and not overwrite]
    if present:
        fix = "name another folder or allow overwriting"
        raise UserError([Problem("exists, will not overwrite it", file=str(p), fix=fix) for p in present])
    if not folder.is_dir():
        try:
            folder.mkdir()
        except OSError as error:
            raise UserError(Problem(f"cannot be made: {error.strerror}", file=str(folder))) from None
    for path, text in paths.items():
        with whole_file(path, overwrite) as handle:
            handle.write_text(text, encoding="utf-8", newline="")
    return tuple(paths)
