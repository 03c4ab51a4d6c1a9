"""Chapters of the files that a user writes: project file, study, parts list of a kit; made from their keys."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from burnerlab.handbook.markdown_text import code, escaped, sentence, table
from burnerlab.quantity import Kind, System
from burnerlab.quantity.inputs import input_row
from burnerlab.quantity.show import show

if TYPE_CHECKING:
    from burnerlab.appliance.project.keys import Key, KeyLine

HEADS = ("key", "what it is", "accepted", "example")
OF_KIND = {"diameter": "orifice_diameter"}
"""Rows of the ranges of kinds whose keys have a reader of their own."""
INTRODUCTION = (
    "TOML; a quantity is a text of one number and one unit. The keys stand below their table; `[[...]]` may be written "
    "several times. A key that is not needed says what holds without it. Ranges stand in the units of "
    "`--units`; a file may have either."
)


EUROPEAN = """
[appliance]
name   = "stall cooker"
region = "eu"                   # band, supply pressures, altitude policies, words of the papers
rating = "gross"                # Hs; "net" for ratings on Hi
model  = "SC 3"

[supply]
gas           = "G20"
pressure      = "20 mbar"       # at the injectors
pressure_low  = "17 mbar"
pressure_high = "25 mbar"

[limits]
tolerance = "5 %"
drills    = ["metric", "hundredth"]  # injectors in 1/100 mm; as region = "eu" has them

[[burner]]
name     = "large ring"
kind     = "ring"
rate     = "3.0 kW"
turndown = "0.9 kW"             # reduced rate
orifice  = { drill = "1.20 mm" }
ports    = { diameter = "1.6 mm", count = 150, depth = "3 mm", pitch = "4.4 mm", rows = 2 }
throat   = "14 mm"
shutter  = { opening = "70 %", area = "110 mm2" }

[[burner]]
name    = "small ring"
kind    = "ring"
count   = 2
rate    = "2.05 kW"
orifice = { drill = "1.00 mm" }

[[market]]
name   = "Germany, G20"
supply = { gas = "G20", pressure = "20 mbar" }

[[market]]
name   = "third family, couple 3+"
supply = [                      # one injector for both, sized on the first
  { gas = "G30", pressure = "29 mbar" },
  { gas = "G31", pressure = "37 mbar" },
]
"""
"""A whole appliance for a European reader: G20 today, sold on the couple G30 and G31."""


def project_file(system: System = "metric") -> str:
    """A whole file of a European appliance, and every key of the project file, by table."""
    from burnerlab.appliance.project.file_tables import ProjectFile

    whole = (
        "## A whole file, European\n\n"
        "Save it as `stall.toml`. A file in US units stands in "
        "[first-conversion](first-conversion.md#write-your-appliance); every quantity may have either unit.\n\n"
        f"```toml stall.toml\n{EUROPEAN.strip()}\n```\n\n"
        "```console\n$ burnerlab convert stall.toml\n$ burnerlab injectors stall.toml --country DE\n```\n\n"
        "Each market is answered by itself. On G30 the large ring draws too little air with this shutter: yellow "
        "tipping stands *outside*, at the head of the answer. Without ports and throat no flame is evaluated."
    )
    return f"{INTRODUCTION}\n\n{whole}\n\n" + "\n\n".join(_tables(ProjectFile, "", "", system))


def study_file(system: System = "metric") -> str:
    """Every key of the file of a sweep, by table."""
    from burnerlab.appliance.study.design import StudyFile

    return f"{INTRODUCTION}\n\n" + "\n\n".join(_tables(StudyFile, "", "", system))


def kit_list(system: System = "metric") -> str:
    """Every key of the parts list of a kit, by table."""
    from burnerlab.bench.kit import Kit

    return f"{INTRODUCTION}\n\n" + "\n\n".join(_tables(Kit, "", "", system))


def _tables(cls: type, path: str, about: str, system: System) -> Iterator[str]:
    """The table of a class, then those in it."""
    from burnerlab.appliance.project.keys import table_keys
    from burnerlab.appliance.project.project_text import GAS_TABLE

    rows, inner = [], []
    for name, one in table_keys(cls).items():
        key = one.key
        if key.table is not None:
            inner.append((key.table, f"{path}{name}{'[]' if key.is_list else ''}.", key.help, key.accepted))
        elif not path and name == GAS_TABLE:
            continue
        else:
            rows.append(_row(name, key, _without(one.is_needed, one.default, key, system), system))
    head = f"## {_title(path)}\n\n{code(_head(path))}: {sentence(escaped(about))}\n\n" if path else ""
    if rows:
        yield f"{head or f'## top level{chr(10)}{chr(10)}'}{table(HEADS, rows)}"
    elif head:
        yield head.rstrip()
    if not path and GAS_TABLE in table_keys(cls):
        yield _gas_table(system)
    for table_class, inside, help_, accepted in inner:
        many = f"{help_} ({accepted})" if inside.endswith("[].") else help_
        yield from _tables(table_class, inside, many, system)


def _gas_table(system: System) -> str:
    """The table of a gas of the user's own."""
    from burnerlab.appliance.project.gas_keys import GAS_KEYS, WHEN_NEEDED

    needed = {name: f"**Needed** {escaped(when)}" for name, when in WHEN_NEEDED.items()}
    rows = [_row(name, key, needed.get(name, ""), system) for name, key in GAS_KEYS.items()]
    about = (
        "`[gas]`: a gas of your own, in place of `gas` under `[supply]`. It has one of three forms: "
        "`composition`, `blend`, or `gross_heating_value` with `relative_density`. A key of another form is refused."
    )
    return f"## gas\n\n{about}\n\n{table(HEADS, rows)}"


def _title(path: str) -> str:
    return " ".join(path.replace("[]", "").rstrip(".").split(".")).replace("_", " ")


def _head(path: str) -> str:
    """How the file writes the head of a table.

    >>> _head("burner[].ports."), _head("burner[].")
    ('[burner.ports]', '[[burner]]')
    """
    name = path.rstrip(".")
    plain = name.replace("[]", "")
    return f"[[{plain}]]" if name.endswith("[]") else f"[{plain}]"


def _row(name: str, key: Any, without: str, system: System) -> tuple[str, str, str, str]:
    words = ". ".join(part for part in (escaped(key.help), without) if part)
    accepted = escaped(accepted_in(system, key))
    if key.rows_of:
        accepted = f"{accepted}, of table `{key.rows_of.partition('.')[0]}`"
    limits = accepted if key.kind == "word" else ": ".join(part for part in (key.kind, accepted) if part)
    example = " ".join(part for part in (code(written_value(key.example)), escaped(key.hint)) if part)
    return code(name), sentence(words), limits, example


def accepted_in(system: System, key: Key | KeyLine) -> str:
    """What a key takes: its range in the units of the reader, or its words.

    >>> from burnerlab.appliance.project.keys import gauge_pressure, switch
    >>> accepted_in("US", gauge_pressure("Set point")), accepted_in("US", switch("Closed"))
    ('2.007 in w.c. to 2.176 psi', 'true, false')
    """
    source = key.source or OF_KIND.get(key.kind, "")
    row = input_row(source) if source else None
    return row.range_in(system) if row is not None and isinstance(row.kind, Kind) else key.accepted


def written_value(value: Any) -> str:
    """A value as TOML writes it.

    >>> written_value("11 inH2O"), written_value(True), written_value({"elbow": 3})
    ('"11 inH2O"', 'true', '{ elbow = 3 }')
    """
    from burnerlab.appliance.project.problems import written

    return written(value) if value is not None else ""


def _without(is_needed: bool, default: Any, key: Any, system: System) -> str:
    """What holds where a key is left out."""
    if is_needed:
        return "**Needed**"
    if default in (None, "", (), {}) or isinstance(default, bool | str):
        shown = "" if default in (None, "", (), {}, False) else written_value(default)
        return f"Without it: {code(shown)}" if shown else ""
    if isinstance(default, int | float):
        if not default and not key.source:  # none
            return ""
        return f"Without it: {_in_unit(float(default), key, system)}"
    if isinstance(default, tuple) and all(isinstance(each, str) for each in default):
        return f"Without it: {', '.join(map(code, default))}"
    return ""


def _in_unit(value: float, key: Any, system: System) -> str:
    """A default that the program holds in SI, in the unit of the reader."""
    row = input_row(key.source) if key.source else None
    kind = row.kind if row else next((k for k in Kind if k.value == key.kind), None)
    if kind is None and isinstance(key.example, str) and key.example.endswith("%"):
        kind = Kind.FRACTION
    if isinstance(kind, Kind):
        return show(
            value, kind, unit=(row.unit(system) or None) if row and not value else None, system=system
        )
    return f"{value:g}"
