"""Small appliances on natural gas behind a regulator, as the text of a project file."""

from __future__ import annotations


def burner_text(name: str, rate: str, drill: str, kind: str = "tube", shape: str = "tapered") -> str:
    """A burner by its rate and drill."""
    return f"""
[[burner]]
name    = "{name}"
kind    = "{kind}"
rate    = "{rate}"
orifice = {{ drill = "{drill}", shape = "{shape}" }}
"""


TWO_TUBES = burner_text("left", "12.5 kBtu/h", "#54") + burner_text("right", "14.5 kBtu/h", "#53")


def behind_regulator(name: str, burners: str, *, valve: str = "", **regulator: str) -> str:
    """Burners behind a regulator of these figures, which an inlet of 14 in w.c. feeds, and a valve of this bore."""
    figures = "".join(f'{key:<8} = "{value}"\n' for key, value in regulator.items())
    train = f"\n[supply.regulator]\n{figures}" + (
        f'\n[supply.valve]\nbore     = "{valve}"\n' if valve else ""
    )
    return f"""
[appliance]
name   = "{name}"
rating = "gross"

[supply]
gas      = "natural-gas-typical"
pressure = "7 in w.c."
inlet    = "14 in w.c."
{train}{burners}"""
