"""The layout of a project file, studied: map, band, each burner's part, another gas."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import assert_never

from burnerlab import tables
from burnerlab.appliance.conversion.tiles import hot_tile_firing
from burnerlab.appliance.project.burner_kind import Form
from burnerlab.appliance.project.geometry import Box, Grate, Heat, Space
from burnerlab.appliance.project.geometry_checks import (
    Footprint,
    box_footprint,
    burner_footprint,
    grate_footprint,
    overlap,
    shield_footprint,
)
from burnerlab.appliance.project.model import Appliance, Place
from burnerlab.burner.tile import TILE_TABLE as TILES
from burnerlab.burner.tile import Firing, TileBurner
from burnerlab.burner.tile_evaluation import evaluate_tile
from burnerlab.gas import DeclaredGas, Gas
from burnerlab.gas.gas_family import GasGroup
from burnerlab.layout.cooking_surface import (
    NORMALS,
    Cover,
    Emitter,
    Grid,
    Layout,
    PlateSheet,
    PlumeShape,
    Room,
    Side,
    Span,
    Surface,
    grid_over,
)
from burnerlab.layout.fit_result import FitState, GridFit
from burnerlab.layout.flame_contact import FlameContact, flame_contacts
from burnerlab.layout.flame_size import flame_sizes, line_ceiling_m
from burnerlab.layout.heat_balance import LayoutBalance, heat_balance
from burnerlab.layout.heat_map import (
    DEFAULT_GRID,
    CellBand,
    Evenness,
    HeatMap,
    MapBand,
    ShieldState,
    cell_band,
    heat_map,
    map_band,
    names_index,
)
from burnerlab.layout.layout_prediction import (
    PredictedTemperature,
    calibrated,
    fit_band,
    fitted_cell_band,
    predicted_temperature,
)
from burnerlab.layout.placement import Standing, coefficient, net_share, standing
from burnerlab.layout.plate import PlateCase, PlateState, plate_state
from burnerlab.layout.plume import FloatArray
from burnerlab.layout.radiation import black_W_per_m2
from burnerlab.quantity import Kind, from_unit, in_unit
from burnerlab.quantity.outputs import Ends, computed_output, output
from burnerlab.quantity.summary import Summary, WithSummary
from burnerlab.tables import Figure, figure
from burnerlab.tables.figure import Evidence
from burnerlab.tables.problem import Problem, UserError

# The layout of a project file: burners, shields and box of one cooking surface, with the shares of heat of
# its gas.

TILE_AERATION = 1.1  # all air over stoichiometric air of a tile whose air is not known
OF_TILE = "balance of its tile"
AMBIENT_K = 293.15


def grate_named(appliance: Appliance, name: str = "") -> Grate:
    """A cooking surface of a file by its name, the first unless named. Raises UserError where there is none."""
    grates = appliance.space.grates if appliance.space else ()
    if not grates:
        fix = "add [grate] with x, y, width, depth and height, and height to the place of each burner"
        raise UserError(
            Problem("the file gives no cooking surface", file=appliance.file, key="grate", fix=fix)
        )
    found = [grate for grate in grates if name in ("", grate.name)]
    if not found:
        accepted = ", ".join(grate.name for grate in grates)
        raise UserError(
            Problem("is not a cooking surface of this file", value=name, key="surface", accepted=accepted)
        )
    return found[0]


def layout_of(
    appliance: Appliance, surface: str = "", *, gas: Gas | DeclaredGas | None = None, own: Path | None = None
) -> Layout:
    """The layout around one cooking surface.

    surface : its name, the first of the file unless given
    gas : another gas at unchanged rates; the appliance's own unless given
    own : CSV of the columns of ``layout_coefficients`` in their place
    Raises UserError for a file without a cooking surface or without a burner that can heat it.

    >>> from burnerlab.appliance import demonstration
    >>> layout_of(demonstration(), "griddle").surface.name
    'griddle'
    """
    grate, space, burnt = (
        grate_named(appliance, surface),
        appliance.space or Space(),
        gas or appliance.supply.gas,
    )
    box = box_around(space, grate)
    notes: list[str] = []
    emitters = []
    for one in standing(appliance):
        why = _why_not(one, box, space, grate)
        if why:
            notes.append(f"{one.name} is left out: {why}")
            continue
        net_W = one.burner.rate_W * (net_share(burnt) if appliance.rating == "gross" else 1.0)
        radiant = radiant_share(one, appliance, burnt, net_W, own)
        emitters.append(_emitter(one, appliance, grate, burnt, radiant, own))
        notes += (
            [f"{one.name}: radiated fraction from the {radiant.source}"] if OF_TILE in radiant.source else []
        )
    without_place = [b.name for b in appliance.burners if not b.places]
    notes += [f"{name} is left out: the file gives no place" for name in without_place]
    if not emitters:
        fix = "give each burner a place with x, y, height and its size"
        message = "; ".join(["no burner heats this surface", *notes])
        raise UserError(Problem(message, value=grate.name, file=appliance.file, fix=fix))
    spread = coefficient("plume spread", own)
    room = None if box is None else _room(box, own)
    if room is not None and room.lid_z_m is not None and all(e.z_m < grate.height_m for e in emitters):
        room = replace(room, lid_z_m=None)
        notes.append(
            f"the lid of {box.name if box else grate.name} is closed, but no burner lies above {grate.name}: what the "
            "lid sends back of the hot gas is not in this map"
        )
    return Layout(
        surface=_surface(grate, own),
        burners=tuple(emitters),
        covers=_covers(space, box_footprint(box) if box else grate_footprint(grate), own),
        room=room,
        shape=PlumeShape(
            plume_spread=spread.value,
            plate_spreading=coefficient("plate spreading", own).value,
            shield_uptake=coefficient("shield uptake", own).value,
            plume_span=Span(low=spread.low, high=spread.high),
        ),
        gas=burnt.name,
        notes=tuple(notes),
    )


def _covers(space: Space, ground: Footprint, own: Path | None) -> tuple[Cover, ...]:
    """The shields over a ground."""
    return tuple(
        Cover(
            name=s.name,
            x_m=s.x_m,
            y_m=s.y_m,
            z_m=s.height_m,
            length_m=s.length_m,
            width_m=s.width_m,
            angle_rad=s.angle_rad,
            emissivity=coefficient("shield emissivity", own).value if s.emissivity is None else s.emissivity,
            temperature_K=s.temperature_K,
        )
        for s in space.shields
        if overlap(shield_footprint(s), ground)
    )


def box_around(space: Space, grate: Grate) -> Box | None:
    """The box a cooking surface lies in."""
    ground = grate_footprint(grate)
    return next((box for box in space.boxes if overlap(ground, box_footprint(box))), None)


def _why_not(standing: Standing, box: Box | None, space: Space, grate: Grate) -> str:
    """Why a burner does not belong to this cooking surface, or ""."""
    place, burner = standing.place, standing.burner
    if place.height_m is None:
        return "its place gives no height"
    missing = _missing_size(burner.kind.traits.form, place)
    if missing:
        return f"its place gives no {missing}"
    footprint = burner_footprint(burner, place)
    if box is not None and not overlap(footprint, box_footprint(box)):
        return f"it stands outside {box.name}"
    if box is None and any(overlap(footprint, box_footprint(other)) for other in space.boxes):
        return "it stands in a box of another surface"
    others = (other for other in space.grates if other is not grate)
    if not overlap(footprint, grate_footprint(grate)) and any(
        overlap(footprint, grate_footprint(o)) for o in others
    ):
        return "it stands under another surface"
    return ""


def _missing_size(form: Form, place: Place) -> str:
    """The size that a place does not give and this form needs, or ""."""
    match form:
        case "ring":
            return "diameter" if place.diameter_m is None else ""
        case "line":
            return "length" if place.length_m is None else ""
        case "panel":
            return "length and width" if place.length_m is None or place.width_m is None else ""
        case _:
            assert_never(form)


def _surface(grate: Grate, own: Path | None) -> Surface:
    absorptance = coefficient("absorptance", own).value if grate.absorptance is None else grate.absorptance
    return Surface(
        name=grate.name,
        x_m=grate.x_m,
        y_m=grate.y_m,
        z_m=grate.height_m,
        width_m=grate.width_m,
        depth_m=grate.depth_m,
        plate=grate.kind == "plate",
        absorptance=absorptance,
        sheet=_sheet(grate, own) if grate.kind == "plate" else None,
    )


def _sheet(grate: Grate, own: Path | None) -> PlateSheet:
    row = next(one for one in tables.rows("plate_materials") if one["material"] == grate.material)
    given = grate.conductivity_W_per_mK
    return PlateSheet(
        material=grate.material,
        thickness_m=coefficient("plate thickness", own).value
        if grate.thickness_m is None
        else grate.thickness_m,
        conductivity_W_per_mK=float(row["conductivity_W_per_mK"]) if given is None else given,
        density_kg_per_m3=float(row["density_kg_per_m3"]),
        specific_heat_J_per_kgK=float(row["specific_heat_J_per_kgK"]),
        emissivity=float(row["emissivity"]),
        is_stated=grate.thickness_m is not None,
    )


def plate_case(own: Path | None = None) -> PlateCase:
    """Surroundings of a plate and a load of food by the table, or the user's own.

    >>> round(plate_case().preheat_K - 273.15)
    185
    """
    loss, gain = (coefficient(name, own) for name in ("plate loss", "plate gain"))
    return PlateCase(
        ambient_K=AMBIENT_K,
        convection_W_per_m2K=coefficient("plate convection", own).value,
        loss=loss.value,
        loss_span=Span(low=loss.low, high=loss.high),
        gain=gain.value,
        gain_span=Span(low=gain.low, high=gain.high),
        preheat_K=coefficient("preheat temperature", own).value,
        food_kg_per_m2=coefficient("food load", own).value,
        food_K=coefficient("food temperature", own).value,
        food_J_per_kgK=coefficient("food specific heat", own).value,
        food_contact_W_per_m2K=coefficient("food contact", own).value,
        food_moisture=coefficient("food moisture", own).value,
    )


def _room(box: Box, own: Path | None) -> Room:
    return Room(
        x_m=box.x_m,
        y_m=box.y_m,
        width_m=box.width_m,
        depth_m=box.depth_m,
        loss=coefficient("wall loss", own).value if box.loss is None else box.loss,
        lid_z_m=box.lid_height_m if box.lid == "closed" else None,
    )


def _emitter(
    standing: Standing,
    appliance: Appliance,
    grate: Grate,
    gas: Gas | DeclaredGas,
    radiant: Figure,
    own: Path | None,
) -> Emitter:
    place, burner = standing.place, standing.burner
    heat = burner.heat or Heat()
    facing: Side = burner.faces(place)
    upright = facing in NORMALS
    form = burner.kind.traits.form
    if form == "line" and upright and place.width_m is not None:
        form = "panel"
    net_W = burner.rate_W * (net_share(gas) if appliance.rating == "gross" else 1.0)
    capture = coefficient("capture plate" if grate.kind == "plate" else "capture grate", own)
    angle = (math.pi / 2 if facing in ("front", "back") else 0.0) if upright else place.angle_rad
    return Emitter(
        name=standing.name,
        form=form,
        x_m=place.x_m,
        y_m=place.y_m,
        z_m=place.height_m or 0.0,
        heat_input_W=net_W,
        radiant=radiant.value,
        radiant_span=Span(low=radiant.low, high=radiant.high),
        capture=capture.value if heat.capture is None else heat.capture,
        capture_span=Span(low=capture.low, high=capture.high) if heat.capture is None else None,
        length_m=place.length_m or 0.0,
        width_m=place.width_m or coefficient("tube width", own).value,
        radius_m=(place.diameter_m or 0.0) / 2,
        angle_rad=angle,
        facing=facing,
        flame_height_m=_flame_m(standing, appliance, gas, own),
    )


def _flame_m(
    standing: Standing, appliance: Appliance, gas: Gas | DeclaredGas, own: Path | None
) -> float | None:
    """High end of its flames on the appliance's gas; on another, whose orifices are not known, the ceiling."""
    if gas is not appliance.supply.gas:
        return line_ceiling_m(standing, appliance.rating, gas, own=own)
    return flame_sizes(appliance, standing, (1.0,), own=own)[0].height_at_most_m


# shares of heat


def radiant_share(
    standing: Standing, appliance: Appliance, gas: Gas | DeclaredGas, net_W: float, own: Path | None = None
) -> Figure:
    """Share of a burner's net heat input that it radiates: given, of its tile's balance, or of the table [-].

    The balance of a tile takes the air that its jet draws once the tile is hot, with the band of that air; where the
    file does not give what that needs, and on a gas other than the appliance's, whose orifices are not known, 1.1.
    """
    heat, place = standing.burner.heat or Heat(), standing.place
    if heat.radiant is not None:
        return Figure(
            name="radiant fraction",
            value=heat.radiant,
            low=heat.radiant,
            high=heat.radiant,
            source="as entered",
        )
    if not standing.burner.kind.traits.is_radiant:
        return coefficient(f"radiant fraction {GasGroup.of(gas)}", own)
    area = (place.length_m or 0.0) * (place.width_m or 0.0)
    if heat.face_temperature_K is not None and area > 0:
        return _glowing(standing, area, heat.face_temperature_K, net_W)
    if area > 0 and isinstance(gas, Gas):
        built = hot_tile_firing(appliance, standing.burner) if gas is appliance.supply.gas else None
        found = _tile(gas, area, net_W, built or Firing(aeration=TILE_AERATION))
        if found is not None:
            why = "" if built else ", assumed: the file does not give what its own air needs"
            return replace(found, source=found.source + why)
    return coefficient("radiant fraction tile", own)


def _glowing(standing: Standing, area_m2: float, face_K: float, net_W: float) -> Figure:

    emissivity = figure(TILES, "emissivity")
    factor = (float(black_W_per_m2(face_K)) - float(black_W_per_m2(AMBIENT_K))) * area_m2 / net_W
    if factor * emissivity.value >= 1:
        what = f"at this face temperature {standing.name} would radiate more than it burns"
        fix = "lower it, or check the rate and the size"
        raise UserError(Problem(what, value=f"{face_K - 273.15:.0f} C", key="heat.face_temperature", fix=fix))
    low, high = factor * emissivity.low, min(factor * emissivity.high, 0.99)
    return Figure(
        name="radiant fraction",
        value=factor * emissivity.value,
        low=low,
        high=high,
        source="face temperature",
    )


def _tile(gas: Gas, area_m2: float, net_W: float, firing: Firing) -> Figure | None:
    """The balance of a free-standing tile; None where its table of flames ends."""
    try:
        state = evaluate_tile(TileBurner(area_m2=area_m2), gas, net_W, "net", firing)
    except UserError:
        return None
    share = state.radiant_efficiency_net
    if not math.isfinite(share.value):
        return None
    ends = [end for end in (firing.aeration_low, firing.aeration_high) if end is not None]
    band = f" once hot ({' to '.join(f'{100 * end:.0f}' for end in ends)})" if ends else ""
    source = f"{OF_TILE} at {100 * state.aeration:.0f} % air{band}"
    return Figure(name="radiant fraction", value=share.value, low=share.low, high=share.high, source=source)


# One cooking surface studied: its map, its band, each burner's part, the same on another gas.

TRADE_UNIT = "Btu/h/in2"

NOTES = (
    "The map is heat that the surface takes up; its own radiation and what it conducts sideways are not in it. Figures "
    "of a closed plate count both, with the heat of the map as at first: steady temperatures are high ends, times low.",
    "Radiation is calculated from the geometry. Radiated fractions, capture of the hot gas and its footprint are "
    "figures with a wide band until a measured grid narrows them.",
    "Burners do not hide one another, and hot gas does not meet that of its neighbour. Wind, food and draught are "
    "not in it.",
    "Standards measure and report how even a surface is; those that could be read set no limit, and none is set here.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnerPart:
    """One burner's part in the map, and the map without it."""

    name: str = field(metadata=output("burner"))
    heat_fraction: float = field(metadata=output("fraction of the heat", Kind.FRACTION))
    """Of the heat taken up [-]."""
    heat_input_net_W: float = field(metadata=output("heat input", Kind.POWER, basis="net"))
    radiant: float = field(metadata=output("radiated", Kind.FRACTION))
    flame_height_m: float | None = field(metadata=output("flame up to", Kind.LENGTH))
    """High end of the height of its flames, at most that of a flame without primary air; None where no form holds."""
    without: Evenness | None = field(metadata=output("when off"))
    """None for the only burner."""


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class LayoutStudy(WithSummary):
    """What one map says, with what it rests on."""

    map: HeatMap
    gas: str = field(metadata=output("gas"))
    evidence: Evidence = field(metadata=output("evidence"))
    """Of the kilowatts."""
    pattern_evidence: Evidence = field(metadata=output("evidence of the pattern"))
    """Of the relative map: how even it is."""
    fit_state: FitState = field(metadata=output("measured grid"))
    predicted_temperature: PredictedTemperature | None = field(
        metadata=output("temperature on the same sensors")
    )
    """None without a fit to readings of temperature."""
    temperature_K: FloatArray | None  # the same over the grid of the map
    heat_input_gross_W: float = field(metadata=output("heat input", Kind.POWER, basis="gross"))
    heat_input_net_W: float = field(metadata=output("heat input", Kind.POWER, basis="net"))
    band: MapBand = field(metadata=output("band", is_part=True))
    trade: Figure  # heat input per area of the trade, in its own unit
    off: tuple[str, ...] = field(metadata=output("not lit"))
    balance: LayoutBalance = field(metadata=output("where the heat goes"))
    plate: PlateState | None = field(metadata=output("plate"))
    """Temperatures and times of a closed plate; None for an open grate."""
    cells: CellBand  # lowest and highest heat at each place of the map
    parts: tuple[BurnerPart, ...] = field(metadata=output("burners"))
    flame_contacts: tuple[FlameContact, ...] = field(metadata=output("flame contact"))
    """Flames that may touch a shield or the surface."""
    notes: tuple[str, ...] = field(metadata=output("notes"))

    @property
    @computed_output("surface")
    def surface(self) -> str:
        """Its name."""
        return self.map.layout.surface.name

    @property
    @computed_output("evenness", is_part=True)
    def evenness(self) -> Evenness:
        """Of the whole map."""
        return self.map.evenness

    @property
    @computed_output("heat taken up, of net", Kind.FRACTION)
    def uptake(self) -> float:
        """Share of the net heat input that the surface takes up [-]."""
        return self.map.uptake

    @property
    @computed_output("area", Kind.AREA, unit="m2")
    def area_m2(self) -> float:
        """Of the surface."""
        return self.map.layout.surface.area_m2

    @property
    @computed_output("shields")
    def shields(self) -> tuple[ShieldState, ...]:
        """Temperatures of the shields below the surface."""
        return self.map.shields

    def summary(self) -> Summary:
        band = self.band.coefficient_of_variation
        words = f"band of the variation {100.0 * band.low:.0f} to {100.0 * band.high:.0f} %"
        short = self.map.summary()
        return Summary(f"{short.words}; {words}", short.table)

    @property
    @computed_output("heat input from below", Kind.HEAT_FLUX, basis="gross")
    def gross_W_per_m2(self) -> float:
        """Gross heat input of the burners below the surface over its area; of all where none lies below.

        A burner counts by its middle: one beside the surface, as a side burner, heats something else.
        """
        layout = self.map.layout
        left, right, front, back = layout.surface.sides
        under = [
            b.heat_input_W
            for b in layout.burners
            if b.z_m < layout.surface.z_m and left <= b.x_m <= right and front <= b.y_m <= back
        ]
        net = sum(under) or self.heat_input_net_W
        return net / self.heat_input_net_W * self.heat_input_gross_W / layout.surface.area_m2

    @property
    def gross_Btu_per_h_in2(self) -> float:
        """The same in the trade's unit."""
        return float(in_unit(self.gross_W_per_m2, Kind.HEAT_FLUX, TRADE_UNIT))

    @property
    @computed_output("rule of thumb, no source", Kind.HEAT_FLUX, is_band=True)
    def trade_W_per_m2(self) -> Ends:
        """Heat input per area of the trade, with its range."""
        low, value, high = (
            float(from_unit(end, Kind.HEAT_FLUX, TRADE_UNIT))
            for end in (self.trade.low, self.trade.value, self.trade.high)
        )
        return Ends(value=value, low=low, high=high)


def study_layout(
    appliance: Appliance,
    surface: str = "",
    *,
    gas: Gas | DeclaredGas | None = None,
    grid: tuple[int, int] = DEFAULT_GRID,
    off: tuple[str, ...] = (),
    own: Path | None = None,
) -> LayoutStudy:
    """Study one cooking surface of an appliance, as its file stands.

    surface : its name, the first of the file unless given; gas : another at unchanged rates
    grid : cells across and deep; off : burners that are not lit; own : CSV of ``layout_coefficients``
    Raises UserError for a file without geometry, and for a burner to put out that is not there.

    >>> from burnerlab.appliance import demonstration
    >>> [part.name for part in study_layout(demonstration(), "griddle", grid=(6, 4)).parts][0]
    'griddle tube left'
    """
    whole = layout_of(appliance, surface, gas=gas, own=own)
    layout = lit(whole, off)
    burnt = gas or appliance.supply.gas
    return study_of(layout, burnt, grid_over(layout.surface, *grid), off=off, own=own)


def lit(layout: Layout, off: tuple[str, ...]) -> Layout:
    """A layout with some burners out. Raises UserError for a name that is not there."""
    out = {names_index(layout, name) for name in off}
    return replace(layout, burners=tuple(b for i, b in enumerate(layout.burners) if i not in out))


def study_of(
    plain: Layout,
    gas: Gas | DeclaredGas,
    grid: Grid,
    *,
    off: tuple[str, ...] = (),
    own: Path | None = None,
    fit: GridFit | None = None,
) -> LayoutStudy:
    """Study a layout that is made already.

    plain : with the table's figures; fit : of a measured grid, whose constants are used where it fits
    """
    fits = fit is not None and fit.state == FitState.FITS
    layout = calibrated(fit, plain) if fit is not None else plain
    found = heat_map(layout, grid)
    reads = fit if fit is not None and fits and fit.measurand == "temperature" else None
    net, mean = layout.heat_input_W, found.evenness.mean
    bands = map_band(found) if fit is None else fit_band(fit, plain, found)
    hot = None if reads is None else predicted_temperature(reads, plain, grid)
    band = bands.mean_W_per_m2
    alone = len(layout.burners) == 1
    return LayoutStudy(
        map=found,
        band=bands,
        balance=heat_balance(found),
        plate=plate_state(layout, plate_case(own), (band.low / mean, band.high / mean)),
        cells=cell_band(found) if fit is None else fitted_cell_band(fit, plain, found),
        parts=tuple(
            BurnerPart(
                name=burner.name,
                heat_fraction=share,
                heat_input_net_W=burner.heat_input_W,
                radiant=burner.radiant,
                flame_height_m=burner.flame_height_m,
                without=None if alone else found.without(burner.name),
            )
            for burner, share in zip(layout.burners, found.shares, strict=True)
        ),
        gas=gas.name,
        flame_contacts=flame_contacts(layout),
        heat_input_gross_W=net / net_share(gas),
        heat_input_net_W=net,
        trade=coefficient("trade heat per area", own),
        off=off,
        evidence=Evidence.ESTIMATE if fit is None else fit.evidence,
        pattern_evidence=Evidence.ESTIMATE if fit is None else fit.pattern_evidence,
        fit_state=FitState.NOT_FITTED if fit is None else fit.state,
        predicted_temperature=hot,
        temperature_K=None if hot is None else hot.at_places_K,
        notes=(*NOTES, *layout.notes),
    )
