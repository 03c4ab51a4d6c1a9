"""What was found on every unit, kept for good: tests, corrections, kit weighings, charts.

>>> import tempfile
>>> from pathlib import Path
>>> with tempfile.TemporaryDirectory() as folder, open_record(Path(folder) / "bench.sqlite") as record:
...     made = add_test(record, BenchTest(serial="C-0001", model="market cart range", tester="R. Quill"))
...     found = latest(record, "C-0001")
>>> found == made
True
"""

from __future__ import annotations

from burnerlab.bench.record.backup import BackupFile, CheckReport, backup, check
from burnerlab.bench.record.control_chart import (
    Capability,
    ChartQuery,
    ControlLimits,
    RuleHit,
    UnitChart,
    capability,
    control_limits,
    drift,
    unit_chart,
)
from burnerlab.bench.record.database import Record, open_record
from burnerlab.bench.record.entry import (
    BeforeLighting,
    BenchInstrument,
    BenchReading,
    BenchTest,
    EarlierStop,
    InputText,
    KitCheck,
    KitRecord,
    Observation,
    PlanEntry,
    Release,
    ReleaseRecord,
    Result,
    Scan,
    TestRecord,
    quantities,
    sights,
)
from burnerlab.bench.record.exchange import Imported, exported, import_entries, import_file, read_export
from burnerlab.bench.record.open_stops import OpenStop, all_releases, notices, open_stops
from burnerlab.bench.record.query import (
    ChartPoint,
    EntryPlace,
    PastStop,
    RecordSummary,
    UnitStops,
    adverse_observations,
    burners,
    entry,
    history,
    instrument_named,
    kit_checks,
    latest,
    models,
    search,
    series,
    stops_of_units,
    summary,
    unit_stops,
    units,
    units_beside,
)
from burnerlab.bench.record.store import add_kit_check, add_test, correct, release

__all__ = [
    "BackupFile",
    "BeforeLighting",
    "BenchInstrument",
    "BenchReading",
    "BenchTest",
    "Capability",
    "ChartPoint",
    "ChartQuery",
    "CheckReport",
    "ControlLimits",
    "EarlierStop",
    "EntryPlace",
    "Imported",
    "InputText",
    "KitCheck",
    "KitRecord",
    "Observation",
    "OpenStop",
    "PastStop",
    "PlanEntry",
    "Record",
    "RecordSummary",
    "Release",
    "ReleaseRecord",
    "Result",
    "RuleHit",
    "Scan",
    "TestRecord",
    "UnitChart",
    "UnitStops",
    "add_kit_check",
    "add_test",
    "adverse_observations",
    "all_releases",
    "backup",
    "burners",
    "capability",
    "check",
    "control_limits",
    "correct",
    "drift",
    "entry",
    "exported",
    "history",
    "import_entries",
    "import_file",
    "instrument_named",
    "kit_checks",
    "latest",
    "models",
    "notices",
    "open_record",
    "open_stops",
    "quantities",
    "read_export",
    "release",
    "search",
    "series",
    "sights",
    "stops_of_units",
    "summary",
    "unit_chart",
    "unit_stops",
    "units",
    "units_beside",
]
