"""The checks of a sheet: what is outside or near in a line each, and every value with its reason."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import NamedTuple, TypeVar

from burnerlab.appliance.conversion.checks import HEAT_INPUT
from burnerlab.appliance.conversion.result import (
    PRESENT_HEAT_INPUT,
    TILE_AERATION,
    BurnerConversion,
    Conversion,
    Finding,
)
from burnerlab.report.sheet.blocks import Block, BlockColumn, Cell, Points, Table, digits, fixed, margin_text
from burnerlab.report.sheet.vocabulary import topic_words, unit_words
from burnerlab.report.sheet.wording import clean, name
from burnerlab.tables.figure import weakest
from burnerlab.tables.phrase import Phrase, joined
from burnerlab.tables.verdict import Verdict

# The checks of a sheet: what is outside or near in a line each, and every value with its reason.

K = TypeVar("K")
Group = Sequence[Finding]
MINUS = "\u2212"  # inside a sentence, where the pages do not set it themselves
TIE, TIED = "\u00a0", 16  # a short value and its unit stay on one line
MOST_NAMED = 2  # burners in a line of the card
SOOT = ("yellow tipping",)
FLAME_CHECKS = ("lift", "light-back", "yellow tipping")
NONE = {Verdict.OUTSIDE: "none outside", Verdict.NEAR: "none near"}
NOTHING = "No value is outside its range or near an end of it."


def is_of_flame(f: Finding) -> bool:
    """Whether a check is on a limit of the flame, at whatever rate."""
    return f.topic.split(" at ")[0] in FLAME_CHECKS


def summary(c: Conversion) -> str:
    """How many values were held against a range, and how many want a look; what is within is no score.

    What is not evaluated counts once, as at the head of the sheet: values without a result and questions without one.
    """
    counts = {verdict: sum(f.verdict == verdict for f in c.findings) for verdict in Verdict}
    counts_words = [
        f"{counts[verdict]} {verdict}" if counts[verdict] else none for verdict, none in NONE.items()
    ]
    held = len(c.findings) - counts[Verdict.NOT_EVALUATED]
    count = open_count(c)
    open_ = f" {count} not evaluated: what and why stands under Not evaluated." if count else ""
    return f"{held} values against their ranges: {', '.join(counts_words)}.{open_}"


def open_count(c: Conversion) -> int:
    """Values and questions that are not evaluated."""
    return len(c.not_evaluated) + sum(f.verdict == Verdict.NOT_EVALUATED for f in c.findings)


def to_look_at(c: Conversion) -> tuple[Block, ...]:
    """What is outside or near, a line for each check with its burners: outside first; the annex has every value.

    What is outside on the gas that is taken out has rows of its own, after those of the unit as it will burn.
    """
    first = [f for f in c.findings if f.verdict in (Verdict.OUTSIDE, Verdict.NEAR)]
    return (_attention(c, first) if first else Points(items=(NOTHING,)),)


def _attention(c: Conversion, group: Group) -> Table:
    """Checks of several burners share a row, near ones of both gases too: the worst, and how far others reach."""
    columns = (
        BlockColumn(title="Check"),
        BlockColumn(title="Burner"),
        BlockColumn(title="Worst value, and where", side="right"),
        BlockColumn(title="Range"),
        BlockColumn(title="Verdict"),
        BlockColumn(title="Evidence"),
    )
    place = _places(c)
    groups = _grouped(group, lambda f: (f.topic, f.verdict, f.unit, _is_outside_now(f)))
    rows = [
        (
            Cell(text=clean(same[0].topic), explained=same[0].handbook),
            Cell(text=burners_of(c, same), also=_gases(same)),
            _worst_value(same),
            Cell(text=finding_range(worst_of(same))),
            Cell(text=same[0].verdict.value, verdict=same[0].verdict),
            Cell(text=str(weakest(*(f.evidence for f in same if f.evidence)))),
        )
        for same in sorted(
            groups, key=lambda same: (same[0].verdict.rank, danger(same), place[same[0].topic])
        )
    ]
    return Table(caption="To look at first", columns=columns, rows=tuple(rows), lines=True)


def _is_outside_now(f: Finding) -> bool:
    return f.verdict is Verdict.OUTSIDE and f.is_of_present_gas


def in_full(c: Conversion) -> Table:
    """Every value of every check, those of one topic together, with what was found and the source of the range."""
    columns = (
        BlockColumn(title="Check"),
        BlockColumn(title="Value at each burner", wide=True),
        BlockColumn(title="Found", wide=True),
        BlockColumn(title="Range, and where it is from", wide=True),
        BlockColumn(title="Verdict"),
        BlockColumn(title="Evidence"),
    )
    place, seen = _places(c), _nth(c.findings)
    groups = _grouped(
        c.findings, lambda f: (f.topic, f.verdict, f.evidence, finding_range(f), f.which_gas, seen[id(f)])
    )
    stated: set[str] = set()
    rows = [
        (
            Cell(text=clean(same[0].topic), also=same[0].handbook),
            Cell(text=_each(c, same), also=_gases(same)),
            Cell(text=_once(_finding_words(same, worst_of(same)), stated)),
            _range(same[0], stated),
            *_standing(same[0]),
        )
        for same in sorted(groups, key=lambda same: (place[same[0].topic], same[0].verdict.rank))
    ]
    return Table(caption="Every value", columns=columns, rows=tuple(rows), dense=True)


def _range(f: Finding, stated: set[str]) -> Cell:
    """The range, with its source unless a row on the same check has told it."""
    source = clean(f.source)
    key = f"{f.topic}: {source}"
    cell = Cell(text=finding_range(f), also="" if key in stated else source)
    stated.add(key)
    return cell


def _standing(f: Finding) -> tuple[Cell, Cell]:
    """Verdict and evidence, a column each: the one says where a value lies, the other what it rests on."""
    return Cell(text=f.verdict.value, verdict=f.verdict), Cell(text=str(f.evidence))


def _places(c: Conversion) -> dict[str, int]:
    """The order in which the topics first come up."""
    return {f.topic: place for place, f in reversed(list(enumerate(c.findings)))}


def _nth(group: Group) -> dict[int, int]:
    """For each finding, how many went before it on the same topic, gas and burner: pipe and hose are two checks."""
    counts: dict[tuple[str, str, str], int] = {}
    nth = {}
    for f in group:
        key = (f.topic, f.which_gas, f.burner)
        nth[id(f)] = counts.get(key, 0)
        counts[key] = nth[id(f)] + 1
    return nth


def _grouped(group: Group, key: Callable[[Finding], K]) -> list[list[Finding]]:
    groups: dict[K, list[Finding]] = {}
    for f in group:
        groups.setdefault(key(f), []).append(f)
    return list(groups.values())


def _each(c: Conversion, same: Group) -> str:
    """Each value with the burners that have it."""
    by_value: dict[str, list[str]] = {}
    for f in same:
        by_value.setdefault("" if f.value is None else value_text(f), []).append(f.burner)
    sentences = []
    for value, own in by_value.items():
        who = burners_words(c, own) if any(own) else ""  # a value of the whole appliance has no burner
        signed = value.replace("-", MINUS, 1) if value.startswith("-") else value
        sentences.append(f"{who} {signed.replace(' ', TIE) if len(signed) <= TIED else signed}".strip())
    return "; ".join(sentences)


def worst_of(same: Group) -> Finding:
    """Of checks against one range, the one nearest to leaving it."""
    valued = [f for f in same if f.value is not None]
    return min(valued, key=_room) if valued else same[0]


def _room(f: Finding) -> float:
    value = f.value or 0.0
    rooms = [value - f.low] if f.low is not None else []
    rooms += [f.high - value] if f.high is not None else []
    return min(rooms, default=0.0)


def burners_of(c: Conversion, same: Group) -> str:
    """The burners a row speaks of."""
    return burners_words(c, [f.burner for f in same])


def burners_words(c: Conversion, burners: Sequence[str]) -> str:
    """Burners by name, or all of them, or all but those that are fewer; no name is the whole appliance."""
    own = list(dict.fromkeys(burners))
    if own == [""]:
        return "all"
    every = [b.name for b in c.burners]
    missing = [one for one in every if one not in own]
    if len(every) > 2 and len(own) > 2 and len(missing) < len(own):
        return f"all but {', '.join(map(name, missing))}" if missing else "each"
    return ", ".join(name(one) for one in own if one)


def _gases(same: Group) -> str:
    which = {f.which_gas for f in same} - {""}
    return "both gases" if len(which) > 1 else f"{which.pop()} gas" if which else ""


def _finding_words(same: Group, first: Finding) -> str:
    if len({f.text for f in same}) == 1:
        return clean(first.text)
    where = ", ".join(
        filter(None, (name(first.burner) if len({f.burner for f in same}) > 1 else "", _of_gas(same, first)))
    )
    return f"{where}: {clean(first.text)}" if where else clean(first.text)


def _once(text: str, stated: set[str]) -> str:
    """A text without the remarks behind its first statement that a row above has told already."""
    first, *remarks = text.split("; ")
    new = [remark for remark in remarks if remark not in stated]
    stated |= set(remarks)
    return "; ".join([first, *new])


def _of_gas(same: Group, first: Finding) -> str:
    return f"{first.which_gas} gas" if first.which_gas and len({f.which_gas for f in same}) > 1 else ""


def _value(f: Finding) -> Cell:
    if f.value is None:
        return Cell(text="")
    return Cell(text=value_text(f), value=f.value, unit=f.unit)


def _worst_value(same: Group) -> Cell:
    """The worst value, and how far the others reach; without a range none is the worst, and the least stands first."""
    valued = sorted((f for f in same if f.value is not None), key=lambda f: f.value or 0.0)
    if not valued:
        return Cell(text="")
    first = valued[0] if same[0].low is None and same[0].high is None else worst_of(same)
    cell = _value(first)
    others = [f for f in (valued[0], valued[-1]) if _value(f).text != cell.text]
    reach = " and ".join(f"to {value_text(f, with_unit=False)}" for f in others)
    burner = name(first.burner) if len({f.burner for f in same}) > 1 else ""
    gas = first.which_gas if len({f.which_gas for f in same}) > 1 else ""
    return replace(cell, also="; ".join(filter(None, (", ".join(filter(None, (burner, gas))), reach))))


def finding_range(f: Finding) -> str:
    """The range a finding was held against, with its unit once."""
    low, high = ("" if end is None else _end(end) for end in (f.low, f.high))
    words = (
        Phrase("{low} to {high}", low=low, high=high)
        if low and high
        else Phrase("at least {least}", least=low)
        if low
        else Phrase("at most {most}", most=high)
        if high
        else ""
    )
    return _with_unit(words, f.unit) if words else ""


def _end(value: float) -> str:
    return digits(value, 3) if abs(value) >= 1e3 else f"{value:.3g}"


def worst_words(f: Finding) -> str:
    """Value and range of a finding; with its interval where that crosses the end of the range that it names."""
    if f.value is None:
        return finding_range(f)
    low, high = f.value_low, f.value_high
    is_inside = (f.low is None or f.value >= f.low) and (f.high is None or f.value <= f.high)
    if low is None or high is None or not (is_inside or f.test_decides):
        return joined(", ", filter(None, (value_text(f), finding_range(f))))
    under, over = f.low is not None and low < f.low, f.high is not None and high > f.high
    crossed = replace(f, low=f.low if under or not over else None, high=f.high if over or not under else None)
    span = Phrase("{low} to {high}", low=_number(low, f.unit), high=_number(high, f.unit))
    value = joined("", (value_text(f, with_unit=False), " (", span, ")"))
    return joined(", ", (_with_unit(value, f.unit), finding_range(crossed)))


def value_text(f: Finding, *, with_unit: bool = True) -> str:
    """The value of a finding; a ratio that only has to be large enough is a margin."""
    value = f.value or 0.0
    is_margin = f.unit in ("", "-", "1") and f.low is not None and f.high is None
    number = margin_text(value) if is_margin else _beyond_its_end(f, value)
    return _with_unit(number, f.unit) if with_unit else number


def _beyond_its_end(f: Finding, value: float) -> str:
    """A value with the digits it needs to differ from the end of its range where it is beyond that; at most two more.

    >>> from burnerlab.appliance.conversion.result import check
    >>> [value_text(check("drill tolerance", x, -5.0, 5.0, unit="%", text="")) for x in (-5.02, -5.0, -4.98)]
    ['-5.02 %', '-5.0 %', '-5.0 %']
    """
    end = f.low if f.low is not None and value < f.low else f.high
    if end is None or f.verdict != Verdict.OUTSIDE:
        return _number(value, f.unit)
    finer = ((_number(value, f.unit, more), _number(end, f.unit, more)) for more in range(3))
    return next((own for own, limit in finer if own != limit), _number(value, f.unit))


def _number(value: float, unit: str, more: int = 0) -> str:
    return fixed(value, 1 + more) if unit == "%" and abs(value) < 100 else digits(value, 3 + more)


def _with_unit(words: str, unit: str) -> str:
    return joined(" ", filter(None, (words, unit_words(clean(unit)))))


# What is outside its range, by check and burner: named before any table, and in the row of its burner.

WORD = "OUTSIDE"


def outside_lines(c: Conversion) -> tuple[str, ...]:
    """A line for each check and gas: the worst value with its range, and the burners; the new gas before the present.

    >>> from burnerlab.appliance import convert, demonstration
    >>> outside_lines(convert(demonstration(), "propane", 2740.0))
    ()
    """
    return tuple(_line(c, same) for same in _outside(c))


def _outside(c: Conversion) -> list[list[Finding]]:
    """What is outside, by check and gas, in the order of danger."""
    found = [f for f in c.findings if f.verdict == Verdict.OUTSIDE]
    return sorted(_grouped(found, lambda f: (f.topic, f.which_gas, f.unit)), key=danger)


class OutsideWords(NamedTuple):
    """A check that is outside on a card: how dangerous, whether a test decides it, burners and worst value in words."""

    danger: Danger
    test_decides: bool
    words: str


def outside_in_words(c: Conversion) -> tuple[OutsideWords, ...]:
    """The checks of the unit as it will burn that are outside, as its card has them.

    Nothing of the gas that is taken out, and no shutter whose opening the row of its burner names.
    """
    found = [
        f
        for f in c.findings
        if f.verdict is Verdict.OUTSIDE and not f.is_of_present_gas and not f.is_set_on_the_card
    ]
    groups = _grouped(found, lambda f: (f.topic, f.which_gas, f.unit, f.test_decides))
    return tuple(OutsideWords(danger(same), same[0].test_decides, _in_words(same)) for same in groups)


def _in_words(same: list[Finding]) -> str:
    worst, others = worst_of(same), _less_severe_burners(same)
    own = list(dict.fromkeys(name(f.burner) for f in (worst, *same) if f.burner))
    named = (
        ", ".join(own)
        if len(own) <= MOST_NAMED
        else Phrase("{first} and {count} more", first=own[0], count=len(own) - 1)
    )
    if others:  # the value is that of the worst alone
        named = Phrase("{burner}, worst of {number}", burner=own[0], number=len(own))
    beside = joined(": ", filter(None, (named, worst_words(worst))))
    if others and len(own) <= MOST_NAMED:
        beside = Phrase("{worst}; also {others}", worst=beside, others=", ".join(own[1:]))
    parts = [topic_words(clean(worst.topic))]
    parts += [Phrase("possible overfire")] if any(map(_overfires, same)) else []
    words = joined(", ", parts)
    return joined("", (words, " (", beside, ")")) if beside else words


Danger = tuple[bool, bool, int]


def danger(same: Group) -> Danger:
    """The new gas before the present, what an engineer decides before what a test does, and then by what it can do.

    Too much heat, then soot and CO, other limits of the flame, too little heat.

    >>> lift = Finding(topic="lift", verdict=Verdict.OUTSIDE, text="")
    >>> danger([lift]) < danger([Finding(topic=PRESENT_HEAT_INPUT, verdict=Verdict.OUTSIDE, text="")])
    True
    """
    return min((f.is_of_present_gas, f.test_decides, _danger_rank(f)) for f in same)


def _danger_rank(f: Finding) -> int:
    if _overfires(f):
        return 0
    if f.topic.startswith((*SOOT, TILE_AERATION)):
        return 1
    if is_of_flame(f) or f.topic.startswith(("tile: lift", "tile: light-back")):
        return 2
    return 3 if HEAT_INPUT in f.topic else 4


def _overfires(f: Finding) -> bool:
    return HEAT_INPUT in f.topic and f.high is not None and (f.value or 0.0) > f.high


def _less_severe_burners(same: Group) -> list[str]:
    """Burners whose value or range is not that of the worst, where several burners are outside; else none."""
    worst = worst_of(same)
    if len({worst_words(f) for f in same}) == 1:
        return []
    return [one for one in dict.fromkeys(f.burner for f in same) if one not in ("", worst.burner)]


def _line(c: Conversion, same: list[Finding]) -> str:
    worst = worst_of(same)
    told = worst_words(worst)
    gas = f", {worst.which_gas} gas" if worst.which_gas else ""
    who = burners_of(c, same) if worst.burner else ""
    if others := _less_severe_burners(same):  # the value is that of the worst alone
        worst_one = name(worst.burner)
        who = f"{worst_one}, worst of {len(others) + 1}; also {burners_words(c, others)}"
    danger = "; possible overfire" if any(map(_overfires, same)) else ""
    if worst.topic == PRESENT_HEAT_INPUT:  # the appliance before any change
        band = f"band {worst.low:+.3g} to {worst.high:+.3g} %"
        now = f"as described now {value_text(worst)} from its rating"
        return f"{WORD}: {PRESENT_HEAT_INPUT} ({who}): {now}, {band}{danger}"
    return (
        f"{WORD}: {clean(worst.topic)}{gas}{f' {told}' if told else ''}{f' ({who})' if who else ''}{danger}"
    )


def outside_checks(c: Conversion, burner: BurnerConversion) -> tuple[str, ...]:
    """The checks of a burner that are outside once it is changed, its heat input aside: its row has that verdict."""
    found = sorted(c.outside_of(burner), key=lambda f: danger([f]))
    return tuple(dict.fromkeys(clean(f.topic) for f in found))


def beside_verdict(c: Conversion, burner: BurnerConversion) -> str:
    """What stands beside the verdict of a burner's heat input; "" where no check of it is outside."""
    topics = outside_checks(c, burner)
    if len(topics) > 1:
        return Phrase("{check} and {count} more OUTSIDE", check=topic_words(topics[0]), count=len(topics) - 1)
    return Phrase("{check} OUTSIDE", check=topic_words(topics[0])) if topics else ""
