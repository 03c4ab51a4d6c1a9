"""Random edits of the demonstration, each evaluated from memory and afresh: both must be equal to the last digit.

As a program: ``python tests/appliance/edit_sequences.py 500 --seed 1`` runs so many sequences and prints what differs.
"""

from __future__ import annotations

import argparse
import random
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from burnerlab.appliance import Appliance, Conversion, convert_to, demonstration
from burnerlab.appliance.conversion.evaluation import evaluate_conversion
from burnerlab.appliance.conversion.target import ConversionTarget
from burnerlab.appliance.memory import REMEMBERED
from burnerlab.appliance.project.model import Burner, Tolerance
from burnerlab.gas import Gas, load, mix
from burnerlab.quantity import UserError

State = tuple[Appliance, ConversionTarget]
EDITS = 3  # of a sequence, after its beginning
TABLES = {
    "burner_coefficients": ("name,value,low,high,unit\nthroat loss,{:.2f},0.3,0.9,-\n", (0.4, 0.5, 0.6)),
    "tile_properties": ("name,value,low,high,unit\nemissivity,{:.2f},0.6,0.95,-\n", (0.8, 0.85, 0.9)),
    "port_limits": (
        "name,group,low,high,near_low,near_high,unit\nlift margin,other gas,{:.2f},,1.6,,-\n",
        (1.1, 1.2, 1.3),
    ),
}


def a_gas(chance: random.Random) -> Gas:
    """Of the library, or a blend of one's own."""
    if chance.random() < 0.5:
        return load(chance.choice(["natural-gas-typical", "propane", "biomethane", "butane-n"]))
    return mix({"natural-gas-typical": 95, "hydrogen": chance.choice([5, 10])}, per="volume", normalize=True)


def one_burner(appliance: Appliance, chance: random.Random, edit: Callable[[Burner], Burner]) -> Appliance:
    place = chance.randrange(len(appliance.burners))
    burners = list(appliance.burners)
    burners[place] = edit(burners[place])
    return replace(appliance, burners=tuple(burners))


def edited_burner(burner: Burner, chance: random.Random) -> Burner:
    """One entry of a burner changed, as far as it has it."""
    by = chance.choice([0.95, 1.02, 1.05])
    ports, shutter, body = burner.ports, burner.shutter, burner.body
    assert ports is not None
    throat = None if burner.throat_m is None else burner.throat_m * by
    return chance.choice(
        [
            replace(burner, rate_W=burner.rate_W * by),
            replace(burner, ports=replace(ports, count=int(ports.count * by))),
            replace(burner, ports=replace(ports, diameter_m=ports.diameter_m * by)),
            replace(burner, ports=replace(ports, depth_m=chance.choice([None, 2e-3, 4e-3]))),
            replace(burner, throat_m=chance.choice([None, throat, throat])),
            replace(burner, shutter=None if shutter is None else replace(shutter, opening=0.8)),
            replace(burner, orifice=replace(burner.orifice, diameter_m=burner.orifice.diameter_m * by, drill="")),
            replace(burner, orifice=replace(burner.orifice, coefficient=chance.choice([None, 0.85]))),
            replace(burner, turndown=chance.choice([None, 0.4])),
            replace(burner, count=chance.choice([1, 2])),
            replace(burner, body=None if body is None else replace(body, wall_m=body.wall_m * by)),
            replace(burner, name=f"{burner.name} again", places=burner.places[:1]),
            replace(burner, ports=chance.choice([None, replace(ports, temperature_K=420.0)])),
        ]
    )  # fmt: skip


def edited(state: State, chance: random.Random, folder: Path) -> State:
    """One edit: of a burner, the supply, the limits, the target, or a table of one's own on the disk."""
    appliance, target = state
    supply, tables = appliance.supply, appliance.tables
    by, what = chance.choice([0.97, 1.03, 1.06]), chance.randrange(14)
    if what < 6:
        with_ports = replace(appliance, burners=tuple(b for b in appliance.burners if b.ports is not None))
        if with_ports.burners == appliance.burners:
            return one_burner(appliance, chance, lambda burner: edited_burner(burner, chance)), target
        return appliance, replace(target, gauge_pressure_Pa=target.gauge_pressure_Pa * by)
    if what < 8:
        name = chance.choice(list(TABLES))
        text, values = TABLES[name]
        path = folder / f"{name}.csv"
        path.write_text(text.format(chance.choice(values)), encoding="utf-8")
        return replace(appliance, tables=replace(tables, **{name: path})), target
    pressure = supply.gauge_pressure_Pa * by
    band, train = Tolerance(low=-0.08, high=0.02, source="own"), chance.choice(["", "none"])
    return chance.choice(
        [
            (replace(appliance, supply=replace(supply, gauge_pressure_Pa=pressure)), target),
            (replace(appliance, supply=replace(supply, gas_temperature_K=278.15)), target),
            (replace(appliance, supply=replace(supply, gas=a_gas(chance))), target),
            (replace(appliance, limits=replace(appliance.limits, tolerance=band)), target),
            (replace(appliance, space=None), target),
            (appliance, replace(target, gauge_pressure_Pa=target.gauge_pressure_Pa * by)),
            (appliance, replace(target, altitude_m=chance.choice([None, 800.0, 1600.0]))),
            (appliance, replace(target, gas=a_gas(chance), gauge_pressure_Pa=2000.0, train=train)),
            (appliance, replace(target, drills=chance.choice([None, ("number",)]))),
        ]
    )  # fmt: skip


def beginning(chance: random.Random) -> State:
    """Two burners of the demonstration on its supply, to be changed to propane."""
    cart = demonstration()
    burners = tuple(chance.sample(cart.burners, 2))
    train = cart.supply.train
    assert train is not None
    assert train.manifold is not None
    manifold = replace(train.manifold, spacings_m=train.manifold.spacings_m[:2])
    supply = replace(cart.supply, train=replace(train, manifold=manifold))
    return replace(cart, burners=burners, supply=supply), ConversionTarget(
        gas=load("propane"), gauge_pressure_Pa=2740.0
    )


def evaluated(state: State) -> Conversion | tuple[str, ...]:
    """The conversion evaluated, or the problems it is refused for."""
    try:
        return evaluate_conversion(convert_to(*state))
    except UserError as error:
        return tuple(problem.text() for problem in error.problems)


def differences(first: Any, second: Any, place: str = "") -> Iterator[str]:
    """Where two results differ in any digit, what their equality leaves out included; GasStates fill in later."""
    if first is second:
        return
    if type(first) is not type(second):
        yield f"{place}: {first!r}, {second!r}"
    elif is_dataclass(first):
        for f in fields(first):
            if f.name != "states":
                yield from differences(getattr(first, f.name), getattr(second, f.name), f"{place}.{f.name}")
    elif isinstance(first, tuple | list):
        if len(first) != len(second):
            yield f"{place}: {len(first)} and {len(second)}"
        for k, (one, other) in enumerate(zip(first, second, strict=False)):
            yield from differences(one, other, f"{place}[{k}]")
    elif isinstance(first, np.ndarray):
        if not np.array_equal(first, second, equal_nan=first.dtype.kind == "f"):
            yield f"{place}: {first!r}, {second!r}"
    elif first != second and not (first != first and second != second):  # neither is nan
        yield f"{place}: {first!r}, {second!r}"


def sequence(seed: int, folder: Path) -> tuple[int, list[str]]:
    """States of one sequence, and what differs in any of them between memory and afresh.

    Fresh results are found first and apart, those from memory in a second walk over the same edits.
    """
    results: list[list[Conversion | tuple[str, ...]]] = []
    for is_fresh in (True, False):
        chance, walk = random.Random(seed), []
        REMEMBERED.forget()
        state = beginning(chance)
        walk.append(evaluated(state))
        for _ in range(EDITS):
            state = edited(state, chance, folder)
            if is_fresh:
                REMEMBERED.forget()
            walk.append(evaluated(state))
        results.append(walk)
    pairs = zip(*results, strict=True)
    return len(results[0]), [
        f"seed {seed}, state {k}{d}" for k, pair in enumerate(pairs) for d in differences(*pair)
    ]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("count", type=int, nargs="?", default=500)
    parser.add_argument("--seed", type=int, default=1)
    chosen, states, wrong = parser.parse_args(), 0, []
    start = time.process_time()
    for seed in range(chosen.seed, chosen.seed + chosen.count):
        with tempfile.TemporaryDirectory() as folder:
            count, found = sequence(seed, Path(folder))
        states += count
        wrong += found
        for line in found[:5]:
            sys.stdout.write(f"{line}\n")
    spent = time.process_time() - start
    sys.stdout.write(f"{chosen.count} sequences, {states} states, {len(wrong)} differences, {spent:.0f} s\n")
    raise SystemExit(1 if wrong else 0)


if __name__ == "__main__":
    main()
