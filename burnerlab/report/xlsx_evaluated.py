"""The pages of the workbook on pressure, flame and tile: every rate of every burner, numbers as numbers."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Protocol

from burnerlab.appliance.evaluated import Band, BurnerFlames, Evaluation, FlameAt, TileAt
from burnerlab.report.json_evaluated import ZERO_C_K
from burnerlab.report.wording import clean

Value = str | float | None


class Book(Protocol):
    """What a page is written with."""

    def page(self, name: str, title: str, lead: str, landscape: bool = True) -> Any: ...
    def heads(self, sheet: Any, titles: Sequence[str], widths: Sequence[float]) -> None: ...
    def rows(self, sheet: Any, rows: Sequence[Sequence[Value]], pattern: str = "General") -> None: ...


FLAME_HEADS = (
    "Burner", "Gas", "Rate", "Pressure before the orifice, gauge [mbar]", "Heat input, gross [kW]",
    "Primary aeration [-]", "least", "most", "Port loading, gross [W/mm2]", "Wall gradient [1/s]",
    "Lift margin [-]", "least", "most", "Light-back margin [-]", "least", "most",
    "Light-back margin is at least this", "Yellow-tip margin [-]", "least", "most", "Inner cone [mm]",
)  # fmt: skip
TILE_HEADS = (
    "Burner", "Gas", "Primary aeration [-]", "Firing density, net [kW/m2]", "Face [C]", "least", "most",
    "Ceiling of the face [C]", "Radiant efficiency, net [-]", "least", "most", "Radiated [kW]",
    "Plenum side [C]", "least", "most", "Evidence",
)  # fmt: skip


def pages(book: Book, found: Evaluation | None) -> None:
    """A page each for what was evaluated; none for what was not."""
    if found is None:
        return
    if found.pressures:
        _pressures(book, found)
    if found.flames:
        _flames(book, found)
    if found.tiles:
        _tiles(book, found)


def _pressures(book: Book, found: Evaluation) -> None:
    page = book.page(
        "Pressure", "Pressure at each burner", "Gauge, before the orifice; heat inputs of one burner."
    )
    heads = (
        "Burner", "Gas", "All on [mbar]", "Alone [mbar]", "Heat input, all on, gross [kW]",
        "Heat input, alone, gross [kW]", "All on against the nominal pressure [%]",
    )  # fmt: skip
    book.heads(page, heads, [24, 10, 12, 12, 14, 14, 14])
    rows: list[tuple[Value, ...]] = [
        (clean(at.burner), one.which, at.all_on_Pa / 100, at.alone_Pa and at.alone_Pa / 100, at.all_on_gross_W / 1e3,
         at.alone_gross_W and at.alone_gross_W / 1e3, 100 * at.all_on_from_nominal)
        for one in found.pressures
        for at in one.burners
    ]  # fmt: skip
    rows += [(clean(note), one.which) for one in found.pressures for note in one.notes]
    book.rows(page, rows, "0.000")


def _flames(book: Book, found: Evaluation) -> None:
    lead = "A margin of 1 is the limit, below 1 it is crossed; test required."
    page = book.page("Flame", "Primary air and flame", lead)
    book.heads(page, FLAME_HEADS, [24, 10, 16, *([11] * (len(FLAME_HEADS) - 3))])
    book.rows(page, [_flame(one, at) for one in found.flames for at in one.rates], "0.000")
    shutters = [one for one in found.flames if one.shutter is not None]
    if shutters:
        page = book.page("Shutter", "Air shutters", "Openings that hold every limit known on both gases.")
        book.heads(page, ("Burner", "As set [%]", "From [%]", "To [%]", "In words"), [24, 10, 10, 10, 100])
        book.rows(page, [_shutter(one) for one in shutters], "0.0")


def _flame(one: BurnerFlames, at: FlameAt) -> tuple[Value, ...]:
    return (
        clean(one.burner), at.which, at.rate, at.gauge_pressure_Pa / 100, at.heat_input_gross_W / 1e3,
        *_band(at.aeration), at.port_loading_W_per_mm2, at.wall_gradient_per_s,
        *_band(at.lift_margin), *_band(at.light_back_margin), "yes" if at.light_back_is_at_least else "",
        *_band(at.yellow_tip_margin), None if at.inner_cone_height_m is None else 1e3 * at.inner_cone_height_m,
    )  # fmt: skip


def _band(band: Band | None) -> tuple[Value, Value, Value]:
    return ("not evaluated", None, None) if band is None else (band.value, band.low, band.high)


def _shutter(one: BurnerFlames) -> tuple[Value, ...]:
    setting = one.shutter
    assert setting is not None
    ends = (setting.present, setting.low, setting.high)
    return (clean(one.burner), *(None if end is None else 100 * end for end in ends), clean(setting.words))


def _tiles(book: Book, found: Evaluation) -> None:
    page = book.page("Tile", "Tile", "A balance of heat on the glowing face, an estimate; test required.")
    book.heads(page, TILE_HEADS, [24, 10, *([12] * (len(TILE_HEADS) - 2))])
    book.rows(page, [_tile(one) for one in found.tiles], "0.000")


def _tile(one: TileAt) -> tuple[Value, ...]:
    return (
        clean(one.burner), one.which, one.aeration, one.firing_density_net_W_per_m2 / 1e3, *_celsius(one.face_K),
        one.ceiling_face_K - ZERO_C_K, *_band(one.radiant_efficiency_net), one.radiated_W / 1e3,
        *_celsius(one.plenum_side_K), one.evidence,
    )  # fmt: skip


def _celsius(band: Band) -> tuple[Value, ...]:
    return tuple(end - ZERO_C_K for end in (band.value, band.low, band.high))
