"""What a section of a sheet is made of."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from burnerlab.appliance.result import WorkedStep
from burnerlab.quantity.outputs import columns
from burnerlab.report.numbers import Cell, head
from burnerlab.tables.cautions import Caution


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """A name and what it is, with a remark."""

    label: str
    cell: Cell
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    rows: tuple[Fact, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockColumn:
    title: str
    side: Literal["left", "right"] = "left"
    wide: bool = False  # running text: takes the room that is left


def column_of(result: type, figure: str, *, basis: bool = False) -> BlockColumn:
    """The column of a declared figure of a result, headed by its label, with its basis where no caption says it."""
    declared = next(one for one in columns(result) if one.name == figure)
    return BlockColumn(title=head(declared, basis=basis), side="right")


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Rows under column heads; the first column names the row."""

    caption: str
    columns: tuple[BlockColumn, ...]
    rows: tuple[tuple[Cell, ...], ...]
    total: tuple[Cell, ...] = ()
    grouped: bool = False  # a first cell that repeats the one above is not shown again
    dense: bool = False  # many short rows: never stacked on a narrow screen


@dataclass(frozen=True, slots=True, kw_only=True)
class Points:
    items: tuple[str, ...]
    signed: bool = False  # steps in the order of the work: numbered, each with a line to sign on


@dataclass(frozen=True, slots=True, kw_only=True)
class Cautions:
    """Cautions in full, or by their lines alone."""

    items: tuple[Caution, ...]
    short: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A figure by name; ``description`` says in words what it shows."""

    key: str
    title: str
    caption: str
    description: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Steps:
    rows: tuple[WorkedStep, ...]


Block = Facts | Table | Points | Cautions | Picture | Steps


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    key: str
    title: str
    lead: str
    blocks: tuple[Block, ...]
