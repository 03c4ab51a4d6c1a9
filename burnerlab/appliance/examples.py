"""A value to copy for a key of a project file, as that file writes its units and names its burners."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from typing import Any

from burnerlab.appliance.keys import key_at
from burnerlab.appliance.lines import KeyPath
from burnerlab.appliance.model import REGIONS
from burnerlab.appliance.project import ProjectFile
from burnerlab.quantity import Kind, in_unit, read
from burnerlab.tables.problem import UserError

US, EU = REGIONS
UNIT = re.compile(r"[0-9.]+\s*(.*)")
PRESSURES = (Kind.GAUGE_PRESSURE.value, Kind.PRESSURE_DIFFERENCE.value)
ABOVE = 1.35  # inlet over the pressure behind it, for a value to copy where the file gives none
FAR_m = 10.0  # from everything: where a thing stands whose own place or size could not be read


def example(path: KeyPath, data: Mapping[str, Any], root: type = ProjectFile) -> tuple[Any, str]:
    """A value for a key that must be there and is not, and where the true one is found; None where none can be named.

    path : of the key; data : the file as TOML holds it; root : its tables

    >>> example(("supply", "pressure"), {"supply": {"gas": "G31"}})[0]
    '37 mbar'
    >>> example(("burner", 1, "rate"), {"burner": [{"rate": "3.5 kW"}, {}]})[0]
    '3.5 kW'
    """
    words = [part for part in path if isinstance(part, str)]
    key, table = words[-1], words[-2] if len(words) > 1 else ""
    if table in ("supply", "new_supply") and key == "pressure":
        return _pressure(data, table), "gauge, at the manifold"
    if (table, key) == ("burner", "rate"):
        return _like(data, key) or ("3.5 kW" if _region(data) == EU else "12 kBtu/h"), "from the rating plate"
    if key == "name" and table:
        return f"{table} {next((part + 1 for part in path if isinstance(part, int)), 1)}", ""
    if table == "carry_over" and key in ("from", "to"):
        names = [str(burner.get("name", "")) for burner in _burners(data)]
        return (names[: 2 if key == "to" else 1] or ["burner 1"])[-1], "a burner of this file"
    declared = key_at(path, root)
    return (declared.key.example, declared.key.hint) if declared else (None, "")


def first_key(path: KeyPath, root: type = ProjectFile) -> tuple[str, Any] | None:
    """The key that makes a table whole, with a value to copy; None for what is no table or needs none.

    >>> first_key(("burner", 0, "orifice"))
    ('drill', '#54')
    """
    declared = key_at(path, root)
    if declared is None or declared.key.table is None or not declared.key.example:
        return None
    name, value = next(iter(declared.key.example.items()))
    return name, value


def written(value: Any) -> str:
    """A value as TOML writes it.

    >>> written({"drill": "#54"}), written("1 m"), written(3)
    ('{ drill = "#54" }', '"1 m"', '3')
    """
    if isinstance(value, Mapping):
        return f"{{ {', '.join(f'{key} = {written(one)}' for key, one in value.items())} }}"
    if isinstance(value, list):
        return f"[ {', '.join(map(written, value))} ]"
    return json.dumps(value, ensure_ascii=False)


def with_unit(path: KeyPath, data: Mapping[str, Any], given: Any, root: type = ProjectFile) -> str:
    """A bare number with the unit that the file uses for its like: for the same key, or for any pressure.

    Returns "" where the file shows none.

    >>> with_unit(("burner", 1, "throat"), {"burner": [{"throat": "15 mm"}, {"throat": "16"}]}, "16")
    '16 mm'
    >>> with_unit(("supply", "inlet"), {"supply": {"pressure": "37 mbar", "inlet": 50}}, 50)
    '50 mbar'
    """
    key, declared = str(path[-1]), key_at(path, root)
    alike = [text for text in _texts(data, key) if text != str(given)]
    if declared is not None and declared.key.kind in PRESSURES:
        alike += _texts(data, "pressure")
    alike += [value for value in (example(path, data, root)[0],) if isinstance(value, str)]
    for text in alike:
        unit = UNIT.fullmatch(text.strip())
        if unit is not None and unit[1]:
            return f"{given} {unit[1]}"
    return ""


def _texts(data: Any, key: str) -> list[str]:
    """Every text under a key, anywhere in the file."""
    if isinstance(data, list):
        return [text for entry in data for text in _texts(entry, key)]
    if not isinstance(data, dict):
        return []
    own = [data[key]] if isinstance(data.get(key), str) else []
    return own + [text for value in data.values() for text in _texts(value, key)]


def inlet_above(data: Mapping[str, Any], supply: str, least_Pa: float) -> str:
    """A pressure before the regulator that is above the one behind it, in the unit of the file's own pressure.

    supply : the table, supply or new_supply

    >>> inlet_above({"supply": {"pressure": "37 mbar"}}, "supply", 3700.0)
    '50 mbar'
    """
    unit = UNIT.fullmatch(str(_table(data, supply).get("pressure", "")).strip())
    for name in (unit[1] if unit else "", "mbar"):
        try:
            value = in_unit(ABOVE * least_Pa, Kind.GAUGE_PRESSURE, name)
            read(f"{value:.2g} {name}", Kind.GAUGE_PRESSURE)
        except (UserError, ValueError, KeyError):
            continue
        return f"{float(f'{value:.2g}'):g} {name}"
    return f"{ABOVE * least_Pa / 100:.2g} mbar"


def _pressure(data: Mapping[str, Any], supply: str) -> str:
    """The usual pressure of the file's gas in the file's region."""
    gas = str(_table(data, supply).get("gas", "")).casefold()
    european = _region(data) == EU or re.fullmatch(r"g[23][0-9.]*", gas) is not None
    if re.match(r"prop|but|lpg|g3", gas):
        return ("29 mbar" if gas.startswith(("but", "g30")) else "37 mbar") if european else "11 in w.c."
    return "20 mbar" if european else "7 in w.c."


def _region(data: Mapping[str, Any]) -> str:
    return str(_table(data, "appliance").get("region", ""))


def _like(data: Mapping[str, Any], key: str) -> Any:
    """What another burner of the file has under the key."""
    return next((burner[key] for burner in _burners(data) if isinstance(burner.get(key), str)), None)


def _burners(data: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    found = data.get("burner")
    return [one for one in found if isinstance(one, dict)] if isinstance(found, list) else []


def _table(data: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    found = data.get(name)
    return found if isinstance(found, dict) else {}
