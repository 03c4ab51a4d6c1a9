"""Learn a shop's constants from its bench record: orifices first, then mixing tubes, then the flame's limits.

Each step takes over what the one before told: primary air rests on the jet, the margins on the primary air.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from burnerlab.appliance.model import Appliance
from burnerlab.bench.bench_samples import Gathered, gather
from burnerlab.bench.conditions import CalibrationSetup, Fuels, shipped_fuels
from burnerlab.bench.constants import ModelConstant, rules
from burnerlab.bench.learn_discharge import TABLE as DISCHARGE
from burnerlab.bench.learn_discharge import discharge_constants
from burnerlab.bench.learn_limits import BACK, REED, RICH, YELLOW, limit_constants
from burnerlab.bench.learning.primary_air import learn_air, usable
from burnerlab.bench.record.connect import Record
from burnerlab.bench.record.entry import BenchTest
from burnerlab.bench.record.query import history, units
from burnerlab.bench.record.words import in_words
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.tables.problem import Problem, UserError

LEARNT = (
    "entrainment theory",
    "hot factor",
    "throat loss",
    "inlet loss",
    "port discharge, thin",
    "port discharge, deep",
    "port discharge, unknown depth",
    REED,
    RICH,
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
    cautions: tuple[str, ...]

    @property
    @computed_output("tells a constant")
    def is_learned(self) -> bool:
        """Whether the record tells any constant better than it was known."""
        return bool(self.written)

    @property
    def written(self) -> tuple[ModelConstant, ...]:
        """The constants that a calibrated table holds."""
        return tuple(constant for constant in self.constants if constant.written)


def calibrate(
    tests: Iterable[BenchTest],
    appliance: Appliance,
    *,
    only: Iterable[str] = (),
    hot: bool = False,
    fuels: Fuels | None = None,
) -> Calibration:
    """What tests of an appliance's units tell of its constants.

    only : burner coefficients to learn, the others as they stand; all of LEARNT when empty
    hot : primary air was sampled from hot burners: the hot factor is learned with the air of the cold one
    fuels : figures and burning velocity of a gas; those of the shipped tables unless given
    Raises UserError for a coefficient that no record can tell.

    >>> from burnerlab.appliance import demonstration
    >>> calibrate([], demonstration()).constants
    ()
    """
    wanted = frozenset(only)
    unknown = sorted(wanted - set(LEARNT))
    if unknown:
        raise UserError(
            Problem("cannot be learned from a record", unknown[0], "only", accepted=", ".join(LEARNT))
        )
    found = gather(tests, appliance)
    fuel = fuels or shipped_fuels(appliance.tables.burner_coefficients)
    setup = CalibrationSetup(appliance=appliance, fuel=fuel, coefficient={}, hot=hot)
    jets = list(discharge_constants(found.samples, setup))
    setup = CalibrationSetup(
        appliance=appliance, fuel=fuel, coefficient={c.row: c.value for c in jets if c.is_learned}, hot=hot
    )
    air = learn_air(found.samples, setup, wanted)
    limits, lost = limit_constants(found.samples, setup, air, wanted)
    constants = (*jets, *air.constants, *limits)
    return _result(appliance, found, constants, (*found.notes, *lost))


def _result(
    appliance: Appliance, found: Gathered, constants: tuple[ModelConstant, ...], notes: tuple[str, ...]
) -> Calibration:
    pressures = [sample.gauge_pressure_Pa for sample in found.samples]
    return Calibration(
        model=appliance.model or appliance.name,
        constants=constants,
        units=found.units,
        samples=len(found.samples),
        first_tested_at=found.first_tested_at,
        last_tested_at=found.last_tested_at,
        level=rules()["stated level"],
        burners=tuple(dict.fromkeys(sample.burner.name for sample in found.samples)),
        gases=tuple(dict.fromkeys(sample.gas.name for sample in found.samples)),
        gauge_pressures_Pa=(min(pressures), max(pressures)) if pressures else None,
        cautions=(*_cautions(appliance, found, constants), *notes),
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
    told = {constant.row for constant in constants if constant.is_learned and constant.table == DISCHARGE}
    for burner in appliance.burners:
        if burner.orifice.coefficient is not None and burner.orifice.shape in told:
            yield f"{burner.name} has a coefficient of its own in the project file, which goes before the table"
    blind = len({s.burner.name for s in samples.samples if s.aeration is not None} - {
        s.burner.name for s in usable(samples.samples)
    })  # fmt: skip
    if blind:
        yield f"primary air of {blind} burners is not used: throat, ports or gas composition are not given"
    if any(constant.written for constant in constants):
        yield STILL


def recorded_tests(record: Record, model: str, last: int) -> tuple[BenchTest, ...]:
    """Every current test of the newest units of a model, at most ``last`` units.

    Raises UserError when there is none.
    """
    newest = units(record, model=model, limit=last)
    if not newest:
        from burnerlab.bench.record.query import models

        known = ", ".join(models(record))
        raise UserError(Problem("no unit of this model in the record", model, "model", accepted=known))
    serials = list(dict.fromkeys(entry.serial for entry in newest))
    every = (entry for serial in serials for entry in history(record, serial))
    return tuple(entry.test for entry in every if entry.is_current and entry.test.model == model)


def last_link(record: Record) -> str:
    """The newest link of the record's chain: one hash of every test in it, as ``check`` shows it."""
    with in_words(record.path):
        row = record.connection.execute("SELECT chain FROM tests ORDER BY id DESC LIMIT 1").fetchone()
    return row[0] if row else ""
