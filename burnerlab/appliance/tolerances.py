"""The band around a rating: a share of the user's own, or a named row of the input tolerances."""

from __future__ import annotations

import re
from pathlib import Path

from burnerlab import tables
from burnerlab.appliance.model import Tolerance
from burnerlab.quantity.inputs import input_row
from burnerlab.tables import cite
from burnerlab.tables.problem import Problem, UserError, did_you_mean

BARE = re.compile(r"[0-9]+(\.[0-9]+)?")
PERCENT = re.compile(r"([0-9]+\.?[0-9]*)[ _-]*(?:percent|per cent|pct)", re.IGNORECASE)
ENTERED = "entered by the user"


def region_tolerance(region: str, own: Path | None = None) -> Tolerance:
    """The band of a file that writes none: its region's, or the default of the project.

    region : us, eu or ""; own : a CSV of the same columns in place of the shipped table

    >>> region_tolerance("eu").source
    'heat input at nominal pressure of a domestic cooking appliance (EN 30-1-1, ..., recalled)'
    """
    rows = tables.read("input_tolerances", own)
    named = [row["name"] for row in rows if region and row["default_for"] == region]
    return read_tolerance(named[0] if named else "default", own)


def read_tolerance(text: str, own: Path | None = None, *, key: str = "limits.tolerance") -> Tolerance:
    """A band from "5 %" (both ways) or from a row of ``input_tolerances``, such as "astm".

    text : a share [-] or the name of a row
    own : a CSV of the same columns in place of the shipped table
    Returns the Tolerance. Raises UserError for a share outside 0.1 to 50 %, or an unknown name.

    >>> read_tolerance("uk-service").low
    -0.1
    """
    found = {row["name"]: row for row in tables.read("input_tolerances", own)}
    if text in found:
        row = found[text]
        recalled = ", recalled" if row["provenance"] == "memory" else ""
        return Tolerance(
            low=float(row["low_percent"]) / 100,
            high=float(row["high_percent"]) / 100,
            source=f"{row['title']} ({cite(row['source'])}{recalled})",
        )
    if not any(character.isdigit() for character in text):
        names = list(found)
        what = "is neither a share nor the name of a tolerance"
        accepted = "a share such as 5 %, or " + ", ".join(names)
        raise UserError(Problem(what, value=text, key=key, accepted=accepted, fix=did_you_mean(text, names)))
    held = input_row("tolerance")
    if (meant := PERCENT.fullmatch(text.strip())) is not None:
        what, accepted = "is no share", "a share such as 5 %, or " + ", ".join(found)
        raise UserError(Problem(what, value=text, key=key, accepted=accepted, fix=f'write "{meant[1]} %"'))
    bare = BARE.fullmatch(text.strip())
    if bare is not None and held.high < float(text) <= 100.0 * held.high:
        what, accepted = "a bare number is a share of one", f"{100 * held.low:g} % to {100 * held.high:g} %"
        raise UserError(
            Problem(what, value=text, key=key, accepted=accepted, fix=f'write "{text.strip()} %"')
        )
    share = held.read(text, key)
    return Tolerance(low=-share, high=share, source=ENTERED)
