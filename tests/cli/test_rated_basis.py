"""A file whose rates are net is answered net: each table of heat inputs has the basis of the file in its head."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from command_runs import answer, run

from burnerlab.appliance import demonstration_path

RING = "stock-pot ring"
METHANE_NET_TO_GROSS = (
    1.0 - 2 * 44.431 / 891.51
)  # CH4 + 2 O2 at 15 C: kJ/mol of water and methane, ISO 6976:2016


@pytest.fixture(scope="module")
def net_file(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The demonstration on methane, its rates declared net."""
    text = demonstration_path().read_text().replace('rating = "gross"', 'rating = "net"')
    file: Path = tmp_path_factory.mktemp("net") / "net.toml"
    file.write_text(text.replace('gas             = "natural-gas-typical"', 'gas = "G20"'))
    return str(file)


def _printed_kW(text: str) -> float:
    """The figure of the ring below the head of the heat inputs."""
    lines = text.splitlines()
    place = next(i for i, line in enumerate(lines) if re.search(r" kW( net)?  ", line))
    head = re.search(r"kW( net)?", lines[place])
    assert head is not None
    end = head.end()
    assert lines[place + (head[0] == "kW")][:end].endswith("net")
    ring = next(line for line in lines[place:] if RING in line)
    return float(ring[:end].split()[-1])


@pytest.mark.parametrize("command", ["supply", "burner", "regulator"])
def test_a_table_of_heat_inputs_has_the_basis_of_the_file(command: str, net_file: str) -> None:
    on = ("--setting", "7.1 inH2O") if command == "regulator" else ()
    text = run(command, net_file, *on).stdout
    found = answer(command, net_file, *on)
    burners = found["settings"][0]["burners"] if on else found["burners"]
    ring = next(b for b in burners if RING in (b.get("name"), b.get("burner")))
    gross_kW = (
        ring["heat_input"]["heat_input_gross_kW"] if command == "burner" else ring["heat_input_gross_kW"]
    )
    assert "kW gross" not in text
    assert _printed_kW(text) == pytest.approx(gross_kW * METHANE_NET_TO_GROSS, rel=3e-3)


def test_size_and_tolerance_have_the_basis_they_are_given(net_file: str) -> None:
    sized = run("size", "--gas", "G20", "--rate", "3.517 kW net", "--pressure", "7 inH2O").stdout
    nearest = next(line for line in sized.splitlines() if line.rstrip().endswith("nearest"))
    kW, deviation = re.search(r"(\d\.\d+) +([+-]\d+\.\d) %", nearest).groups()  # type: ignore[union-attr]  # it is there
    assert re.search(r"drill +mm +kW net", sized)
    assert float(kW) == pytest.approx(3.517 * (1.0 + float(deviation) / 100.0), rel=1e-3)
    assert "Heat inputs net." in run("tolerance", net_file, "--draws", "1000").stdout
