"""The checks of a sheet: equal ones of several burners and of both gases stand in one row."""

from __future__ import annotations

from collections.abc import Sequence

from burnerlab.appliance.result import Conversion, Finding
from burnerlab.report.numbers import Cell, digits, fixed
from burnerlab.report.parts import Column, Table
from burnerlab.report.wording import RANK, clean, name

Key = tuple[str, str, str, str]


def findings(c: Conversion) -> Table:
    """Every check, those of one topic together, in the order in which the topics first come up.

    Checks of one topic with the same verdict, trust and range share a row, which tells the worst of them.
    """
    columns = (
        Column(title="Check"),
        Column(title="Burner"),
        Column(title="Found", wide=True),
        Column(title="Value", side="right"),
        Column(title="Range, and where it is from", wide=True),
        Column(title="Verdict, trust"),
    )
    topics = {f.topic: place for place, f in reversed(list(enumerate(c.findings)))}
    groups: dict[Key, list[Finding]] = {}
    for f in sorted(c.findings, key=lambda f: (topics[f.topic], RANK[f.verdict])):
        groups.setdefault((f.topic, f.verdict, f.trust, finding_range(f)), []).append(f)
    said: tuple[str, str] = ("", "")  # a source is not said twice in a row
    told: set[str] = set()  # nor a remark on a model at all
    rows = []
    for same in groups.values():
        source = clean(same[0].source)
        rows.append(_row(c, same, "" if (same[0].topic, source) == said else source, told))
        said = (same[0].topic, source)
    return Table(caption="Values and ranges", columns=columns, rows=tuple(rows), grouped=True)


def _row(c: Conversion, same: Sequence[Finding], source: str, told: set[str]) -> tuple[Cell, ...]:
    first = worst_of(same)
    return (
        Cell(text=clean(first.topic)),
        Cell(text=burners_of(c, same), also=_gases(same)),
        Cell(text=_once(_found(same, first), told)),
        _value(same, first),
        Cell(text=finding_range(first), also=source),
        Cell(text=first.verdict, verdict=first.verdict, also=first.trust),
    )


def worst_of(same: Sequence[Finding]) -> Finding:
    """Of checks against one range, the one nearest to leaving it."""
    valued = [f for f in same if f.value is not None]
    return min(valued, key=_room) if valued else same[0]


def _room(f: Finding) -> float:
    value = f.value or 0.0
    rooms = [value - f.low] if f.low is not None else []
    rooms += [f.high - value] if f.high is not None else []
    return min(rooms, default=0.0)


def burners_of(c: Conversion, same: Sequence[Finding]) -> str:
    """The burners a row speaks of."""
    return whose(c, [f.burner for f in same])


def whose(c: Conversion, burners: Sequence[str]) -> str:
    """Burners by name, or all of them, or all but one; no name is the whole appliance."""
    own = list(dict.fromkeys(burners))
    if own == [""]:
        return "all"
    every = [b.name for b in c.burners]
    missing = [one for one in every if one not in own]
    if len(every) > 2 and len(own) > 2 and len(missing) <= 1:
        return f"all but {name(missing[0])}" if missing else "each"
    return ", ".join(name(one) for one in own if one)


def _gases(same: Sequence[Finding]) -> str:
    which = {f.which for f in same} - {""}
    return "both gases" if len(which) > 1 else f"{which.pop()} gas" if which else ""


def _found(same: Sequence[Finding], first: Finding) -> str:
    if len({f.text for f in same}) == 1:
        return clean(first.text)
    where = ", ".join(
        filter(None, (name(first.burner) if len({f.burner for f in same}) > 1 else "", _of_gas(same, first)))
    )
    return f"{where}: {clean(first.text)}" if where else clean(first.text)


def _once(text: str, told: set[str]) -> str:
    """A text without the remarks behind its first statement that a row above has told already."""
    first, *remarks = text.split("; ")
    new = [remark for remark in remarks if remark not in told]
    told |= set(remarks)
    return "; ".join([first, *new])


def _of_gas(same: Sequence[Finding], first: Finding) -> str:
    return f"{first.which} gas" if first.which and len({f.which for f in same}) > 1 else ""


def _value(same: Sequence[Finding], first: Finding) -> Cell:
    if first.value is None:
        return Cell(text="")
    values = sorted(f.value for f in same if f.value is not None)
    low, high = (in_unit(end, first.unit) for end in (values[0], values[-1]))
    if low != high:
        return Cell(text=f"{_number(values[0], first.unit)} to {high}")
    return Cell(text=high, value=first.value, unit=first.unit)


def finding_range(f: Finding) -> str:
    """The range a finding was held against, with its unit once."""
    low, high = ("" if end is None else _end(end) for end in (f.low, f.high))
    words = (
        f"{low} to {high}"
        if low and high
        else f"at least {low}"
        if low
        else f"at most {high}"
        if high
        else ""
    )
    return f"{words} {_unit(f.unit)}".strip() if words else ""


def _end(value: float) -> str:
    return digits(value, 3) if abs(value) >= 1e3 else f"{value:.3g}"


def in_unit(value: float, unit: str) -> str:
    return f"{_number(value, unit)} {_unit(unit)}".strip()


def _number(value: float, unit: str) -> str:
    return fixed(value, 1) if unit == "%" and abs(value) < 100 else digits(value, 3)


def _unit(unit: str) -> str:
    """A unit as printed; a bare ratio has none."""
    return "" if unit in ("-", "1", "x") else clean(unit)
