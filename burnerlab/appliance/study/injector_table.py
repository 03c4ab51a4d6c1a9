"""The injector table of a manual: what to fit for each gas, pressure and altitude, and what it then burns."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import reduce
from operator import itemgetter

from burnerlab.appliance.conversion.convert import altitude_of, assemble
from burnerlab.appliance.conversion.evaluation import evaluate_conversions
from burnerlab.appliance.conversion.gas_facts import AnyGas
from burnerlab.appliance.conversion.job import Job, prepare
from burnerlab.appliance.conversion.markets import MarketTarget, targets_of
from burnerlab.appliance.conversion.orifice_choice import as_built_steps, steps_of
from burnerlab.appliance.conversion.refusal import decision_on, gravest, refusals_of_job
from burnerlab.appliance.conversion.result import Altitude, Step, coefficients_of
from burnerlab.appliance.conversion.target import ConversionTarget
from burnerlab.appliance.operation.supply_pressures import (
    BUTANE_AND_PROPANE,
    SupplyPressure,
    both_gases,
    couple_of,
    for_country,
    pressures_of,
    same_pressure,
)
from burnerlab.appliance.project.model import Appliance
from burnerlab.gas.library import gas_of
from burnerlab.orifice.altitude import FULL_RATING
from burnerlab.orifice.drill import hundredths, none_fits_words, orifice_words
from burnerlab.quantity import Basis, Kind, Quantity, si
from burnerlab.quantity.outputs import output
from burnerlab.quantity.quantity_text import QuantityText, kilowatt, millimetre, quoted
from burnerlab.quantity.summary import Summary, WithSummary, figure
from burnerlab.tables.cautions import closing_cautions
from burnerlab.tables.phrase import Phrase, joined
from burnerlab.tables.verdict import Verdict

THREE_DIGITS = "#.3g"
NO_COUNTRY = Phrase("not named")
BEFORE_REGULATOR = "NA"  # region whose rows are test pressures at the inlet, a regulator behind it
LEAST_EXCHANGE = 1.05  # times the rating, below which an orifice left in overfires nothing
TEST_GAS = re.compile(r"G\d+(?:\.\d+)?")  # known by its name: any other by its title


@dataclass(frozen=True, slots=True, kw_only=True)
class Supplied:
    """A gas and the pressure it is supplied at, with the words the table shows for it."""

    gas: AnyGas = field(metadata=output("gas"))
    gauge_pressure_Pa: float = field(metadata=output("gauge pressure", Kind.GAUGE_PRESSURE))
    words: str = field(default="", metadata=output("supply"))
    supply: SupplyPressure | None = None
    countries: tuple[str, ...] = field(default=(), metadata=output("countries"))
    """Codes of those that are named and supply it."""
    market: MarketTarget | None = None
    """That of the file which it is; its orifices are those of the market."""
    group: str = ""  # of gases, as a table names it


@dataclass(frozen=True, slots=True, kw_only=True)
class InjectorRow:
    """What one kind of burner gets for one gas, pressure and altitude; figures are for one burner.

    The orifice is the one that the conversion takes: card, plate and kit name the same. On gas, pressure and place of
    the file it is the file's own.
    """

    country: str = field(metadata=output("country"))
    """Codes of the countries named that supply it so, "" where none is named."""
    supply: str = field(metadata=output("supply"))
    altitude_m: float = field(metadata=output("altitude", Kind.LENGTH, unit="m"))
    burner: str = field(metadata=output("burner"))
    count: int = field(metadata=output("burners of the kind"))
    orifice_count: int = field(metadata=output("orifices of a burner"))
    gas: str = field(metadata=output("gas"))
    gauge_pressure_Pa: float = field(metadata=output("gauge pressure", Kind.GAUGE_PRESSURE))
    drill: str = field(metadata=output("orifice"))
    """The drill, or the orifice of a stock, that is fitted; for this gas and pressure alone."""
    orifice_diameter_m: float = field(metadata=output("its diameter", Kind.DIAMETER))
    injector_mark: int = field(metadata=output("mark, 1/100 mm"))
    """Of that orifice."""
    exact_diameter_m: float = field(metadata=output("exact diameter", Kind.DIAMETER))
    gauge_pressure_low_Pa: float | None = field(metadata=output("lowest pressure", Kind.GAUGE_PRESSURE))
    gauge_pressure_high_Pa: float | None = field(metadata=output("highest pressure", Kind.GAUGE_PRESSURE))
    pressure_couple: str = field(metadata=output("pressure couple"))
    """The couple whose one injector this is, "" for none."""
    sized_on: str = field(metadata=output("sized on"))
    """The gas and pressure the injector is sized on."""
    heat_input_gross_W: float = field(metadata=output("heat input", Kind.POWER, basis="gross"))
    """With that orifice."""
    heat_input_net_W: float = field(metadata=output("heat input", Kind.POWER, basis="net"))
    deviation: float = field(metadata=output("deviation", Kind.FRACTION, is_change=True))
    """Of that heat input from the rating after the altitude policy [-]."""
    mass_flow_kg_per_s: float = field(metadata=output("mass flow", Kind.MASS_FLOW))
    volume_flow_m3_per_s: float = field(metadata=output("volume flow", Kind.REFERENCE_VOLUME_FLOW))
    """At the reference state of the table."""
    is_lpg: bool = field(metadata=output("liquefied gas"))
    """Consumption is then printed in g/h, else in L/h."""
    part: str = field(default="", metadata=output("part number"))
    """Of that orifice, where it is from the user's own stock."""
    region: str = field(default="", metadata=output("region"))
    """Of its market, else of the file."""
    gas_title: str = field(default="", metadata=output("gas in words"))
    altitude_policy: str = field(default="", metadata=output("altitude policy"))
    """Of its market, else of the file; "" for none chosen."""
    none_fits: str = field(default="", metadata=output("no drill meets"))
    """Why that orifice is not to be fitted, "" where it fits."""
    is_as_built: bool = field(default=False, metadata=output("orifice of the file"))
    """Whether it is the present one, on the present supply."""
    couple_factor: float = field(default=1.0, metadata=output("of the rating, by the couple"))
    """What the orifices of a couple's first gas leave of the rating on its second [-]."""
    checks_outside: str = field(default="", metadata=output("other checks outside"))
    decision: str = ""  # who decides on them
    """By their names, of the burner with that orifice; "" for none."""

    @property
    def gas_at_pressure(self) -> str:
        """The gas and pressure beside the orifice: it fits no other."""
        return gas_at_pressure(gas_label(self.gas, self.gas_title), self.gauge_pressure_Pa)

    @property
    def mark(self) -> str:
        """The name of the orifice, with its part number where it is of a stock."""
        return f"{self.drill} ({self.part})" if self.part else self.drill

    @property
    def fitted(self) -> str:
        """The orifice and how it is stamped, as every paper has it."""
        words = orifice_words(self.mark, self.orifice_diameter_m, self.region)
        if self.none_fits and self.is_as_built:
            return Phrase("{orifice} as built is outside its band, do not fit", orifice=words)
        return none_fits_words(words) if self.none_fits else words

    @property
    def fitted_or_not(self) -> str:
        """The same, with OUTSIDE where a check of the burner is, on which an engineer decides."""
        return joined(", ", (self.fitted, Verdict.OUTSIDE.emphatic)) if self.checks_outside else self.fitted

    @property
    def has_figures(self) -> bool:
        """Whether its heat input is of an orifice that is fitted, and not of the nearest where none fits."""
        return not self.none_fits or self.is_as_built

    @property
    def altitude_words(self) -> str:
        """The altitude, in the unit of the reader."""
        return height(self.altitude_m)

    @property
    def altitude_rule(self) -> str:
        """The rule of the row as a paper has it; that which keeps the rating says what it does to the bores."""
        return rule_words(self.altitude_policy)

    @property
    def country_words(self) -> str:
        """The countries, or that none is named."""
        return self.country or NO_COUNTRY

    @property
    def exact_bore(self) -> QuantityText:
        """The exact diameter in mm, for a column."""
        return millimetre(self.exact_diameter_m, ".3f", has_unit=False)

    @property
    def consumption(self) -> QuantityText:
        """What a manual prints: g/h for liquefied gases, L/h at the reference state for the others."""
        if self.is_lpg:
            return quoted(self.mass_flow_kg_per_s, Kind.MASS_FLOW, "g/h", THREE_DIGITS)
        return quoted(self.volume_flow_m3_per_s, Kind.VOLUME_FLOW, "L/h", THREE_DIGITS)

    def heat_input_column(self, basis: Basis) -> QuantityText:
        """In kW on a basis, for a column."""
        power_W = self.heat_input_net_W if basis == "net" else self.heat_input_gross_W
        return kilowatt(power_W, THREE_DIGITS, has_unit=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class PolicyMarks:
    """Injector marks under an altitude policy, in the order of the burners; the first of a place is for sea level."""

    country: str = field(metadata=output("country"))
    supply: str = field(metadata=output("supply"))
    altitude_m: float = field(metadata=output("altitude", Kind.LENGTH, unit="m"))
    policy: str = field(metadata=output("policy"))
    """"" is the bore for sea level."""
    rating_factor: float | None = field(metadata=output("of the rating"))
    """None where the policy says nothing there [-]."""
    why_none: str = field(metadata=output("why there is none"))
    injector_marks: tuple[int, ...] = field(
        metadata=output("marks, 1/100 mm, burners in the order of the file")
    )
    orifices: tuple[str, ...] = field(
        default=(), metadata=output("orifices, burners in the order of the file")
    )


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class InjectorTable(WithSummary):
    """All rows, by gas and pressure, then altitude, then burner."""

    appliance: str = field(metadata=output("appliance"))
    rating_basis: Basis = field(metadata=output("rated"))
    reference: str = field(metadata=output("volumes at"))
    altitude_policy: str | None = field(metadata=output("altitude policy"))
    """That of every row; None: not chosen, or each market its own."""
    altitude_policies: tuple[PolicyMarks, ...] = field(metadata=output("altitude policies"))
    """What altitude does to the marks, for each gas, pressure and altitude."""
    altitude_warnings: tuple[str, ...] = field(metadata=output("no altitude rule chosen"))
    """Where bores for sea level stand at an altitude at which a rule lowers the rating."""
    altitude_only: tuple[str, ...] = field(metadata=output("for one altitude only"))
    """Of bores by a rule, with what they give above the rating at sea level."""
    rows: tuple[InjectorRow, ...] = field(metadata=output("rows"))
    # whether drills, altitude and its rule are the file's, so that card, plate and kit name the same orifices
    is_of_file: bool = field(metadata=output("as card, plate and kit"))
    sources: tuple[str, ...] = field(metadata=output("sources of the pressures"))
    not_known: tuple[str, ...] = field(default=(), metadata=output("groups without a row"))
    """Groups of the categories or countries named, of which no supply pressure is known here."""
    coefficient_sources: tuple[str, ...] = field(default=(), metadata=output("coefficients from"))

    @property
    def has_own_altitude_rules(self) -> bool:
        """Whether rows of one market are by another altitude rule than those of the next."""
        return len({row.altitude_policy for row in self.rows}) > 1

    @property
    def deviation_head(self) -> str:
        """Of the column of deviations: what they are from."""
        return Phrase("From the aim") if self.aim_note else Phrase("From the rating")

    @property
    def aim_note(self) -> str:
        """What the aim is where altitude acts, or the second gas of a couple gives less; "" elsewhere."""
        altitude = Phrase(
            "The aim is the rating times the share that the altitude rule leaves; without a rule, times that which a "
            "bore for sea level gives at the altitude."
        )
        couple = Phrase(
            "On the second gas of a couple that gives less than the band allows, the aim is what the orifices of the "
            "first gas leave of the rating."
        )
        has_less = any(row.couple_factor < 1.0 for row in self.rows)
        return joined(" ", ((altitude,) if self.altitude_policies else ()) + ((couple,) if has_less else ()))

    @property
    def own_pressure_note(self) -> str:
        """That an orifice fits no other gas or pressure, with the worst exchange of this table.

        The other gas comes at its own pressure, by its own regulator; heat input goes with the area of the bore.
        """
        note = Phrase(
            "An orifice fits its own gas and pressure alone (of a pressure couple, its two gases). "
            "Read country, gas and pressure next to its mark."
        )
        exchanges = [
            ((left.orifice_diameter_m / right.exact_diameter_m) ** 2, left, right)
            for left in self.rows
            for right in self.rows
            if _can_be_exchanged(left, right)
        ]
        times, left, right = max(exchanges, key=itemgetter(0), default=(1.0, None, None))
        if left is None or right is None or times < LEAST_EXCHANGE:
            return note
        worst = Phrase(
            "The worst: the one for {gas}, left in for {other}, gives about {times} times the rating ({burner}).",
            gas=left.gas_at_pressure,
            other=right.gas_at_pressure,
            times=f"{times:.1f}",
            burner=left.burner,
        )
        return joined(" ", (note, worst))

    @property
    def outside(self) -> tuple[str, ...]:
        """What nobody may fit or leave in, a line for each supply: orifices as built first."""
        found: dict[tuple[bool, str], list[str]] = {}
        for row in self.rows:
            if row.none_fits:
                found.setdefault((not row.is_as_built, row.supply or row.gas_at_pressure), []).append(
                    row.burner
                )
        return tuple(
            _outside_words(names, supply, is_as_built=not is_new)
            for (is_new, supply), names in sorted(found.items(), key=lambda each: each[0][0])
        )

    @property
    def decision(self) -> str:
        """Who decides on the orifices with a check OUTSIDE, an engineer or a test when lit; "" where there is none."""
        marked = sum(bool(row.checks_outside) for row in self.rows)
        if not marked:
            return ""
        counted = Phrase("{count} of {all} rows have a check OUTSIDE.", count=marked, all=len(self.rows))
        return joined(" ", (counted, gravest(row.decision for row in self.rows)))

    def summary(self) -> Summary:
        table = (
            ("country", "supply", "altitude", "burner", "orifice", f"heat input {self.rating_basis}"),
            *(
                (
                    r.country_words,
                    r.supply,
                    r.altitude_words,
                    r.burner,
                    r.fitted_or_not,
                    figure(
                        r.heat_input_net_W if self.rating_basis == "net" else r.heat_input_gross_W, Kind.POWER
                    ),
                )
                for r in self.rows
            ),
        )
        lines = (
            *filter(None, (self.decision,)),
            self.own_pressure_note,
            *(one.line for one in closing_cautions("injectors")),
        )
        return Summary(f"{self.appliance}: {len(self.rows)} rows", table, lines)


def _can_be_exchanged(left: InjectorRow, right: InjectorRow) -> bool:
    """Whether the orifice of one row may be left in a burner that another row is of, on another supply."""
    same_couple = left.pressure_couple and (left.pressure_couple, left.sized_on) == (
        right.pressure_couple,
        right.sized_on,
    )
    return left.burner == right.burner and left.altitude_m == right.altitude_m and not same_couple


def _outside_words(burners: Sequence[str], supply: str, *, is_as_built: bool) -> str:
    if is_as_built:
        return Phrase(
            "{supply}: the orifice as built is outside its band, do not leave it in: {burners}",
            supply=supply,
            burners=joined(", ", burners),
        )
    return Phrase(
        "{supply}: no orifice fits, do not fit: {burners}", supply=supply, burners=joined(", ", burners)
    )


def supplied(gas: AnyGas | str, gauge_pressure_Pa: Quantity, words: str = "") -> Supplied:
    """A gas at a pressure, with words for a table.

    gas : a gas, or the name of one in the library; gauge_pressure_Pa : nominal, at the manifold [Pa]
    words : in place of those made of both. Raises UserError for a name or a text that cannot be read.

    >>> supplied("G31", 3700.0).words
    'G31 at 37 mbar'
    """
    pressure_Pa = si(gauge_pressure_Pa, Kind.GAUGE_PRESSURE, "gauge_pressure_Pa")
    known: AnyGas = gas_of(gas)
    return Supplied(
        gas=known,
        gauge_pressure_Pa=pressure_Pa,
        words=words or gas_at_pressure(gas_label(known.name, known.title), pressure_Pa),
    )


def at_pressure(gauge_pressure_Pa: float) -> str:
    """A supply pressure, in the unit of the reader: 7 in w.c. of a file is 7.00 in w.c."""
    return quoted(gauge_pressure_Pa, Kind.GAUGE_PRESSURE, "mbar", ".3g")


def rule_words(policy: str) -> str:
    """An altitude policy as a paper has it.

    >>> rule_words(""), rule_words("none")
    ('none chosen', 'none: full rating, bores enlarged for altitude')
    """
    if policy == FULL_RATING:
        return Phrase("none: full rating, bores enlarged for altitude")
    return policy or Phrase("none chosen")


def height(altitude_m: float) -> str:
    """An altitude, in the unit of the reader."""
    return quoted(altitude_m, Kind.LENGTH, "m", ".0f", US_unit="ft")


def gas_label(name: str, title: str) -> str:
    """What a table calls a gas: a test gas by its name, any other by its title.

    >>> gas_label("G20", "G20, methane test gas"), gas_label("propane", "Propane, pure")
    ('G20', 'Propane, pure')
    """
    return name if TEST_GAS.fullmatch(name) else title or name


def gas_at_pressure(label: str, gauge_pressure_Pa: float) -> str:
    """A gas and its pressure, in the unit of the reader."""
    return Phrase("{gas} at {pressure}", gas=label, pressure=at_pressure(gauge_pressure_Pa))


def supplies_of(rows: Iterable[SupplyPressure]) -> tuple[Supplied, ...]:
    """Rows of supply pressures with their reference gases; a gas and pressure stands once, and once in each couple."""
    return _supplies_in(("", row) for row in rows)


def _supplies_in(rows: Iterable[tuple[str, SupplyPressure]]) -> tuple[Supplied, ...]:
    """The same with the country of each row: countries with one gas, pressure, couple and range share a Supplied."""
    found: dict[tuple[object, ...], list[tuple[str, SupplyPressure]]] = {}
    for country, row in ((country, one) for country, listed in rows for one in both_gases(listed)):
        span = (row.low_Pa, row.high_Pa) if country else ()
        found.setdefault((row.reference_gas, row.nominal_Pa, row.couple, span), []).append((country, row))
    return tuple(_shared(several) for several in found.values())


def _shared(rows: Sequence[tuple[str, SupplyPressure]]) -> Supplied:
    row = rows[0][1]
    countries = tuple(dict.fromkeys(country for country, _ in rows if country))
    named = [one.category for _, one in rows] if countries else [row.category]
    groups = reduce(
        lambda first, last: Phrase("{first} or {last}", first=first, last=last), dict.fromkeys(named)
    )
    is_named = (
        row.couple and row.category != BUTANE_AND_PROPANE
    )  # that has one pressure, which stands beside it
    group = joined(" ", (groups, row.couple)) if is_named else groups
    case = supplied(row.reference_gas, row.nominal_Pa)
    return replace(
        case,
        words=Phrase("{group}, {supply}", group=group, supply=case.words),
        supply=row,
        countries=countries,
        group=group,
    )


def country_supplies(*codes: str) -> tuple[Supplied, ...]:
    """Gases and pressures of countries, by two-letter code or name.

    >>> [case.words for case in country_supplies("DK")]
    ['1a, G110 at 8 mbar', '2H, G20 at 20 mbar', '3B/P, G30 at 30 mbar', '3B/P, G31 at 30 mbar']
    """
    known = [for_country(code) for code in codes]
    return _supplies_in((country.code, row) for country in known for row in country.supplies)


def category_supplies(category: str, countries: Sequence[str] = ()) -> tuple[Supplied, ...]:
    """Gases and nominal pressures of an appliance category such as II2H3+, of every country or of those named.

    category : as on the plate; countries : two letters or names, each row then with its country
    Returns a Supplied for each, none for a category that the table has not. Raises UserError for a country it has not.

    >>> [case.words for case in category_supplies("I3+", ["GB"])]
    ['3+ 28-30/37, G30 at 29 mbar', '3+ 28-30/37, G31 at 37 mbar']
    """
    if not countries:
        return supplies_of(pressures_of(category))
    known = [for_country(code) for code in countries]
    return _supplies_in(
        (country.code, row) for country in known for row in pressures_of(category, [country.code])
    )


def market_supplies(
    appliance: Appliance, markets: Sequence[MarketTarget] | None = None
) -> tuple[Supplied, ...]:
    """Gases and pressures of markets of a file, without any named of each.

    >>> from burnerlab.appliance import demonstration
    >>> [case.words for case in market_supplies(demonstration())][0]
    'bottled propane: Propane, pure at 27.4 mbar'
    """
    return tuple(
        replace(
            case, words=Phrase("{market}: {supply}", market=market.name, supply=case.words), market=market
        )
        for market in (targets_of(appliance) if markets is None else markets)
        for target in market.targets
        for case in (supplied(target.gas, target.gauge_pressure_Pa),)
    )


def injectors(
    appliance: Appliance,
    supplies: Sequence[Supplied],
    altitudes_m: Sequence[Quantity] = (),
    *,
    drills: tuple[str, ...] | None = None,
    altitude_policy: str | None = None,
    markets: Sequence[MarketTarget] = (),
    not_known: Sequence[str] = (),
) -> InjectorTable:
    """Injectors of every burner for each gas, pressure and altitude.

    supplies : gas and nominal pressure pairs; altitudes_m : [m], the place of the file when none is given
    drills, altitude_policy : in place of the file's
    markets : of the file, each of whose gases stands there too, at the altitude and by the rules of its market
    not_known : of what is named, groups that have no row, in words (``not_known`` of the supply pressures)
    Returns an InjectorTable. Raises UserError as ``convert_to`` does.

    >>> from burnerlab.appliance import demonstration
    >>> row = injectors(demonstration(), category_supplies("I3P", ["GB"])).rows[0]
    >>> row.fitted, f"{row.deviation:+.3f}"
    ('#63', '+0.012')
    >>> from burnerlab.appliance.conversion.markets import market_named
    >>> injectors(demonstration(), (), markets=[market_named(demonstration(), "B")]).rows[0].supply
    'continental, third family: G30 at 29 mbar'
    """
    heights = tuple(si(each, Kind.LENGTH, "altitudes_m") for each in altitudes_m)
    places: tuple[float | None, ...] = heights or (None,)
    jobs = [
        (case, _job(appliance, case, altitude, drills, altitude_policy))
        for case in (
            *(_at_own_pressure(appliance, one) for one in supplies),
            *market_supplies(appliance, markets),
        )
        for altitude in places
    ]
    steps = [steps_of(job) for _, job in jobs]
    altitudes = [altitude_of(job, made) for (_, job), made in zip(jobs, steps, strict=True)]
    is_own = drills is None and altitude_policy is None and not heights
    sources = [case.supply.source for case in supplies if case.supply is not None]
    job = jobs[0][1] if jobs else None
    rules = {each.policy.policy for _, each in jobs}
    placed = [(case, altitude) for (case, _), altitude in zip(jobs, altitudes, strict=True)]
    return InjectorTable(
        appliance=appliance.name,
        rating_basis=appliance.rating,
        reference=job.target.reference.words() if job else "",
        altitude_policy=rules.pop() or None if len(rules) == 1 else None,
        rows=tuple(_rows(appliance, jobs, steps, is_own=is_own)),
        is_of_file=is_own,
        altitude_policies=tuple(
            marks
            for (case, job), altitude in zip(jobs, altitudes, strict=True)
            for marks in _policies(case, altitude, job.appliance.region)
        ),
        altitude_warnings=_of_places(placed, lambda altitude: altitude.warning),
        altitude_only=_of_places(placed, lambda altitude: altitude.only),
        sources=tuple(dict.fromkeys(sources)),
        not_known=tuple(not_known),
        coefficient_sources=coefficients_of(step.result for made in steps for step in made),
    )


def _rows(
    appliance: Appliance,
    jobs: Sequence[tuple[Supplied, Job]],
    made: Sequence[tuple[Step, ...]],
    *,
    is_own: bool,
) -> Iterator[InjectorRow]:
    """A row for each burner of each job, with the checks that its flames leave outside."""
    present = [is_own and _is_present(appliance, case) for case, _ in jobs]
    fitted = [
        as_built_steps(job, steps) if is_present else steps
        for (_, job), steps, is_present in zip(jobs, made, present, strict=True)
    ]
    done = evaluate_conversions(
        [assemble(job, steps, "") for (_, job), steps in zip(jobs, fitted, strict=True)]
    )
    for (case, job), steps, evaluated, is_present in zip(jobs, fitted, done, present, strict=True):
        why = refusals_of_job(job, steps)
        for step in steps:
            found = evaluated.outside_of(step.result)
            outside = dict.fromkeys(one.topic for one in found)
            row = _row(job, case, step, why.get(step.burner.name, ""), is_present)
            yield replace(row, checks_outside=", ".join(outside), decision=decision_on(found))


def _job(
    appliance: Appliance,
    case: Supplied,
    altitude_m: float | None,
    drills: tuple[str, ...] | None,
    policy: str | None,
) -> Job:
    market, own = _market_of(appliance, case)
    if own is not None:
        changed = replace(
            own,
            altitude_m=own.altitude_m if altitude_m is None else altitude_m,
            altitude_policy=own.altitude_policy if policy is None else policy,
            drills=own.drills if drills is None else drills,
        )
        return prepare(market, changed)
    target = ConversionTarget(
        gas=case.gas,
        gauge_pressure_Pa=case.gauge_pressure_Pa,
        low_gauge_pressure_Pa=case.supply.low_Pa if case.supply else None,
        high_gauge_pressure_Pa=case.supply.high_Pa if case.supply else None,
        altitude_m=altitude_m,
        altitude_policy=policy,
        drills=drills,
        category=case.supply.category if case.supply and case.supply.couple else "",
        couple=couple_of(case.supply) if case.supply and case.supply.category == BUTANE_AND_PROPANE else None,
        allow_high_pressure=case.supply is not None or appliance.supply.allow_high_pressure,
    )
    return prepare(appliance, target)


def _market_of(appliance: Appliance, case: Supplied) -> tuple[Appliance, ConversionTarget | None]:
    """The market of the file that a case is, by gas, pressure and couple; None for no market.

    A market at exactly the pressure of the case before one at another of the same nominal, as 28 mbar is of 28-30.
    """
    markets = (case.market,) if case.market is not None else targets_of(appliance)
    every = [(market, target) for market in markets for target in market.targets]
    for is_pressure in (_is_at_its_pressure, _is_at_its_nominal):
        for market, target in every:
            if (
                target.gas.name == case.gas.name
                and is_pressure(case, target)
                and _is_paired(case, market, target)
            ):
                return market.appliance, target
    return appliance, None


def _is_at_its_pressure(case: Supplied, target: ConversionTarget) -> bool:
    if case.supply is None or target.couple is None:
        return same_pressure(target.gauge_pressure_Pa, case.gauge_pressure_Pa)
    return all(same_pressure(row.nominal_Pa, own.nominal_Pa) for row, own in _pairs(case.supply, target))


def _is_at_its_nominal(case: Supplied, target: ConversionTarget) -> bool:
    if case.supply is None:
        return False
    if target.couple is None:
        return _spans(case.supply, target.gauge_pressure_Pa)
    return all(_spans(row, own.nominal_Pa) for row, own in _pairs(case.supply, target))


def _spans(row: SupplyPressure, gauge_pressure_Pa: float) -> bool:
    """Whether a pressure lies in a nominal of two ends, such as 28-30 mbar."""
    return row.nominal_from_Pa <= gauge_pressure_Pa <= row.nominal_to_Pa


def _pairs(row: SupplyPressure, target: ConversionTarget) -> Iterator[tuple[SupplyPressure, SupplyPressure]]:
    """Both rows of the couple of a row beside those of the couple of a market."""
    couple, own = couple_of(row), target.couple
    if couple is not None and own is not None:
        yield from ((couple.reference, own.reference), (couple.other, own.other))


def _is_paired(case: Supplied, market: MarketTarget, target: ConversionTarget) -> bool:
    """Whether a market has the orifices of a case: those of the same couple, or of a gas alone."""
    if case.supply is None:  # a second gas alone has an orifice of its own
        return case.market is not None or target is market.target
    couple = couple_of(case.supply)
    if couple is None or target.couple is None:
        return couple is target.couple
    return all(row.reference_gas == own.reference_gas for row, own in _pairs(case.supply, target))


def _at_own_pressure(appliance: Appliance, case: Supplied) -> Supplied:
    """A case that the file has at another pressure: at that of the file.

    A market at another pressure of the same nominal has its own; a country whose pressures are those in front of the
    regulator of the appliance says nothing of the orifice, where the file does.
    """
    if case.market is None and case.supply is not None and case.supply.region == BEFORE_REGULATOR:
        return _behind_regulator(appliance, case, case.supply)
    _, own = _market_of(appliance, case)
    if own is None or case.market is not None or own.gauge_pressure_Pa == case.gauge_pressure_Pa:
        return case
    here = supplied(own.gas, own.gauge_pressure_Pa)
    words = Phrase("{group}, {supply} by the file", group=case.group, supply=here.words)
    return replace(case, gauge_pressure_Pa=own.gauge_pressure_Pa, words=words)


def _behind_regulator(appliance: Appliance, case: Supplied, row: SupplyPressure) -> Supplied:
    """A supply named by its inlet pressure, at the pressure of the file at the orifice; both stand in its words.

    Where the file has none for that gas, the words say what the orifice is for.
    """
    inlet = at_pressure(row.nominal_Pa)
    held = [
        *((target.gas, target.gauge_pressure_Pa, market) for market, target in _single_gases(appliance)),
        (appliance.supply.gas, appliance.supply.gauge_pressure_Pa, None),
    ]
    own = [each for each in held if each[0].name == case.gas.name]
    if not own:
        words = Phrase(
            "{supply}: inlet pressure; the orifice is only for an appliance without a regulator",
            supply=case.words,
        )
        return replace(case, words=words)
    gas, pressure_Pa, market = min(own, key=lambda each: abs(each[1] - row.nominal_Pa))
    here = supplied(gas, pressure_Pa)
    words = Phrase(
        "{group}, inlet {inlet}: {supply} at the orifice by the file",
        group=case.group,
        inlet=inlet,
        supply=here.words,
    )
    return replace(here, words=words, countries=case.countries, group=case.group, market=market)


def _single_gases(appliance: Appliance) -> Iterator[tuple[MarketTarget, ConversionTarget]]:
    """Markets of a file on a gas alone; those of a pressure couple have their pressures from the couple."""
    for market in targets_of(appliance):
        if market.target.couple is None:
            yield market, market.target


def _sized_on(job: Job) -> str:
    gas = gas_label(job.target.gas.name, job.target.gas.title)
    return Phrase("{gas} at {pressure}", gas=gas, pressure=at_pressure(job.target.gauge_pressure_Pa))


def _of_places(
    placed: Sequence[tuple[Supplied, Altitude | None]], text: Callable[[Altitude], str]
) -> tuple[str, ...]:
    """A text of each place once, with the market of the file that the place is of."""
    return tuple(
        dict.fromkeys(
            words if case.market is None else joined(": ", (case.market.name, words))
            for case, altitude in placed
            if altitude is not None and (words := text(altitude))
        )
    )


def _policies(case: Supplied, altitude: Altitude | None, region: str) -> Iterator[PolicyMarks]:
    for row in (altitude.sea_level, *altitude.rows) if altitude else ():
        yield PolicyMarks(
            country=", ".join(case.countries),
            supply=case.words,
            altitude_m=altitude.altitude_m if altitude else 0.0,
            policy=row.policy,
            rating_factor=row.factor,
            why_none=row.why,
            injector_marks=tuple(hundredths(bore.drill_diameter_m) for bore in row.bores),
            orifices=tuple(orifice_words(bore.drill, bore.drill_diameter_m, region) for bore in row.bores),
        )


def _is_present(appliance: Appliance, case: Supplied) -> bool:
    """Whether a case is the supply of the file itself, whose orifices are those that stand in it.

    So is a couple whose first gas that supply is, on both gases, where no market of the file names its orifices.
    """
    if case.market is not None:
        return False
    couple = None if case.supply is None else couple_of(case.supply)
    if couple is None:
        gas, pressure_Pa = case.gas.name, case.gauge_pressure_Pa
    elif _market_of(appliance, case)[1] is None:
        gas, pressure_Pa = couple.reference.reference_gas, couple.reference.nominal_Pa
    else:
        return False
    here = appliance.supply
    return gas == here.gas.name and same_pressure(pressure_Pa, here.gauge_pressure_Pa)


def _outside_as_built(job: Job, deviation: float) -> str:
    return Phrase(
        "as built {deviation} % at the nominal pressure, outside {low} to {high} %",
        deviation=f"{100.0 * deviation:+.1f}",
        low=f"{100.0 * job.tolerance.low:+g}",
        high=f"{100.0 * job.tolerance.high:+g}",
    )


def _row(job: Job, case: Supplied, step: Step, refused_why: str, is_present: bool) -> InjectorRow:
    burner = step.burner
    count, exact = burner.orifice.count, step.sized.diameter_m
    drill, part, diameter_m = step.choice.drill, step.choice.part, step.choice.diameter_m
    fitted, deviation = step.choice.flow, step.choice.deviation
    is_as_built = is_present and not burner.orifice.is_calculated
    if is_as_built:
        refused_why = (
            "" if job.tolerance.low <= deviation <= job.tolerance.high else _outside_as_built(job, deviation)
        )
    return InjectorRow(
        country=", ".join(case.countries),
        gas=case.gas.name,
        supply=case.words,
        gauge_pressure_Pa=case.gauge_pressure_Pa,
        gauge_pressure_low_Pa=job.pressures.low_Pa,
        gauge_pressure_high_Pa=job.pressures.high_Pa,
        altitude_m=job.new_site.pressure_altitude_m,
        burner=burner.name,
        count=burner.count,
        orifice_count=count,
        exact_diameter_m=exact,
        drill=drill,
        part=part,
        none_fits=refused_why,
        orifice_diameter_m=diameter_m,
        injector_mark=hundredths(diameter_m),
        region=job.appliance.region,
        gas_title=case.gas.title,
        altitude_policy=job.policy.policy or "",
        heat_input_gross_W=fitted.heat_input_gross_W,
        heat_input_net_W=fitted.heat_input_net_W,
        deviation=deviation,
        is_as_built=is_as_built,
        couple_factor=job.couple_factor,
        mass_flow_kg_per_s=fitted.mass_flow_kg_per_s,
        volume_flow_m3_per_s=fitted.mass_flow_kg_per_s / job.new.used.dry_gas_kg_per_m3,
        pressure_couple=job.couple.nominal if job.couple else "",
        sized_on=_sized_on(job.reference or job),
        is_lpg=any(group.family.is_LPG for group in job.new.groups),
    )
