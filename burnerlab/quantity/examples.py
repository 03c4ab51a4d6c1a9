"""Examples to copy, for readers of US units: sizes that a shop there has, not metric ones converted."""

from __future__ import annotations

import re

from burnerlab.quantity.show import System

US_EXAMPLES = {
    # lengths of an appliance
    "0 mm": "0 in", "5 mm": "3/16 in", "20 mm": "3/4 in", "30 mm": "1.25 in", "40 mm": "1.5 in", "60 mm": "2.5 in",
    "90 mm": "3.5 in", "120 mm": "4.75 in", "140 mm": "5.5 in", "150 mm": "6 in", "190 mm": "7.5 in",
    "220 mm": "8.5 in", "310 mm": "12.2 in", "350 mm": "14 in", "400 mm": "16 in", "430 mm": "17 in",
    "440 mm": "17 in", "460 mm": "18 in", "1.2 m": "4 ft", "120 m": "400 ft", "1200 m": "4000 ft", "1500 m": "5000 ft",
    "350 mm, 400 mm": "14 in, 16 in", "150 mm x 100 mm": "6 in x 4 in",
    # holes and walls
    "1.2 mm": "3/64 in", "1.4 mm": "0.055 in", "1.40 mm": "0.055 in", "1.6 mm": "1/16 in", "4 mm": "5/32 in",
    "#54,1.45 mm": "#54,#53", "1.5 mm,1.6 mm,#52": "1/16 in,#52", "6 mm": "1/4 in",
    "8 mm": "5/16 in", "12 mm": "1/2 in", "13 mm": "1/2 in", "16 mm": "5/8 in", "0.6 mm": "0.025 in", "1 mm": "0.04 in",
    "3 mm": "1/8 in", "0.8 mm": "1/32 in", "0.046 mm": "0.0018 in", "0.03 mm": "0.001 in", "0.1 mm": "0.004 in",
    "200 mm2": "0.3 in2", "150 cm2": "24 in2", "M6x0.75": "1/4-28",
    # pressures
    "20 mbar": "7 inH2O", "25 mbar": "7 inH2O", "28 mbar": "11 inH2O", "37 mbar": "11 inH2O",
    "25 mbar..35 mbar": "9 inH2O..13 inH2O", "G31@37 mbar": "propane@11 inH2O", "101.325 kPa": "14.696 psia",
    "98.5 kPa": "29.1 inHg", "1009 hPa": "29.8 inHg", "19.6 mbar": "6.9 in w.c.",
    "90 kPa": "26.6 inHg", "83.4 kPa": "24.6 inHg",
    # temperatures
    "0 C": "32 F", "5 C": "40 F", "10 K": "20 °F", "15 C": "60 F", "18 C": "64 F", "20 C": "70 F", "25 C": "75 F",
    "35 C": "95 F", "45 C": "110 F", "80 C": "175 F", "100 C": "210 F", "150 C": "300 F", "180 C": "350 F",
    "200 C": "400 F", "250 C": "480 F", "750 C": "1400 F", "80 C, 320 C": "180 F, 600 F", "15C/15C": "60F",
    # heat, mass and volume
    "3.5 kW": "12 kBtu/h", "3.5 kW net": "12 kBtu/h net", "4.8 kW gross": "16 kBtu/h gross",
    "6.2 kW gross": "21 kBtu/h gross", "150 kW/m2": "330 Btu/h/in2", "20 kW/m2": "44 Btu/h/in2",
    "38 MJ/m3": "1020 Btu/ft3", "34.2 MJ/m3": "920 Btu/ft3", "2.5 kg": "5.5 lb", "8 kg": "18 lb", "26.2 L": "0.92 ft3",
    "10 L": "1 ft3", "50 L": "2 ft3",
    "1 g": "0.002 lb", "2 g": "0.005 lb", "248 g in 30 min": "0.55 lb in 30 min", "250 g": "0.55 lb", "812 g": "1.8 lb",
    # names
    "11 kg": "20 lb", "continental, third family": "propane, North America", "number, metric": "number, fraction",
}  # fmt: skip
"""What a shop in the United States would write in the place of an example of the house: common practice, no source."""
QUOTED = re.compile(r'"([^"]*)"')
TWICE = re.compile(r'("[^"]*"), \1')


def us_example(text: str) -> str:
    """An example for a reader of US units; one that has no twin stays.

    >>> us_example("1500 m"), us_example("16 mm"), us_example("1.40 mm"), us_example("11 in w.c.")
    ('5000 ft', '5/8 in', '0.055 in', '11 in w.c.')
    """
    return US_EXAMPLES.get(text, text)


def examples_in(text: str, system: System) -> str:
    """A sentence whose quoted examples are those of a reader; one that already has both keeps one.

    >>> examples_in('Of the gas before the orifice: "15 C", "60 F".', "US")
    'Of the gas before the orifice: "60 F".'
    """
    if system == "metric":
        return text
    return TWICE.sub(r"\1", QUOTED.sub(lambda hit: f'"{us_example(hit[1])}"', text))
