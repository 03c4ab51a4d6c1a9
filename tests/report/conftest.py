"""A conversion written out by hand: natural gas at 7 in w.c. to propane at 11 in w.c., six burners.

The heat inputs follow from one orifice equation written here a second time, so that the numbers hold
together and the tests of the sheet stand on their own.
"""

from __future__ import annotations

import math
import re
import zlib
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from burnerlab.appliance.conversion.gas_facts import GasUsed
from burnerlab.appliance.conversion.result import (
    BurnerConversion,
    Conversion,
    DrillChoice,
    Finding,
    Headline,
    NotEvaluated,
    WorkedStep,
)
from burnerlab.report import SheetFiles
from burnerlab.tables.figure import Evidence
from burnerlab.tables.verdict import Verdict

COEFFICIENT = 0.90
TOLERANCE = 0.05
DRILLS = {
    "#72": 0.6350, "#71": 0.6604, "#70": 0.7112, "#69": 0.7417, "#68": 0.7874, "#67": 0.8128, "#66": 0.8382,
    "#65": 0.8890, "#64": 0.9144, "#63": 0.9398, "#62": 0.9652, "#61": 0.9906, "#60": 1.0160, "1.05 mm": 1.05,
    "#58": 1.0668, "#57": 1.0922, "1.15 mm": 1.15, "#56": 1.1811, "1.25 mm": 1.25, "#55": 1.3208,
    "1.35 mm": 1.35, "#54": 1.3970, "1.45 mm": 1.45, "#53": 1.5113,
}  # fmt: skip
# name, kind, count, rating gross [kW], present drill, present diameter [mm]
BURNERS = (
    ("griddle tube", "tube", 3, 4.396, "#53", 1.5113),
    ("stock-pot ring, outer", "ring", 1, 5.50, "#51", 1.7018),
    ("stock-pot ring, inner", "ring", 1, 2.20, "#58", 1.0668),
    ("warming box", "box", 1, 3.30, "#55", 1.3208),
    ("ceramic-tile broiler", "tile", 2, 4.98, "#52", 1.6129),
    ("rear rotisserie", "rear", 1, 1.50, "#65", 0.8890),
)
NATURAL = GasUsed(
    name="natural-gas-typical",
    title="natural gas, typical",
    kind="composition",
    composition={
        "methane": 0.93,
        "ethane": 0.04,
        "propane": 0.01,
        "nitrogen": 0.015,
        "carbon dioxide": 0.005,
    },
    gross_wobbe_J_per_m3=50.33e6,
    net_wobbe_J_per_m3=45.43e6,
    gross_heating_value_J_per_m3=38.98e6,
    net_heating_value_J_per_m3=35.18e6,
    gross_heating_value_J_per_kg=53.05e6,
    net_heating_value_J_per_kg=47.88e6,
    relative_density=0.5998,
    density_kg_per_m3=0.7348,
    stoichiometric_air_m3_per_m3=9.84,
    stoichiometric_air_mol_per_mol=9.82,
    ultimate_CO2=0.1185,
    adiabatic_flame_temperature_K=2224.0,
    family="second family, group H",
    source="fuels/natural-gas-typical.toml",
)
PROPANE = GasUsed(
    name="propane",
    title="propane",
    kind="composition",
    composition={"propane": 1.0},
    gross_wobbe_J_per_m3=76.84e6,
    net_wobbe_J_per_m3=70.69e6,
    gross_heating_value_J_per_m3=95.65e6,
    net_heating_value_J_per_m3=88.00e6,
    gross_heating_value_J_per_kg=50.33e6,
    net_heating_value_J_per_kg=46.31e6,
    relative_density=1.5497,
    density_kg_per_m3=1.899,
    stoichiometric_air_m3_per_m3=24.28,
    stoichiometric_air_mol_per_mol=23.87,
    ultimate_CO2=0.1377,
    adiabatic_flame_temperature_K=2267.0,
    family="third family, group P",
    source="fuels/propane.toml",
)


def heat_input_W(gas: GasUsed, diameter_m: float, gauge_pressure_Pa: float) -> float:
    """Gross heat input of one orifice: C A sqrt(2 rho dp) H, density at the upstream pressure [W]."""
    density = gas.density_kg_per_m3 * (1 + gauge_pressure_Pa / 101325.0)
    mass_flow = COEFFICIENT * math.pi / 4 * diameter_m**2 * math.sqrt(2 * density * gauge_pressure_Pa)
    return mass_flow * gas.gross_heating_value_J_per_kg


FROM_PA, TO_PA, LOW_PA, HIGH_PA = 1743.6, 2740.0, 2000.0, 3230.0


def _choice(drill: str, rate_W: float) -> DrillChoice:
    diameter_m = DRILLS[drill] / 1000
    gross = heat_input_W(PROPANE, diameter_m, TO_PA)
    return DrillChoice(
        drill=drill,
        diameter_m=diameter_m,
        heat_input_gross_W=gross,
        heat_input_net_W=gross * 0.9201,
        deviation=gross / rate_W - 1,
        drill_tolerance_low_gross_W=gross * ((diameter_m - 12.7e-6) / diameter_m) ** 2,
        drill_tolerance_high_gross_W=gross,
    )


def _headline(gross_W: float, aim_W: float) -> Headline:
    """At the nominal pressure, for no supply is described; the coefficient from 0.85 to 0.95."""
    off = gross_W / aim_W - 1
    low, high = (gross_W * end / COEFFICIENT / aim_W - 1 for end in (0.85, 0.95))
    return Headline(
        deviation_case="nominal pressure", heat_input_gross_W=gross_W, deviation=off,
        deviation_low=low, deviation_high=high,
        verdict=Verdict.WITHIN if abs(off) <= TOLERANCE else Verdict.OUTSIDE, evidence=Evidence.RECALLED,
    )  # fmt: skip


def _burner(name: str, kind: str, count: int, rate_kW: float, drill: str, now_mm: float) -> BurnerConversion:
    rate = rate_kW * 1000
    per_area = heat_input_W(PROPANE, 1.0, TO_PA)
    exact = math.sqrt(rate / per_area)
    near = sorted(sorted(DRILLS, key=lambda d: abs(DRILLS[d] / 1000 - exact))[:4], key=DRILLS.__getitem__)
    choices = tuple(_choice(d, rate) for d in near)
    taken = min(choices, key=lambda c: abs(c.deviation))
    gross = taken.heat_input_gross_W
    now = heat_input_W(NATURAL, now_mm / 1000, FROM_PA)
    mass = gross / PROPANE.gross_heating_value_J_per_kg
    volume = mass / PROPANE.density_kg_per_m3
    from_air = rate / NATURAL.gross_heating_value_J_per_m3 * 9.84
    return BurnerConversion(
        name=name,
        kind=kind,
        count=count,
        rate_gross_W=rate,
        rate_net_W=rate * 0.9025,
        turndown=0.3 if kind in ("tube", "ring") else None,
        coefficient=COEFFICIENT,
        coefficient_source="tapered orifice, handbook practice, spread 0.85 to 0.95",
        from_orifice_m=now_mm / 1000,
        from_drill=drill,
        from_predicted_gross_W=now,
        to_orifice_m=exact,
        choice=taken,
        choices=choices,
        no_drill_meets="",
        exact_diameter_ratio=taken.diameter_m / (now_mm / 1000),
        exact_area_ratio=(taken.diameter_m / (now_mm / 1000)) ** 2,
        predicted_gross_W=gross,
        predicted_net_W=gross * 0.9201,
        predicted_low_gross_W=heat_input_W(PROPANE, taken.diameter_m, LOW_PA),
        predicted_high_gross_W=heat_input_W(PROPANE, taken.diameter_m, HIGH_PA),
        drill_deviation=gross / rate - 1,
        headline=_headline(gross, rate),
        from_air_m3_per_s=from_air,
        to_air_m3_per_s=volume * 24.28,
        from_air_kg_per_s=from_air * 1.2250,
        to_air_kg_per_s=volume * 24.28 * 1.2250,
        air_to_gas_ratio_change=24.28 / 9.84,
        primary_air_change=0.93,
        mass_flow_kg_per_s=mass,
        volume_flow_m3_per_s=volume,
        choked=False,
        aim_gross_W=rate,
        from_rate_gross_W=rate,
        primary_aeration_after=0.52,
    )


def _findings(burners: tuple[BurnerConversion, ...]) -> tuple[Finding, ...]:
    found = []
    for b in burners:
        within = abs(b.deviation) <= TOLERANCE
        found.append(
            Finding(
                topic="heat input",
                verdict=Verdict.WITHIN if within else Verdict.OUTSIDE,
                text=f"{100 * b.deviation:+.1f} % from the rating with drill {b.choice.drill}",
                burner=b.name,
                value=100 * b.deviation,
                unit="%",
                low=-100 * TOLERANCE,
                high=100 * TOLERANCE,
                source="tolerance of this job",
                evidence=Evidence.RECALLED,
            )
        )
    found.append(
        Finding(
            topic="primary air",
            verdict=Verdict.NEAR,
            text="the jet draws in 7 % less of the air the new gas needs; open the shutter, look at the flame",
            value=0.93,
            unit="-",
            low=0.9,
            high=1.1,
            source="momentum of the jet, burner text section 5",
            evidence=Evidence.ESTIMATE,
        )
    )
    return tuple(found)


NOT_EVALUATED = (
    NotEvaluated(
        topic="lift and light-back", why="port diameter and count are not given", burner="warming box"
    ),
    NotEvaluated(topic="ignition and cross-lighting", why="no model here; test required"),
    NotEvaluated(topic="hose and piping", why="no length or bore is given"),
    NotEvaluated(topic="carbon monoxide", why="not predicted; test required"),
)
PROMPTS = (
    "Regulator: set or replace for propane at 27.4 mbar (11.0 in w.c.).",
    "Hose and valves: must be listed by their maker for propane.",
    "Rating plate: mark the new gas and pressure.",
    "Air shutters: adjust on the bench with the new gas.",
)
WORKED = (
    WorkedStep(what="upstream density", formula="ρ = M p / (Z R T)",
     numbers="ρ = 44.10 × 104065 / (0.982 × 8314.46 × 288.15) = 1.950"),
    WorkedStep(what="exact diameter", formula="d = √(4 Q / (π C H √(2 ρ Δp)))",
     numbers="d = √(4 × 4103 / (π × 0.90 × 50.33e6 × √(2 × 1.950 × 2740))) = 1.056 mm"),
)  # fmt: skip


def example_conversion(**changes: Any) -> Conversion:
    """The conversion of the market cart range, with any field replaced."""
    burners = tuple(_burner(*row) for row in BURNERS)

    def total(field: str) -> float:
        return sum(getattr(b, field) * b.count for b in burners)

    conversion = Conversion(
        appliance="market cart range",
        rating_basis="gross",
        file="market-cart.toml",
        file_sha256="5f0c" * 16,
        version="0.1.0",
        reference="combustion 15 °C, metering 15 °C, 101.325 kPa, dry, real gas",
        from_gas=NATURAL,
        to_gas=PROPANE,
        from_gauge_pressure_Pa=FROM_PA,
        to_gauge_pressure_Pa=TO_PA,
        to_gauge_pressure_low_Pa=LOW_PA,
        to_gauge_pressure_high_Pa=HIGH_PA,
        pressure_range_source="regulator data sheet of this job",
        altitude_m=120.0,
        ambient_pressure_Pa=99889.0,
        gas_temperature_K=288.15,
        altitude_policy="none",
        altitude_policy_factor=1.0,
        couple_factor=1.0,
        tolerance=TOLERANCE,
        tolerance_source="default of burnerlab, 5 %",
        drill_list="number, letter, fraction and metric drills",
        burners=burners,
        headline=_headline(total("predicted_gross_W"), total("rate_gross_W")),
        total_rate_gross_W=total("rate_gross_W"),
        total_predicted_gross_W=total("predicted_gross_W"),
        total_predicted_net_W=total("predicted_net_W"),
        total_mass_flow_kg_per_s=total("mass_flow_kg_per_s"),
        total_volume_flow_m3_per_s=total("volume_flow_m3_per_s"),
        findings=_findings(burners),
        not_evaluated=NOT_EVALUATED,
        prompts=PROMPTS,
        calculation=WORKED,
        sources=(
            "ISO 6976:2016, natural gas, calculation of calorific values",
            "EN 437, test gases and pressures",
        ),
        notes=("Volumes are at the reference state named in the basis.",),
        tolerance_low=-TOLERANCE,
        from_altitude_m=120.0,
        from_ambient_pressure_Pa=99889.0,
        category="LP",
        model="Lantern Square 6",
        assumed_primary_aeration=0.55,
    )
    return replace(conversion, **changes)


@pytest.fixture(scope="session")
def conversion() -> Conversion:
    return example_conversion()


@cache
def _figures(case: str) -> dict[str, str]:
    from burnerlab.report import build_sheet
    from burnerlab.report.figures.sheet_figures import draw

    made = example_conversion() if case == "plain" else hostile_conversion()
    return draw(made, build_sheet(made).pictures())


@pytest.fixture(scope="session")
def figures() -> dict[str, str]:
    """The figures of ``conversion``, drawn once."""
    return _figures("plain")


@pytest.fixture(scope="session")
def hostile_figures() -> dict[str, str]:
    """The figures of ``hostile``, drawn once."""
    return _figures("hostile")


@pytest.fixture(scope="session")
def evaluated_page(tmp_path_factory: pytest.TempPathFactory) -> tuple[Conversion, str]:
    """The demonstration on propane, evaluated, and the address of its page with all figures."""
    from burnerlab.appliance import convert, demonstration
    from burnerlab.appliance.conversion.evaluation import evaluate_conversion
    from burnerlab.report import SheetOptions, write_sheet

    job = evaluate_conversion(convert(demonstration(), "propane", 2740.0))
    (path,) = write_sheet(job, tmp_path_factory.mktemp("evaluated"), ("html",), SheetOptions(name="s")).files
    return job, path.as_uri()


@pytest.fixture(scope="session")
def dated_files(conversion: Conversion, tmp_path_factory: pytest.TempPathFactory) -> SheetFiles:
    """``conversion`` with a date, written in every format into a folder that is made for it."""
    from burnerlab.report import SheetOptions, write_sheet

    folder = tmp_path_factory.mktemp("dated") / "new" / "sheet"
    return write_sheet(conversion, folder, options=SheetOptions(date="25 November 2026"))


@pytest.fixture
def make_conversion() -> Callable[..., Conversion]:
    return example_conversion


HOSTILE = {
    "markup": "<img src=x onerror=alert(1)>&\"'</script>",
    "typst": '#import "@preview/x:0.1.0" $x^2$ *bold* _i_ `raw` <label> @ref // no',
    "formula": "=1+1",
    "dollar": "$\\frac{1}{0}$ #{1+1} {{ 7*7 }} {% raw %}",
    "control": "a\x00b\u202ec\nd",
    "long": "x" * 500,
}


@pytest.fixture(scope="session")
def hostile() -> Conversion:
    return hostile_conversion()


def hostile_conversion() -> Conversion:
    """A conversion whose every text was written by somebody who means harm."""
    plain = example_conversion()
    names = list(HOSTILE.values())
    burners = tuple(
        replace(b, name=text, kind=text, from_drill=text, coefficient_source=text, no_drill_meets=text,
                choice=replace(b.choice, drill=text), choices=tuple(replace(d, drill=text) for d in b.choices))
        for b, text in zip(plain.burners, names, strict=True)
    )  # fmt: skip
    findings = tuple(
        replace(f, topic=text, text=text, burner=text, source=text)
        for f, text in zip(plain.findings, names, strict=False)
    )
    return replace(
        plain,
        appliance=HOSTILE["markup"],
        model=HOSTILE["typst"],
        category=HOSTILE["formula"],
        file="/some/where/=cmd.toml",
        from_gas=replace(plain.from_gas, title=HOSTILE["typst"], composition={HOSTILE["markup"]: 1.0}),
        to_gas=replace(plain.to_gas, title=HOSTILE["dollar"], source=HOSTILE["formula"]),
        burners=burners,
        findings=findings,
        not_evaluated=tuple(NotEvaluated(topic=text, why=text, burner=text) for text in names),
        prompts=tuple(names),
        calculation=tuple(WorkedStep(what=text, formula=text, numbers=text) for text in names),
        sources=tuple(names),
        notes=tuple(names),
        reference=HOSTILE["markup"],
    )


def _pdf_streams(made: bytes) -> list[bytes]:
    """Every compressed stream of a PDF, opened."""
    streams = []
    for match in re.finditer(rb"(?<!end)stream\r?\n", made):
        try:
            streams.append(zlib.decompressobj().decompress(made[match.end() :]))
        except zlib.error:
            continue
    return streams


def _decode_pdf(made: bytes) -> str:
    """Every text of a PDF without its spaces, once for each font: a glyph number is a letter in one of them."""
    streams = _pdf_streams(made)
    maps = []
    for stream in streams:
        if b"beginbfchar" in stream:
            pairs = re.findall(rb"<([0-9A-F]{4})> <([0-9A-F]+)>", stream)
            maps.append({int(a, 16): bytes.fromhex(b.decode()).decode("utf-16-be") for a, b in pairs})
    glyphs: list[int] = []
    escapes = {b"n": 10, b"r": 13, b"t": 9, b"b": 8, b"f": 12}
    plain = rb"(?:[^()\\]|\\.)*"
    nested = re.compile(
        rb"\((" + plain + rb"(?:\(" + plain + rb"\)" + plain + rb")*)\)", re.DOTALL
    )  # ISO 32000, 7.3.4.2
    for stream in streams:
        for literal in nested.findall(stream) if b" Tf" in stream else ():
            raw = re.sub(
                rb"\\([0-7]{1,3}|.)",
                lambda m: bytes([int(m[1], 8) if m[1].isdigit() else escapes.get(m[1], m[1][0])]),
                literal,
                flags=re.DOTALL,
            )
            glyphs += [int.from_bytes(raw[i : i + 2], "big") for i in range(0, len(raw), 2)]
    spaces = dict.fromkeys(map(ord, " \u00a0\u200b\u2060"))
    return "\n".join("".join(m.get(g, "") for g in glyphs).translate(spaces) for m in maps)


@pytest.fixture
def pdf_streams() -> Callable[[bytes], list[bytes]]:
    return _pdf_streams


@pytest.fixture
def pdf_words() -> Callable[[bytes], str]:
    return _decode_pdf


@pytest.fixture(scope="session")
def pages_of() -> Callable[[bytes], int]:
    """The number of pages of a PDF, by its page objects, those in compressed streams too."""

    def count(made: bytes) -> int:
        return sum(
            len(re.findall(rb"/Type\s*/Page(?![a-zA-Z])", part)) for part in (made, *_pdf_streams(made))
        )

    return count
