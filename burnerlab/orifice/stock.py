"""The orifices that a maker has: a CSV with part number, size, tolerance, thread, price, mass of one piece."""

from __future__ import annotations

import csv
from collections.abc import Iterable
from dataclasses import replace
from io import StringIO
from pathlib import Path

from burnerlab import tables
from burnerlab.orifice.drill import OWN, Drill, ToleranceBand, hole_name, tolerance_band
from burnerlab.quantity import read_bore
from burnerlab.tables.csv_file import Row
from burnerlab.tables.problem import Problem, UserError
from burnerlab.tables.reader import ENTERED

STOCK = "stock"
MILLIMETRE, GRAM = 1e-3, 1e-3


@tables.cache_by_file
def stock_list(path: Path, tolerances: Path | None = None) -> tuple[Drill, ...]:
    """The orifices of a stock as drills with their part numbers, by rising diameter.

    path : CSV with the columns part and size ("#54", "1.40 mm"), or bore_mm in place of size; where known also
    minus_mm, plus_mm, thread, price, mass_g, mass_scatter_g (standard deviation from piece to piece). Usual other
    names of these columns are taken (part number, bore, mark, weight), further columns are left alone
    tolerances : own table of drill tolerances, for the orifices without minus_mm and plus_mm
    Returns drills; a row with only one of minus_mm and plus_mm has none on the other side.
    Raises UserError with every row that names no size.
    """
    rows = tables.read(STOCK, path)
    found, problems = [], []
    for row in rows:
        try:
            found.append(_orifice(row, tolerances))
        except UserError as error:
            problems += [replace(each, file=row.file, line=row.line) for each in error.problems]
    if not rows:
        problems.append(Problem("the stock is empty", file=path.name, fix="give a row for each orifice"))
    if problems:
        raise UserError(problems)
    return tuple(sorted(found, key=lambda drill: (drill.diameter_m, drill.part)))


def stock_text(drills: Iterable[Drill]) -> str:
    """Drills as a stock that ``stock_list`` reads: CSV, one row each.

    >>> from burnerlab.orifice.drill import drill_list
    >>> stock_text(drill for drill in drill_list("metric") if drill.name == "1.40 mm").splitlines()
    ['part,size,bore_mm,minus_mm,plus_mm,thread,price,mass_g,mass_scatter_g', '1.40 mm,1.40 mm,,,,,,,']
    """
    text = StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(
        ("part", "size", "bore_mm", "minus_mm", "plus_mm", "thread", "price", "mass_g", "mass_scatter_g")
    )
    for one in drills:
        band = one.band
        own = band is not None and band.provenance == ENTERED
        ends = (
            (one.diameter_m - band.low_m, band.high_m - one.diameter_m)
            if own and band is not None
            else (None,) * 2
        )
        figures = [_figure(end, MILLIMETRE) for end in ends]
        masses = [_figure(mass, GRAM) for mass in (one.mass_kg, one.mass_scatter_kg)]
        price = "" if one.price is None else repr(one.price)
        writer.writerow((one.part or one.name, one.name, "", *figures, one.thread, price, *masses))
    return text.getvalue()


def _figure(value: float | None, unit: float) -> str:
    return "" if value is None else f"{value / unit:.9g}"


def _orifice(row: Row, tolerances: Path | None) -> Drill:
    if bool(row["size"]) == bool(row["bore_mm"]):
        fix = "fill in one of the two"
        raise UserError(Problem("has not one size", row["size"], "size or bore_mm", accepted="#54", fix=fix))
    bore = read_bore(row["size"] or f"{row['bore_mm']} mm", key="size" if row["size"] else "bore_mm")
    drill = Drill(
        name=hole_name(bore.drill or row["size"], bore.diameter_m),
        kind=OWN,
        diameter_m=bore.diameter_m,
        source=row["source"],
        part=""
        if row["part"].replace(",", ".") == row["size"].replace(",", ".")
        else row["part"],  # what has no number of its own is called by its size
        thread=row["thread"],
        price=row.number("price") if row["price"] else None,
        mass_kg=row.number("mass_g") * GRAM if row["mass_g"] else None,
        mass_scatter_kg=row.number("mass_scatter_g") * GRAM if row["mass_scatter_g"] else None,
    )
    return replace(drill, band=_band(row, drill, tolerances))


def _band(row: Row, drill: Drill, tolerances: Path | None) -> ToleranceBand:
    """The row's own tolerance, else that of a drill of its size."""
    if not row["minus_mm"] and not row["plus_mm"]:
        return tolerance_band(drill, tolerances)
    low, high = (row.number(column, 0.0) * MILLIMETRE for column in ("minus_mm", "plus_mm"))
    if low >= drill.diameter_m:
        raise UserError(
            Problem("leaves no bore", value=row["minus_mm"], key="minus_mm", fix="check the unit")
        )
    return ToleranceBand(
        low_m=drill.diameter_m - low,
        high_m=drill.diameter_m + high,
        source=row["source"],
        provenance=ENTERED,
    )
