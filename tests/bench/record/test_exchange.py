"""Out and in again: equal to the last digit, nothing twice, nothing altered, nothing that a spreadsheet runs."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from record_samples import a_kit, a_test

from burnerlab.bench.record import (
    BenchInstrument,
    BenchReading,
    BenchTest,
    KitCheck,
    Observation,
    Record,
    Result,
    Scan,
    add_kit_check,
    add_test,
    check,
    correct,
    exported,
    history,
    import_file,
    latest,
    open_record,
    series,
    summary,
    units,
)
from burnerlab.bench.record.document import FORMULA_STARTS, defused, restored
from burnerlab.bench.record.entry import RATING_BASES, RECORD_REGIONS, quantities, sights
from burnerlab.bench.record.exchange import FORMATS, every_kit, every_test
from burnerlab.bench.record.query import all_kit_checks, all_tests
from burnerlab.quantity import UserError

NASTY = (
    "=1+1",
    "+1",
    "-2 %",
    "@x",
    "'quoted",
    "''",
    '"',
    "a,b;c",
    "  =x",
    "Größe",
    "\N{THERMOMETER}",
    "<b>&amp;",
)
words = st.text(st.characters(categories=("L", "N", "P", "S", "Zs")), min_size=1, max_size=20).filter(
    lambda text: bool(text.strip()) and text.strip().isprintable()
) | st.sampled_from(NASTY)
figures = st.floats(allow_nan=False, allow_infinity=False, width=64)
sizes = st.floats(0.0, 1e12)
names = st.sampled_from(sorted(quantities()))
readings = st.builds(
    BenchReading,
    quantity=names,
    value=figures,
    burner=words | st.just(""),
    standard_uncertainty=st.none() | sizes,
)
results = st.builds(
    Result,
    quantity=names,
    value=figures,
    burner=words,
    expanded_uncertainty=st.none() | sizes,
    low=st.none() | st.floats(-1e9, 0.0),
    high=st.none() | sizes,
    verdict=st.sampled_from(("", "within", "near", "outside", "not evaluated")),
)
observations = st.builds(
    Observation, name=st.sampled_from(sorted(sights())), answer=st.sampled_from(("yes", "no", "not seen"))
)
bench_tests = st.builds(
    BenchTest,
    serial=words,
    model=words,
    tester=words,
    gas=words | st.just(""),
    rating_basis=st.sampled_from(RATING_BASES),
    region=st.sampled_from(RECORD_REGIONS),
    note=words | st.just("two\nlines\n\n  and a third") | st.just(""),
    instruments=st.lists(
        st.builds(BenchInstrument, name=words.map(str.strip), due_on=st.dates().map(str)),
        max_size=2,
        unique_by=lambda i: i.name,
    ).map(tuple),
    readings=st.lists(readings, max_size=3).map(tuple),
    results=st.lists(results, max_size=2, unique_by=lambda r: r.quantity).map(tuple),
    observations=st.lists(observations, max_size=3, unique_by=lambda o: o.name).map(tuple),
)
kits = st.builds(
    KitCheck,
    kit=words,
    title=words,
    tester=words,
    mass_kg=sizes,
    window_low_kg=sizes,
    window_high_kg=sizes,
    verdict=st.sampled_from(("within", "outside")),
    scans=st.lists(st.builds(Scan, part=words | st.just(""), reading=words), max_size=3).map(tuple),
)


def contents(record: Record) -> list[Any]:
    return [list(all_tests(record)), list(all_kit_checks(record))]


def round_trip(source: Record, folder: Path, ending: str) -> list[Any]:
    file = folder / f"out.{ending}"
    file.write_bytes(exported(source, ending))
    with open_record(folder / f"from_{ending}.sqlite") as target:
        done = import_file(target, file)
        assert (done.tests, done.kit_checks) == (summary(source).tests, summary(source).kit_checks)
        assert check(target).is_whole
        assert check(target).last_chain == check(source).last_chain
        assert exported(target, ending) == file.read_bytes()
        return contents(target)


def filled(folder: Path) -> Record:
    record = open_record(folder / "bench.sqlite")
    for text in NASTY:
        add_test(record, a_test(text, note=text, observations=()))
    first = add_test(record, a_test("C-0001", rating_basis="net", region="eu"))
    second = correct(record, first.uid, a_test("C-0001", deviation=1 / 3), "-- wrong dial")
    correct(record, second.uid, a_test("C-0002", deviation=-0.0), "=wrong unit")
    add_kit_check(record, a_kit())
    return record


@pytest.mark.parametrize("ending", sorted(FORMATS))
def test_export_and_import_are_equal(tmp_path: Path, ending: str) -> None:
    if ending == "xlsx":
        pytest.importorskip("xlsxwriter")
        pytest.importorskip("openpyxl")
    with filled(tmp_path) as source:
        assert round_trip(source, tmp_path, ending) == contents(source)


@settings(max_examples=25)
@given(tests=st.lists(bench_tests, max_size=3), weighed=st.lists(kits, max_size=2))
def test_any_entry_survives_json_and_csv(
    tmp_path_factory: pytest.TempPathFactory, tests: list[BenchTest], weighed: list[KitCheck]
) -> None:
    folder = tmp_path_factory.mktemp("any")
    with open_record(folder / "bench.sqlite") as source:
        for one in tests:
            add_test(source, one)
        for kit in weighed:
            add_kit_check(source, kit)
        for ending in ("json", "csv"):
            assert round_trip(source, folder, ending) == contents(source)


@settings(max_examples=200)
@given(text=st.text() | st.sampled_from(NASTY))
def test_a_defused_cell_is_no_formula_and_comes_back(text: str) -> None:
    cell = defused(text)
    assert not cell.lstrip(" \n\v\f\u00a0\ufeff").startswith(FORMULA_STARTS)
    assert restored(cell) == text


def test_no_cell_of_the_csv_can_become_a_formula(tmp_path: Path) -> None:
    with filled(tmp_path) as source:
        rows = list(csv.reader(io.StringIO(exported(source, "csv").decode("utf-8-sig"), newline="")))
    assert len({len(row) for row in rows}) == 1
    cells = [cell for row in rows for cell in row if cell]
    risky = [cell for cell in cells if cell.startswith(FORMULA_STARTS)]
    assert risky
    assert all(float(cell) < 0.0 for cell in risky)  # plain negative figures are all that starts so


def test_the_workbook_holds_text_as_text(tmp_path: Path) -> None:
    openpyxl = pytest.importorskip("openpyxl")
    pytest.importorskip("xlsxwriter")
    with filled(tmp_path) as source:
        book = openpyxl.load_workbook(io.BytesIO(exported(source, "xlsx")))
    kinds = {cell.data_type for sheet in book for row in sheet for cell in row}
    assert kinds <= {"s", "n"}  # no formula
    assert book["Tests"].max_row == 1 + len(NASTY) + 3
    book.close()


def test_nothing_is_taken_in_twice(tmp_path: Path) -> None:
    with filled(tmp_path) as source:
        file = tmp_path / "out.json"
        file.write_bytes(exported(source, "json"))
        done = import_file(source, file)
        assert (done.tests, done.kit_checks) == (0, 0)
        assert done.already_there == len(NASTY) + 4
        add_test(source, a_test("C-0009"))
        file.write_bytes(exported(source, "json"))
    with open_record(tmp_path / "other.sqlite") as target:
        import_file(target, file)
        assert import_file(target, file).already_there == len(NASTY) + 5
        assert check(target).is_whole


def test_an_export_without_the_basis_of_the_rating_is_taken_in(tmp_path: Path) -> None:
    """Made before it was recorded: the rows of its tests have no such column, and their SHA-256 is what it was."""
    with open_record(tmp_path / "bench.sqlite") as source:
        add_test(source, a_test("C-0009"))
        lines = list(csv.DictReader(io.StringIO(exported(source, "csv").decode("utf-8-sig"), newline="")))
        made = contents(source)
    file = tmp_path / "older.csv"
    with file.open("w", newline="", encoding="utf-8-sig") as stream:
        older = [name for name in lines[0] if name not in ("rating_basis", "region")]
        writer = csv.DictWriter(stream, older, extrasaction="ignore")
        writer.writeheader()
        writer.writerows(lines)
    with open_record(tmp_path / "target.sqlite") as target:
        assert import_file(target, file).tests == 1
        assert contents(target) == made


def altered(document: dict[str, Any], change: str) -> dict[str, Any]:
    test = document["tests"][-1]
    if change == "value":
        test["results"][0]["value"] = 0.0123
    elif change == "dropped":
        test["observations"] = []
    elif change == "uid":
        test["uid"] = "0" * 31 + "g"
    elif change == "unknown key":
        test["results"][0]["colour"] = "blue"
    elif change == "missing key":
        del test["serial"]
    elif change == "nan":
        test["readings"][0]["value"] = float("nan")
    elif change == "bool":
        test["readings"][0]["value"] = True
    elif change == "list":
        test["readings"] = "none"
    elif change == "newer":
        document["schema"] = 99
    elif change == "other":
        document["format"] = "shopping list"
    elif change == "correction of nothing":
        document["tests"] = document["tests"][-1:]
    return document


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ("value", "altered since it was exported"),
        ("dropped", "altered since it was exported"),
        ("uid", "not the uid"),
        ("unknown key", r"results.colour: unknown key|results.colour.*unknown key"),
        ("missing key", r"serial: is missing"),
        ("nan", "must be a finite number"),
        ("bool", "must be a number"),
        ("list", "must be a list"),
        ("newer", "newer burnerlab"),
        ("other", "not an exported bench record"),
        ("correction of nothing", "no such entry"),
    ],
)
def test_what_is_not_as_it_was_exported_is_refused_whole(tmp_path: Path, change: str, words: str) -> None:
    with filled(tmp_path) as source:
        document = json.loads(exported(source, "json"))
    file = tmp_path / "altered.json"
    file.write_text(json.dumps(altered(document, change)), encoding="utf-8")
    with open_record(tmp_path / "target.sqlite") as target:
        with pytest.raises(UserError, match=words):
            import_file(target, file)
        assert summary(target).tests == 0


def test_an_entry_that_differs_from_the_one_there_is_told(tmp_path: Path) -> None:
    from burnerlab.bench.record.document import as_document, sha256_of
    from burnerlab.bench.record.exchange import checked_entries, import_entries

    with filled(tmp_path) as source:
        document = next(every_test(source))
        document["note"] = "another story"
        plain = {key: value for key, value in document.items() if key != "sha256"}
        with pytest.raises(UserError, match="in the record already, with another content"):
            import_entries(source, checked_entries([plain | {"sha256": sha256_of(plain)}], []))
        assert as_document(next(all_tests(source)))["note"] != "another story"


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("a.csv", b"row,uid\r\nbanana,1\r\n", "unknown kind of row"),
        ("a.csv", b"row,uid\r\ntest,1\r\n", "has no column serial"),
        ("a.csv", b"row,uid,burner\r\nreading,1,x\r\n", "belongs to no entry"),
        ("a.csv", b"\xff\xfe\x00", "not plain UTF-8"),
        ("a.json", b"[1, 2", "is not JSON"),
        ("a.json", b"[" * 100_000, "is not JSON"),
        ("a.json", b"{}", "not an exported bench record"),
        ("a.xlsx", b"PK not a workbook", "is not a workbook"),
        ("a.txt", b"", r"\.json, \.csv, \.xlsx"),
    ],
)
def test_other_files_are_refused(tmp_path: Path, name: str, content: bytes, words: str) -> None:
    file = tmp_path / name
    file.write_bytes(content)
    with open_record(tmp_path / "target.sqlite") as target:
        with pytest.raises(UserError, match=words):
            import_file(target, file)
        with pytest.raises(UserError, match="no such file"):
            import_file(target, tmp_path / "gone.json")
        assert list(every_kit(target)) == []


def test_a_unit_taken_in_under_another_spelling_is_the_same_unit(tmp_path: Path) -> None:
    """Small and capital letters are the same: one line, one history, and whoever imports hears of it."""
    with open_record(tmp_path / "other.sqlite") as other:
        add_test(other, a_test("Rg5-0001", -0.08))
        add_test(other, a_test("X-1"))
        (tmp_path / "out.json").write_bytes(exported(other, "json"))
    with open_record(tmp_path / "bench.sqlite") as record:
        for serial in ("RG5-0001", "rG5-0002"):
            add_test(record, a_test(serial, tested_at="2024-12-01T10:00:00Z"))
        done = import_file(record, tmp_path / "out.json")
        assert [words.split(":")[0] for words in done.spellings] == [
            "Rg5-0001 is the unit RG5-0001 of the record"
        ]
        assert import_file(record, tmp_path / "out.json").spellings == ()  # already there
        for spelled in ("rg5-0001", "RG5-0001", "Rg5-0001", "rG5-0001"):
            assert {one.serial for one in history(record, spelled)} == {"RG5-0001", "Rg5-0001"}
            newest = latest(record, spelled)
            assert newest is not None
            assert newest.serial == "RG5-0001"
        assert [one.serial for one in units(record)] == ["rG5-0002", "RG5-0001", "X-1"]
        assert summary(record).units == 3
        points = series(record, "market cart range", "griddle", "deviation")
        assert len(points) == 3
        assert check(record).is_whole
