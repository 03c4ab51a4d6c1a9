"""Reference states: what is the same state, what may be asked for, and what is printed."""

from __future__ import annotations

import itertools

import pytest

from burnerlab.quantity import (
    PRESETS,
    Kind,
    ReferenceState,
    UserError,
    read_at_reference,
    read_heating_value,
)

SIXTY_F_K = (60 + 459.67) * 5 / 9


@pytest.mark.parametrize(
    ("text", "combustion_K", "metering_K"),
    [
        ("15C/15C", 288.15, 288.15),
        ("25C/0C", 298.15, 273.15),
        ("15/15", 288.15, 288.15),
        ("60F", SIXTY_F_K, SIXTY_F_K),
        ("60F/60F", SIXTY_F_K, SIXTY_F_K),
        ("60 °F / 60 °F", SIXTY_F_K, SIXTY_F_K),
        ("25 C / 20 C", 298.15, 293.15),
        ("15.55C/15.55C", SIXTY_F_K, SIXTY_F_K),
        ("15.56 degC/15.56 degC", SIXTY_F_K, SIXTY_F_K),
        ("0C", 273.15, 273.15),
        ("25C/60F", 298.15, SIXTY_F_K),
        ("288.15K/273.15K", 288.15, 273.15),
    ],
)
def test_pairs_as_people_write_them(text: str, combustion_K: float, metering_K: float) -> None:
    state = ReferenceState.read(text)
    assert state.combustion_temperature_K == pytest.approx(combustion_K, abs=1e-9)
    assert state.metering_temperature_K == pytest.approx(metering_K, abs=1e-9)
    assert (state.pressure_Pa, state.saturated) == (101325.0, False)


@pytest.mark.parametrize(
    ("name", "pressure_kPa", "saturated"),
    [
        ("ISO_15_15", 101.325, False),
        ("DIN_25_0", 101.325, False),
        ("F_0_0", 101.325, False),
        ("US_60F_14p73_dry", 101.5598, False),
        ("US_60F_14p696_dry", 101.3254, False),
        ("US_60F_14p65_dry", 101.0082, False),
        ("US_60F_30inHg_sat", 101.5917, True),
        ("RU_25_20", 101.325, False),
    ],
)
def test_presets_carry_their_pressure_and_humidity(name: str, pressure_kPa: float, saturated: bool) -> None:
    state = PRESETS[name]
    assert state.pressure_Pa / 1000 == pytest.approx(pressure_kPa, abs=6e-5)
    assert state.saturated is saturated
    assert state.name == name
    assert ReferenceState.read(name.lower().replace("_", "-")) == state


def every_state() -> list[ReferenceState]:
    combustion = (273.15, 288.15, 288.7056, 293.15, 298.15)
    metering = (273.15, 288.15, 288.7056, 293.15)
    pressures = (101325.0, 100000.0, 101559.77492836997, 101591.65921023, 95012.3456789, 109999.99999)
    pairs = itertools.product(combustion, metering, pressures, (False, True))
    return [ReferenceState(*pair) for pair in pairs]


def test_what_is_printed_reads_back_as_the_same_state() -> None:
    for state in [*every_state(), *PRESETS.values()]:
        assert ReferenceState.read(state.words()) == state
        assert ReferenceState.read(state.name) == state


def test_words() -> None:
    assert ReferenceState.read("15/15").words() == "15 °C / 15 °C, 101.325 kPa, dry"
    assert PRESETS["US_60F_30inHg_sat"].words() == "60 °F / 60 °F, 30 inHg, saturated"
    assert PRESETS["US_60F_14p73_dry"].words() == "60 °F / 60 °F, 14.73 psia, dry"


def test_equal_by_value_and_usable_as_a_key() -> None:
    a, b = ReferenceState.read("60F"), ReferenceState(288.7056, 288.7056)
    assert a == b
    assert len({a: 1, b: 2}) == 1
    assert a != ReferenceState.read("60F", saturated=True)


def test_options_override_the_text() -> None:
    state = ReferenceState.read("60F 14.73 psia saturated", pressure="14.65 psia", saturated=False)
    assert state == PRESETS["US_60F_14p65_dry"]
    assert ReferenceState.read(PRESETS["ISO_15_15"], pressure=100e3).pressure_Pa == 100e3


@pytest.mark.parametrize("kelvin", [0.0, 290.0, float("nan"), float("inf")])
def test_no_other_temperature_can_be_built(kelvin: float) -> None:
    with pytest.raises(UserError, match="no combustion temperature"):
        ReferenceState(kelvin, 288.15)
    with pytest.raises(UserError, match="no metering temperature"):
        ReferenceState(288.15, kelvin)


@pytest.mark.parametrize("pressure_Pa", [89999.0, 110001.0, 101.325, 0.0, float("nan")])
def test_pressure_outside_the_standard_is_refused(pressure_Pa: float) -> None:
    with pytest.raises(UserError, match="90 to 110 kPa"):
        ReferenceState(288.15, 288.15, pressure_Pa)


def test_heating_values_keep_basis_and_state() -> None:
    billed = read_heating_value("1037 Btu/ft3 gross at 60F 14.73 psia")
    assert (billed.per, billed.basis, billed.reference) == ("volume", "gross", PRESETS["US_60F_14p73_dry"])
    printed = read_heating_value("10.35 kWh/m3 Hs at 25C/0C")
    assert (printed.value, printed.reference) == (pytest.approx(37.26e6), PRESETS["DIN_25_0"])
    late = read_heating_value("1000 Btu/cf at 60F 30 inHg saturated gross")
    assert (late.basis, late.reference) == ("gross", PRESETS["US_60F_30inHg_sat"])
    counted = read_heating_value("1037 Btu/scf gross at 60F 14.73 psia")
    assert counted == billed
    silent = read_heating_value("38.6 MJ/m3")
    assert (silent.basis, silent.reference) == (None, None)
    mass = read_heating_value("21591 Btu/lb gross")
    assert (mass.per, mass.value) == ("mass", pytest.approx(21591 * 2326))
    assert read_heating_value("890.6 kJ/mol gross").per == "mole"


def test_volumes_at_a_state_keep_it() -> None:
    flow = read_at_reference("35 scfh at 60F", Kind.REFERENCE_VOLUME_FLOW)
    assert flow.value == pytest.approx(35 * 0.3048**3 / 3600)
    assert flow.reference == ReferenceState.read("60F")
    volume = read_at_reference("2 Nm3", Kind.REFERENCE_VOLUME, reference=PRESETS["F_0_0"])
    assert (volume.value, volume.reference.name) == (2.0, "F_0_0")
    with pytest.raises(TypeError):
        read_at_reference("2 m3", Kind.VOLUME)
