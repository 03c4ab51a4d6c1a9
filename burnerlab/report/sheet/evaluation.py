"""The sections behind the air: pressure at each burner, primary air and flame, tile, exchange of the gas."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from burnerlab.appliance.conversion.evaluation_result import (
    BurnerFlames,
    Evaluation,
    FlameAt,
    Pressures,
    ShutterSetting,
    TileAt,
    WarmUp,
    Which,
)
from burnerlab.appliance.conversion.result import Conversion
from burnerlab.burner.tile_evaluation import Band
from burnerlab.quantity import System
from burnerlab.quantity.quantity_text import text_in
from burnerlab.report.sheet import burners, spread
from burnerlab.report.sheet.blocks import (
    FLAME_TEMPERATURE,
    FLUX,
    LENGTH,
    LOADING,
    MOST_MARGIN,
    POWER,
    Block,
    BlockColumn,
    Cell,
    Points,
    Section,
    Table,
    basis_of,
    column_of,
    digits,
    margin_text,
    opening_text,
    percent,
    pressure,
)
from burnerlab.report.sheet.burners import mark
from burnerlab.report.sheet.checks import burners_words, is_of_flame
from burnerlab.report.sheet.wording import clean, name
from burnerlab.tables.verdict import worst

SIDES: tuple[Which, Which] = ("present", "new")
OF_TILE = (
    "cold_primary_aeration", "hot_primary_aeration", "firing_density_net_W_per_m2", "face_temperature_K",
    "face_ceiling_temperature_K", "radiant_efficiency_net", "plenum_side_temperature_K",
)  # fmt: skip
NONE = Cell(text="not evaluated")
DASH = Cell(text="–")


def sections(c: Conversion, system: System) -> tuple[Section, ...]:
    """What was evaluated beyond the orifices, what stands on a page and then its annex; nothing where nothing was."""
    found = c.evaluation
    if found is None:
        return ()
    parts = (
        _flames(c, found, system),
        _pressures(c, found, system),
        spread.section(c),
        _tiles(c, found, system),
        _flame_annex(c, found, system),
        _supply_annex(found, system),
    )
    return tuple(section for section in parts if section is not None)


# pressure


def _pressures(c: Conversion, evaluation: Evaluation, system: System) -> Section | None:
    if not evaluation.pressures:
        return None
    lead = (
        "Gauge pressure before the orifice, from regulator, hose, pipe, manifold and valves of the project file solved "
        "together: with every burner on, and with all of its kind on, the others off."
    )
    each = [(f"{at.burner}, {one.which_gas} gas", at) for one in evaluation.pressures for at in one.burners]
    others = burners.table(each, "Other figures of the pressure", system)
    blocks: tuple[Block, ...] = (_pressure_table(c, evaluation, system), *others)
    words = tuple(_binding_words(evaluation, system))
    return Section(
        key="pressures",
        title="Pressure at each burner",
        lead=lead,
        blocks=(*blocks, *([Points(items=words)] if words else [])),
        place="supply",
    )


def _supply_annex(evaluation: Evaluation, system: System) -> Section | None:
    """What the solution of the supply rests on."""
    words = tuple(_supply_words(evaluation, system))
    if not words:
        return None
    return Section(key="supply_notes", title="Notes on the supply", lead="", blocks=(Points(items=words),))


def _pressure_table(c: Conversion, evaluation: Evaluation, system: System) -> Table:
    by = {one.which_gas: one for one in evaluation.pressures}
    basis = basis_of(c)
    heads = [
        f"{which.capitalize()} gas, {how}"
        for which in SIDES
        if which in by
        for how in ("all on", "all of its kind on" if burners.has_several(c) else "alone")
    ]
    columns = (
        BlockColumn(title="Burner"),
        *(BlockColumn(title=head, side="right") for head in heads),
        *(
            [BlockColumn(title=f"Heat input, new gas, all on, {basis.word}", side="right")]
            if "new" in by
            else []
        ),
        *(
            [BlockColumn(title="Change from that at the nominal pressure", side="right")]
            if "new" in by
            else []
        ),
    )
    return Table(
        caption="Pressure before the orifice, gauge",
        columns=columns,
        rows=tuple(_pressure_row(c, by, place, system) for place in range(len(c.burners))),
    )


def _pressure_row(c: Conversion, by: dict[Which, Pressures], place: int, system: System) -> tuple[Cell, ...]:
    cells = [Cell(text=name(c.burners[place].name))]
    for which in SIDES:
        if which in by:
            at = by[which].burners[place]
            cells.append(pressure(at.gauge_pressure_all_on_Pa).show(at.gauge_pressure_all_on_Pa, system))
            cells.append(pressure(at.gauge_pressure_all_on_Pa).show(at.gauge_pressure_alone_Pa, system))
    if "new" in by:
        at = by["new"].burners[place]
        off = at.all_on_from_nominal
        cells.append(POWER.show(at.heat_input_all_on_gross_W * basis_of(c).new, system))
        cells.append(Cell(text=percent(off), value=100 * off, unit="%"))
    return tuple(cells)


def _binding_words(evaluation: Evaluation, system: System) -> Iterator[str]:
    for one in evaluation.pressures:
        if one.binding and one.binding_drop_Pa is not None:
            drop = pressure(one.binding_drop_Pa).inline(one.binding_drop_Pa, system)
            at = pressure(one.manifold_gauge_pressure_Pa).inline(one.manifold_gauge_pressure_Pa, system)
            yield (
                f"{one.which_gas.capitalize()} gas: manifold {at} with every burner on; of all elements but "
                f"the regulator the {clean(one.binding)} takes most, {drop}. Evidence: {one.evidence}."
            )


ON_PAGE_TWO = "supply of the new gas: "  # above the table of orifices


def _supply_words(evaluation: Evaluation, system: System) -> Iterator[str]:
    notes = dict.fromkeys(text_in(note, system) for one in evaluation.pressures for note in one.notes)
    notes = {note: None for note in notes if not note.startswith(ON_PAGE_TWO)}
    tabled = [note for note in notes if note.endswith(")") and ": " in note and "(" in note.split(": ", 1)[1]]
    yield from (clean(note[:1].upper() + note[1:]) + "." for note in notes if note not in tabled)
    if tabled:
        yield f"Taken from tables: {clean('; '.join(tabled))}."


# air and flame


def _flames(c: Conversion, evaluation: Evaluation, system: System) -> Section:
    lead = (
        "Primary aeration is the fraction of the stoichiometric air the jet draws in, with its band; hot is 15 min "
        "after a cold start. A margin of 1 is the limit, below 1 it is crossed, with the spread of limit and air "
        "below. The limits are recalled or estimated: they rank settings and decide nothing; test required."
    )
    blocks: list[Block] = []
    if evaluation.flames:
        blocks.append(_air_table(c, evaluation, system))
        flaming = [one for one in evaluation.flames if not one.kind.traits.is_radiant]
        blocks += [_margin_table(c, flaming, system)] if flaming else []
    words = tuple(_shutter_words(evaluation))
    blocks += [Points(items=words)] if words else []
    return Section(key="flames", title="Air, flame and shutter", lead=lead, blocks=tuple(blocks), place="air")


def _flame_annex(c: Conversion, evaluation: Evaluation, system: System) -> Section | None:
    """From a cold start in full, what the flames rest on, and published indices."""
    flaming = [one for one in evaluation.flames if not one.kind.traits.is_radiant]
    blocks: list[Block] = [_warm_table(flaming, system)] if flaming else []
    words = tuple(_flame_words(c, evaluation, system))
    blocks += [Points(items=words)] if words else []
    rates = [
        (f"{one.burner}, {at.which_gas} gas, {at.rate}", at) for one in evaluation.flames for at in one.rates
    ]
    blocks += burners.table(rates, "Other figures of a flame", system)
    blocks += [_exchange_table(evaluation)] if evaluation.exchange.readings else []
    if not blocks:
        return None
    return Section(
        key="cold_start",
        title="Flames from a cold start, and what they rest on",
        lead="",
        blocks=tuple(blocks),
    )


def _air_table(c: Conversion, evaluation: Evaluation, system: System) -> Table:
    """A row for each burner of the appliance; one whose ports are not known is not evaluated."""
    columns = (
        BlockColumn(title="Burner"),
        *(
            BlockColumn(title=f"{head}, {which} gas", side="right")
            for which in SIDES
            for head in ("Primary aeration", "Hot")
        ),
        *(BlockColumn(title=f"Port loading, {which} gas, gross", side="right") for which in SIDES),
        BlockColumn(title="Shutter as set", side="right"),
        BlockColumn(title="Openings that hold both", side="right"),
    )
    rows = tuple(
        (
            Cell(text=name(one.burner)),
            *(cell for which in SIDES for cell in _cold_and_hot(evaluation, one, which)),
            *(_loading(one.full(which), system) for which in SIDES),
            *_shutter(one.shutter),
        )
        if (one := evaluation.flames_of(burner.name)) is not None
        else (Cell(text=name(burner.name)), *(NONE for _ in columns[1:]))
        for burner in c.burners
    )
    return Table(caption="Primary air and ports at full rate", columns=columns, rows=merged(rows))


def merged(rows: Sequence[tuple[Cell, ...]]) -> tuple[tuple[Cell, ...], ...]:
    """Rows that differ only in the burner's name as one, with the names together."""
    known: dict[tuple[Cell, ...], list[str]] = {}
    for first, *rest in rows:
        known.setdefault(tuple(rest), []).append(first.text)
    return tuple((Cell(text=", ".join(names)), *rest) for rest, names in known.items())


def _cold_and_hot(evaluation: Evaluation, flames: BurnerFlames, which: Which) -> tuple[Cell, Cell]:
    """Primary aeration cold, and 15 min after a cold start or of the hot tile."""
    full, warm = flames.full(which), flames.warm_up(which)
    tile = next((t for t in evaluation.tiles if t.burner == flames.burner and t.which_gas == which), None)
    hot = (
        tile.hot_primary_aeration if tile is not None else None if warm is None else warm.hot_primary_aeration
    )
    return _share(full.primary_aeration if full else None), _share(hot)


def _share(band: Band | None) -> Cell:
    if band is None:
        return NONE
    low, value, high = (f"{100 * end:.0f}" for end in (band.low, band.value, band.high))
    return Cell(text=f"{value} %", also=f"{low} to {high} %", value=round(100 * band.value, 1), unit="%")


def _loading(at: FlameAt | None, system: System) -> Cell:
    if at is None:
        return NONE
    scale = LOADING.scale(system)
    text = scale.text(1e6 * at.port_loading_W_per_mm2)
    return Cell(text=text, value=scale.of(1e6 * at.port_loading_W_per_mm2), unit=scale.unit)


def _shutter(setting: ShutterSetting | None) -> tuple[Cell, Cell]:
    if setting is None:
        return DASH, DASH
    now = Cell(text=DASH.text if setting.opening is None else f"{100 * setting.opening:.0f} %")
    if setting.holds is None:
        return now, NONE
    if setting.low is None or setting.high is None:
        return now, Cell(
            text="none", also=f"{' and '.join(setting.binding)} binds" if setting.binding else ""
        )
    return now, Cell(text=opening_text(setting.low, setting.high), also=", ".join(setting.binding))


OF_MARGINS = (
    "cold_lift_margin", "hot_yellow_tip_margin", "hot_lowest_rate_yellow_tip_margin", "hot_light_back_margin",
)  # fmt: skip
OF_HEADS = ("head_temperature_1_min_K", "head_temperature_5_min_K", "head_temperature_15_min_K")
OF_AIR = ("cold_primary_aeration", "hot_primary_aeration", "hot_lowest_rate_primary_aeration")


def _margin_table(c: Conversion, flames: Sequence[BurnerFlames], system: System) -> Table:
    """Each limit where it bites: lift cold, the others hot."""
    columns = (
        BlockColumn(title="Burner"),
        BlockColumn(title="Gas"),
        *(column_of(WarmUp, each) for each in OF_MARGINS),
        BlockColumn(title="Smallest, limit"),
        BlockColumn(title="Inner cone, cold", side="right"),
        BlockColumn(title="Verdict"),
    )
    rows = [
        (
            Cell(text=name(one.burner)),
            Cell(text=warm.which_gas),
            margin(warm.cold_lift_margin, is_at_least=warm.cold_lift_is_at_least),
            *(margin(getattr(warm, each)) for each in OF_MARGINS[1:3]),
            _light_back(warm),
            Cell(
                text=warm.nearest_limit or "not evaluated",
                also="; ".join(each for each in (warm.nearest_moment, warm.nearest_against) if each),
            ),
            _cone(one.full(warm.which_gas), system),
            _verdict(c, one.burner, warm.which_gas),
        )
        for one in flames
        for warm in one.warm_ups
    ]
    return Table(
        caption="Margins to the limits of the flame, each where it is hardest", columns=columns,
        rows=merged(rows), grouped=True,
    )  # fmt: skip


def _cone(at: FlameAt | None, system: System) -> Cell:
    return (
        DASH if at is None or at.inner_cone_height_m is None else LENGTH.show(at.inner_cone_height_m, system)
    )


def _warm_table(flames: Sequence[BurnerFlames], system: System) -> Table:
    """From a cold start: metal, mixture and air."""
    columns = (
        BlockColumn(title="Burner"),
        BlockColumn(title="Gas"),
        BlockColumn(title="Metal at the ports, 1, 5, 15 min", side="right"),
        *(column_of(WarmUp, each) for each in ("mixture_temperature_K", *OF_AIR)),
        column_of(WarmUp, "steady_s"),
        column_of(WarmUp, "basis"),
    )
    rows = [
        (
            Cell(text=name(one.burner)),
            Cell(text=warm.which_gas),
            _heads(warm, system),
            DASH if warm.mixture_temperature_K is None else _temperature(warm.mixture_temperature_K, system),
            *(_share(getattr(warm, each)) for each in OF_AIR),
            _steady(warm),
            Cell(text=warm.basis.value),
        )
        for one in flames
        for warm in one.warm_ups
    ]
    return Table(caption="From a cold start", columns=columns, rows=merged(rows), grouped=True)


def _heads(warm: WarmUp, system: System) -> Cell:
    """The metal at three times in one cell, with the band of the last."""
    bands = [band for each in OF_HEADS if (band := getattr(warm, each)) is not None]
    if not bands:
        return DASH
    scale = FLAME_TEMPERATURE.scale(system)
    values = ", ".join(f"{scale.of(band.value):.0f}" for band in bands)
    low, high = (scale.of(end) for end in (bands[-1].low, bands[-1].high))
    return Cell(text=f"{values} {scale.unit}", also=f"the last {low:.0f} to {high:.0f} {scale.unit}")


def _steady(warm: WarmUp) -> Cell:
    """Minutes until the air keeps within 2 % of its last value."""
    if warm.steady_s is None:
        return DASH
    minutes = math.ceil(warm.steady_s / 60.0 - 1e-9)
    return Cell(text="from the start" if minutes == 0 else f"{minutes} min", value=minutes, unit="min")


def margin(band: Band | None, *, is_at_least: bool = False) -> Cell:
    """A margin with its band, a bound as "at least"; a large one only says that its limit is far away.

    >>> margin(Band(value=2.157, low=0.29, high=11.5)).text, margin(Band(value=340.0, low=60.0, high=400.0)).text
    ('2.16', 'over 20')
    >>> margin(Band(value=2.157, low=0.29, high=11.5), is_at_least=True).text
    'at least 2.16'
    """
    if band is None:
        return NONE
    if band.value > MOST_MARGIN and band.low > MOST_MARGIN:
        return Cell(text=margin_text(band.value))
    also = f"{margin_text(band.low, 2)} to {margin_text(band.high, 2)}"
    text = margin_text(band.value)
    return Cell(text=f"at least {text}" if is_at_least else text, also=also, value=round(band.value, 3))


def _light_back(warm: WarmUp) -> Cell:
    """The margin on hot metal, and that it is in no order with the cold one where a bound stands on either side."""
    cell = margin(warm.hot_light_back_margin, is_at_least=warm.light_back_is_at_least)
    if not warm.light_back_order:
        return cell
    order = f"cold to hot {warm.light_back_order}"
    return replace(cell, also=f"{cell.also}; {order}" if cell.also else order)


def _verdict(c: Conversion, burner: str, which: Which) -> Cell:
    found = [f for f in c.findings if f.burner == burner and f.which_gas == which and is_of_flame(f)]
    return mark(worst(f.verdict for f in found))


def _flame_words(c: Conversion, evaluation: Evaluation, system: System) -> Iterator[str]:
    by_note: dict[str, list[str]] = {}
    for one in evaluation.flames:
        for note in one.notes:
            by_note.setdefault(text_in(note, system), []).append(one.burner)
    for note, own in by_note.items():
        who = "" if len(own) == len(evaluation.flames) else f" ({burners_words(c, own)})"
        yield f"{clean(note[:1].upper() + note[1:])}{who}."
    if evaluation.exchange.why_not:
        yield f"Indices of exchange at the same orifice: {clean(evaluation.exchange.why_not)}."


def _shutter_words(evaluation: Evaluation) -> Iterator[str]:
    """The shutters that as set do not hold every limit."""
    for one in evaluation.flames:
        setting = one.shutter
        if setting is not None and setting.holds is False:
            yield f"{name(one.burner)}: {clean(setting.words)}."


def _exchange_table(evaluation: Evaluation) -> Table:
    columns = (
        BlockColumn(title="Method"),
        BlockColumn(title="Index"),
        BlockColumn(title="Meaning", wide=True),
        BlockColumn(title="Value", side="right"),
        BlockColumn(title="Limits", side="right"),
        BlockColumn(title="Reading is"),
    )
    rows = []
    for reading in evaluation.exchange.readings:
        low, high = reading.low, reading.high
        ends = (
            f"{low:.3g} to {high:.3g}"
            if low is not None and high is not None
            else f"at least {low:.3g}"
            if low is not None
            else f"at most {high:.3g}"
            if high is not None
            else ""
        )
        value = DASH if reading.value is None else Cell(text=digits(reading.value, 3), value=reading.value)
        rows.append(
            (
                Cell(text=reading.method),
                Cell(text=reading.index),
                Cell(text=clean(reading.meaning or reading.note), also=clean(reading.source)),
                value,
                Cell(text=ends),
                mark(reading.verdict),
            )
        )
    caption = "Exchange of the gas at the same orifice: no method decides alone"
    return Table(caption=caption, columns=columns, rows=tuple(rows), grouped=True)


# tile


def _tiles(c: Conversion, evaluation: Evaluation, system: System) -> Section | None:
    if not evaluation.tiles:
        return None
    lead = (
        "A balance of heat on the glowing face with a tabulated flame, standing free, at the air that the hot tile "
        "draws: its channels warm the mixture and resist it more than cold ones. Less than 100 % at the low end of the "
        "hot band is outside: carbon monoxide. Emissivity, structure of the face, conductivity and the heat it takes "
        "back from the gas are assumed, which is the band; an estimate, test required."
    )
    columns = (
        BlockColumn(title="Burner"),
        BlockColumn(title="Gas"),
        *(column_of(TileAt, each, basis=True) for each in OF_TILE),
        BlockColumn(title="Verdict"),
    )
    table = Table(
        caption="The ceramic tile",
        columns=columns,
        rows=tuple(_tile_row(c, tile, system) for tile in evaluation.tiles),
        grouped=True,
    )
    others = burners.table(
        [(f"{one.burner}, {one.which_gas} gas", one) for one in evaluation.tiles],
        "Other figures of a tile",
        system,
    )
    return Section(key="tile", title="Tile", lead=lead, blocks=(table, *others), place="supply")


def _tile_row(c: Conversion, tile: TileAt, system: System) -> tuple[Cell, ...]:
    density, ceiling = tile.firing_density_net_W_per_m2, tile.face_ceiling_temperature_K
    found = [
        f.verdict
        for f in c.findings
        if f.burner == tile.burner and f.which_gas == tile.which_gas and f.topic.startswith("tile: ")
    ]
    return (
        Cell(text=name(tile.burner)),
        Cell(text=tile.which_gas),
        _share(tile.cold_primary_aeration),
        _share(tile.hot_primary_aeration),
        NONE
        if density is None
        else Cell(text=(flux := FLUX.scale(system)).text(density), value=flux.of(density), unit=flux.unit),
        _temperature(tile.face_temperature_K, system),
        NONE if ceiling is None else FLAME_TEMPERATURE.show(ceiling, system),
        _share(tile.radiant_efficiency_net),
        _temperature(tile.plenum_side_temperature_K, system),
        mark(worst(found)),
    )


def _temperature(band: Band | None, system: System) -> Cell:
    if band is None:
        return NONE
    scale = FLAME_TEMPERATURE.scale(system)
    low, high = (scale.of(end) for end in (band.low, band.high))
    shown = FLAME_TEMPERATURE.show(band.value, system)
    return Cell(text=shown.text, also=f"{low:.0f} to {high:.0f}", value=shown.value, unit=shown.unit)
