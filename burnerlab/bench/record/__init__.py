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

from burnerlab.bench.record.backup import BackupMade, CheckReport, backup, check
from burnerlab.bench.record.chart import (
    Capability,
    ControlLimits,
    RuleHit,
    capability,
    control_limits,
    drift,
)
from burnerlab.bench.record.connect import Record, open_record
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
    Release,
    ReleaseRecord,
    Result,
    Scan,
    TestRecord,
)
from burnerlab.bench.record.export import exported
from burnerlab.bench.record.open_stops import OpenStop, all_releases, notices, open_stops
from burnerlab.bench.record.query import (
    ChartPoint,
    RecordSummary,
    burners,
    entry,
    history,
    instrument_named,
    kit_checks,
    latest,
    models,
    not_as_wanted,
    search,
    series,
    summary,
    units,
)
from burnerlab.bench.record.restore import Imported, import_entries, import_file, read_export
from burnerlab.bench.record.stop_history import PastStop, UnitStops, stops_of_units, unit_stops
from burnerlab.bench.record.store import add_kit_check, add_test, correct, release
from burnerlab.bench.record.unitchart import ChartAsked, UnitChart, unit_chart
from burnerlab.bench.record.vocabulary import quantities, sights

__all__ = [
    "BackupMade",
    "BeforeLighting",
    "BenchInstrument",
    "BenchReading",
    "BenchTest",
    "Capability",
    "ChartAsked",
    "ChartPoint",
    "CheckReport",
    "ControlLimits",
    "EarlierStop",
    "Imported",
    "InputText",
    "KitCheck",
    "KitRecord",
    "Observation",
    "OpenStop",
    "PastStop",
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
    "not_as_wanted",
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
]
