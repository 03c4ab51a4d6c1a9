"""The tables of a record, version by version; each step takes a file from one version to the next.

Every table is append-only: triggers refuse to change or delete a row, and an insert that would replace one.
"""

from __future__ import annotations

APPLICATION_ID = 0x6275726E  # "burn": tells a record from any other SQLite file
OLDEST_SQLITE = (3, 37, 0)  # the first with STRICT tables

REFUSAL = "the record is append-only: a correction is a new entry"


def append_only(table: str, *unique: str) -> tuple[str, ...]:
    """Triggers that keep the rows of a table as they were written; ``unique`` are its columns that name a row."""
    same = " OR ".join(f"{column} = NEW.{column}" for column in ("id", *unique))
    refuse = f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
    return (
        f"CREATE TRIGGER {table}_keep_update BEFORE UPDATE ON {table} {refuse}",
        f"CREATE TRIGGER {table}_keep_delete BEFORE DELETE ON {table} {refuse}",
        f"CREATE TRIGGER {table}_keep_insert BEFORE INSERT ON {table} "
        f"WHEN EXISTS (SELECT 1 FROM {table} WHERE {same}) {refuse}",
    )


TESTS = (
    """CREATE TABLE instruments (
        id INTEGER PRIMARY KEY,
        name TEXT NOT NULL CHECK (length(name) > 0),
        kind TEXT NOT NULL,
        calibrated_on TEXT NOT NULL,
        due_on TEXT NOT NULL,
        UNIQUE (name, kind, calibrated_on, due_on)
    ) STRICT""",
    """CREATE TABLE tests (
        id INTEGER PRIMARY KEY,
        uid TEXT NOT NULL UNIQUE CHECK (length(uid) = 32),
        serial TEXT NOT NULL CHECK (length(serial) > 0),
        model TEXT NOT NULL CHECK (length(model) > 0),
        model_sha256 TEXT NOT NULL,
        gas TEXT NOT NULL,
        tester TEXT NOT NULL CHECK (length(tester) > 0),
        tested_at TEXT NOT NULL CHECK (length(tested_at) = 24),
        recorded_at TEXT NOT NULL CHECK (length(recorded_at) = 24),
        note TEXT NOT NULL,
        corrects INTEGER UNIQUE REFERENCES tests (id),
        reason TEXT NOT NULL,
        sha256 TEXT NOT NULL,
        chain TEXT NOT NULL,
        words TEXT NOT NULL,
        CHECK ((corrects IS NULL) = (reason = ''))
    ) STRICT""",
    "CREATE INDEX tests_by_serial ON tests (serial, tested_at, id)",
    "CREATE INDEX tests_by_model ON tests (model, tested_at, id)",
    "CREATE INDEX tests_by_time ON tests (tested_at, id)",
    "CREATE INDEX tests_by_words ON tests (tested_at, words)",  # a search reads this index alone
    """CREATE TABLE test_instruments (
        id INTEGER PRIMARY KEY,
        test_id INTEGER NOT NULL REFERENCES tests (id),
        instrument_id INTEGER NOT NULL REFERENCES instruments (id),
        UNIQUE (test_id, instrument_id)
    ) STRICT""",
    """CREATE TABLE readings (
        id INTEGER PRIMARY KEY,
        test_id INTEGER NOT NULL REFERENCES tests (id),
        burner TEXT NOT NULL,
        quantity TEXT NOT NULL,
        value REAL NOT NULL,
        standard_uncertainty REAL CHECK (standard_uncertainty >= 0),
        instrument TEXT NOT NULL
    ) STRICT""",
    "CREATE INDEX readings_by_test ON readings (test_id, quantity, burner)",
    """CREATE TABLE results (
        id INTEGER PRIMARY KEY,
        test_id INTEGER NOT NULL REFERENCES tests (id),
        burner TEXT NOT NULL,
        quantity TEXT NOT NULL,
        value REAL NOT NULL,
        expanded_uncertainty REAL CHECK (expanded_uncertainty >= 0),
        low REAL,
        high REAL,
        verdict TEXT NOT NULL,
        version TEXT NOT NULL
    ) STRICT""",
    "CREATE INDEX results_by_test ON results (test_id, quantity, burner)",
    """CREATE TABLE observations (
        id INTEGER PRIMARY KEY,
        test_id INTEGER NOT NULL REFERENCES tests (id),
        burner TEXT NOT NULL,
        name TEXT NOT NULL,
        answer TEXT NOT NULL CHECK (answer IN ('yes', 'no', 'not seen')),
        UNIQUE (test_id, burner, name)
    ) STRICT""",
    *append_only("instruments"),
    *append_only("tests", "uid"),
    *append_only("test_instruments"),
    *append_only("readings"),
    *append_only("results"),
    *append_only("observations"),
)

KITS = (
    """CREATE TABLE kit_checks (
        id INTEGER PRIMARY KEY,
        uid TEXT NOT NULL UNIQUE CHECK (length(uid) = 32),
        kit TEXT NOT NULL CHECK (length(kit) > 0),
        serial TEXT NOT NULL,
        title TEXT NOT NULL,
        parts_sha256 TEXT NOT NULL,
        tester TEXT NOT NULL CHECK (length(tester) > 0),
        weighed_at TEXT NOT NULL CHECK (length(weighed_at) = 24),
        recorded_at TEXT NOT NULL CHECK (length(recorded_at) = 24),
        mass_kg REAL NOT NULL,
        window_low_kg REAL NOT NULL,
        window_high_kg REAL NOT NULL,
        verdict TEXT NOT NULL CHECK (verdict IN ('within', 'outside')),
        note TEXT NOT NULL,
        version TEXT NOT NULL,
        sha256 TEXT NOT NULL,
        chain TEXT NOT NULL
    ) STRICT""",
    "CREATE INDEX kit_checks_by_kit ON kit_checks (kit, weighed_at, id)",
    "CREATE INDEX kit_checks_by_serial ON kit_checks (serial, weighed_at, id)",
    """CREATE TABLE kit_scans (
        id INTEGER PRIMARY KEY,
        kit_check_id INTEGER NOT NULL REFERENCES kit_checks (id),
        part TEXT NOT NULL,
        reading TEXT NOT NULL
    ) STRICT""",
    "CREATE INDEX kit_scans_by_check ON kit_scans (kit_check_id)",
    *append_only("kit_checks", "uid"),
    *append_only("kit_scans"),
)

STOPS = (
    """CREATE TABLE before_lighting (
        id INTEGER PRIMARY KEY,
        test_id INTEGER NOT NULL UNIQUE REFERENCES tests (id),
        supply_label TEXT NOT NULL,
        leak_test TEXT NOT NULL CHECK (leak_test IN ('', 'none found', 'not done here', 'leak found')),
        leak_test_method TEXT NOT NULL,
        leak_test_by TEXT NOT NULL,
        leak_test_when TEXT NOT NULL,
        extraction TEXT NOT NULL CHECK (extraction IN ('', 'yes', 'no')),
        co_alarm TEXT NOT NULL CHECK (co_alarm IN ('', 'yes', 'no')),
        place TEXT NOT NULL
    ) STRICT""",
    """CREATE TABLE stops (
        id INTEGER PRIMARY KEY,
        test_id INTEGER NOT NULL REFERENCES tests (id),
        stop TEXT NOT NULL CHECK (length(stop) > 0),
        scope TEXT NOT NULL CHECK (scope IN ('unit', 'bench')),
        signal TEXT NOT NULL,
        heading TEXT NOT NULL,
        do_first TEXT NOT NULL,
        do_then TEXT NOT NULL,
        why TEXT NOT NULL,
        UNIQUE (test_id, stop)
    ) STRICT""",
    """CREATE TABLE earlier_stops (
        id INTEGER PRIMARY KEY,
        test_id INTEGER NOT NULL REFERENCES tests (id),
        stop TEXT NOT NULL,
        why TEXT NOT NULL,
        reading TEXT NOT NULL,
        reason TEXT NOT NULL
    ) STRICT""",
    "CREATE INDEX earlier_stops_by_test ON earlier_stops (test_id)",
    """CREATE TABLE releases (
        id INTEGER PRIMARY KEY,
        uid TEXT NOT NULL UNIQUE CHECK (length(uid) = 32),
        recorded_at TEXT NOT NULL CHECK (length(recorded_at) = 24),
        name TEXT NOT NULL CHECK (length(name) > 0),
        qualification TEXT NOT NULL CHECK (length(qualification) > 0),
        cause TEXT NOT NULL CHECK (length(cause) > 0),
        repair TEXT NOT NULL CHECK (length(repair) > 0),
        leak_test TEXT NOT NULL CHECK (length(leak_test) > 0),
        sha256 TEXT NOT NULL,
        chain TEXT NOT NULL
    ) STRICT""",
    """CREATE TABLE released_stops (
        id INTEGER PRIMARY KEY,
        release_id INTEGER NOT NULL REFERENCES releases (id),
        stop_id INTEGER NOT NULL REFERENCES stops (id),
        UNIQUE (release_id, stop_id)
    ) STRICT""",
    "CREATE INDEX released_stops_by_stop ON released_stops (stop_id)",
    *append_only("before_lighting", "test_id"),
    *append_only("stops"),
    *append_only("earlier_stops"),
    *append_only("releases", "uid"),
    *append_only("released_stops"),
)

INPUTS = (
    """CREATE TABLE inputs (
        id INTEGER PRIMARY KEY,
        test_id INTEGER NOT NULL REFERENCES tests (id),
        name TEXT NOT NULL CHECK (length(name) > 0),
        text TEXT NOT NULL CHECK (length(text) > 0),
        UNIQUE (test_id, name)
    ) STRICT""",
    *append_only("inputs"),
)

PLANS = (
    """CREATE TABLE plan_entries (
        id INTEGER PRIMARY KEY,
        test_id INTEGER NOT NULL REFERENCES tests (id),
        plan TEXT NOT NULL CHECK (length(plan) = 64),
        plan_row TEXT NOT NULL CHECK (length(plan_row) > 0),
        UNIQUE (test_id, plan, plan_row)
    ) STRICT""",
    "CREATE INDEX plan_entries_by_plan ON plan_entries (plan, plan_row)",
    *append_only("plan_entries"),
)

PHOTOGRAPHS = (
    """CREATE TABLE photographs (
        id INTEGER PRIMARY KEY,
        test_id INTEGER NOT NULL REFERENCES tests (id),
        sha256 TEXT NOT NULL CHECK (length(sha256) = 64),
        subject TEXT NOT NULL CHECK (length(subject) > 0),
        UNIQUE (test_id, sha256)
    ) STRICT""",
    *append_only("photographs"),
)

RATING_BASIS = (
    "ALTER TABLE tests ADD COLUMN rating_basis TEXT NOT NULL DEFAULT '' "
    "CHECK (rating_basis IN ('', 'gross', 'net'))",
)

REGION = ("ALTER TABLE tests ADD COLUMN region TEXT NOT NULL DEFAULT '' CHECK (region IN ('', 'us', 'eu'))",)

SPELLINGS = (  # a unit is found however its serial number is spelled, in entries taken in from another record too
    "DROP INDEX tests_by_serial",
    "CREATE INDEX tests_by_unit ON tests (serial COLLATE NOCASE, tested_at, id)",
)

MIGRATIONS: tuple[tuple[str, ...], ...] = (
    TESTS,
    KITS,
    STOPS,
    INPUTS,
    PLANS,
    PHOTOGRAPHS,
    RATING_BASIS,
    REGION,
    SPELLINGS,
)
"""Statements of each schema, from the one before; a released step is never edited, only followed by another."""

VERSION = len(MIGRATIONS)
