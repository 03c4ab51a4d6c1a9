"""The job card: one page for the hands that change the appliance, from the same conversion as the sheet."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cache
from operator import attrgetter
from typing import NamedTuple

from burnerlab import tables
from burnerlab.appliance.conversion.checks import PRESSURE_ROOM
from burnerlab.appliance.conversion.convert import nearest_words, other_of_couple
from burnerlab.appliance.conversion.evaluation import evaluate_conversion
from burnerlab.appliance.conversion.orifice_choice import changed_by, steps_of
from burnerlab.appliance.conversion.refusal import DECIDES, no_orifice_words, not_to_fit, over_aim, refusals
from burnerlab.appliance.conversion.result import BurnerConversion, Conversion, Finding
from burnerlab.appliance.project.model import NOT_GIVEN
from burnerlab.bench.decision_rule import bench_limit
from burnerlab.bench.reading.manifold import (
    MEND,
    PressureBand,
    expected_input,
    highest_pressure_Pa,
    no_band_limits,
    pressure_band,
    pressure_limits,
    pressure_span,
    refused_words,
)
from burnerlab.bench.reading_plan import limit_without_kind, plan_of
from burnerlab.orifice.drill import NONE_FITS, bore_system, hundredths, is_stamped
from burnerlab.quantity import Kind, System
from burnerlab.quantity.band_ends import pressure_end
from burnerlab.quantity.prose import in_reader_units
from burnerlab.quantity.read import read
from burnerlab.report.sheet.blocks import (
    BORE,
    LEAST_TRAVEL,
    POWER,
    basis_of,
    fixed,
    margin_text,
    opening_ends,
    opening_text,
    pressure,
    whole_percents,
)
from burnerlab.report.sheet.checks import outside_in_words
from burnerlab.report.sheet.stop_box import StopBox, stop_box
from burnerlab.report.sheet.terms import Indivisible, WordedText
from burnerlab.report.sheet.turn_time import DialTimes, dial_times
from burnerlab.report.sheet.units import conversion_in, texts_in
from burnerlab.report.sheet.vocabulary import gas_words, moment_words
from burnerlab.report.sheet.wording import clean, name
from burnerlab.tables.cautions import Caution, cautions
from burnerlab.tables.languages import ENGLISH
from burnerlab.tables.phrase import Phrase, applied, joined, pattern
from burnerlab.tables.problem import UserError

JOIN = "\u2060"  # no line breaks here
TIE = "\u00a0"  # figure and unit stay on one line
MOST_WEIGHED = 6  # burners beside whose time their mass has room on the one page
LONGEST = 48  # characters of a name on the card
NOTHING_YET = Phrase(
    "nothing yet"
)  # is put in where another burner of the appliance has no orifice that fits
NOT_KNOWN = Phrase("not evaluated")
NO_SHUTTER = Phrase("not in the file: burner off and cool, set by flame test")
NO_PORTS = Phrase("ports not in the file: burner off and cool, set by flame test")
NO_FLAMES = Phrase("not evaluated: burner off and cool, set by flame test")
NO_OPENING = Phrase("no opening keeps every flame limit")
FLAME, LIGHT_BACK = Phrase("flame"), Phrase("light-back")
OF_FLAME = {
    "lift": FLAME, "yellow tipping": FLAME, "primary aeration": FLAME, "light-back": LIGHT_BACK,
    "tile temperature": Phrase("tile"), "flame at turndown": Phrase("flame at low rate"),
    "flame at lowest pressure": Phrase("flame at lowest pressure"),
    "flame at highest pressure": Phrase("flame at highest pressure"),
}  # fmt: skip
"""What the card calls the questions of a flame that are open, by their topic."""
HEADS = (
    Phrase("Burner"), Phrase("Take out"), Phrase("Put in"), Phrase("Shutter from"), Phrase("Heat input, alone"),
    Phrase("One turn of the dial"), Phrase("Read"), Phrase("Done"),
)  # fmt: skip
SIGN = (
    Phrase("Serial number"), Phrase("Changed by"), Phrase("Qualification"), Phrase("Leak test by, method"),
    Phrase("Date"), Phrase("Record entry"),
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class CardBurner:
    """Equal burners as one row: what comes out, what goes in, and what the meter then says of one of them."""

    names: tuple[str, ...]
    orifices: int  # that are changed, of all these burners
    pieces: str = ""  # their number in words, where they are several
    kind: str
    take_out: str
    put_in: str  # mark of the drill
    bore: str  # with its tolerance; why none fits
    shutter: str  # to start from
    power: str  # of one burner, as the basis of the rating counts
    seconds: str  # of one turn of the dial, at the high and at the low end of the band
    expected: str  # the time that is calculated, this burner alone
    weighed: str = ""  # what it then takes from a cylinder of LP gas


@dataclass(frozen=True, slots=True, kw_only=True)
class CardStep(Indivisible):
    """A step of the work, and the caution that stands before it."""

    text: str
    caution: Caution | None = None

    @property
    def signal(self) -> str:
        """Signal word of its caution."""
        return "" if self.caution is None else self.caution.word

    @property
    def hazard(self) -> str:
        """The first words of its caution."""
        if self.caution is None:
            return ""
        first, short = self.caution.first_sentence, self.caution.short
        return type(short)(first) if isinstance(short, WordedText) else first


@dataclass(frozen=True, slots=True, kw_only=True)
class CardReading:
    """What is read or looked at, what is expected, and the band it has to be in."""

    what: str
    expected: str
    band: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CardLabels:
    """What stands on every card."""

    kind: str = Phrase("Job card")
    expected: str = Phrase("expected")
    order: str = Phrase("In this order, and what else changes")
    look: str = Phrase("Look and measure")
    readings: tuple[str, ...] = (Phrase("What"), Phrase("Expected"), Phrase("Band"), Phrase("Read"))
    reading: str = Phrase("place for the reading")
    tick: str = Phrase("tick box")
    write: str = Phrase("place to write")


@dataclass(frozen=True, slots=True, kw_only=True)
class JobCard:
    """What the card shows, in order."""

    title: str
    model: str
    change: str
    date: str
    refusal: str  # that nothing is fitted or lit, and why; "" where every burner has an orifice that fits
    stop_box: StopBox  # above all figures
    outside: str  # what is calculated outside, and who decides; "" when nothing is
    when_lit: str  # what is outside by an estimate that flame or meter decides; "" when nothing is
    notes: tuple[str, ...]  # on the orifices as a whole
    caption: str  # of the burners, with the basis and the band of their heat inputs
    burners: tuple[CardBurner, ...]
    meter: str  # the dial, and the conditions of the times
    steps: tuple[CardStep, ...]
    readings: tuple[CardReading, ...]
    statement: str
    footer: str
    heads: tuple[str, ...]  # of the columns of the burners
    sign: tuple[str, ...]  # who, when, and where it is recorded
    labels: CardLabels
    language: str = ENGLISH


def job_card(c: Conversion, text: Mapping[str, str], system: System, dial_m3: float | None = None) -> JobCard:
    """The card of an evaluated conversion.

    text : title, change, date, statement, band and footer of its sheet; limit of carbon monoxide, or ""
    dial_m3 : volume of one turn of the meter's dial [m3]; None is that usual in the region of the appliance
    """
    meter, alone_W = dial_times(c, dial_m3, system), _alone_W(c)
    outside, when_lit = _outside(c, system)
    made = JobCard(
        title=clean(c.appliance, LONGEST),
        model=clean(c.model, LONGEST),
        change=text["change"],
        date=text["date"],
        refusal="",
        stop_box=stop_box(c.occasions),
        outside=outside,
        when_lit=when_lit,
        notes=tuple(in_reader_units(one, system) for one in _notes(c)),
        caption=Phrase(
            "Orifices; heat input {basis}, band {band}", basis=basis_of(c).word, band=text["band"]
        ),
        burners=combined([_burner(c, b, alone_W[b.name], meter, system) for b in c.burners]),
        meter=_meter_words(c, meter, system),
        steps=tuple(_steps(c, system)),
        readings=tuple(
            replace(one, expected=tied(one.expected), band=tied(one.band))
            for one in _readings(c, meter, system, text["carbon_monoxide"])
        ),
        statement=text["statement"],
        footer=text["footer"],
        heads=HEADS,
        sign=SIGN,
        labels=CardLabels(),
    )
    return _refused(made, c, system)


def _refused(card: JobCard, c: Conversion, system: System) -> JobCard:
    """A card on which an orifice is not to be fitted: a stop at its head, why, and nothing to do, time or set."""
    whys = refusals(c)
    if not whys:
        return card
    names = [clean(b.name, LONGEST) for b in c.burners if b.name in whys]
    return replace(
        card,
        refusal=refused_words(no_orifice_words(names)),
        stop_box=stop_box(c.occasions, refused=True),
        burners=combined([_unfitted(b, whys.get(b.name, ""), system) for b in c.burners]),
        when_lit="",
        meter="",
        steps=(),
        readings=(),
        heads=HEADS[:3],
        sign=(),
    )


def combined(rows: Sequence[CardBurner]) -> tuple[CardBurner, ...]:
    """Burners whose rows differ in the name alone as one row, so that a long appliance still fills one page."""
    known: dict[CardBurner, list[CardBurner]] = {}
    for row in rows:
        known.setdefault(replace(row, names=(), orifices=0), []).append(row)
    return tuple(_together(first, same) for first, same in known.items())


def _together(first: CardBurner, same: Sequence[CardBurner]) -> CardBurner:
    count = sum(row.orifices for row in same)
    pieces = Phrase("{count} pieces", count=count) if count > 1 and first.expected else ""
    return replace(
        first, names=tuple(one for row in same for one in row.names), orifices=count, pieces=pieces
    )


# burners


def _meter_words(c: Conversion, meter: DialTimes, system: System) -> str:
    """Dial and conditions of the times; of LP gas what a scale reads instead."""
    words = meter.words(min(b.aim_gross_W for b in c.burners) * (1.0 + c.tolerance_low), system)
    mass = meter.mass_text(c.headline.heat_input_gross_W, system)
    if not mass:
        return words
    band = meter.mass_band_text(*_together_W(c), system)
    weighed = Phrase(
        "Without a meter: weigh the cylinder, {mass} ({band}) with all on.", mass=mass, band=band
    )
    return joined(" ", (words, weighed))


STAYS = Phrase("nothing")  # is taken out where the present orifice is the new one


def _burner(
    c: Conversion, b: BurnerConversion, alone_W: float, meter: DialTimes, system: System
) -> CardBurner:
    low, high = (b.aim_gross_W * (1.0 + end) for end in (c.tolerance_low, c.tolerance))
    drill, present_m = clean(b.choice.drill, 16), b.from_orifice_m
    return CardBurner(
        names=(clean(b.name, LONGEST),),
        orifices=b.count * b.orifice_count,
        kind=Phrase("{count} orifices each", count=b.orifice_count) if b.orifice_count > 1 else "",
        take_out=STAYS
        if b.stays
        else NOT_GIVEN
        if present_m is None
        else tied(_present(b, present_m, system)),
        put_in=Phrase("{drill} stays", drill=drill) if b.stays else drill,
        bore=joined(", ", filter(None, (clean(b.part, 24), _stamp(c, b), bore_words(b, system)))),
        shutter=_shutter(c, b),
        power=tied(POWER.scale(system).text(alone_W * basis_of(c).new)),
        seconds=tied(meter.band_text(low, high)),
        expected=tied(meter.expected_text(alone_W, low)),
        weighed=tied(_weighed(c, meter, alone_W, (low, high), system)),
    )


def _unfitted(b: BurnerConversion, why: str, system: System) -> CardBurner:
    """A burner of a card that says to fit nothing: no size, no time and no box beside that; why : "" where one fits."""
    return CardBurner(
        names=(clean(b.name, LONGEST),),
        orifices=b.count * b.orifice_count,
        kind=Phrase("{count} orifices each", count=b.orifice_count) if b.orifice_count > 1 else "",
        take_out=NOT_GIVEN if b.from_orifice_m is None else _present(b, b.from_orifice_m, system),
        put_in=NONE_FITS if why else NOTHING_YET,
        bore=clean(in_reader_units(why, system)),
        shutter="",
        power="",
        seconds="",
        expected="",
    )


def _weighed(
    c: Conversion, meter: DialTimes, alone_W: float, band_W: tuple[float, float], system: System
) -> str:
    """Mass that one burner alone takes from a cylinder, with its band; "" for a gas that comes from none."""
    mass = meter.mass_text(alone_W, system)
    if not mass or len(c.burners) > MOST_WEIGHED:
        return ""
    return Phrase("or {mass} ({band})", mass=mass, band=meter.mass_band_text(*band_W, system))


def _stamp(c: Conversion, b: BurnerConversion) -> str:
    """The mark of the new orifice where it is not the name of its drill."""
    if not is_stamped(b.choice.mark, c.region):
        return ""
    return Phrase("mark {mark}", mark=hundredths(b.choice.diameter_m))


def _present(b: BurnerConversion, bore_m: float, system: System) -> str:
    return clean(b.from_drill, 16) or BORE.scale(system).text(bore_m)


def tied(text: str) -> str:
    """A text whose figures stay on one line with their units and with what these are per.

    >>> tied("12 400 Btu/h, 12 min 12 s to 13 min 29 s").replace(TIE, "_").replace(JOIN, "|")
    '12_400_Btu/|h, 12_min_12_s to 13_min_29_s'
    """
    return applied(_tied, text)


def _tied(text: str) -> str:
    spaced = re.sub(r"(?<=\d) (?=\S)(?!to )|(?<=min) (?=\d)", TIE, text)
    return re.sub(r"(?<=[A-Za-z])/(?=[a-z])", f"/{JOIN}", spaced)


def _alone_W(c: Conversion) -> dict[str, float]:
    """Gross heat input of one burner of each kind, every other off, as the test plan expects it [W].

    At the nominal pressure where the supply cannot be solved.
    """
    nominal_W = {b.name: b.predicted_gross_W for b in c.burners}
    if c.job is None:
        return nominal_W
    after = changed_by(c.job, steps_of(c.job))
    with suppress(UserError):
        return {b.name: float(expected_input(after, b.name).each_W[0]) for b in c.burners}
    return nominal_W


def bore_words(b: BurnerConversion, system: System) -> str:
    """The bore of the new orifice with the ends of its drill's tolerance, ``1.000 mm +0 −0.013``."""
    taken, scale = b.choice, BORE.scale(bore_system(b.choice.drill, system))
    ends = (
        taken.diameter_m * ((end / taken.heat_input_gross_W) ** 0.5 - 1.0)
        for end in (taken.drill_tolerance_high_gross_W, taken.drill_tolerance_low_gross_W)
    )
    over, under = (fixed(abs(scale.of(end)), scale.places) for end in ends)
    plus, minus = ("0" if not float(end) else end for end in (over, under))
    return f"{scale.text(taken.diameter_m)} +{plus} \u2212{minus}"


def _shutter(c: Conversion, b: BurnerConversion) -> str:
    """Where the shutter starts: as it stands when it holds every limit, else the nearest opening that does."""
    if c.evaluation is None:
        return NO_FLAMES
    flames = c.evaluation.flames_of(b.name)
    setting = None if flames is None else flames.shutter
    if flames is None:
        return NO_PORTS
    if setting is None:
        burners = () if c.job is None else c.job.appliance.burners
        present = next((one.shutter for one in burners if one.name == b.name), None)
        if present is None:
            return NO_SHUTTER
        return Phrase(
            "{opening} in the file, limits not evaluated: burner off and cool, set by flame test",
            opening=f"{100 * present.opening:.0f} %",
        )
    now = "" if setting.opening is None else f"{100 * setting.opening:.0f} %"
    if setting.low is None or setting.high is None:
        return Phrase("{opening} now: {none}", opening=now, none=NO_OPENING) if now else NO_OPENING
    if setting.opening is None or setting.high - setting.low < LEAST_TRAVEL:
        return opening_text(setting.low, setting.high)
    first, last = whole_percents(setting.low, setting.high)
    start = min(max(round(100 * setting.opening), first), last)
    return joined("", (f"{start}\u00a0% (", opening_ends(setting.low, setting.high), ")"))


def _outside(c: Conversion, system: System) -> tuple[str, str]:
    """What is outside on the unit as it will burn: what an engineer decides before, then what a test decides when lit.

    The orifices that are fitted burn both gases of a couple: what is outside on the other one stands here too.
    """
    checks = outside_in_words(conversion_in(c, system))
    of_both = list(checks)
    other = other_of_couple(c)
    if other is not None:
        gas, words = clean(other.to_gas.name, LONGEST), {one.words for one in checks}
        beside = outside_in_words(conversion_in(evaluate_conversion(other), system))
        of_both += [
            one._replace(words=Phrase("{check} on {gas}", check=one.words, gas=gas))
            for one in beside
            if one.words not in words
        ]
    each = sorted(of_both, key=attrgetter("danger"))  # of both gases by danger
    before, when_lit = (
        joined("; ", [one.words for one in each if one.test_decides is is_left]) for is_left in (False, True)
    )
    return (
        joined(" ", (Phrase("Calculated OUTSIDE: {checks}.", checks=before), DECIDES)) if before else "",
        Phrase(
            "Look and measure here first when lit, OUTSIDE by an estimate that leaves it open: {checks}. If it is so: "
            "burner off, gas shut off, an engineer decides.",
            checks=when_lit,
        )
        if when_lit
        else "",
    )


def _notes(c: Conversion) -> Iterator[str]:
    """What belongs to every orifice: no altitude rule, one for two gases, one that is not the nearest, none at all."""
    if c.altitude is not None and c.altitude.warning:
        yield c.altitude.warning
    if c.pressure_couple is not None:
        couple = c.pressure_couple
        yield Phrase(
            "One orifice for both gases of the couple {couple}: it is never enlarged for {gas}.",
            couple=f"{clean(couple.nominal)} mbar",
            gas=clean(couple.other_gas),
        )
    if not_to_fit(c):
        yield MEND
    if tight := [clean(f.burner, LONGEST) for f in c.findings if f.topic == PRESSURE_ROOM]:
        yield Phrase(
            "Manifold pressure expected at the end of its band: {burners}. A unit without a fault may be stopped; an "
            "engineer decides.",
            burners=", ".join(tight),
        )
    yield from (nearest_words(step, c.job) for step in c.steps if step.nearest is not None)
    yield from _not_evaluated(c)


def _not_evaluated(c: Conversion) -> Iterator[str]:
    """Burners whose flame or tile is not evaluated on the new gas, in one line: nothing outside is no result."""
    if c.evaluation is None:
        yield Phrase("Not evaluated: flames of every burner.")
        return
    by_words: dict[str, list[str]] = {}
    for b in c.burners:
        known = c.evaluation.flames_of(b.name) is not None
        topics = {
            OF_FLAME[topic]
            for q in c.not_evaluated
            if q.burner == b.name
            and "present gas" not in q.topic
            and (topic := q.topic.partition(",")[0]) in OF_FLAME
        }
        topics |= set() if known else {FLAME, LIGHT_BACK}
        words = joined(", ", (one for one in dict.fromkeys(OF_FLAME.values()) if one in topics))
        if words:
            by_words.setdefault(words, []).append(clean(b.name, LONGEST))
    if by_words:
        which = [joined("", (", ".join(names), " (", words, ")")) for words, names in by_words.items()]
        yield Phrase("Not evaluated: {burners}.", burners=joined("; ", which))


# steps


class _Form(NamedTuple):
    """A prompt: the pattern of its full text, its short form, and the caution whose first words stand before it."""

    pattern: re.Pattern[str]
    short: str
    caution: Caution | None


@cache
def _forms() -> tuple[_Form, ...]:
    by_id = {one.id: one for one in cautions()}
    return tuple(
        _Form(pattern(row["text"]), row["short"], by_id.get(row["caution"])) for row in tables.rows("prompts")
    )


def _steps(c: Conversion, system: System) -> Iterator[CardStep]:
    """The steps of the sheet in short, each with the first words of its caution."""
    all_on_Pa = _all_on_Pa(c)
    own = {
        "gas": name(gas_words(c.to_gas.title)),
        "pressure": pressure(c.to_gauge_pressure_Pa).scale(system).text(c.to_gauge_pressure_Pa),
        "manifold": pressure(all_on_Pa).scale(system).text(all_on_Pa),
    }
    yield from (_step(in_reader_units(prompt, system), own) for prompt in texts_in(c, system).prompts)


def _step(prompt: str, own: Mapping[str, str]) -> CardStep:
    """A prompt as a step; one that the table does not have is printed as it is."""
    for form in _forms():
        found = form.pattern.fullmatch(prompt)
        if found is not None:
            text = clean(Phrase(form.short, **{**found.groupdict(), **own}))
            return CardStep(text=text, caution=form.caution)
    return CardStep(text=clean(prompt))


# readings


def _readings(c: Conversion, meter: DialTimes, system: System, most: str) -> Iterator[CardReading]:
    """What is read and looked at once the burners are lit, in the order of the work."""
    yield from _pressures(c, system)
    low, high = _together_W(c)
    total = c.headline.heat_input_gross_W
    yield CardReading(
        what=Phrase("All burners on, {basis}: one turn", basis=basis_of(c).word),
        expected=f"{POWER.scale(system).text(total * basis_of(c).new)}: {meter.time_text(total)}",
        band=meter.band_text(low, high),
    )
    yield CardReading(
        what=Phrase("Flames cold, and after {time}", time="15 min"),
        expected=_nearest(c),
        band=Phrase("on every port, no lift, no yellow tips"),
    )
    yield CardReading(
        what=Phrase("Low rate, turned down from full"),
        expected=Phrase("a flame on every port"),
        band=Phrase("does not go out or light back"),
    )
    yield CardReading(
        what=Phrase("Air-free CO; O2"),
        expected=Phrase("not calculated"),
        band=Phrase("at most {most}", most=most) if most else limit_to_name(),
    )


def _together_W(c: Conversion) -> tuple[float, float]:
    """Ends of the band of all burners together, gross [W]."""
    aim = sum(b.aim_gross_W * b.count for b in c.burners)
    return aim * (1.0 + c.tolerance_low), aim * (1.0 + c.tolerance)


def limit_to_name() -> str:
    """A line for the limit of carbon monoxide where none is named, and by which the bench stops without one."""
    limit = f"{fixed(1e6 * limit_without_kind(), 0)} ppm"
    return Phrase("your standard: ____; bench: {limit}", limit=limit)


def _pressures(c: Conversion, system: System) -> Iterator[CardReading]:
    nominal = c.to_gauge_pressure_Pa
    scale = pressure(nominal).scale(system)
    low, high = c.to_gauge_pressure_low_Pa, c.to_gauge_pressure_high_Pa
    yield CardReading(
        what=Phrase("Manifold, all on"),
        expected=scale.text(_all_on_Pa(c)),
        band=_pressure_limits(c, system),
    )
    if low is not None and high is not None:
        span = pressure_span(low, high, system)
        yield CardReading(
            what=Phrase("Supply test range"), expected=Phrase("for tests, not to set"), band=span
        )
    lock_up = next((f for f in c.findings if f.topic == "lock-up" and f.which_gas == "new"), None)
    off, most = (
        (_gauge(lock_up, "value", system), pressure_end(highest_of_supply_Pa(c), "high", system))
        if lock_up
        else (NOT_KNOWN, "")
    )
    yield CardReading(
        what=Phrase("Manifold, all off"),
        expected=off,
        band=Phrase("at most {most}", most=most) if most else Phrase("by the maker"),
    )
    train = c.job.new_train.train if c.job is not None else None
    inlet = None if train is None else train.inlet_gauge_pressure_Pa
    yield CardReading(
        what=Phrase("Inlet, all on"),
        expected=NOT_KNOWN if inlet is None else _assumed(c, pressure(inlet).scale(system).text(inlet)),
        band=Phrase("by the rating plate"),
    )


def _assumed(c: Conversion, inlet: str) -> str:
    """An inlet pressure, with a word where no file gives it."""
    is_assumed = c.job is not None and c.job.new_train.open
    return Phrase("{pressure}, assumed", pressure=inlet) if is_assumed else inlet


def _all_on_Pa(c: Conversion) -> float:
    """Manifold pressure that is expected with every burner on: calculated, or the nominal where no supply is solved."""
    solved = c.evaluation.pressures_of("new") if c.evaluation is not None else None
    return c.to_gauge_pressure_Pa if solved is None else solved.manifold_gauge_pressure_Pa


def highest_of_supply_Pa(c: Conversion) -> float:
    """Highest manifold pressure after a conversion, gauge: above it the gas is shut off at once [Pa]."""
    if c.job is None:
        return c.to_gauge_pressure_high_Pa or bench_limit("overfire").high ** 2 * c.to_gauge_pressure_Pa
    return highest_pressure_Pa(changed_by(c.job, steps_of(c.job)))


def card_band(c: Conversion) -> PressureBand:
    """Manifold pressures, all on, that card and plan both print, or why there are none.

    Every burner's heat input lies within its band at them, on together with the others and alone.
    """
    burners = [
        replace(b, name=clean(b.name, LONGEST), choice=replace(b.choice, drill=clean(b.choice.drill, 16)))
        for b in c.burners
    ]
    band = pressure_band(c, burners, over_aim(c), _all_on_Pa(c), highest_of_supply_Pa(c))
    row = None if band.reason or c.job is None else plan_of(c).pressure_row("")
    return band if row is None else PressureBand(low_Pa=row.low, high_Pa=row.high)


def _pressure_limits(c: Conversion, system: System) -> str:
    """Band and highest of the manifold pressure, all on, each with its act."""
    band, highest_Pa = card_band(c), highest_of_supply_Pa(c)
    if band.reason:
        return no_band_limits(band.reason, highest_Pa, system)
    return pressure_limits(band.low_Pa, band.high_Pa, highest_Pa, system)


def _gauge(f: Finding, end: str, system: System) -> str:
    """A gauge pressure of a check in the reader's unit."""
    value = getattr(f, end)
    if value is None:
        return ""
    unit = f.unit.removesuffix(" gauge")
    value_Pa = float(read(f"{value!r} {unit}", Kind.GAUGE_PRESSURE, key=f.topic))
    return pressure(value_Pa).scale(system).text(value_Pa)


def _nearest(c: Conversion) -> str:
    """The limit of the flame that is nearest on the new gas, and where."""
    found = [
        (warm.nearest_margin.value, warm, one.burner)
        for one in (c.evaluation.flames if c.evaluation is not None else ())
        if (warm := one.warm_up("new")) is not None and warm.nearest_margin is not None
    ]
    if not found:
        return Phrase("look; no margin is calculated")
    margin, warm, burner = min(found, key=lambda row: row[0])
    where = joined(", ", (clean(burner, LONGEST), moment_words(warm.nearest_moment)))
    return Phrase(
        "nearest: {limit}, {where}, margin {margin}",
        limit=moment_words(warm.nearest_limit),
        where=where,
        margin=margin_text(margin),
    )
