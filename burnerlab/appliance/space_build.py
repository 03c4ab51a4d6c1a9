"""From the words of the geometry to the things that stand there, held against each other."""

from __future__ import annotations

from typing import TYPE_CHECKING

from burnerlab import tables
from burnerlab.appliance import space
from burnerlab.appliance.space_check import check_space
from burnerlab.quantity.error import did_you_mean

if TYPE_CHECKING:
    from burnerlab.appliance import model, schema
    from burnerlab.appliance.lines import KeyPath
    from burnerlab.appliance.problems import Problems
    from burnerlab.appliance.space_schema import HeatText, PanelText, SheetText


def heat_of(text: HeatText | None) -> space.Heat | None:
    """What the file says of a burner's heat."""
    if text is None:
        return None
    return space.Heat(radiant=text.radiant, capture=text.capture, face_temperature_K=text.face_temperature)


def space_of(
    text: schema.ProjectText, burners: tuple[model.Burner, ...], found: Problems
) -> space.Space | None:
    """The geometry of a project file, checked; None when the file gives none."""
    if not (text.grate or text.shield or text.box or text.panel or text.carry_over or text.optimise):
        return None
    made = space.Space(
        grates=_grates(text),
        shields=_shields(text),
        boxes=_boxes(text),
        panels=tuple(_panel(panel, i, found) for i, panel in enumerate(text.panel or ())),
        bridges=tuple(
            space.Bridge(start=one.start, end=one.end, port_m=one.port, spacing_m=one.spacing)
            for one in text.carry_over or ()
        ),
        study=_study(text),
    )
    check_space(made, burners, found)
    return made


def _grates(text: schema.ProjectText) -> tuple[space.Grate, ...]:
    return tuple(
        space.Grate(
            name=one.name,
            kind="plate" if one.kind == "plate" else "grate",
            x_m=one.x,
            y_m=one.y,
            width_m=one.width,
            depth_m=one.depth,
            height_m=one.height,
            absorptance=one.absorptance,
        )
        for one in text.grate or ()
    )


def _shields(text: schema.ProjectText) -> tuple[space.Shield, ...]:
    return tuple(
        space.Shield(
            name=one.name,
            x_m=one.x,
            y_m=one.y,
            length_m=one.length,
            width_m=one.width,
            height_m=one.height,
            angle_rad=one.angle,
            emissivity=one.emissivity,
            temperature_K=one.temperature,
        )
        for one in text.shield or ()
    )


def _boxes(text: schema.ProjectText) -> tuple[space.Box, ...]:
    return tuple(
        space.Box(
            name=one.name,
            x_m=one.x,
            y_m=one.y,
            width_m=one.width,
            depth_m=one.depth,
            lid="closed" if one.lid == "closed" else "open",
            lid_height_m=one.lid_height,
            loss=one.loss,
        )
        for one in text.box or ()
    )


def _panel(text: PanelText, i: int, found: Problems) -> space.Panel:
    sheets = []
    for k, one in enumerate(text.sheet):
        where: KeyPath = ("panel", i, "sheet", k)
        if k > 0 and one.gap is None:
            found.add((*where, "gap"), "is missing: the air before this sheet", fix='add gap = "20 mm"')
        if k == 0 and one.gap is not None:
            fix = "give it at the next sheet outwards"
            found.add((*where, "gap"), "stands before the innermost sheet", fix=fix)
        sheets.append(_sheet(one, where, found))
    known = {row["material"]: row["touched_as"] for row in tables.rows("panel_materials")}
    classes = {row["material"] for row in tables.rows("touch_limits")} - {
        "any",
        "skin contact",
        "wood nearby",
    }
    touched = text.touched or text.sheet[-1].material
    if text.touched is not None and touched not in known and touched not in classes:
        accepted = ", ".join(sorted(classes | set(known)))
        found.add(("panel", i, "touched"), "is no material of the touch limits", accepted=accepted)
    return space.Panel(
        name=text.name,
        inside_K=text.inside,
        height_m=text.height,
        level=text.posture == "level",
        sheets=tuple(sheets),
        material=known.get(touched, touched),
    )


def _sheet(text: SheetText, where: KeyPath, found: Problems) -> space.Sheet:
    known = {row["material"]: row for row in tables.rows("panel_materials")}
    row = known.get(text.material)
    if row is None and (text.conductivity is None or text.emissivity is None):
        fix = did_you_mean(text.material, list(known)) + ", or give conductivity and emissivity"
        found.add((*where, "material"), "is not a known material", accepted=", ".join(known), fix=fix)
    conductivity = text.conductivity or (1.0 if row is None else float(row["conductivity_W_per_mK"]))
    ends = [text.emissivity or 1.0] * 3
    if row is not None and text.emissivity is None:
        ends = [float(row[key]) for key in ("emissivity", "emissivity_low", "emissivity_high")]
    return space.Sheet(
        thickness_m=text.thickness,
        conductivity_W_per_mK=conductivity,
        emissivity=ends[0],
        emissivity_low=ends[1],
        emissivity_high=ends[2],
        gap_m=text.gap,
        vented=text.vented,
    )


def _study(text: schema.ProjectText) -> space.LayoutReach:
    given = text.optimise
    if given is None:
        return space.LayoutReach()
    return space.LayoutReach(
        surface=given.surface or "",
        across_m=given.across,
        along_m=given.along,
        height_m=given.height,
        rate=given.rate,
        shield_width_m=given.shield_width,
        spacing_m=given.spacing,
        flame_clearance_m=given.flame_clearance,
        total_rate_W=given.total_rate,
        lengths_m=given.lengths,
    )
