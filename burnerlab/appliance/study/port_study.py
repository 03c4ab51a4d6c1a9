"""A burner as the search for its ports takes it: its gases with their orifices, what is hot, the rows of its ports."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from burnerlab import tables
from burnerlab.appliance.conversion.convert import changed
from burnerlab.appliance.conversion.flame_stability import LOWEST, NO_COMPOSITION, TURNDOWN, burner_stability
from burnerlab.appliance.conversion.target import ConversionTarget
from burnerlab.appliance.conversion.warm_up import NO_BODY, ColdBurner, box_around, hot_mixture, own_ratio
from burnerlab.appliance.operation.result import aims_gross_W
from burnerlab.appliance.project.basis import RatedBasis, rated_basis
from burnerlab.appliance.project.model import Appliance, Burner, Tolerance
from burnerlab.burner.burner import BurnerGeometry, MixtureTemperatures, Surroundings
from burnerlab.burner.coefficients import coefficients
from burnerlab.burner.evaluation import fuel_with_flame
from burnerlab.burner.port_region import TABLE, PortGas, PortSpace, PortTolerance
from burnerlab.burner.primary_air import COLD
from burnerlab.gas import DeclaredGas, Gas
from burnerlab.orifice.discharge_coefficient import DEFAULT_SHAPE, law
from burnerlab.orifice.drill import Drill, hole_name
from burnerlab.orifice.flow import Conditions
from burnerlab.orifice.size import size
from burnerlab.quantity import Basis, Kind, show
from burnerlab.tables.problem import Problem, UserError

NEEDS_PORTS = (
    'add ports = { diameter = "1.6 mm", count = 180, depth = "3 mm" }, throat and shutter with its area'
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PortCase:
    """What ``port_region`` takes of a burner of an appliance."""

    burner: str
    template: BurnerGeometry
    gases: tuple[PortGas, ...]
    space: PortSpace
    rated: RatedBasis  # on which the heat input is printed, on the first gas
    band: Tolerance | None = None  # of the file, around the rating

    @property
    def outside(self) -> tuple[str, ...]:
        """The gases on which the orifice is outside the band of the heat input, in words; the highest input first."""
        if self.band is None:
            return ()
        low, high, found = self.band.low, self.band.high, []
        for gas in self.gases:
            if gas.from_aim is None or low <= gas.from_aim <= high:
                continue
            fitted = hole_name(gas.drill, gas.orifice_diameter_m)
            off = f"{100 * gas.from_aim:+.1f}"
            heat = f"OUTSIDE: heat input on {gas.title} {off} % with {fitted}, {100 * low:+g} to {100 * high:+g} %"
            danger = "possible overfire" if gas.from_aim > high else ""
            region = "the region is that of this orifice"
            found.append((gas.from_aim, "; ".join(filter(None, (heat, danger, region)))))
        return tuple(words for _, words in sorted(found, reverse=True))


def port_case(
    appliance: Appliance,
    name: str,
    targets: Sequence[tuple[Gas | DeclaredGas, float] | ConversionTarget],
    *,
    with_present: bool = True,
) -> PortCase:
    """A burner on the appliance's gas through its orifice, and on others with the drill a conversion fits for its rate.

    targets : each another gas and its gauge pressure [Pa], or what a market of the file is changed to: its place, and
    of a couple the orifice of the first gas
    with_present : whether the limits count on the appliance's gas too, as for a product that is sold on both
    The drill is of the list, or of the stock, of the file: the burner is judged as it would be built. It stands for the
    present orifice as well where the file gives none.
    What is hot of the burner as built stands for every variant: its body changes little with its ports.
    Raises UserError for a burner without round ports, or a gas without composition.

    >>> from burnerlab.appliance import demonstration
    >>> from burnerlab.gas import load
    >>> case = port_case(demonstration(), "griddle tube left", [(load("propane"), 2740.0)])
    >>> [round(1e3 * gas.orifice_diameter_m, 3) for gas in case.gases], case.space.rows, case.space.row_length_m
    ([1.397, 1.0], 2, 0.4)
    """
    burner = next(one for one in appliance.burners if one.name == name)
    supply = appliance.supply
    own = ConversionTarget(
        gas=supply.gas,
        gauge_pressure_Pa=supply.gauge_pressure_Pa,
        low_gauge_pressure_Pa=supply.low_gauge_pressure_Pa,
        high_gauge_pressure_Pa=supply.high_gauge_pressure_Pa,
        train="none",
        allow_high_pressure=supply.allow_high_pressure,
    )
    others = [_target(own, target) for target in targets]
    _check(burner, [one.gas for one in (own, *others)])
    alone = replace(appliance, burners=(burner,))
    present = changed(alone, own)
    if not burner.orifice.is_calculated:
        present = replace(present, burners=(replace(present.burners[0], orifice=burner.orifice),))
    cases = [_on_gas(each) for each in (present, *(changed(alone, target) for target in others))]
    return PortCase(
        burner=name,
        template=cases[0].template,
        gases=tuple(_titled([one.gas for one in cases][0 if with_present or len(cases) == 1 else 1 :])),
        space=PortSpace(
            heat_input_gross_W=cases[0].heat_input_gross_W,
            rows=None if burner.ports is None else burner.ports.rows,
            row_length_m=_row_length_m(burner),
        ),
        rated=rated_basis(appliance),
        band=appliance.limits.tolerance,
    )


def _target(
    own: ConversionTarget, other: tuple[Gas | DeclaredGas, float] | ConversionTarget
) -> ConversionTarget:
    if isinstance(other, ConversionTarget):
        return replace(other, train="none")
    gas, gauge_Pa = other
    return replace(
        own, gas=gas, gauge_pressure_Pa=gauge_Pa, low_gauge_pressure_Pa=None, high_gauge_pressure_Pa=None
    )


def _titled(gases: Sequence[PortGas]) -> Iterator[PortGas]:
    """Each once; of several states of a gas each with what tells it from the others, so that what binds is known.

    An altitude is always in the title, unless it is sea level.
    """
    known: list[PortGas] = []
    for gas in gases:
        if gas not in known:
            known.append(gas)
    for gas in known:
        state = ", ".join(_state_among(gas, [one for one in known if one.title == gas.title]))
        yield replace(gas, title=f"{gas.title} ({state})") if state else gas


def _state_among(gas: PortGas, alike: Sequence[PortGas]) -> Iterator[str]:
    """What tells a gas from others of its name, one state after the other until it is known."""
    for state in STATES:
        if len({state(one) for one in alike}) > 1 or (state is _altitude and not gas.is_at_sea_level):
            alike = [one for one in alike if state(one) == state(gas)]
            yield state(gas)
    if len(alike) > 1:
        yield f"{alike.index(gas) + 1} of {len(alike)}"


def _pressure(gas: PortGas) -> str:
    return show(gas.gauge_pressure_Pa, Kind.GAUGE_PRESSURE)


def _altitude(gas: PortGas) -> str:
    return "sea level" if gas.is_at_sea_level else f"altitude {gas.altitude_m:.0f} m"


def _orifice(gas: PortGas) -> str:
    return f"orifice {1e3 * gas.orifice_diameter_m:.3f} mm"


def _gas_temperature(gas: PortGas) -> str:
    kelvin = float(np.asarray(gas.surroundings.gas_temperature_K))
    return f"temperature {show(kelvin, Kind.TEMPERATURE)}"


def _pressure_ends(gas: PortGas) -> str:
    ends = (gas.lowest_gauge_pressure_Pa, gas.highest_gauge_pressure_Pa)
    low, high = (_pressure(gas if end is None else replace(gas, gauge_pressure_Pa=end)) for end in ends)
    return f"supply {low} to {high}"


STATES = (_pressure, _altitude, _orifice, _gas_temperature, _pressure_ends)


def plain_port_case(
    heat_input_W: float,
    basis: Basis,
    gases: Sequence[tuple[Gas | DeclaredGas, float]],
    *,
    turndown: float = 1.0,
    pressure_spread: float | None = None,
    port_temperature_K: float | None = None,
) -> PortCase:
    """A burner that is not built yet: its rate, and its gases each with a gauge pressure [Pa] and the exact orifice.

    heat_input_W : on the basis, on every gas [W]; turndown : least over full rate [-]
    pressure_spread : of the supply either way, as a fraction of its pressure [-]; port_temperature_K : of the mixture
    that leaves hot ports, that of table port_design unless given [K]
    Raises UserError for a gas without composition, and as ``size`` does.

    >>> from burnerlab.gas import load
    >>> case = plain_port_case(3660.0, "gross", [(load("propane"), 2740.0)], turndown=0.3)
    >>> round(1e3 * case.gases[0].orifice_diameter_m, 3)
    1.006
    """
    if not gases:
        raise UserError(Problem("the gas is missing", key="gas", fix='e.g. --gas "propane@11 inH2O"'))
    _check_compositions([gas for gas, _ in gases])
    hot_K = (
        tables.figure(TABLE, "hot port temperature").value
        if port_temperature_K is None
        else port_temperature_K
    )
    place = Surroundings()
    hot = MixtureTemperatures(port_rise=hot_K / float(np.asarray(place.air_temperature_K)))
    cases, heat = [], 0.0
    for gas, gauge_Pa in gases:
        sized = size(gas, heat_input_W, basis, Conditions(gauge_pressure_Pa=gauge_Pa), law(DEFAULT_SHAPE))
        heat = heat or float(sized.flow.heat_input_W("gross"))
        ends = (None, None) if pressure_spread is None else (1.0 - pressure_spread, 1.0 + pressure_spread)
        lowest, highest = (None if end is None else gauge_Pa * end for end in ends)
        cases.append(
            PortGas(
                title=gas.words,
                fuel=fuel_with_flame(gas),  # type: ignore[arg-type]  # has a composition: checked above
                gauge_pressure_Pa=gauge_Pa,
                orifice_diameter_m=sized.diameter_m,
                orifice_coefficient=sized.flow.coefficient,
                highest_gauge_pressure_Pa=highest,
                lowest_gauge_pressure_Pa=lowest,
                turndown=turndown,
                hot_full=hot,
                hot_low=hot,
                surroundings=place,
            )
        )
    template = BurnerGeometry(port_width_m=1.0, port_count=1, orifice_diameter_m=cases[0].orifice_diameter_m)
    rated = RatedBasis(word=basis, of_gross=heat_input_W / heat)
    space = PortSpace(heat_input_gross_W=heat)
    return PortCase(burner="", template=template, gases=tuple(_titled(cases)), space=space, rated=rated)


def in_shop(
    case: PortCase,
    *,
    length: float | None = None,
    rows: int | None = None,
    port_depth: float | None = None,
    port_drills: Sequence[Drill] | None = None,
    least_throat: float | None = None,
    largest_throat: float | None = None,
) -> PortCase:
    """A case with what a maker drills and bores; what is not given stays as the case has it.

    length : of a row of ports [m]; port_depth : of the wall that is drilled [m]; port_drills : those within the range
    of ports are taken; least_throat, largest_throat : [m]
    Raises UserError where no drill is one for ports, or the least throat is above the largest.

    >>> from burnerlab.gas import load
    >>> from burnerlab.orifice.drill import named_drills
    >>> case = plain_port_case(3660.0, "gross", [(load("propane"), 2740.0)])
    >>> in_shop(case, length=0.4, port_drills=named_drills(["1.6 mm", "5 mm"])).space.drills_m
    (0.0016,)
    """
    space = case.space
    least, greatest = space.port_diameter_m
    drills = [drill.diameter_m for drill in port_drills or ()]
    fitting = tuple(one for one in drills if least <= one <= greatest)
    if drills and not fitting:
        accepted = f"some of {1e3 * least:g} to {1e3 * greatest:g} mm"
        raise UserError(Problem("has no drill for ports", key="port_drills", accepted=accepted))
    ends = (least_throat or space.throat_m[0], largest_throat or space.throat_m[1])
    if ends[0] > ends[1]:
        raise UserError(Problem("is above the largest throat", key="least_throat", fix="exchange the two"))
    space = replace(
        space,
        row_length_m=space.row_length_m if length is None else length,
        rows=space.rows if rows is None else rows,
        drills_m=fitting or space.drills_m,
        throat_m=ends,
    )
    depth = case.template.port_depth_m if port_depth is None else port_depth
    return replace(case, space=space, template=replace(case.template, port_depth_m=depth))


def port_tolerance(
    *,
    orifice_spread: float | None = None,
    port_spread: float | None = None,
    throat_spread: float | None = None,
) -> PortTolerance:
    """How far a maker may be from the drawing either way; that of table port_design where it is not given.

    orifice_spread : of the orifice's area [-]; port_spread, throat_spread : of the diameter [m]

    >>> port_tolerance(port_spread=5e-5).port_m, port_tolerance().port_m
    (5e-05, 3e-05)
    """
    usual = PortTolerance()
    return PortTolerance(
        orifice_area=usual.orifice_area if orifice_spread is None else orifice_spread,
        port_m=usual.port_m if port_spread is None else port_spread,
        throat_m=usual.throat_m if throat_spread is None else throat_spread,
    )


def _check(burner: Burner, gases: Sequence[Gas | DeclaredGas]) -> None:
    """That the burner has round ports under open air, and that every gas has a composition."""
    problems = []
    ports = burner.ports
    if burner.kind.traits.is_radiant:
        what = "is a radiant tile: the search is of ports under open air"
        problems.append(Problem(what, value=burner.name, key="burner"))
    elif ports is None or burner.throat_m is None:
        problems.append(
            Problem("has no open ports with a throat", value=burner.name, key="burner", fix=NEEDS_PORTS)
        )
    elif ports.slot_length_m is not None:
        what, fix = "has slots: the search is of round ports", "give ports a diameter"
        problems.append(Problem(what, value=burner.name, key="ports", fix=fix))
    if problems:
        raise UserError(problems)
    _check_compositions(gases)


def _check_compositions(gases: Sequence[Gas | DeclaredGas]) -> None:
    fix = "name a gas of the library, or give its composition"
    problems = [
        Problem(NO_COMPOSITION, value=gas.name, key="gas", fix=fix)
        for gas in gases
        if isinstance(gas, DeclaredGas)
    ]
    if problems:
        raise UserError(problems)


@dataclass(frozen=True, slots=True, kw_only=True)
class _OnGas:
    template: BurnerGeometry
    gas: PortGas
    heat_input_gross_W: float


def _on_gas(appliance: Appliance) -> _OnGas:
    """The one burner of an appliance on its gas, through the orifice it has."""
    burner, supply = appliance.burners[0], appliance.supply
    stability = burner_stability(appliance, burner)
    case, full = stability.case, stability.full
    if case is None or full is None:
        raise ValueError("its ports and gas were evaluated before")
    lowest = next((rate for rate in stability.rates if rate.label in (TURNDOWN, LOWEST)), stability.rates[0])
    ratio = own_ratio(case.options)
    cold = ColdBurner(burner=burner, case=case, full=full, low=lowest.state, lowest_rate=lowest.label, lift={},
                      hot_ratio=ratio, box=box_around(appliance, burner))  # fmt: skip
    hot = hot_mixture(cold)
    has_share = hot is None and ratio is None
    orifice = case.geometry
    return _OnGas(
        template=case.geometry,
        heat_input_gross_W=float(full.heat_input_gross_W),
        gas=PortGas(
            title=supply.gas.words,
            fuel=case.fuel,
            gauge_pressure_Pa=supply.gauge_pressure_Pa,
            orifice_diameter_m=float(np.asarray(orifice.orifice_diameter_m)),
            orifice_coefficient=float(np.asarray(orifice.orifice_coefficient)),
            drill=burner.orifice.drill,
            from_aim=float(full.heat_input_gross_W) / aims_gross_W(appliance)[burner.name] - 1.0,
            orifice_count=int(np.asarray(orifice.orifice_count)),
            highest_gauge_pressure_Pa=supply.high_gauge_pressure_Pa,
            lowest_gauge_pressure_Pa=supply.low_gauge_pressure_Pa,
            turndown=burner.turndown or 1.0,
            hot_full=COLD if hot is None else hot[0],
            hot_low=COLD if hot is None else hot[1],
            hot_ratio=ratio,
            air_share=coefficients(case.options.own)[NO_BODY].value if has_share else 1.0,
            surroundings=case.surroundings,
            own=case.options.own,
        ),
    )


def _row_length_m(burner: Burner) -> float | None:
    """Of the place or the body; of a ring its circle; None where the file gives neither."""
    if burner.body is not None and burner.body.length_m is not None:
        return burner.body.length_m
    if not burner.places:
        return None
    place = burner.places[0]
    return place.length_m if place.diameter_m is None else math.pi * place.diameter_m
