"""The demonstration appliance, for the tests of this room."""

from __future__ import annotations

import pytest

from burnerlab.appliance import Appliance, demonstration


@pytest.fixture(scope="session")
def cart() -> Appliance:
    return demonstration()
