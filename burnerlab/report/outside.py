"""What is outside its range, by check and burner: named before any table, and in the row of its burner."""

from __future__ import annotations

from burnerlab.appliance.findings import HEAT_INPUT
from burnerlab.appliance.result import BurnerConversion, Conversion, Finding
from burnerlab.report.checks import burners_of, finding_range, is_of_flame, value_text, worst_of
from burnerlab.report.wording import clean
from burnerlab.tables.verdict import Verdict

WORD = "OUTSIDE"
PRESENT_HEAT_INPUT = "present heat input"


def outside_lines(c: Conversion) -> tuple[str, ...]:
    """A line for each check and gas: the worst value with its range, and the burners; the new gas before the present.

    >>> from burnerlab.appliance import convert, demonstration
    >>> outside_lines(convert(demonstration(), "propane", 2740.0))
    ()
    """
    groups: dict[tuple[bool, str, str, str], list[Finding]] = {}
    for f in c.findings:
        if f.verdict == Verdict.OUTSIDE:
            groups.setdefault((f.which_gas == "present", f.topic, f.which_gas, f.unit), []).append(f)
    return tuple(_line(c, same) for same in sorted(groups.values(), key=_danger))


def _danger(same: list[Finding]) -> tuple[bool, bool, bool]:
    """The new gas before the present; too much heat before the flame, the flame before all else."""
    first = same[0]
    return first.which_gas == "present", not any(map(_overfires, same)), not is_of_flame(first)


def _overfires(f: Finding) -> bool:
    return HEAT_INPUT in f.topic and f.high is not None and (f.value or 0.0) > f.high


def _line(c: Conversion, same: list[Finding]) -> str:
    worst = worst_of(same)
    value = "" if worst.value is None else f" {value_text(worst)}"
    held = finding_range(worst)
    gas = f", {worst.which_gas} gas" if worst.which_gas else ""
    who = burners_of(c, same) if worst.burner else ""
    danger = "; possible overfire" if any(map(_overfires, same)) else ""
    return f"{WORD}: {clean(worst.topic)}{gas}{value}{f', {held}' if held else ''}{f' ({who})' if who else ''}{danger}"


def outside_checks(c: Conversion, burner: BurnerConversion) -> tuple[str, ...]:
    """The checks of a burner that are outside once it is changed, its heat input aside: its row has that verdict."""
    of_heat = (HEAT_INPUT, PRESENT_HEAT_INPUT)
    found = [
        f
        for f in c.findings
        if f.verdict == Verdict.OUTSIDE
        and f.burner == burner.name
        and f.which_gas != "present"
        and f.topic not in of_heat
    ]
    found.sort(key=lambda f: _danger([f]))
    return tuple(dict.fromkeys(clean(f.topic) for f in found))


def beside_verdict(c: Conversion, burner: BurnerConversion) -> str:
    """What stands beside the verdict of a burner's heat input; "" where no check of it is outside."""
    topics = outside_checks(c, burner)
    more = f" and {len(topics) - 1} more" if len(topics) > 1 else ""
    return f"{topics[0]}{more} {WORD}" if topics else ""
