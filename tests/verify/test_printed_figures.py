"""Every printed figure of shared/ is met within the tolerance its row states."""

from __future__ import annotations

import pytest

from burnerlab import verify

CHECKS = verify.checks()


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: f"{check.topic}:{check.id}")
def test_printed_figure_is_met(check: verify.Check) -> None:
    result = verify.evaluate(check)
    assert result.agrees, (
        f"{check.source}, {check.place}: printed {check.printed} {check.unit}, ours {result.ours:.8g}, "
        f"difference {result.difference:.3g} ({check.kind}), tolerance {check.tolerance}"
    )


def test_every_id_is_used_once() -> None:
    names = [(check.topic, check.id) for check in CHECKS]
    assert len(names) == len(set(names))


def test_every_measure_is_used() -> None:
    assert set(verify.measures()) == {check.measure for check in CHECKS}


def test_a_wrong_figure_is_caught() -> None:
    check = next(check for check in CHECKS if check.kind == "rel" and check.printed)
    result = verify.evaluate(check)
    shifted = verify.CheckResult(
        check=check, quantity=result.quantity, ours=check.printed * (1 + 2 * check.tolerance + 1e-9)
    )
    assert not shifted.agrees
