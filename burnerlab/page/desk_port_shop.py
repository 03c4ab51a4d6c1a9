"""What a maker can drill and bore, and how true, as it stands in the address of the page of a burner's ports."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import NamedTuple
from urllib.parse import urlencode

from burnerlab.appliance.study.port_study import PortCase, in_shop, port_tolerance
from burnerlab.burner.port_region import PortTolerance
from burnerlab.orifice.drill import Drill, drill_names, named_drills
from burnerlab.page.desk_form import DeskField
from burnerlab.quantity import Kind, System, in_unit
from burnerlab.quantity.examples import us_example
from burnerlab.quantity.inputs import Group, Input, together
from burnerlab.quantity.prose import problem_in
from burnerlab.quantity.quantity_text import quoted
from burnerlab.tables.literal import Key
from burnerlab.tables.problem import Problem, UserError

Shop = tuple[tuple[str, str], ...]
"""What is entered, by the names of the fields; blank ones are left out."""


def read_port_drills(text: str, key: str) -> tuple[Drill, ...]:
    """Drills by the names of their lists or their sizes; a page reads no file of the disk.

    >>> [drill.name for drill in read_port_drills("1.5 mm, #52", "drills")]
    ['1.5 mm', '#52']
    """
    if text.lower().endswith(".csv"):
        what, fix = "is a file: this page reads none", "write its sizes, as 1.5 mm, #52"
        raise UserError(Problem(what, value=text, key=key, fix=fix))
    return named_drills(drill_names(text, key), key)


class ShopField(NamedTuple):
    """An entry with its words on the page."""

    declared: Input
    label: str
    example: str
    of_file: Key = ""  # key of a burner that a variant brings this entry to


FIELDS = (
    ShopField(
        declared=Input(name="port_drills", reader=read_port_drills),
        label="port drills",
        example="metric, #52",
    ),
    ShopField(
        declared=Input(name="rows", of="port_rows"), label="rows of ports", example="2", of_file="ports.rows"
    ),
    ShopField(declared=Input(name="length", of="size"), label="length of a row", example="400 mm"),
    ShopField(
        declared=Input(name="port_depth", of="size"),
        label="wall",
        example="3 mm",
        of_file="ports.depth",
    ),
    ShopField(declared=Input(name="least_throat", of="size"), label="smallest throat", example="12 mm"),
    ShopField(declared=Input(name="largest_throat", of="size"), label="largest throat", example="20 mm"),
)
SPREADS = (
    ShopField(declared=Input(name="orifice_spread", of="half_width"), label="orifice area, ±", example="2 %"),
    ShopField(
        declared=Input(name="port_spread", of="drawing_spread"), label="port diameter, ±", example="0.03 mm"
    ),
    ShopField(
        declared=Input(name="throat_spread", of="drawing_spread"),
        label="throat diameter, ±",
        example="0.1 mm",
    ),
)
OF_ANY_BURNER = frozenset(("port_drills", *(one.declared.name for one in SPREADS)))
"""Entries of the workshop, not of one burner."""
SHOP = Group(make=dict, inputs=tuple(one.declared for one in FIELDS))
TOLERANCE = Group(make=port_tolerance, inputs=tuple(one.declared for one in SPREADS))
EXAMPLES = {one.declared.name: one.example for one in (*FIELDS, *SPREADS)}
EXAMPLE = re.compile(r'(?<=as in ")[^"]*(?=")|(?<=such as ")[^"]*(?=")')  # to copy, of the row of the entry


def shop_in(pairs: Mapping[str, str]) -> Shop:
    """What an address or a form has of it.

    >>> shop_in({"rows": " 3", "length": "", "units": "US"})
    (('rows', '3'),)
    """
    return tuple((name, text) for name in EXAMPLES if (text := pairs.get(name, "").strip()))


def shop_query(shop: Shop) -> str:
    """As the end of an address.

    >>> shop_query((("length", "400 mm"),)), shop_query(())
    ('&length=400+mm', '')
    """
    return f"&{urlencode(shop)}" if shop else ""


def made_in(case: PortCase, shop: Shop) -> tuple[PortCase, PortTolerance]:
    """A burner as it can be made with these entries, and how true. Raises UserError, its keys names of fields."""
    entries = dict(shop)

    def with_shop() -> PortCase:
        return in_shop(case, **SHOP.read(entries, _name))

    made, tolerance = together(with_shop, lambda: TOLERANCE.read(entries, _name))
    return made, tolerance


def _name(declaration: Input) -> str:
    return declaration.name


def values_brought(shop: Shop, number: int) -> dict[str, str]:
    """The keys of a burner (from 1) that a variant needs as they are entered here.

    >>> values_brought((("rows", "3"), ("length", "500 mm")), 2)
    {'burner[2].ports.rows': '3'}
    """
    entries = dict(shop)
    return {
        f"burner[{number}].{one.of_file}": entries[one.declared.name]
        for one in FIELDS
        if one.of_file and one.declared.name in entries
    }


def shop_fields(
    case: PortCase | None, shop: Shop, error: UserError | None, system: System
) -> tuple[tuple[DeskField, ...], tuple[DeskField, ...]]:
    """The entries on the page, what is wrong beside each: what is drilled and bored, and how true.

    case : with what holds where an entry is blank; none is known without it
    """
    entries, wrong = dict(shop), wrong_entries(error, system)
    blank = {} if case is None else _if_blank(case, system)

    def field(entry: ShopField) -> DeskField:
        name = entry.declared.name
        return DeskField(
            name=name,
            label=entry.label,
            text=entries.get(name, ""),
            width="w-wide" if name == "port_drills" else "w-short",
            wrong=wrong.get(name, ""),
            if_blank=blank.get(name, ""),
            example=_example(entry.example, system),
        )

    return tuple(map(field, FIELDS)), tuple(map(field, SPREADS))


def _example(text: str, system: System) -> str:
    return text if system == "metric" else us_example(text)


def wrong_entries(error: UserError | None, system: System) -> dict[str, str]:
    """What is wrong with each entry, in the units of the reader."""
    found: dict[str, str] = {}
    for problem in () if error is None else error.problems:
        if problem.key in EXAMPLES:
            one = problem_in(problem, system)
            accepted = f" (accepted: {one.accepted})" if one.accepted else ""
            fix = EXAMPLE.sub(_example(EXAMPLES[one.key], system), one.fix)
            words = f"{one.what}{accepted}" + (f"; {fix}" if fix else "")
            found[one.key] = f"{found[one.key]}; {words}" if one.key in found else words
    return found


def drawing_size(value_m: float, spec: str, US_spec: str, system: System) -> str:
    """A size as a drawing has it, its figure by the spec of the unit.

    >>> drawing_size(0.0016, ".2f", ".4f", "metric"), drawing_size(0.0016, ".2f", ".4f", "US")
    ('1.60 mm', '0.0630 in')
    """
    if system == "US":
        return f"{float(in_unit(value_m, Kind.DIAMETER, 'in')):{US_spec}} in"
    return str(quoted(value_m, Kind.DIAMETER, "mm", spec))


def _if_blank(case: PortCase, system: System) -> dict[str, str]:
    """What holds where an entry is blank: of the file, else of the table."""
    space, depth, usual = case.space, case.template.port_depth_m, port_tolerance()

    return {
        "port_drills": "any size",
        "rows": "pitch not looked at" if space.rows is None else f"{space.rows}",
        "length": "pitch not looked at"
        if space.row_length_m is None
        else drawing_size(space.row_length_m, ".4g", ".4g", system),
        "port_depth": "not known" if depth is None else drawing_size(float(depth), ".3g", ".3g", system),
        "least_throat": "any size",
        "largest_throat": "any size",
        "orifice_spread": f"{100 * usual.orifice_area:g} %",
        "port_spread": drawing_size(usual.port_m, ".3g", ".2g", system),
        "throat_spread": drawing_size(usual.throat_m, ".3g", ".2g", system),
    }
