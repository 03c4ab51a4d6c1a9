"""``line``: the fewest different orifices for several models, and which burner gets which."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from hashlib import sha256
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.common_inputs import (
    STOCK,
    Destination,
    destination,
    read_appliance_file,
    read_drills,
    with_stock,
    write_files,
)
from burnerlab.cli.options import json_option, takes
from burnerlab.cli.output import (
    WIDTH,
    for_reader,
    in_words,
    number,
    percent,
    print_cautions,
    print_json,
    print_notes,
    table,
    wrapped,
)
from burnerlab.cli.proposals import drill_lists
from burnerlab.quantity import Kind, read
from burnerlab.quantity.inputs import Group, Input, as_written
from burnerlab.quantity.quantity_text import millimetre, quantity_text
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance
    from burnerlab.appliance.study.orifice_set import UnservedDemand
    from burnerlab.appliance.study.product_line import Aim, InputEnds, ProductLine
    from burnerlab.orifice import Drill
    from burnerlab.tables.languages import Language

ENDS = re.compile(r"(?P<low>.+?)\s*(?:\.\.+|…|\bto\b)\s*(?P<high>.+)")


def _read_models(text: Any, key: str) -> tuple[Appliance, ...]:
    """The appliance of a file, or those of every appliance file of a folder, in the order of their names."""
    from burnerlab.appliance.project.project_file import files_of_folder, is_folder

    if not is_folder(text):
        return (read_appliance_file(text, key),)
    return tuple(read_appliance_file(str(one), key) for one in files_of_folder(text, key))


def _read_ends(text: str, key: str) -> InputEnds:
    from burnerlab.appliance.study.product_line import InputEnds

    found = ENDS.fullmatch(text.strip())
    if found is None:
        raise UserError(Problem("is no range", value=text, key=key, accepted='such as "-25 %..25 %"'))
    low, high = (read(end, Kind.FRACTION, key=key) for end in (found["low"], found["high"]))
    if not -1.0 < low < 0.0 < high:
        what = "must hold 0 % between its ends, the lower above -100 %"
        raise UserError(Problem(what, value=text, key=key, accepted='such as "-25 %..25 %"'))
    return InputEnds(low=low, high=high)


@dataclass(frozen=True, slots=True, kw_only=True)
class LineRequest:
    """The models of a line, and from what their orifices are to come."""

    models: tuple[Appliance, ...]
    markets: tuple[str, ...]
    drills: tuple[Drill, ...] | None  # None: those of the models
    to_buy: tuple[Drill, ...]


def _line(
    files: Sequence[tuple[Appliance, ...]],
    market: Sequence[str],
    stock: Path | None,
    drills: tuple[Drill, ...] | None,
) -> LineRequest:
    models = tuple(with_stock(one, stock) for each in files for one in each)
    own, to_buy = (drills, ()) if stock is None else (None, drills or ())
    return LineRequest(models=models, markets=tuple(market), drills=own, to_buy=to_buy)


LINE = Group(
    make=_line,
    inputs=(
        Input(
            name="files",
            reader=_read_models,
            metavar="FILE...",
            is_argument=True,
            is_many=True,
            is_needed=True,
            missing="no appliance file or folder is named",
        ),
        Input(
            name="market",
            reader=as_written,
            metavar="NAME",
            is_many=True,
            help="A market of every FILE, by name or letter; repeatable. All of them without it.",
        ),
        STOCK,
        Input(
            name="drills",
            reader=read_drills,
            proposals=drill_lists,
            metavar="LISTS",
            help="number,letter,fraction,metric,hundredth, drills, or a CSV. With --stock: what can be bought.",
        ),
    ),
)
"""Several appliances and the orifices there are: ``LineRequest``."""


AIM = Group(
    make=lambda at_most, cheapest: at_most or ("cheapest" if cheapest else "fewest"),
    inputs=(
        Input(
            name="at_most",
            of="set_count",
            metavar="K",
            help="At most so many orifices, together nearest to the ratings, in place of the fewest.",
        ),
        Input(
            name="cheapest", is_flag=True, help="The least price of all pieces, by the prices of the stock."
        ),
    ),
    not_both=(("at_most", "cheapest"),),
)
"""What the set is chosen for: ``Aim``."""


@click.command(short_help="Fewest different orifices for several appliance files.")
@takes(
    line=LINE,
    aim=AIM,
    ends=Input(
        name="ends",
        reader=_read_ends,
        metavar="RANGE",
        help='Heat input allowed at the ends of the supply pressure: "-25 %..25 %".',
    ),
    apart=Input(
        name="apart",
        of="size_difference",
        metavar="D",
        help='Orifices of a model are equal or differ by this: "0.03 mm".',
    ),
    to=destination("the set as page, PDF, workbook and CSV"),
)
@json_option
def line_command(
    line: LineRequest, aim: Aim, ends: InputEnds | None, apart: float | None, to: Destination, as_json: bool
) -> None:
    """The fewest different orifices for the models of a product line, and which burner gets which.

    FILE is an appliance file with its [[market]] tables, or a folder of such files. An orifice serves a burner when, at
    both ends of the tolerance of its hole, the heat input at the nominal pressure stays within the band of the file,
    and within --ends at the lowest and highest supply pressure; with its nominal bore it holds the band on the supply
    as well. Both gases of a pressure couple get one orifice. What
    no orifice serves stands first, with the two that come nearest. The set is the exact least; the table at the end
    says what one orifice more or fewer does to the deviation. A job card sizes each burner by itself: give it the set
    that --out writes, as --stock of convert.

    \b
    Examples:
      burnerlab line range.toml fryer.toml
      burnerlab line models --stock orifices.csv --ends "-25 %..25 %"
      burnerlab line models --market A --market B --drills metric \\
          --apart "0.03 mm"
      burnerlab line models --stock orifices.csv --drills metric
      burnerlab line models --at-most 12 --out papers
    """
    from burnerlab.appliance.study.product_line import product_line
    from burnerlab.orifice.stock import stock_text
    from burnerlab.report.line_paper import line_paper

    found = product_line(
        line.models,
        markets=line.markets,
        drills=line.drills,
        to_buy=line.to_buy,
        aim=aim,
        ends=ends,
        apart_m=apart or 0.0,
    )
    files = write_files(
        to,
        lambda units: line_paper(found, _hash(line.models), units),
        {"set.csv": stock_text(found.best.drills).encode("utf-8")},
        regions=_regions(line, found),
        language=_language(line.models),
    )
    if as_json:
        print_json(found, files=files)
        return
    _print(found)
    print_notes("Written", files)
    gases = [one.supply.gas for one in line.models]
    gases += [supply.gas for one in line.models for market in one.markets for supply in market.supply]
    print_cautions(*gases)


def _regions(line: LineRequest, orifices: ProductLine) -> set[str]:
    """Of the markets; of the models where no orifice serves any."""
    return {one.region for one in orifices.fitted} or {one.region for one in line.models}


def _language(models: Sequence[Appliance]) -> Language | None:
    """Of all models, where it is one."""
    languages = {one.language: one.reader_language for one in models}
    return languages.popitem()[1] if len(languages) == 1 else None


def _hash(models: Sequence[Appliance]) -> str:
    """One for the files of all models: that of the file where there is one."""
    hashes = [one.file_sha256 for one in models]
    return hashes[0] if len(hashes) == 1 else sha256("".join(hashes).encode()).hexdigest()


def _print(line: ProductLine) -> None:
    if line.not_served:
        click.echo(wrapped(for_reader(f"OUTSIDE: {line.not_served}"), subsequent="  ") + "\n")
    for said in _unserved(line.unserved):
        click.echo(said)
    for said in line.outside:
        click.echo(wrapped(f"OUTSIDE: {said}", subsequent="  "))
    for said in line.altitude:
        click.echo(wrapped(for_reader(said), subsequent="  "))
    if line.count:
        _print_set(line)
    offered = f"Orifices offered: {line.offered}."
    print_notes("Notes", (offered, *line.notes, *line.coefficient_sources))


def _print_set(line: ProductLine) -> None:
    """The set, who gets which orifice of it, and what one orifice more or fewer does."""
    words = (
        f"Different orifices: {line.count}; burners and markets: {len(line.uses)}; models: {len(line.models)}; "
        f"deviation {number(100 * line.rms_deviation, 3)} % (root mean square), "
        f"at most {_share(line.best.worst_deviation)}"
    )
    click.echo(wrapped(words) + "\n")
    if line.to_buy:
        click.echo(wrapped(f"To buy: {', '.join(line.to_buy)}.") + "\n")
    click.echo(_orifices(line))
    for said in _burners(line):
        click.echo(said)
    if line.sizes:
        click.echo(f"\n{in_words('One orifice more or fewer')}\n{_sizes(line)}")


def _share(fraction: float) -> str:
    return f"{100 * fraction:.1f} %"


def _unserved(demands: Sequence[UnservedDemand]) -> Iterator[str]:
    """What no orifice serves, worst news first, with the two nearest."""
    if not demands:
        return
    yield in_words(f"SERVED BY NO ORIFICE: {len(demands)}")
    for (model, market), several in groupby(
        demands, key=lambda need: (need.demand.model, need.demand.market)
    ):
        yield f"\n{model}, {market}"
        rows = [(f"  {one.demand.burner}", *_need(one)) for one in several]
        yield table(("  burner", "hole, mm, its tolerance within", "nearest orifices"), rows, left_columns=3)
    yield "\n"


def _need(unserved: UnservedDemand) -> tuple[str, str]:
    demand = unserved.demand
    low_m, high_m = demand.window_m
    low, high = (millimetre(end, ".3f", has_unit=False) for end in (low_m, high_m))
    window: str = quantity_text("{} to {}", low, high)
    if low_m > high_m:
        window = "no bore holds band, supply and ends"
    near = ", ".join(f"{each.drill.mark} {percent(each.deviation)}" for each in unserved.nearest)
    return window, near or f"none with thread {', '.join(demand.threads)}"


def _orifices(line: ProductLine) -> str:
    has_parts = any(one.drill.part for one in line.orifices)
    rows = [
        (
            one.drill.name,
            *((one.drill.part,) if has_parts else ()),
            millimetre(one.drill.diameter_m, ".3f", has_unit=False),
            str(one.demands),
            ", ".join(one.models),
        )
        for one in line.orifices
    ]
    rows = [
        (*row[:-1], row[-1] if len(row[-1]) < WIDTH // 2 else f"{row[-1].count(',') + 1} models")
        for row in rows
    ]
    heads = ("orifice", *(("part number",) if has_parts else ()), "bore, mm", "burners", "models")
    return table(heads, rows, left_columns=2 if has_parts else 1)


def _burners(line: ProductLine) -> Iterator[str]:
    """A table for each model and market."""
    for (model, market), several in groupby(line.uses, key=lambda use: (use.demand.model, use.demand.market)):
        rows = [
            (
                f"  {use.demand.burner}",
                f"{use.demand.quantity} × {use.drill.mark}",
                ", ".join(percent(each) for each in use.deviations),
            )
            for use in several
        ]
        yield f"\n{model}, {market}"
        yield table(("  burner", "orifice", "deviation"), rows)


def _sizes(line: ProductLine) -> str:
    has_price = any(one.price is not None for one in line.sizes)
    rows = [
        (
            f"{one.count}{' <' if one.count == line.count else ''}",
            f"{100 * one.rms_deviation:.2f}",
            f"{100 * one.worst_deviation:.1f}",
            *((number(one.price),) if has_price else ()),
        )
        for one in line.sizes
    ]
    heads = ("orifices", "rms %", "largest %", *(("price",) if has_price else ()))
    return table(heads, rows)
