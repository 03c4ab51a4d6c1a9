"""A closed plate: what it conducts sideways and gives off itself, how long it takes to heat, and a load of cold food.

k t (d2T/dx2 + d2T/dy2) + q = h (T - Ta) + e s (T^4 - Ta^4)(1 + r) + food, and rho c t dT/dt while it heats. q is the
heat map, r the share of what the underside radiates that does not come back; edges lose nothing. Cells of equal size,
implicit steps, each a banded system, Newton for the radiation. The map takes the plate as it heats at first: a hot
plate takes less from the gas, so that steady temperatures are high ends and times low ends of what one would read.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from burnerlab.layout.cooking_surface import Layout, PlateSheet, Span, grid_over
from burnerlab.layout.enclosure import below, own_loss
from burnerlab.layout.heat_map import evenness, pieces
from burnerlab.layout.radiation import STEFAN_BOLTZMANN
from burnerlab.quantity import Kind
from burnerlab.quantity.outputs import output

FloatArray = NDArray[np.float64]
CELLS = (24, 16)
FIRST_STEP_s, GROWTH, LONGEST_s = 2.0, 1.12, 4 * 3600.0
FOOD_STEP_s, FOOD_TIME_s = 10.0, 1200.0
NEWTON_STEPS = 30
EVEN = 1.1  # of its final figure: the variation of the rise below which a plate counts as even
BOILING_K = 373.15  # food that holds water stays below
LOSS_SPAN, GAIN_SPAN = Span(low=0.6, high=1.6), Span(low=0.6, high=1.2)  # rows of the table
LATENT_J_per_kg = 2.257e6  # of water at 100 C, steam tables


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateCase:
    """Surroundings of a plate and a load of food, from the table of coefficients."""

    ambient_K: float = 293.15
    convection_W_per_m2K: float = 8.0
    loss: float = 1.0  # factor on what the plate gives off by convection and radiation
    loss_span: Span = LOSS_SPAN
    gain: float = 0.9  # mean heat of the plate over its loss, in the slope of both [-]
    gain_span: Span = GAIN_SPAN
    preheat_K: float = 458.15
    food_kg_per_m2: float = 10.0
    food_K: float = 277.15
    food_J_per_kgK: float = 3500.0
    food_contact_W_per_m2K: float = 250.0
    food_moisture: float = 0.2  # of its mass, given off as steam [-]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateState:
    """A plate under its burners: steady, heating from cold, and with cold food; empty unless said."""

    sheet: PlateSheet = field(metadata=output("plate", is_part=True))
    spread_length_m: float = field(metadata=output("conduction evens out over", Kind.LENGTH))
    """sqrt(k t/h) with the loss at the steady mean temperature."""
    flux_variation: float = field(metadata=output("variation of the heat to the plate", Kind.FRACTION))
    given_off_variation: float = field(metadata=output("variation of the heat it gives off", Kind.FRACTION))
    """After conduction sideways: at most that of the heat to it."""
    rise_variation: float = field(metadata=output("variation of the temperature rise", Kind.FRACTION))
    steady_mean_K: float = field(
        metadata=output("mean temperature, empty, full rate, at most", Kind.TEMPERATURE)
    )
    steady_max_K: float = field(metadata=output("highest temperature, at most", Kind.TEMPERATURE))
    steady_min_K: float = field(metadata=output("lowest temperature, at most", Kind.TEMPERATURE))
    preheat_s: float | None = field(metadata=output("time to the preheat temperature", Kind.TIME))
    """Of the mean; None where it is not reached."""
    preheat_low_s: float | None = field(metadata=output("time to the preheat temperature, from", Kind.TIME))
    preheat_high_s: float | None = field(metadata=output("time to the preheat temperature, to", Kind.TIME))
    even_s: float | None = field(metadata=output("time until even", Kind.TIME))
    """Until the variation of the rise is within a tenth of its final figure."""
    food_drop_K: float | None = field(
        metadata=output("drop under a load of cold food, indicative", Kind.TEMPERATURE_DIFFERENCE)
    )
    """Of the mean, from the preheat temperature."""
    recovery_s: float | None = field(metadata=output("recovery after it, indicative", Kind.TIME))
    """Until the mean is back at the preheat temperature; None where it is not within 20 minutes."""
    steady_K: FloatArray  # [rows, columns]


def plate_state(layout: Layout, case: PlateCase, ends: tuple[float, float] = (1.0, 1.0)) -> PlateState | None:
    """The plate of a layout; None for an open grate.

    ends : low and high end of the mean heat over the heat of the map, for the band of the time to preheat

    >>> from burnerlab.appliance import demonstration
    >>> from burnerlab.layout.layout_study import layout_of
    >>> state = plate_state(layout_of(demonstration(), "griddle"), PlateCase())
    >>> state.given_off_variation < state.flux_variation
    True
    """
    sheet = layout.surface.sheet
    if sheet is None:
        return None
    grid = grid_over(layout.surface, *CELLS)
    flux = pieces(layout, grid)[0].flux(layout).sum(axis=0)
    plate = _Plate(layout, sheet, case, plate_loss(layout, sheet, case))
    steady = plate.steady(flux)
    loss = plate.loss(steady)
    mean = float(steady.mean())
    course = plate.heating(flux)
    preheat, late, early = (
        one.reaches(case.preheat_K)
        for one in (course, *(plate.heating(scale * flux, case.preheat_K) for scale in ends))
    )
    drop, recovery = plate.with_food(flux, course)
    rise = steady - case.ambient_K
    return PlateState(
        sheet=sheet,
        spread_length_m=plate.spread_length_m(mean),
        flux_variation=evenness(flux).coefficient_of_variation,
        given_off_variation=evenness(loss).coefficient_of_variation,
        rise_variation=evenness(rise).coefficient_of_variation,
        steady_mean_K=mean,
        steady_max_K=float(steady.max()),
        steady_min_K=float(steady.min()),
        preheat_s=preheat,
        preheat_low_s=early,
        preheat_high_s=late,
        even_s=course.is_even_after(evenness(rise).coefficient_of_variation),
        food_drop_K=drop,
        recovery_s=recovery,
        steady_K=steady,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateLoss:
    """What an empty plate gives off from both faces.

    q = h (T - Ta) + R (T^4 - Ta^4), R = s (e + r). It keeps falling below 0 K, where a solution on its way may be.

    >>> round(float(PlateLoss(convection_W_per_m2K=8.0, radiates=7e-8)(np.array(458.15))))
    3887
    """

    convection_W_per_m2K: float
    radiates: float  # W/(m2 K4), of both faces
    ambient_K: float = 293.15

    def __call__(self, T: FloatArray) -> FloatArray:
        """At a temperature [W/m2]."""
        Ta = self.ambient_K
        fourth = T * np.abs(T) ** 3 - Ta**4
        return np.asarray(self.convection_W_per_m2K * (T - Ta) + self.radiates * fourth)

    def slope(self, T: FloatArray) -> FloatArray:
        """By temperature [W/(m2 K)]."""
        return np.asarray(self.convection_W_per_m2K + 4 * self.radiates * np.abs(T) ** 3)


def plate_loss(layout: Layout, sheet: PlateSheet, case: PlateCase) -> PlateLoss:
    """Of a plate over its burners, in its surroundings.

    >>> from burnerlab.appliance import demonstration
    >>> from burnerlab.layout.layout_study import layout_of
    >>> griddle = layout_of(demonstration(), "griddle")
    >>> loss = plate_loss(griddle, griddle.surface.sheet, PlateCase())
    >>> bool(10.0 < loss.slope(np.array(458.15)) < 60.0)
    True
    """
    return PlateLoss(
        convection_W_per_m2K=case.loss * case.convection_W_per_m2K,
        radiates=case.loss * STEFAN_BOLTZMANN * (sheet.emissivity + own_loss(below(layout), layout)),
        ambient_K=case.ambient_K,
    )


@dataclass(frozen=True, slots=True)
class _Course:
    """Heating from cold: times, mean temperatures, variation of the rise, and the plate at the preheat temperature."""

    time_s: FloatArray
    mean_K: FloatArray
    variation: FloatArray
    at_preheat_K: FloatArray | None

    def reaches(self, temperature_K: float) -> float | None:
        """When the mean is there, None where it is not."""
        if self.mean_K[-1] < temperature_K:
            return None
        return float(np.interp(temperature_K, self.mean_K, self.time_s))

    def is_even_after(self, final: float) -> float | None:
        """After when the variation of the rise stays within ``EVEN`` of its final figure."""
        beyond = np.flatnonzero(self.variation > EVEN * final)
        if not beyond.size:
            return float(self.time_s[0])
        last = int(beyond[-1])
        return None if last + 1 >= self.time_s.size else float(self.time_s[last + 1])


class _Plate:
    """The discrete plate: conduction between neighbouring cells, losses from both faces."""

    def __init__(self, layout: Layout, sheet: PlateSheet, case: PlateCase, loss: PlateLoss) -> None:
        across, deep = CELLS
        dx, dy = layout.surface.width_m / across, layout.surface.depth_m / deep
        kt = sheet.conductivity_W_per_mK * sheet.thickness_m
        self.kt = kt  # W/K
        self.across_W_per_m2K, self.along_W_per_m2K = kt / dx**2, kt / dy**2
        self.capacity = sheet.density_kg_per_m3 * sheet.specific_heat_J_per_kgK * sheet.thickness_m
        self.loss, self.case, self.shape = loss, case, (deep, across)
        self.bands = self._bands()

    def conducted(self, T: FloatArray) -> FloatArray:
        """Into each cell from its neighbours; the edges let nothing out [W/m2]."""
        T = T.reshape(self.shape)
        sideways = self.across_W_per_m2K * np.diff(T, axis=1, prepend=T[:, :1], append=T[:, -1:])
        inwards = self.along_W_per_m2K * np.diff(T, axis=0, prepend=T[:1], append=T[-1:])
        return np.asarray((np.diff(sideways, axis=1) + np.diff(inwards, axis=0)).ravel())

    def _bands(self) -> FloatArray:
        """The upper bands of minus the conduction, as ``solveh_banded`` reads them [W/(m2 K)]."""
        deep, across = self.shape
        beside, behind = np.full(self.shape, self.across_W_per_m2K), np.full(self.shape, self.along_W_per_m2K)
        beside[:, 0], behind[0] = 0.0, 0.0  # to the neighbour before; the first has none
        bands = np.zeros((across + 1, deep * across))
        bands[-2], bands[0] = -beside.ravel(), -behind.ravel()
        bands[-1] = -bands[-2] - np.roll(bands[-2], -1) - bands[0] - np.roll(bands[0], -across)
        return bands

    def spread_length_m(self, temperature_K: float) -> float:
        """With the slope of the loss at a temperature."""
        return math.sqrt(self.kt / float(self.loss.slope(np.array(temperature_K))))

    def steady(self, flux: FloatArray) -> FloatArray:
        """Where every cell gives off what it gets [K]."""
        T = np.full(flux.size, 500.0)
        for _ in range(NEWTON_STEPS):
            gap = flux.ravel() - self.loss(T) + self.conducted(T)
            step = self._solved(self.loss.slope(T), gap)
            T = np.maximum(T + step, 0.5 * T)
            if float(np.abs(step).max()) < 1e-9 * float(T.max()):
                break
        return np.asarray(T.reshape(self.shape))

    def _solved(self, diagonal: FloatArray, right: FloatArray) -> FloatArray:
        """Of the conductance ``diagonal`` of each cell to what is constant, and conduction."""
        from scipy.linalg import solveh_banded

        bands = self.bands.copy()
        bands[-1] += diagonal
        return np.asarray(solveh_banded(bands, right, overwrite_ab=True, check_finite=False))

    def _step(self, T: FloatArray, heat: FloatArray, more: FloatArray | float, seconds: float) -> FloatArray:
        """One implicit step with a linearised loss; ``more`` is a further conductance to what ``heat`` counts."""
        gap = heat - self.loss(T) + self.conducted(T)
        return np.asarray(T + self._solved(self.capacity / seconds + self.loss.slope(T) + more, gap))

    def heating(self, flux: FloatArray, until_K: float = math.inf) -> _Course:
        """From the surroundings' temperature at full rate, empty, until its mean is past a temperature."""
        T, time = np.full(flux.size, self.case.ambient_K), 0.0
        rows: list[tuple[float, float, float]] = []
        at_preheat = None
        for seconds in _steps():
            T, time = self._step(T, flux.ravel(), 0.0, seconds), time + seconds
            rise = T - self.case.ambient_K
            rows.append((time, float(T.mean()), float(rise.std() / rise.mean())))
            if at_preheat is None and rows[-1][1] >= self.case.preheat_K:
                at_preheat = T + (self.case.preheat_K - rows[-1][1])
            if rows[-1][1] > until_K:
                break
        columns = np.array(rows).T
        time_s, mean_K, variation = (
            np.concatenate([[first], column])
            for first, column in zip((0.0, self.case.ambient_K, columns[2, 0]), columns, strict=True)
        )
        return _Course(time_s, mean_K, variation, at_preheat)

    def with_food(self, flux: FloatArray, course: _Course) -> tuple[float | None, float | None]:
        """Drop of the mean under a cold load, and when it is back [K, s]; none where the plate does not get hot."""
        c = self.case
        if course.at_preheat_K is None:
            return None, None
        T, food = course.at_preheat_K, np.full(flux.size, c.food_K)
        holds, contact = c.food_kg_per_m2 * c.food_J_per_kgK, c.food_contact_W_per_m2K
        wet, lowest, back = (
            np.full(flux.size, c.food_kg_per_m2 * c.food_moisture * LATENT_J_per_kg),
            c.preheat_K,
            None,
        )
        for k in range(1, int(FOOD_TIME_s / FOOD_STEP_s) + 1):
            touch = _conductance(T - food, (contact, holds), food, wet)
            start = food
            T = self._step(T, flux.ravel() - touch * (T - start), touch, FOOD_STEP_s)
            taken = FOOD_STEP_s * touch * (T - start)
            food = np.minimum(start + taken / holds, BOILING_K)
            wet = wet - (taken - holds * (food - start))
            mean = float(T.mean())
            lowest = min(lowest, mean)
            if back is None and mean >= c.preheat_K and lowest < c.preheat_K:
                back = k * FOOD_STEP_s
        return c.preheat_K - lowest, back


def _conductance(
    hotter: FloatArray, contact_and_heat: tuple[float, float], food: FloatArray, wet: FloatArray
) -> FloatArray:
    """Conductance into food over one step from its temperature at the start; no more than the food can take.

    Food that warms follows the plate, food that boils stays at it; what has given off its water is done.
    """
    contact, holds = contact_and_heat
    follows = contact / (1 + FOOD_STEP_s * contact / holds)
    boils = FOOD_STEP_s * follows * hotter > holds * (BOILING_K - food)
    room = (holds * (BOILING_K - food) + np.maximum(wet, 0.0)) / (FOOD_STEP_s * np.maximum(hotter, 1e-9))
    return np.asarray(np.minimum(np.where(boils, contact, follows), room))


def _steps() -> Iterator[float]:
    """Time steps that grow, up to the longest time."""
    time, seconds = 0.0, FIRST_STEP_s
    while time < LONGEST_s:
        yield seconds
        time, seconds = time + seconds, min(seconds * GROWTH, 600.0)
