"""What is remembered equals what is found afresh; what moves a result is in its key."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest
from edit_sequences import differences, sequence

from burnerlab.appliance import Appliance, convert
from burnerlab.appliance.conversion import both_gases
from burnerlab.appliance.conversion.evaluation import evaluate_conversion
from burnerlab.appliance.conversion.flame_stability import BurnerOnGas
from burnerlab.appliance.memory import REMEMBERED, Memory, gas_key
from burnerlab.burner.evaluation import BurningLookup
from burnerlab.gas import Gas, load

PROPANE_Pa = 2740.0
COEFFICIENTS = "name,value,low,high,unit\nthroat loss,{},0.3,0.9,-\n"


@pytest.fixture
def ring(cart: Appliance) -> Iterator[Appliance]:
    """The ring alone, without what stands before it, and nothing remembered."""
    REMEMBERED.forget()
    burner = next(burner for burner in cart.burners if burner.name == "stock-pot ring")
    yield replace(cart, burners=(burner,), supply=replace(cart.supply, train=None))
    REMEMBERED.forget()


def air(appliance: Appliance) -> float:
    """Primary air of the first burner on the present gas."""
    found = evaluate_conversion(convert(appliance, "propane", PROPANE_Pa)).evaluation
    assert found is not None
    full = found.flames[0].full("present")
    assert full is not None
    assert full.primary_aeration is not None
    return full.primary_aeration.value


@pytest.mark.parametrize("seed", range(1, 7))
def test_a_remembered_answer_is_a_fresh_one(seed: int, tmp_path: Path) -> None:
    """Two burners of the demonstration, edited at random; ``edit_sequences.py`` runs hundreds of such sequences."""
    states, found = sequence(seed, tmp_path)
    assert found == []
    assert states == 4


def test_differences_are_seen_in_the_last_digit_and_where_equality_does_not_look(ring: Appliance) -> None:
    """The comparison of the test above can fail."""
    full = evaluate_conversion(convert(ring, "propane", PROPANE_Pa))
    REMEMBERED.forget()
    wider = replace(ring, burners=(replace(ring.burners[0], throat_m=0.023 * (1.0 + 1e-15)),))
    other = evaluate_conversion(convert(wider, "propane", PROPANE_Pa))
    assert full.evaluation is not None
    assert other.evaluation is not None
    assert any("aeration" in line for line in differences(full.evaluation.flames, other.evaluation.flames))
    assert list(differences(full.evaluation.diagrams, other.evaluation.diagrams))


def test_the_arrays_of_a_remembered_diagram_cannot_be_written(ring: Appliance) -> None:
    found = evaluate_conversion(convert(ring, "propane", PROPANE_Pa)).evaluation
    assert found is not None
    curve = found.diagrams[0].curves[0]
    with pytest.raises(ValueError, match="read-only"):
        curve.loading_W_per_mm2 *= 2.0  # type: ignore[misc]


def test_a_table_changed_on_the_disk_is_another_key(ring: Appliance, tmp_path: Path) -> None:
    own = tmp_path / "burner_coefficients.csv"
    with_own = replace(ring, tables=replace(ring.tables, burner_coefficients=own))
    found = []
    for loss in ("0.4", "0.6", "0.4"):
        own.write_text(COEFFICIENTS.format(loss), encoding="utf-8")
        found.append(air(with_own))
    assert found[0] == found[2]
    assert found[0] > 1.01 * found[1]  # a throat of less loss draws more air


def test_another_function_of_flames_is_another_key(ring: Appliance, monkeypatch: pytest.MonkeyPatch) -> None:
    def unknown(gas: Gas) -> BurningLookup:
        return BurningLookup(burning=None, why_not="not today")

    for function, is_known in (
        (both_gases.burning_of, True),
        (unknown, False),
        (both_gases.burning_of, True),
    ):
        monkeypatch.setattr(both_gases, "burning_of", function)
        found = evaluate_conversion(convert(ring, "propane", PROPANE_Pa)).evaluation
        assert found is not None
        full = found.flames[0].full("new")
        assert full is not None
        assert (full.lift_margin is not None) == is_known


def test_what_the_equality_of_a_gas_leaves_out_is_in_its_key() -> None:
    gas = load("natural-gas-typical")
    measured = replace(gas, uncertainty={"methane": 0.001})
    assert measured == gas
    assert gas_key(measured) != gas_key(gas)
    assert gas_key(replace(gas)) == gas_key(gas)


def test_an_edit_of_one_burner_finds_that_burner_alone(
    cart: Appliance, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The others, their tiles and orifices are remembered; a rate edit leaves the present gas as it is."""
    whole = both_gases.stabilities_of
    asked: list[tuple[str, ...]] = []

    def counted(burners: Sequence[BurnerOnGas]) -> object:
        asked.append(tuple(one.burner.name for one in burners))
        return whole(burners)

    monkeypatch.setattr(both_gases, "stabilities_of", counted)
    evaluate_conversion(convert(cart, "propane", PROPANE_Pa))
    assert [len(names) for names in asked] == [12]
    ring = cart.burners[3]
    more = replace(
        cart, burners=(*cart.burners[:3], replace(ring, rate_W=1.1 * ring.rate_W), *cart.burners[4:])
    )
    evaluate_conversion(convert(more, "propane", PROPANE_Pa))
    assert asked[1:] == [(ring.name,)]
    evaluate_conversion(convert(cart, "propane", PROPANE_Pa))
    assert len(asked) == 2


def test_errors_are_not_remembered_and_the_oldest_results_go() -> None:
    memory, tries = Memory(3), []

    def fails() -> int:
        tries.append(1)
        raise ValueError("not today")

    for _ in range(2):
        with pytest.raises(ValueError, match="not today"):
            memory.recall("wrong", fails)
    assert len(tries) == 2
    for key in range(5):
        memory.recall(key, lambda key=key: key)  # type: ignore[misc]
        memory.recall(0, lambda: 0)
    assert len(memory) == 3
    assert [key for key in range(5) if key in memory] == [0, 3, 4]


def test_threads_share_a_memory() -> None:
    memory = Memory(50)

    def work(thread: int) -> bool:
        return all(
            memory.recall_each([k % 70, k % 30], lambda places, k=k: [(k % 70, k % 30)[p] for p in places])  # type: ignore[misc]
            == [k % 70, k % 30]
            for k in range(thread, 3000)
        )

    with ThreadPoolExecutor(8) as pool:
        assert all(pool.map(work, range(8)))
    assert len(memory) == 50
