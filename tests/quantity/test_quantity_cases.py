"""Every known trap of a quantity written as text, and every spelling the trade uses, row by row."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import pytest

from burnerlab import tables
from burnerlab.quantity import (
    Kind,
    ReferenceState,
    UserError,
    check_low_pressure,
    check_orifice_diameter,
    read,
    read_at_reference,
    read_bore,
    read_heating_value,
    read_rate,
)

HERE = Path(__file__).parent
REFUSED = tables.read_csv(HERE / "refused.csv")
ACCEPTED = tables.read_csv(HERE / "accepted.csv")


def give(reader: str, kind: str, given: str) -> Any:
    match reader:
        case "read":
            return read(given, Kind[kind], key="test.key")
        case "rate":
            return read_rate(given, key="test.key")
        case "heating value":
            return read_heating_value(given, key="test.key")
        case "bore":
            return read_bore(given, key="test.key")
        case "low pressure":
            return check_low_pressure(read(given, Kind[kind]), given, key="test.key")
        case "orifice":
            return check_orifice_diameter(read(given, Kind[kind]), given, key="test.key")
        case "state":
            return ReferenceState.read(given, key="test.key")
        case "at reference":
            return read_at_reference(given, Kind[kind], key="test.key")
    raise AssertionError(f"no reader {reader!r}")


@pytest.mark.parametrize("row", REFUSED, ids=lambda row: row["id"])
def test_refused_with_words_that_help(row: tables.Row) -> None:
    with pytest.raises(UserError) as caught:
        give(row["reader"], row["kind"], row["given"])
    text = str(caught.value)
    for words in row["words"].split("|"):
        assert words in text
    assert text.startswith("test.key")
    assert "\n" not in text


@pytest.mark.parametrize("row", ACCEPTED, ids=lambda row: row["id"])
def test_accepted_spelling_has_its_value(row: tables.Row) -> None:
    result = give(row["reader"], row["kind"], row["given"])
    if row["reader"] == "rate":
        assert (result.basis or "") == row["kind"]
        result = result.power_W
    if row["reader"] == "bore":
        assert result.drill == row["kind"]
        result = result.diameter_m
    assert result == pytest.approx(float(row["value"]), rel=1e-11)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (True, "got a boolean"),
        (False, "got a boolean"),
        (dt.date(1979, 5, 27), "got a date"),
        (dt.datetime(1979, 5, 27, 7, 32), "got a date"),
        (dt.time(7, 32), "got a time of day"),
        ([11, "kPa"], "got a list"),
        ({"value": 11}, "got a table"),
        (None, "got nothing"),
        (11, "the unit is missing"),
        (2.75, "the unit is missing"),
        (float("nan"), "must be finite"),
        (float("inf"), "must be finite"),
        (10**5000, "the unit is missing"),
        (b"11 kPa", "got bytes"),
        (1 + 2j, "got complex"),
    ],
    ids=lambda value: value if isinstance(value, str) else type(value).__name__,
)
def test_what_is_not_text_is_refused_with_words(given: object, words: str) -> None:
    for reader in (read_rate, read_heating_value, lambda g: read(g, Kind.GAUGE_PRESSURE, "p")):
        with pytest.raises(UserError) as caught:
            reader(given)
        assert words in str(caught.value)


def test_the_shared_traps_stay_away_from_pint() -> None:
    """The fixed list of traps has at least one row per hazard named in the texts of the unit engine."""
    hazards = {row["why"] for row in REFUSED}
    assert {"pint reads 45 kW", "pint reads 140 mm", "pint reads 0 in", "pint never returns"} <= hazards


def test_range_is_said_in_the_unit_of_the_user() -> None:
    with pytest.raises(UserError, match=r"accepted: 2 in w\.c\. to 10 in w\.c\."):
        read("20 in w.c.", Kind.GAUGE_PRESSURE, low=498.17782, high=2490.8891)


@pytest.mark.parametrize("bound", [498.17782, 2490.8891])
def test_the_bounds_themselves_are_accepted(bound: float) -> None:
    assert read(f"{bound!r} Pa", Kind.GAUGE_PRESSURE, low=498.17782, high=2490.8891) == bound


def test_own_range_table_replaces_ours(tmp_path: Path) -> None:
    own = tmp_path / "ranges.csv"
    own.write_text(
        "name,low,high,words,source,place,provenance,note\n"
        "low_pressure,0.5 kPa,40 kPa,a shop appliance,house,rule 1,common practice,\n"
    )
    check_low_pressure(28e3, "28 kPa", own=own)
    with pytest.raises(UserError, match="a shop appliance"):
        check_low_pressure(75.8e3, "11 psi", own=own)


def test_confirmed_values_are_let_through() -> None:
    check_low_pressure(75.8e3, "11 psi", allow_high=True)
    check_orifice_diameter(0.0254, "1 in", allow_outside=True)


def test_message_cuts_long_input_at_sixty_characters() -> None:
    with pytest.raises(UserError) as caught:
        read("x" * 5000, Kind.POWER)
    assert len(str(caught.value)) < 200
