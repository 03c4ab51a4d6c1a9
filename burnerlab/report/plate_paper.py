"""The paper of rating plates: the fields of every market and gas, and who checks each."""

from __future__ import annotations

from itertools import groupby

from burnerlab.appliance.study.plate_fields import PlateField, RatingPlate, recalled_fields
from burnerlab.quantity.outputs import flat
from burnerlab.report.layout_page import PlainTable
from burnerlab.report.sheet.vocabulary import gas_words
from burnerlab.report.sheet.wording import clean, name
from burnerlab.report.study_paper import StudyPaper
from burnerlab.tables.phrase import Phrase

HEADS = (
    Phrase("Field"),
    Phrase("For the label"),
    Phrase("Calculated, to compare"),
    Phrase("What it is"),
    Phrase("Checked by"),
    Phrase("Field known from"),
)


def plate_paper(plate: RatingPlate, input_sha256: str) -> StudyPaper:
    """A table of fields for each market and gas."""
    recalled, all_fields = recalled_fields(plate.fields)
    return StudyPaper(
        kind=Phrase("Rating plate fields"),
        title=name(plate.appliance),
        subtitle=Phrase(
            "Figures for a conversion label that is added; a qualified person checks each on the tested appliance"
        ),
        stops=tuple(clean(one, 200) for one in plate.stops),
        headline=(
            *((Phrase("Altitude rule"), words) for words in plate.altitude_warnings),
            *((Phrase("Altitude"), words) for words in plate.altitude_only),
            (Phrase("First plate"), Phrase("stays readable")),
            (
                Phrase("Fields from memory"),
                Phrase("{some} of {all}", some=recalled, all=all_fields),
            ),
        ),
        tables=tuple(
            PlainTable(
                caption=clean(caption, 120),
                heads=HEADS,
                rows=tuple(_row(one) for one in fields),
                words=True,
            )
            for caption, fields in groupby(plate.fields, key=lambda entry: entry.place)
        ),
        notes=tuple(clean(one, 600) for one in plate.notes),
        rows=tuple(flat(one) for one in plate.fields),
        input_sha256=input_sha256,
    )


def _row(entry: PlateField) -> tuple[str, ...]:
    return (
        clean(entry.label, 100),
        clean(gas_words(entry.text), 80),
        entry.calculated_text or "–",
        entry.words,
        entry.check,
        Phrase(entry.provenance),
    )
