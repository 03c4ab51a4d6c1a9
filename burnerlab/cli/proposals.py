"""What a shell proposes for an input: names that stand in a table, in the library or in the appliance file on the line.

Nothing heavy is imported: a proposal is waited for with a finger on the key.
"""

from __future__ import annotations

import os
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from burnerlab import tables

LARGEST_BYTES = 1 << 20
SERIES = ("number", "letter", "fraction", "metric", "hundredth")


def gas_names(_: Mapping[str, Any]) -> Sequence[str]:
    """Gases of the library.

    >>> "propane" in gas_names({})
    True
    """
    paths = tables.folder("fuels").glob("*.toml")
    names = {name for path in paths for name in tomllib.loads(path.read_text(encoding="utf-8"))}
    return sorted(names, key=str.casefold)


def drill_names(_: Mapping[str, Any]) -> Sequence[str]:
    """Drills of all series.

    >>> drill_names({})[:2]
    ['#97', '#96']
    """
    return [row["size"] for row in tables.rows("drills")]


def drill_lists(line: Mapping[str, Any]) -> Sequence[str]:
    """Series of drills, then each of them."""
    return [*SERIES, *drill_names(line)]


def burner_names(line: Mapping[str, Any]) -> Sequence[str]:
    """Burners of the appliance file that is written on the line."""
    return _names_in_file(line, "burner")


def market_names(line: Mapping[str, Any]) -> Sequence[str]:
    """Markets of the appliance file that is written on the line."""
    return _names_in_file(line, "market")


def country_codes(_: Mapping[str, Any]) -> Sequence[str]:
    """Countries whose supplies are known."""
    return _column("countries", "country")


def categories(_: Mapping[str, Any]) -> Sequence[str]:
    """Appliance categories of all countries."""
    return sorted({one for row in tables.rows("countries") for one in row["categories"].split()})


def policies(line: Mapping[str, Any]) -> Sequence[str]:
    """Altitude policies; where the appliance file on the line names a region, those known from there."""
    region = next(iter(_values_in_file(line, "appliance", "region")), "").strip().lower()
    known = [row for row in tables.rows("altitude_policies") if not region or row["region"] in ("", region)]
    return list(dict.fromkeys(row["policy"] for row in known))


def reference_states(_: Mapping[str, Any]) -> Sequence[str]:
    """Named states of volumes and heating values.

    >>> reference_states({})[0]
    'ISO_15_15'
    """
    return _column("reference_states", "name")


def families(_: Mapping[str, Any]) -> Sequence[str]:
    """Families that a gas known by its heating value may belong to."""
    return _column("declared_families", "family")


def systems_of_units(*_: Any) -> list[str]:
    """Words of ``--units``, whatever else stands on the line.

    >>> systems_of_units()
    ['metric', 'us']
    """
    return list(setting_words({"name": "units"}))


def papers(_: Mapping[str, Any]) -> Sequence[str]:
    """Sizes of paper."""
    return setting_words({"name": "paper"})


def shapes(_: Mapping[str, Any]) -> Sequence[str]:
    """Shapes of orifice."""
    return _column("discharge", "shape")


def handbook_topics(_: Mapping[str, Any]) -> Sequence[str]:
    """Pages of the handbook, then its notebooks."""
    from burnerlab.handbook.contents import pages
    from burnerlab.handbook.notebook_results import notebook_paths

    return [*(page.topic for page in pages()), *(path.stem for path in notebook_paths())]


def setting_names(_: Mapping[str, Any]) -> Sequence[str]:
    """Settings of the user, and the word that forgets one.

    >>> setting_names({}), setting_words({"name": "paper"})
    (['units', 'paper', 'forget'], ['a4', 'letter'])
    """
    from burnerlab.cli.user_settings import FORGET, PROPOSED

    return [*PROPOSED, FORGET]


def setting_words(line: Mapping[str, Any]) -> Sequence[str]:
    """Words of the setting on the line; of one to forget, the settings."""
    from burnerlab.cli.user_settings import FORGET, PROPOSED

    return list(PROPOSED if line.get("name") == FORGET else PROPOSED.get(str(line.get("name")), ()))


def check_topics(_: Mapping[str, Any]) -> Sequence[str]:
    """Tables of check values."""
    return sorted(path.stem for path in tables.folder("shared").glob("*.csv"))


def _column(table: str, column: str) -> list[str]:
    return list(dict.fromkeys(row[column] for row in tables.rows(table)))


def _names_in_file(line: Mapping[str, Any], table: str) -> list[str]:
    """Names of the things of a table of the file on the line."""
    return _values_in_file(line, table, "name")


def _values_in_file(line: Mapping[str, Any], table: str, key: str) -> list[str]:
    """Texts of a key of a table of the file on the line; nothing where it cannot be read."""
    written = line.get("file") or _file_among_words()
    written = written[0] if isinstance(written, tuple) else written
    try:
        path = Path(str(written)).expanduser()
        if not written or path.stat().st_size > LARGEST_BYTES:
            return []
        entries = tomllib.loads(path.read_text(encoding="utf-8-sig")).get(table, [])
    except (OSError, ValueError):  # said when the command reads it
        return []
    listed = entries if isinstance(entries, list) else [entries]
    texts = [one.get(key) for one in listed if isinstance(one, dict)]
    return [text for text in texts if isinstance(text, str) and text.isprintable()]


def _file_among_words() -> str:
    """The appliance file among the words that the shell hands over.

    click reads no argument of a line that ends with an option without its value.
    """
    from click.shell_completion import split_arg_string

    words = split_arg_string(os.environ.get("COMP_WORDS", ""))
    return next((word for word in words if word.casefold().endswith(".toml")), "")
