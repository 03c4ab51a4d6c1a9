"""A plate that conducts sideways and loses heat: its temperatures from the heat at points.

g(T) - L^2 (d2T/dx2 + d2T/dy2) = q, all in kelvins: g the loss of the plate over its slope at a temperature, q the heat
over the same slope, L = sqrt(k t/h) there, edges that lose nothing. A wave cos(m pi x/W) cos(n pi y/D) of
q + s T - g(T) is divided by s + L^2 ((m pi/W)^2 + (n pi/D)^2), in turn until T stays: s is the middle of the slopes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from burnerlab.layout.cooking_surface import Grid, Surface, grid_over
from burnerlab.layout.plate import PlateLoss

FloatArray = NDArray[np.float64]
ONE_THREAD = 200_000  # multiplications, below which numpy starts no further threads
WAVES = (24, 24)  # along x and y: of the heat, that are flattened each by its own length
TURNS = 200  # at most, each leaves less than half of what is open on plates up to 1000 K
NEAR_K = 1e-7  # to which temperatures are turned
NEAR = 1e-7  # the same of a linear plate


@dataclass(frozen=True, slots=True, kw_only=True)
class LossCurve:
    """Loss of a plate in kelvins: at a temperature it is that temperature, with slope 1.

    >>> curve = LossCurve(loss=PlateLoss(convection_W_per_m2K=8.0, radiates=0.0), at_K=500.0)
    >>> float(curve(np.array(520.0))), float(curve.slope(np.array(520.0)))
    (520.0, 1.0)
    """

    loss: PlateLoss
    at_K: float
    reference: PlateLoss | None = None  # loss of another plate, whose kelvins these are

    @property
    def W_per_m2K(self) -> float:
        """Slope of the loss behind a kelvin."""
        return float((self.reference or self.loss).slope(np.array(self.at_K)))

    def __call__(self, T: FloatArray) -> FloatArray:
        """Loss at a temperature [K]."""
        there = (self.reference or self.loss)(np.array(self.at_K))
        return np.asarray(self.at_K + (self.loss(T) - there) / self.W_per_m2K)

    def slope(self, T: FloatArray) -> FloatArray:
        """Of the loss by temperature [-]."""
        return np.asarray(self.loss.slope(T) / self.W_per_m2K)


EVEN = LossCurve(loss=PlateLoss(convection_W_per_m2K=1.0, radiates=0.0, ambient_K=0.0), at_K=0.0)
"""A loss in proportion to the temperature."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Conduction:
    """A plate made linear: from the heat at the cells and, behind them, at places, to the temperature at the places."""

    of_cells: FloatArray  # [places, cells]
    own: FloatArray  # [places], of what is finer than the waves at a place
    rest_K: FloatArray  # [places], without heat
    by_loss_K: FloatArray  # [places], for the logarithm of a factor on the loss

    def __call__(self, heat: FloatArray) -> FloatArray:
        """What heat [cells + places] or [cells + places, n] adds to the temperatures."""
        cells = self.of_cells.shape[1]
        own = self.own if heat.ndim == 1 else self.own[:, None]
        return np.asarray(self.of_cells @ heat[:cells] + own * heat[cells:])

    def covariance(self, at_m: FloatArray, size: FloatArray, lengths_m: tuple[float, float]) -> FloatArray:
        """Of temperatures [places, places], for heat of a size [cells + places] and correlation exp(-(d/l)^2/2).

        The cells take it along one axis after the other: a twentieth of the work of the whole matrix.
        """
        across, cells = WAVES[0], self.of_cells.shape[1]
        of_cells = self.of_cells * size[:cells]
        (x, y), (there_x, there_y) = (at_m[:across, 0], at_m[:cells:across, 1]), at_m[cells:].T
        one_way = of_cells.reshape(-1, across) @ bell(x, x, lengths_m[0])
        other_way = np.matmul(bell(y, y, lengths_m[1]), one_way.reshape(-1, y.size, across))
        beside = bell(y, there_y, lengths_m[1])[:, None] * bell(x, there_x, lengths_m[0])
        own = self.own * size[cells:]
        mixed = _product(of_cells, beside.reshape(cells, -1)) * own
        alone = bell(there_x, there_x, lengths_m[0]) * bell(there_y, there_y, lengths_m[1])
        both = _product(other_way.reshape(-1, cells), of_cells.T)
        return np.asarray(both + mixed + mixed.T + own[:, None] * own * alone)


@dataclass(frozen=True, slots=True, kw_only=True)
class ConductingPlate:
    """Waves of a plate at its cells and at places.

    What is finer than the waves is flattened as the first wave beyond them; without any conduction every place has its
    own heat.
    """

    curve: LossCurve
    square_m2: float  # L^2
    squares_per_m2: FloatArray  # of the waves [along, across]
    beyond_per_m2: float
    at_cells: tuple[FloatArray, FloatArray]  # waves along y, along x at the middles [cells, waves]
    at_places: FloatArray  # [places, along * across]
    amplitudes: tuple[FloatArray, FloatArray]  # of waves along y, along x from the cells [waves, cells]

    def with_loss(self, log_factor: float) -> ConductingPlate:
        """The plate with a factor on its loss; the kelvins of heat take the same factor."""
        return replace(self, square_m2=self.square_m2 * float(np.exp(-log_factor)))

    def temperature_K(self, heat: FloatArray, log_factor: FloatArray | float = 0.0) -> FloatArray:
        """At cells and places [cells + places, ...] from the heat there [K]; log_factor : on the loss [...]."""
        columns = heat.reshape(len(heat), -1)
        square = self.square_m2 * np.exp(-np.broadcast_to(log_factor, columns.shape[1:]))
        T = np.full_like(columns, self.curve.at_K)
        for _ in range(TURNS):
            slopes = self.curve.slope(T)
            middle = 0.5 * (slopes.min(axis=0) + slopes.max(axis=0))
            step = self._linear(columns + middle * T - self.curve(T), middle, square) - T
            T += step
            if float(np.abs(step).max()) < NEAR_K:
                break
        return np.asarray(T.reshape(heat.shape))

    def _linear(self, heat: FloatArray, slope: FloatArray, square_m2: FloatArray) -> FloatArray:
        """Of a loss of an even slope [columns], at cells and places [cells + places, columns]."""
        cells = self.cells
        own = 1 / (slope + square_m2 * self.beyond_per_m2)
        passes = 1 / (slope + square_m2 * self.squares_per_m2[..., None]) - own
        (each_y, each_x), (there_y, there_x) = self.amplitudes, self.at_cells
        of_cells = heat[:cells].T.reshape(-1, len(there_y), len(there_x))
        waves = (each_y @ of_cells @ each_x.T) * np.moveaxis(passes, -1, 0)
        at_cells = (there_y @ waves @ there_x.T).reshape(len(waves), -1).T
        at_places = self.at_places @ waves.reshape(len(waves), -1).T
        return np.asarray(np.concatenate([at_cells, at_places]) + own * heat)

    @property
    def cells(self) -> int:
        return len(self.at_cells[0]) * len(self.at_cells[1])

    def about(self, T: FloatArray, heat: FloatArray) -> Conduction:
        """Linear about the temperatures [cells + places] of a heat [cells + places]."""
        slope, cells = self.curve.slope(T), self.cells
        middle = 0.5 * float(slope.min() + slope.max())
        own = 1 / (middle + self.square_m2 * self.beyond_per_m2)
        passes = 1 / (middle + self.square_m2 * self.squares_per_m2) - own
        (each_y, each_x), (there_y, there_x) = self.amplitudes, self.at_cells
        shape = (-1, len(there_y), len(there_x))
        first = (each_y.T @ (self.at_places.reshape(shape) * passes) @ each_x).reshape(-1, cells)
        of_cells, bend = first, middle - slope
        for _ in range(TURNS):
            bent = of_cells * bend[:cells]
            waves = (there_y.T @ bent.reshape(shape) @ there_x) * passes
            turned = first + (each_y.T @ waves @ each_x).reshape(-1, cells) + own * bent
            step, of_cells = float(np.abs(turned - of_cells).max()), turned
            if step <= NEAR * float(np.abs(turned).max()):
                break
        beside = 1 - own * bend[cells:]
        bare = Conduction(
            of_cells=of_cells / beside[:, None], own=own / beside, rest_K=beside, by_loss_K=beside
        )
        loss = self.curve(T)
        return replace(bare, rest_K=bare(slope * T - loss), by_loss_K=bare(heat - loss))


def _waves(count: int) -> FloatArray:
    """Amplitudes of the waves along one axis from the heat at the middles of its cells [waves, cells].

    Midpoint rule with the end correction of Euler and Maclaurin, since heat need not be level at an edge.
    """
    m, slope = np.arange(count)[:, None], np.zeros(count)
    slope[:3] = -2.0, 3.0, -1.0  # of the heat at the first edge, per cell
    ends = ((-1.0) ** m * -slope[::-1] - slope) / 24
    found = np.cos(np.pi * m * (np.arange(count) + 0.5) / count) + ends
    return np.asarray(found * np.where(m > 0, 2.0, 1.0) / count)


def _product(first: FloatArray, second: FloatArray) -> FloatArray:
    """A product some rows at a time: numpy's threads, which larger ones start, wait for each other."""
    rows = max(ONE_THREAD // second.size, 1)
    return np.concatenate([first[at : at + rows] @ second for at in range(0, len(first), rows)])


def bell(first_m: FloatArray, second_m: FloatArray, length_m: float) -> FloatArray:
    """Correlation exp(-(d/l)^2/2) along one axis [n, m]."""
    return np.asarray(np.exp(-0.5 * ((first_m[:, None] - second_m) / length_m) ** 2))


def conducting_plate(
    surface: Surface, length_m: float, places: Grid, curve: LossCurve = EVEN
) -> ConductingPlate:
    """The plate between heat and temperature at cells and places.

    length_m : over which conduction evens out, sqrt(k t/h), h behind a kelvin of the curve; places : over the surface

    >>> surface = Surface(name="p", x_m=0.2, y_m=0.0, z_m=0.1, width_m=0.4, depth_m=0.2)
    >>> at = Grid(x_m=np.array([0.0, 0.4]), y_m=np.array([0.0, 0.0]))
    >>> heat = 1 + 0.5 * np.cos(np.pi * points(surface, at).x_m / 0.4)
    >>> conducting_plate(surface, 0.4 / np.pi, at).temperature_K(heat)[-2:].round(3)
    array([1.25, 0.75])
    """
    low_x, high_x, low_y, high_y = surface.sides
    across, along = np.arange(WAVES[0]) * np.pi, np.arange(WAVES[1]) * np.pi
    square_x, square_y = (across / (high_x - low_x)) ** 2, (along / (high_y - low_y)) ** 2
    x = (places.x_m.ravel() - low_x) / (high_x - low_x)
    y = (places.y_m.ravel() - low_y) / (high_y - low_y)
    there = np.cos(y[:, None] * along)[:, :, None] * np.cos(x[:, None] * across)[:, None, :]
    middle_x, middle_y = ((np.arange(count) + 0.5) / count for count in WAVES)
    return ConductingPlate(
        curve=curve,
        square_m2=length_m**2,
        squares_per_m2=square_y[:, None] + square_x,
        beyond_per_m2=np.pi**2 * min((WAVES[0] / (high_x - low_x)) ** 2, (WAVES[1] / (high_y - low_y)) ** 2),
        at_cells=(np.cos(middle_y[:, None] * along), np.cos(middle_x[:, None] * across)),
        at_places=there.reshape(x.size, -1),
        amplitudes=(_waves(WAVES[1]), _waves(WAVES[0])),
    )


def points(surface: Surface, places: Grid) -> Grid:
    """Middles of the cells that carry the waves, and behind them the places."""
    cells = grid_over(surface, *WAVES)
    return Grid(
        x_m=np.concatenate([cells.x_m.ravel(), places.x_m.ravel()]),
        y_m=np.concatenate([cells.y_m.ravel(), places.y_m.ravel()]),
    )
