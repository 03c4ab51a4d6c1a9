"""The sheet: a conversion as ordered sections of printed rows, one model for every format."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import get_args

from burnerlab.appliance.conversion.gas_facts import GasUsed
from burnerlab.appliance.conversion.refusal import not_to_fit, orifice_or_none
from burnerlab.appliance.conversion.result import (
    BurnerConversion,
    Conversion,
    Finding,
    NotEvaluated,
    WorkedStep,
)
from burnerlab.bench.reading.manifold import MEND
from burnerlab.bench.reading_plan import LONGEST_SCOPE, CarbonMonoxideLimit
from burnerlab.orifice.drill import bore_system
from burnerlab.quantity import System
from burnerlab.quantity.outputs import columns as columns_of
from burnerlab.quantity.prose import in_reader_units, state_in
from burnerlab.report.figures.stability_diagram import panels
from burnerlab.report.sheet import alternatives, burners, checks, evaluation, layout, terms, wording
from burnerlab.report.sheet.blocks import (
    ALTITUDE,
    AMBIENT,
    BORE,
    MASS_FLOW,
    POWER,
    TEMPERATURE,
    VOLUME_FLOW,
    Block,
    BlockColumn,
    Cautions,
    Cell,
    Fact,
    Facts,
    Picture,
    Place,
    Points,
    Section,
    Steps,
    Table,
    basis_of,
    declared_cell,
    fixed,
    percent,
    pressure,
)
from burnerlab.report.sheet.job_card import JobCard, job_card
from burnerlab.report.sheet.stop_box import box_in_words
from burnerlab.report.sheet.terms import language_of
from burnerlab.report.sheet.units import conversion_in, drill_names
from burnerlab.report.sheet.vocabulary import gas_words
from burnerlab.report.sheet.wording import STATEMENT, SheetLabels, clean, lines_of_sheet, name
from burnerlab.tables.cautions import Caution, cautions
from burnerlab.tables.handbook_link import LOOK_UP
from burnerlab.tables.languages import ENGLISH
from burnerlab.tables.phrase import Phrase, applied, joined
from burnerlab.tables.verdict import Verdict

# The sections of a sheet, in order, from the job to the version.

NOT_EVALUATED = "limits-of-the-tool#not-evaluated-and-why"  # of the handbook
AS_BUILT = Phrase("as built")
SAME_PRESSURE = 0.005  # of a nominal pressure: 7 in w.c. and 17.4 mbar are one
OF_GASES_ELSEWHERE = frozenset({"name", "title", "kind", "composition", "family", "source", "is_special"})
"""Figures of a gas that stand under the job, or below the others in the table of the two gases."""
CHECKLIST = "A checklist, in the order of the work: a qualified person does and signs each item."


def title(c: Conversion) -> str:
    if c.from_gas != c.to_gas:
        return Phrase("{appliance}: change of gas", appliance=name(c.appliance))
    if not has_same_pressure(c):
        return Phrase("{appliance}: another pressure, no change of gas", appliance=name(c.appliance))
    if not has_same_gas(c):
        return Phrase("{appliance}: another altitude, no change of gas", appliance=name(c.appliance))
    return Phrase(
        "{appliance}: {orifices}, no change of gas", appliance=name(c.appliance), orifices=same_gas_words(c)
    )


def has_same_gas(c: Conversion) -> bool:
    """Whether the market has the gas, pressure and altitude that the appliance has now."""
    return c.from_gas == c.to_gas and c.from_altitude_m == c.altitude_m and has_same_pressure(c)


def has_same_pressure(c: Conversion) -> bool:
    """Whether the market has the pressure that the appliance has now."""
    now, new = c.from_gauge_pressure_Pa, c.to_gauge_pressure_Pa
    return abs(new - now) <= SAME_PRESSURE * now


def same_gas_words(c: Conversion) -> str:
    """As built where every orifice stays; another orifice on the same gas is a change."""
    stay = (b.from_orifice_m in (None, b.choice.diameter_m) for b in c.burners)
    return AS_BUILT if all(stay) else Phrase("same gas, other orifices")


def change(c: Conversion, system: System) -> str:
    """From which gas and pressure to which, in one line."""
    now = pressure(c.from_gauge_pressure_Pa).inline(c.from_gauge_pressure_Pa, system)
    new = pressure(c.to_gauge_pressure_Pa).inline(c.to_gauge_pressure_Pa, system)
    if has_same_gas(c):
        gas = name(gas_words(c.to_gas.title))
        if same_gas_words(c) == AS_BUILT:
            return Phrase("As built: {gas} at {pressure}", gas=gas, pressure=new)
        return Phrase("Same gas, other orifices: {gas} at {pressure}", gas=gas, pressure=new)
    if c.from_gas == c.to_gas and has_same_pressure(c):
        gas = name(gas_words(c.to_gas.title))
        return Phrase("Same gas at another altitude: {gas} at {pressure}", gas=gas, pressure=new)
    before = name(gas_words(c.from_gas.title))
    return Phrase(
        "{present_gas} at {present_pressure} to {gas} at {pressure}",
        present_gas=applied(lambda text: text[:1].upper() + text[1:], before),
        present_pressure=now,
        gas=name(gas_words(c.to_gas.title)),
        pressure=new,
    )


def change_for(c: Conversion, system: System, market: str) -> str:
    """The change in one line, with the market it is made for and its place."""
    line = change(c, system)
    if not market:
        return line
    high = Phrase("altitude not given") if c.altitude_m is None else ALTITUDE.scale(system).text(c.altitude_m)
    return Phrase(
        "Market {market}: {change}, {altitude}", market=clean(market, 60), change=line, altitude=high
    )


def headline(c: Conversion, system: System) -> tuple[Fact, ...]:
    """The totals a reader looks for first."""
    basis, at, moved = basis_of(c), c.headline, c.all_on_over_nominal
    on = ", all on" if burners.is_supplied(c) else ", nominal"
    first, second = (
        Fact(label=f"Total calculated{on}, gross", cell=POWER.show(at.heat_input_gross_W, system)),
        Fact(label=f"Total calculated{on}, net", cell=POWER.show(c.total_predicted_net_W * moved, system)),
    )[:: 1 if basis.word == "gross" else -1]
    return (
        Fact(label=f"Total rating, {basis.word}", cell=POWER.show(c.total_rate_gross_W * basis.new, system)),
        replace(first, note=burners.total_words(c)),
        second,
        Fact(label="Gas used, by mass", cell=MASS_FLOW.show(c.total_mass_flow_kg_per_s, system)),
        Fact(label="Gas used, by volume", cell=VOLUME_FLOW.show(c.total_volume_flow_m3_per_s, system)),
    )


def build(c: Conversion, system: System) -> tuple[Section, ...]:
    """Every section, in the order of the sheet: the three pages, then the annex."""
    c = conversion_in(c, system)
    sections = (
        burners.orifices(c, system),
        _first(c),
        _open(c),
        *evaluation.sections(c, system),
        *layout.sections(c, system),
        _checklist(c),
        *alternatives.altitude_sections(c, system),
        *alternatives.couple_sections(c, system),
        burners.inputs(c, system),
        burners.air(c, system),
        _figures(c, system),
        _not_evaluated(c),
        _checks(c),
        _worked(c, system),
        _job(c, system),
        _basis(c, system),
        _cautions(),
        _points("sources", "Sources", "Where the figures behind this sheet come from.", c.sources),
        *(() if language_of(c).translations else terms.terms_section(c)),
        _version(c),
    )
    places = get_args(Place)
    return tuple(sorted(sections, key=lambda section: places.index(section.place)))


def _job(c: Conversion, system: System) -> Section:
    low, high, nominal = (
        c.to_gauge_pressure_low_Pa,
        c.to_gauge_pressure_high_Pa,
        pressure(c.to_gauge_pressure_Pa),
    )
    span = "no range is known for this gas and pressure"
    if low is not None and high is not None:
        span = f"range {nominal.inline(low, system)} to {nominal.inline(high, system)}"
        span += f"; {clean(c.pressure_range_source)}" if c.pressure_range_source else ""
    rows = (
        Fact(
            label="Appliance",
            cell=Cell(text=name(c.appliance), also=name(c.model)),
            note=f"rated on the {clean(c.rating_basis)} basis",
        ),
        Fact(label="Present gas", cell=Cell(text=name(c.from_gas.title)), note=_family(c, c.from_gas)),
        Fact(
            label="Present manifold pressure, gauge",
            cell=pressure(c.from_gauge_pressure_Pa).show(c.from_gauge_pressure_Pa, system),
        ),
        Fact(label="New gas", cell=Cell(text=name(c.to_gas.title)), note=_family(c, c.to_gas)),
        Fact(
            label="New manifold pressure, gauge", cell=nominal.show(c.to_gauge_pressure_Pa, system), note=span
        ),
        *(
            [Fact(label="Supply category", cell=Cell(text=_category(c)), note=alternatives.beside(c))]
            if c.category
            else []
        ),
        _place("Place of use", c.altitude_m, c.ambient_pressure_Pa, system),
        _place("Place of the present setting", c.from_altitude_m, c.from_ambient_pressure_Pa, system),
        Fact(label="Gas temperature at the orifice", cell=TEMPERATURE.show(c.gas_temperature_K, system)),
        *burners.facts(c, system),
    )
    lead = "The target. Pressures are gauge, at the appliance manifold, with the burners on."
    return Section(key="job", title="Job", lead=lead, blocks=(Facts(rows=rows),))


def _category(c: Conversion) -> str:
    category = clean(c.category)
    return category if c.is_category_given else f"not given; {category} has this gas at this pressure"


def _family(c: Conversion, gas: GasUsed) -> str:
    """Family and group of a gas by EN 437, which nobody asks for in North America."""
    return "" if c.region == "us" else clean(gas.family)


def _place(label: str, altitude_m: float | None, ambient_Pa: float, system: System) -> Fact:
    air = f"ambient pressure {AMBIENT.inline(ambient_Pa, system)}, absolute"
    cell = Cell(text="altitude not given") if altitude_m is None else ALTITUDE.show(altitude_m, system)
    return Fact(label=label, cell=cell, note=air)


def _basis(c: Conversion, system: System) -> Section:
    factor = c.altitude_policy_factor
    rows = (
        Fact(label="Reference state of every volume", cell=Cell(text=state_in(clean(c.reference), system))),
        Fact(
            label="Band for the heat input",
            cell=Cell(text=burners.band_words(c)),
            note=clean(c.tolerance_source),
        ),
        Fact(
            label="Region",
            cell=Cell(text=clean(c.region) or "not given"),
            note="selects band, supply pressures and altitude policies",
        ),
        Fact(
            label="Altitude rule on the rating",
            cell=Cell(text=clean(c.altitude_policy or "not chosen")),
            note="the rating is not changed"
            if factor == 1.0
            else f"each burner is sized for {100 * factor:.1f} % of its rating",
        ),
        Fact(label="Drills offered", cell=Cell(text=clean(c.drill_list))),
        *(
            Fact(label="Discharge coefficient", cell=Cell(text=f"{value:.3f}"), note=source)
            for value, source in dict.fromkeys(
                (b.coefficient, clean(b.coefficient_source)) for b in c.burners
            )
        ),
    )
    lead = "On what the figures stand. Gross counts the heat of condensing the water formed; net does not."
    notes = (Points(items=tuple(clean(note) for note in c.notes)),) if c.notes else ()
    return Section(
        key="basis", title="Basis", lead=lead, blocks=(Facts(rows=rows), _gases(c, system), *notes)
    )


def _gases(c: Conversion, system: System) -> Table:
    """Every figure declared of a gas, both gases side by side."""
    both = (c.from_gas, c.to_gas)
    rows = (
        *(
            (
                Cell(text=column.label[:1].upper() + column.label[1:]),
                *(declared_cell(column, gas, system) for gas in both),
            )
            for column in columns_of(type(c.to_gas))
            if column.name not in OF_GASES_ELSEWHERE
        ),
        (
            Cell(text="Composition, mole fraction"),
            *(Cell(text=_composition(dict(g.composition))) for g in both),
        ),
        (Cell(text="Data from"), *(Cell(text=clean(g.source)) for g in both)),
    )
    columns = (
        BlockColumn(title="Property"),
        BlockColumn(title=f"Present: {name(c.from_gas.title)}"),
        BlockColumn(title=f"New: {name(c.to_gas.title)}"),
    )
    return Table(caption="The two gases", columns=columns, rows=rows)


def _composition(fractions: dict[str, float]) -> str:
    if not fractions:
        return "declared only"
    ranked = sorted(fractions.items(), key=lambda pair: -pair[1])
    shown = [f"{clean(key)} {value:.4g}" for key, value in ranked if value > 0]
    return ", ".join(shown[:8]) + (f" and {len(shown) - 8} more" if len(shown) > 8 else "")


def _first(c: Conversion) -> Section:
    """A line for each check that is outside or near, its burners listed."""
    blocks = checks.to_look_at(c)
    return Section(
        key="first", title="To look at first", lead=checks.summary(c), blocks=blocks, place="answer"
    )


def _open(c: Conversion) -> Section:
    """The open questions by name; why each is open stands in the annex."""
    questions = dict.fromkeys(", ".join(topics) + who for topics, who, _ in _open_questions(c))
    lead = f"{'; '.join(map(clean, questions))}." if questions else "None named."
    return Section(key="open", title="Not evaluated: needs a test", lead=lead, blocks=(), place="answer")


def _open_questions(c: Conversion) -> Iterator[tuple[list[str], str, str]]:
    """Open questions with why, and their burners where these are not all."""
    for topics, who, why in _gathered(c, _questions(c)):
        yield topics, "" if who in ("", "all", "each") else f" ({who})", why


def _checks(c: Conversion) -> Section:
    example = next(filter(None, (f.handbook for f in c.findings)), "")
    look_up = f" Where the handbook explains a check stands below it: {LOOK_UP}{example}." if example else ""
    lead = (
        f"{checks.summary(c)} Evidence is the weakest figure a value rests on: measured here, entered by the user, "
        "published, recalled from a publication, or an estimate that only a test settles. Where several burners stand "
        f"in one row, the result of the worst of them is shown.{look_up}"
    )
    blocks = (checks.in_full(c),) if c.findings else ()
    return Section(key="checks", title="Checks", lead=lead, blocks=blocks)


def _from(b: BurnerConversion, system: System) -> str:
    own = bore_system(b.from_drill, system)
    return "" if b.from_orifice_m is None else f"from {BORE.inline(b.from_orifice_m, own)} "


def _figures(c: Conversion, system: System) -> Section:
    band = burners.band_words(c)
    now, new = name(c.from_gas.title), name(c.to_gas.title)
    now_at = pressure(c.from_gauge_pressure_Pa).inline(c.from_gauge_pressure_Pa, system)
    new_at = pressure(c.to_gauge_pressure_Pa).inline(c.to_gauge_pressure_Pa, system)
    refused = not_to_fit(c)
    burner_words = "; ".join(
        f"{name(b.name)} {_from(b, system)}to {orifice_or_none(b, clean(b.choice.drill), refused)} "
        f"({BORE.inline(b.choice.diameter_m, bore_system(b.choice.drill, system))}), {percent(b.drill_deviation)} "
        "at the nominal pressure"
        for b in c.burners
    )
    drill = Picture(
        key="drill_chart",
        title="Heat input against orifice diameter",
        caption=f"Dashed: {now} at {now_at}; solid: {new} at {new_at}; open circles are the present orifices, filled "
        f"circles the drills taken; each grey band is a rating {band}, and the short strokes at the foot are the "
        f"drills that exist. Heat input of one burner, {basis_of(c).word}, both axes logarithmic.",
        description=f"Two rising lines on logarithmic axes, {now} dashed and {new} solid. {burner_words}.",
    )
    case = "the worse of all on and its kind on" if burners.is_supplied(c) else "at the nominal pressure"
    burning = "; ".join(f"{name(b.name)} {percent(b.deviation)}" for b in c.burners)
    bars = Picture(
        key="inputs",
        title="Heat input before and after, as a fraction of the rating",
        caption=f"Heat inputs {basis_of(c).word}, each over the rating on its gas. Open circle: calculated with the "
        "present gas and orifice. Filled circle: new gas with the "
        f"drill taken, {case}; whiskers at the orifice from the lowest to the highest supply pressure. Grey: the "
        f"rating {band}.",
        description=f"One row per burner, {case}. {burning}.",
    )
    lead = "Drawn from the figures above; nothing in them is new."
    return Section(key="figures", title="Figures", lead=lead, blocks=(drill, bars, *_stability(c, system)))


def _stability(c: Conversion, system: System) -> tuple[Picture, ...]:
    """The stability diagram, where any burner's place in it is known."""
    shown = panels(c)
    if not shown:
        return ()
    now, new = name(c.from_gas.title), name(c.to_gas.title)
    described = "; ".join(
        f"{', '.join(names)}: "
        + ", ".join(
            f"{point.gas} at {point.label}: {100 * point.aeration:.0f} % air and {point.loading_W_per_mm2:.3g} W/mm2"
            for point in diagram.points
        )
        for names, diagram in shown
    )
    missing = dict.fromkeys(clean(text) for _, diagram in shown for text in diagram.missing)
    caption = (
        f"Open, thin: {now}. Filled, thick: {new}; the arrow above is the conversion at full rate, the bars the "
        "band of the primary air. Grey: the spread of the new gas's limits; hatched: beyond them. Broken lines are "
        "provisional. Every limit here is recalled or estimated: it ranks settings, and only a test of the flame "
        "decides."
    )
    own = [point.comparison for _, diagram in shown for point in diagram.observations]
    if own:
        counts = ", ".join(f"{own.count(word)} {word}" for word in dict.fromkeys(own))
        caption += f" Outlined shapes: what your own flames did ({counts}); no limit is fitted to them."
    caption += f" Not shown: {'; '.join(missing)}." if missing else ""
    return (
        Picture(
            key="stability",
            title="Stability diagram: port loading against primary air",
            caption=caption,
            description=in_reader_units(f"A panel for each burner, {now} to {new}. {described}.", system),
        ),
    )


def _points(key: str, heading: str, lead: str, items: tuple[str, ...], *, signed: bool = False) -> Section:
    blocks = (Points(items=tuple(clean(item) for item in items), signed=signed),) if items else ()
    return Section(key=key, title=heading, lead=lead if items else "None named.", blocks=blocks)


def _checklist(c: Conversion) -> Section:
    """The order of the work; where an orifice is not to be fitted nothing of it is done, as on the job card."""
    heading = "What else must change"
    if not_to_fit(c):
        return _points("prompts", heading, "Nothing is fitted and nothing lit.", (MEND,))
    return _points("prompts", heading, CHECKLIST, c.prompts, signed=True)


def _not_evaluated(c: Conversion) -> Section:
    columns = (
        BlockColumn(title="Question"),
        BlockColumn(title="Burner"),
        BlockColumn(title="Why, and what an answer needs", wide=True),
    )
    rows = tuple(
        (Cell(text=clean(", ".join(topics))), Cell(text=who), Cell(text=clean(why)))
        for topics, who, why in _gathered(c, _questions(c))
    )
    lead = f"Not calculated: each item needs a test or more input. Explained: {LOOK_UP}{NOT_EVALUATED}."
    table = Table(caption="Open questions", columns=columns, rows=rows)
    return Section(key="not_evaluated", title="Not evaluated", lead=lead, blocks=(table,) if rows else ())


def _questions(c: Conversion) -> tuple[NotEvaluated | Finding, ...]:
    return (*c.not_evaluated, *(f for f in c.findings if f.verdict == Verdict.NOT_EVALUATED))


def _gathered(
    c: Conversion, questions: Sequence[NotEvaluated | Finding]
) -> Iterator[tuple[list[str], str, str]]:
    """Open questions with their burners and why; those of one reason and the same burners together."""
    by_question: dict[tuple[str, str], list[str]] = {}
    partly = layout.partly_answered(c)
    for entry in questions:
        why = entry.text if isinstance(entry, Finding) else partly.get(entry.topic, entry.why)
        by_question.setdefault((_question(entry), why), []).append(entry.burner)
    by_reason: dict[tuple[str, str], list[str]] = {}
    for (topic, why), own in by_question.items():
        by_reason.setdefault((checks.burners_words(c, own), why), []).append(topic)
    for (who, why), topics in by_reason.items():
        yield topics, who, why


def _question(entry: NotEvaluated | Finding) -> str:
    which = entry.which_gas if isinstance(entry, Finding) else ""
    return f"{entry.topic}, {which} gas" if which else entry.topic


def _worked(c: Conversion, system: System) -> Section:
    steps = tuple(
        WorkedStep(what=clean(step.what), formula=clean(step.formula), numbers=clean(step.numbers))
        for step in c.calculation
    )
    lead = "The formulas with the numbers put in, for one burner, so that the rest can be checked by hand."
    if system == "US":
        lead += " The formulas hold in SI units, in which the numbers stand."
    return Section(
        key="worked", title="Worked example", lead=lead, blocks=(Steps(rows=steps),) if steps else ()
    )


def _cautions() -> Section:
    return Section(
        key="cautions", title="Cautions", lead=wording.STATEMENT, blocks=(Cautions(items=cautions()),)
    )


def _version(c: Conversion) -> Section:
    rows = (
        Fact(label="Calculated by", cell=Cell(text=f"burnerlab {clean(c.version)}")),
        Fact(label="Project file", cell=Cell(text=name(c.file_name) or "none")),
        Fact(label="SHA-256 of the project file", cell=Cell(text=clean(c.file_sha256) or "none")),
    )
    lead = "The same file and version give the same figures."
    translated = tuple(map(terms.translator_note, language_of(c).credits))
    blocks: tuple[Block, ...] = (Facts(rows=rows), *([Points(items=translated)] if translated else []))
    return Section(key="version", title="Version and input", lead=lead, blocks=blocks)


# The sheet: a conversion as ordered sections of printed rows. Every format renders this one model.


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """What every format shows, in order."""

    title: str
    change: str  # from which gas and pressure to which
    date: str
    statement: str
    first: Caution  # its line stands above the orifices
    headline: tuple[Fact, ...]
    verdicts: tuple[tuple[Verdict, int], ...]
    verdict_words: tuple[str, ...]  # of each of them
    sections: tuple[Section, ...]
    footer: str
    card: JobCard
    labels: SheetLabels = field(default_factory=SheetLabels)
    language: str = ENGLISH

    def section(self, key: str) -> Section:
        return next(section for section in self.sections if section.key == key)

    def place(self, place: Place) -> tuple[Section, ...]:
        """The sections of a page, or of the annex."""
        return tuple(section for section in self.sections if section.place == place)

    def pictures(self) -> tuple[Picture, ...]:
        return tuple(b for section in self.sections for b in section.blocks if isinstance(b, Picture))


def build_sheet(
    conversion: Conversion,
    *,
    date: str = "",
    system: System = "metric",
    dial_m3: float | None = None,
    market: str = "",
    carbon_monoxide: CarbonMonoxideLimit | None = None,
) -> Sheet:
    """The sheet of a conversion, its job card first.

    date : printed in the header as given; nothing else on the sheet depends on when it was made.
    system : whose units the sheet has
    dial_m3 : one turn of the dial that the card times [m3]; None is that usual in the region of the appliance
    market : letter and name of the market of the file that it is made for, such as "A (bottled propane)"
    carbon_monoxide : limit of air-free carbon monoxide that the user names; without one its line is empty
    """
    counts: dict[Verdict, int] = dict.fromkeys((Verdict.OUTSIDE, Verdict.NEAR), 0)
    for finding in conversion.findings:
        if finding.verdict != Verdict.WITHIN:  # no count of what is within: it would read as a score
            counts[finding.verdict] = counts.get(finding.verdict, 0) + 1
    counts[Verdict.NOT_EVALUATED] = checks.open_count(conversion)
    prose = partial(in_reader_units, system=system, names=drill_names(conversion))
    sections = tuple(terms.with_prose(section, prose) for section in build(conversion, system))
    sheet = Sheet(
        card=_card(conversion, date, system, dial_m3, market, carbon_monoxide),
        title=title(conversion),
        change=change_for(conversion, system, market),
        date=clean(date, 40),
        statement=STATEMENT,
        first=lines_of_sheet(conversion)[0],
        headline=headline(conversion, system),
        verdicts=tuple(counts.items()),
        verdict_words=tuple(verdict.value for verdict in counts),
        sections=sections,
        footer=_footer(conversion),
    )
    own = language_of(conversion)
    exact = terms.caution_words_of(own, conversion.region)
    made: Sheet = terms.reworded(sheet, terms.whole_words_of(conversion, own), exact)
    return replace(
        made,
        statement=exact(STATEMENT),
        footer=_words_of(conversion)(sheet.footer),
        card=_worded_card(conversion, sheet.card),
        language=own.tag,
    )


def build_card(
    conversion: Conversion,
    *,
    date: str = "",
    system: System = "metric",
    dial_m3: float | None = None,
    market: str = "",
    carbon_monoxide: CarbonMonoxideLimit | None = None,
) -> JobCard:
    """The job card of a conversion; parameters as ``build_sheet`` takes them."""
    card = _card(conversion, date, system, dial_m3, market, carbon_monoxide)
    return _worded_card(conversion, card)


def _worded_card(c: Conversion, card: JobCard) -> JobCard:
    """A card in the words of its reader; the box that says who may do it and when to stop is read as one."""
    words = _words_of(c)
    made: JobCard = terms.reworded(card, words)
    return replace(made, footer=words(card.footer), stop_box=box_in_words(card.stop_box, words))


def _words_of(c: Conversion) -> terms.Wording:
    return terms.in_words_of(language_of(c), c.region, terms.names_of(c))


def _card(
    conversion: Conversion,
    date: str,
    system: System,
    dial_m3: float | None,
    market: str,
    carbon_monoxide: CarbonMonoxideLimit | None,
) -> JobCard:
    text = {
        "title": title(conversion),
        "change": change_for(conversion, system, market),
        "date": clean(date, 40),
        "statement": STATEMENT,
        "band": burners.band_words(conversion),
        "footer": _card_footer(conversion),
        "carbon_monoxide": _limit_words(carbon_monoxide),
    }
    return replace(job_card(conversion, text, system, dial_m3), language=language_of(conversion).tag)


def _limit_words(limit: CarbonMonoxideLimit | None) -> str:
    """A limit as the user named it, with what it holds for: "400 ppm (report 12)"."""
    return "" if limit is None else f"{fixed(1e6 * limit.limit, 0)} ppm ({clean(limit.scope, LONGEST_SCOPE)})"


def _card_footer(c: Conversion) -> str:
    """The versions behind a card, and who translated its cautions."""
    return joined("; ", (_footer(c), *map(terms.translator_note, language_of(c).credits)))


def _footer(c: Conversion) -> str:
    if not c.file_sha256:
        return Phrase("burnerlab {version}, no appliance file", version=c.version)
    return Phrase(
        "burnerlab {version}, version {digest} of the appliance file",
        version=c.version,
        digest=c.file_sha256[:12],
    )
