"""The paper of the injector table: what a manual or a leaflet prints."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import reduce
from itertools import groupby

from burnerlab.appliance.study.injector_table import InjectorRow, InjectorTable, rule_words
from burnerlab.orifice.drill import is_stamped
from burnerlab.quantity.outputs import flat
from burnerlab.quantity.prose import in_reader_units
from burnerlab.quantity.summary import percent
from burnerlab.report.layout_page import PlainTable
from burnerlab.report.paper_units import OF_REGION, PaperUnits
from burnerlab.report.sheet.vocabulary import topic_words
from burnerlab.report.sheet.wording import clean, name
from burnerlab.report.study_paper import StudyPaper
from burnerlab.tables.phrase import Phrase, joined
from burnerlab.tables.verdict import Verdict

MARKS_SHOWN = 8  # columns of a table of marks; more burners are rows of the tables below alone
MOST_LISTED = 3  # supplies named at the head; more are counted, the first table names each
NO_ORIFICE = Phrase("none")
MARK = Phrase("A mark is its bore in hundredths of a millimetre, as injectors are stamped in Europe.")


def injector_paper(table: InjectorTable, input_sha256: str, units: PaperUnits = OF_REGION) -> StudyPaper:
    """The injector table of a manual: orifices at one look, then heat input and consumption of each gas.

    Its tables have the units of the region of their market.
    """
    supplies = {(one.supply, one.country): units.of(one.region) for one in table.rows}
    is_US = {one.region for one in table.rows} == {"us"}
    listed = [
        _beside(in_reader_units(clean(supply), system), country)
        for (supply, country), system in supplies.items()
    ]
    return StudyPaper(
        kind=Phrase("Orifice table") if is_US else Phrase("Injector table"),
        title=name(table.appliance),
        subtitle=reduce(lambda first, last: Phrase("{first}; {last}", first=first, last=last), listed)
        if len(listed) <= MOST_LISTED
        else Phrase("{count} gases at their pressures", count=len(listed)),
        headline=(
            *((Verdict.OUTSIDE.emphatic, clean(words, 300)) for words in table.outside),
            *((Verdict.OUTSIDE.emphatic, words) for words in filter(None, (table.decision,))),
            *((Phrase("No row"), words) for words in table.not_known),
            (Phrase("Rated"), Phrase("net") if table.rating_basis == "net" else Phrase("gross")),
            *((Phrase("Altitude rule"), words) for words in _altitude_rule(table)),
            *((Phrase("Altitude"), words) for words in table.altitude_only),
            (Phrase("Fits"), table.own_pressure_note),
        ),
        tables=(*_orifices(table, units), *_each_supply(table, units)),
        notes=(
            table.own_pressure_note,
            *filter(None, (table.aim_note,)),
            Phrase("Volumes at {state}.", state=clean(table.reference)),
            Phrase(
                "The orifice is the one that job card, rating plate and kit name: of drills or stock offered the one "
                "taken for the rating, on the present supply that of the file; heat inputs are those of its bore."
            )
            if table.is_of_file
            else Phrase(
                "Drills, altitude or its rule are not those of the file: job card, rating plate and kit may name other "
                "orifices. Heat inputs are those of the bore named here."
            ),
            *((MARK,) if any(is_stamped(one.mark, one.region) for one in table.rows) else ()),
            *(
                ()
                if all(one.altitude_policy for one in table.rows)
                else (Phrase("Without an altitude rule the bore for sea level stands."),)
            ),
            Phrase(
                "Of flames, air and supply only what is OUTSIDE stands here, as far as the file has what it takes: the "
                "sheet has every check."
            ),
            *(clean(one, 300) for one in table.coefficient_sources),
            *(Phrase("Pressures: {source}", source=clean(one, 300)) for one in table.sources),
        ),
        rows=tuple(flat(one) for one in table.rows),
        input_sha256=input_sha256,
    )


def _altitude_rule(table: InjectorTable) -> tuple[str, ...]:
    """The rule of the table, or what has to be done before drilling where none is chosen and one would act."""
    if table.has_own_altitude_rules:
        return (*table.altitude_warnings, Phrase("each market its own, with its orifices"))
    return table.altitude_warnings or (rule_words(table.altitude_policy or ""),)


def _rule_of(row: InjectorRow, table: InjectorTable) -> tuple[str, ...]:
    """The altitude rule of a row, where the rows have not all the same."""
    return (row.altitude_rule,) if table.has_own_altitude_rules else ()


def _height_and_rule(altitude: str, row: InjectorRow, table: InjectorTable) -> str:
    """An altitude, with its rule where the rows have not all the same."""
    for rule in _rule_of(row, table):
        return Phrase("{altitude}, altitude rule {rule}", altitude=altitude, rule=rule)
    return altitude


def _checks_outside(row: InjectorRow, table: InjectorTable) -> tuple[str, ...]:
    """The checks of a row that are outside, in a table that has any."""
    if not table.decision:
        return ()
    topics = row.checks_outside.split(", ") if row.checks_outside else ()
    return (joined(", ", (topic_words(clean(topic)) for topic in topics)) or Phrase("none"),)


def _orifices(table: InjectorTable, units: PaperUnits) -> Iterator[PlainTable]:
    """Orifice of every burner, a table for each system of units."""
    burners = list(dict.fromkeys(one.burner for one in table.rows))
    if len(burners) > MARKS_SHOWN:
        return
    for system in dict.fromkeys(units.of(one.region) for one in table.rows):
        several = [one for one in table.rows if units.of(one.region) == system]
        yield replace(_marks(table, several, burners), system=system)


def _marks(table: InjectorTable, several: Sequence[InjectorRow], burners: Sequence[str]) -> PlainTable:
    """Orifice of every burner, a row for each gas and altitude; both gases of a couple are one row."""
    found: dict[tuple[str, str, str], dict[str, InjectorRow]] = {}
    words: dict[tuple[str, str, str], list[str]] = {}
    for one in several:
        sized = f"{one.pressure_couple} {one.sized_on}" if one.pressure_couple else one.supply
        key = (sized, one.altitude_words, one.country)
        of_couple = found.setdefault(key, {})
        if not (one.burner in of_couple and of_couple[one.burner].checks_outside):  # on the first gas
            of_couple[one.burner] = one
        supplies = words.setdefault(key, [])
        if clean(one.supply) not in supplies:
            supplies.append(clean(one.supply))
    rows = tuple(
        (
            _beside(
                reduce(lambda first, last: Phrase("{first} and {last}", first=first, last=last), words[key]),
                key[2],
            ),
            key[1],
            *_rule_of(next(iter(made.values())), table),
            *(clean(made[burner].fitted_or_not) if burner in made else "" for burner in burners),
        )
        for key, made in found.items()
    )
    rule = (Phrase("Altitude rule"),) if table.has_own_altitude_rules else ()
    heads = (*PLACE_HEADS, *rule, *(name(burner) for burner in burners))
    return PlainTable(caption=Phrase("Orifices to fit"), heads=heads, rows=rows, words=True)


PLACE_HEADS = (Phrase("Gas and pressure (country)"), Phrase("Altitude"))


def _beside(words: str, country: str) -> str:
    """A supply with the countries that are named for it."""
    return Phrase("{supply} ({country})", supply=words, country=country) if country else words


def _each_supply(table: InjectorTable, units: PaperUnits) -> Iterator[PlainTable]:
    is_net = table.rating_basis == "net"
    heads = (
        Phrase("Burner"),
        Phrase("Number"),
        Phrase("Gas and pressure (country)"),
        Phrase("Orifice"),
        Phrase("Exact bore, {unit}", unit="mm"),
        Phrase("{unit} net", unit="kW") if is_net else Phrase("{unit} gross", unit="kW"),
        table.deviation_head,
        Phrase("Consumption"),
        *((Phrase("Other checks OUTSIDE"),) if table.decision else ()),
    )
    for place, each in groupby(table.rows, key=lambda line: (line.supply, line.altitude_words, line.country)):
        supply, altitude, country = place
        several = list(each)
        rows = tuple(
            (
                name(one.burner),
                str(one.count * one.orifice_count),
                _beside(one.gas_at_pressure, country),
                clean(one.fitted_or_not),
                one.exact_bore,
                one.heat_input_column(table.rating_basis) if one.has_figures else "",
                percent(one.deviation) if one.has_figures else "",
                one.consumption if one.has_figures else "",
                *_checks_outside(one, table),
            )
            for one in several
        )
        couple = several[0].pressure_couple
        sized = (
            Phrase(
                "; one orifice for the couple {couple}, sized on {gas}",
                couple=clean(couple),
                gas=clean(several[0].sized_on),
            )
            if couple
            else ""
        )
        yield PlainTable(
            caption=Phrase(
                "{supply}, {altitude}{sized}",
                supply=_beside(clean(supply), country),
                altitude=_height_and_rule(altitude, several[0], table),
                sized=sized,
            ),
            heads=heads,
            rows=rows,
            words=True,
            system=units.of(several[0].region),
        )
