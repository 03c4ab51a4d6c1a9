"""The paper of the kits of a model: parts of each market, the weigh check, the leaflet table."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from burnerlab.bench.kit import UNITS_kg, reading_text
from burnerlab.bench.kit_list import NOT_KNOWN, KitList, KitListRow, LeafletRow, MarketKit, grams
from burnerlab.orifice.drill import bore_system
from burnerlab.quantity import System
from burnerlab.quantity.outputs import flat
from burnerlab.quantity.prose import in_reader_units
from burnerlab.report.layout_page import PlainTable
from burnerlab.report.paper_units import OF_REGION, PaperUnits
from burnerlab.report.sheet.blocks import BORE, POWER, percent, pressure
from burnerlab.report.sheet.vocabulary import gas_words, topic_words
from burnerlab.report.sheet.wording import clean, name
from burnerlab.report.study_paper import StudyPaper
from burnerlab.tables.phrase import Phrase, joined
from burnerlab.tables.verdict import Verdict

PARTS = (
    Phrase("Part"),
    Phrase("Part number"),
    Phrase("Pieces"),
    Phrase("For"),
    Phrase("Mass of one"),
    Phrase("Mass from"),
)


def kit_paper(kits: KitList, input_sha256: str, units: PaperUnits = OF_REGION) -> StudyPaper:
    """Parts and leaflet of each market, in the units of its region where no others were written."""
    known = sum(kit.window is not None for kit in kits.kits)
    return StudyPaper(
        kind=Phrase("Kit list"),
        title=name(kits.appliance),
        subtitle="; ".join(clean(kit.market, 60) for kit in kits.kits),
        stops=tuple(joined(": ", (clean(kit.market, 60), kit.stop)) for kit in kits.kits if kit.stop),
        headline=(
            *_decision(kits),
            (Phrase("Kits"), str(len(kits.kits))),
            *(
                (Phrase("Altitude rule"), _of_market(kit, kit.altitude_warning, units))
                for kit in kits.kits
                if kit.altitude_warning
            ),
            *(
                (Phrase("Altitude"), _of_market(kit, kit.altitude_only, units))
                for kit in kits.kits
                if kit.altitude_only
            ),
            (Phrase("With a weigh check"), Phrase("{some} of {all}", some=known, all=len(kits.kits))),
        ),
        tables=tuple(table for kit in kits.kits for table in _tables(kit, units.of(kit.region))),
        notes=(
            *(joined(": ", (clean(kit.market, 60), weigh_words(kit))) for kit in kits.kits),
            *kits.notes,
            *(clean(one, 300) for one in kits.coefficient_sources),
        ),
        rows=tuple(flat(one) for kit in kits.kits for one in kit.rows),
        input_sha256=input_sha256,
    )


def _of_market(kit: MarketKit, words: str, units: PaperUnits) -> str:
    """Words of one market behind its name, in the units of its region."""
    return joined(": ", (clean(kit.market, 60), in_reader_units(words, units.of(kit.region))))


def _decision(kits: KitList) -> Iterator[tuple[str, str]]:
    """Once for all the markets that need one."""
    for sentence in dict.fromkeys(kit.decision for kit in kits.kits if kit.decision):
        markets = tuple(clean(kit.market, 60) for kit in kits.kits if kit.decision == sentence)
        yield Verdict.OUTSIDE.emphatic, joined(": ", (joined("; ", markets), sentence))


def weigh_words(kit: MarketKit) -> str:
    """What a complete kit weighs and between what it reads, or why there is no weigh check."""
    if kit.window is None:
        return Phrase("Weigh check withheld: {why}.", why=kit.withheld)
    window = kit.window
    return Phrase(
        "{count} pieces, expected {mass}, standard deviation {sigma}; a complete kit reads {low} to {high}.",
        count=kit.pieces,
        mass=reading_text(window.kit, window.mass_kg, 2),
        sigma=reading_text(window.kit, window.sigma_kg, 2),
        low=reading_text(window.kit, window.low_kg),
        high=reading_text(window.kit, window.high_kg),
    )


def _tables(kit: MarketKit, system: System) -> Iterator[PlainTable]:
    caption = clean(kit.market, 80)
    kit_for = Phrase("Kit for {market}", market=caption)
    yield PlainTable(
        caption=joined(". ", tuple(filter(None, (kit_for, kit.stop or kit.altitude_only)))),
        heads=PARTS,
        rows=tuple(part_row(one, system) for one in kit.rows),
        words=True,
        system=system,
    )
    if kit.stop:  # no leaflet goes with a kit that is not sent
        return
    said = tuple(filter(None, (kit.decision, kit.altitude_only)))
    for gas, several in groupby(kit.leaflet, key=lambda entry: leaflet_row(entry, system)[0]):
        leaflet = Phrase("Leaflet for {market}: {gas}", market=caption, gas=gas)
        yield PlainTable(
            caption=joined(" ", (joined("", (leaflet, ".")), *said)) if said else leaflet,
            heads=leaflet_heads(kit)[1:],
            rows=tuple(leaflet_row(one, system)[1:] for one in several),
            words=True,
            system=system,
        )


def part_row(row: KitListRow, system: System) -> tuple[str, ...]:
    """A part as texts; what is not known says so."""
    return (
        joined("", (clean(row.name), _bore(row, system))),
        clean(row.number) or Phrase("none"),
        str(row.count),
        clean(row.burners) or Phrase("every kit"),
        grams(None)
        if row.mass_kg is None
        else Phrase(
            "{mass}, scatter {scatter}", mass=_mass(row.mass_kg, system), scatter=scatter_text(row, system)
        ),
        row.mass_from,
    )


def _bore(row: KitListRow, system: System) -> str:
    """The bore of an orifice beside its mark, each as fine; a mark in millimetres says it already to every reader."""
    if row.bore_m is None or row.orifice.endswith(" mm"):
        return ""
    own = bore_system(row.orifice, system)
    bore = f"{1e3 * row.bore_m:.2f} mm" if own == "metric" else BORE.scale(own).text(row.bore_m)
    return f", {bore}"


def _mass(mass_kg: float, system: System) -> str:
    """The mass of one piece: in grams, or in ounces as fine as it is usually written."""
    return grams(mass_kg) if system == "metric" else f"{mass_kg / UNITS_kg['oz']:.4g} oz"


def scatter_text(row: KitListRow, system: System) -> str:
    """Standard deviation of one piece, or that it is not known."""
    if row.scatter_kg is None:
        return NOT_KNOWN
    return (
        f"{1e3 * row.scatter_kg:g} g" if system == "metric" else f"{row.scatter_kg / UNITS_kg['oz']:.4g} oz"
    )


def leaflet_heads(kit: MarketKit) -> tuple[str, ...]:
    """Heads of the leaflet table, with the basis of the file, which is that of its heat inputs."""
    basis = Phrase("net") if kit.leaflet[0].rating_basis == "net" else Phrase("gross")
    return (
        Phrase("Gas and pressure"),
        Phrase("Burner"),
        Phrase("Orifices"),
        Phrase("Fit"),
        Phrase("Heat input of one, {basis}, nominal pressure", basis=basis),
        Phrase("Against aim"),
        Phrase("Other checks OUTSIDE"),
    )


def leaflet_row(row: LeafletRow, system: System) -> tuple[str, ...]:
    """A burner of the leaflet as texts."""
    at = pressure(row.gauge_pressure_Pa).scale(system).text(row.gauge_pressure_Pa)
    return (
        Phrase("{gas} at {pressure}", gas=clean(gas_words(row.gas), 60), pressure=at),
        clean(row.burner),
        str(row.orifices),
        clean(row.mark),
        "" if row.heat_input_W is None else POWER.scale(system).text(row.heat_input_W),
        "" if row.deviation is None else joined(", ", (percent(row.deviation), row.verdict.emphatic)),
        joined(", ", (topic_words(clean(topic)) for topic in row.outside)) or Phrase("none"),
    )
