"""A figure declared on a result appears in every format, and every declaration of the package is a valid one."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, fields, is_dataclass
from typing import Any

import pytest

import burnerlab
import burnerlab as bl
from burnerlab.gas import Gas
from burnerlab.orifice import OrificeFlow
from burnerlab.quantity.outputs import columns, document, flat, output, row, texts
from burnerlab.quantity.units import Kind

CART = bl.demonstration()
PROPANE = bl.load("propane")
assert isinstance(PROPANE, Gas)
SUPPLY = bl.Conditions(gauge_pressure_Pa="11 in w.c.")
MORNING = bl.Draw(
    gas=PROPANE, cylinder=bl.cylinder_named("20 lb"), fill=0.8, air_temperature_K="0 C", heat_input_W="4 kW"
)


def declaring() -> Iterator[type]:
    """Every class of the package that declares outputs, its own module imported."""
    for found in pkgutil.walk_packages(burnerlab.__path__, "burnerlab."):
        if found.name.endswith("__main__"):
            continue
        module = importlib.import_module(found.name)
        for made in vars(module).values():
            if (
                inspect.isclass(made)
                and is_dataclass(made)
                and made.__module__ == found.name
                and columns(made)
            ):
                yield made


def test_every_declaration_is_valid_and_says_what_it_is() -> None:
    every = list(declaring())
    assert len(every) > 100
    for made in every:
        for column in columns(made):
            assert column.declared.label, (made, column.name)
            assert column.key.startswith(column.name[:3]), (made, column.name)


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Wider(OrificeFlow[float]):
    """A flow with one figure more, declared once."""

    lost_W: float = field(metadata=output("lost heat", Kind.POWER))


def test_one_more_declared_figure_is_in_every_format() -> None:
    plain = bl.flow(PROPANE, "#54", SUPPLY)
    wider = Wider(**{each.name: getattr(plain, each.name) for each in fields(plain)}, lost_W=1500.0)
    assert document("flow", wider)["lost_kW"] == 1.5
    assert flat(wider)["lost_kW"] == 1.5
    assert bl.to_frame(wider)["lost_kW"][0] == 1.5
    assert dict(texts(wider))["lost heat"] == "1.500 kW"
    assert dict(texts(wider, "US"))["lost heat"] == "5118 Btu/h"


RESULTS: dict[str, tuple[Any, Sequence[Any]]] = {
    "injectors": (table := bl.injectors(CART, bl.category_supplies("I3P", ["GB"])), table.rows),
    "supply": (burning := bl.operate(CART), burning.burners),
    "skins": (panels := bl.skins(CART), panels.panels),
    "flow": (one := bl.flow(PROPANE, "#54", SUPPLY), (one,)),
}


@pytest.mark.parametrize("name", RESULTS)
def test_the_columns_of_a_frame_are_the_keys_of_the_document(name: str) -> None:
    result, rows = RESULTS[name]
    frame = bl.to_frame(result)
    assert list(frame.columns) == list(flat(rows[0]))
    assert frame.to_dict("records")[0].keys() == flat(rows[0]).keys()
    made = document(name, result)
    lists = [value for value in made.values() if isinstance(value, list) and value and _is(value[0], rows[0])]
    for found, each in zip(lists[0] if lists else [made], rows, strict=True):
        assert found.keys() >= flat(each).keys()


def _is(found: Any, each: Any) -> bool:
    return isinstance(found, dict) and found.keys() == row(each).keys()


def test_the_course_of_a_draw_has_the_same_columns_everywhere() -> None:
    held = bl.hold(MORNING)
    course = document("cylinder", held)["series"]
    frame = bl.to_frame(held.nominal)
    assert set(course) <= set(frame.columns)
    assert frame["gauge_pressure_kPa"].to_list() == pytest.approx(course["gauge_pressure_kPa"], rel=1e-11)
