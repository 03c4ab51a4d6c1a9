"""The test plan of a converted appliance: which readings, in which order, what is expected and in which band.

A plan is known by its number, the first digits of the SHA-256 of its rows. Carbon monoxide is never predicted: its row
holds the limit that the user names, and for what that limit holds.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Any, Literal, get_args

from burnerlab import __version__
from burnerlab.appliance.conversion.convert import convert, convert_to, rated_at_place
from burnerlab.appliance.conversion.job import Job
from burnerlab.appliance.conversion.markets import targets_of
from burnerlab.appliance.conversion.orifice_choice import changed_by, steps_of
from burnerlab.appliance.conversion.refusal import no_orifice_words, refusals
from burnerlab.appliance.conversion.result import BurnerConversion, Conversion
from burnerlab.appliance.memory import Memory, Same
from burnerlab.appliance.project.basis import GROSS_RATED, RatedBasis, rated_basis
from burnerlab.appliance.project.model import Appliance
from burnerlab.bench.reading.flue import kind_named, limit_comparisons, limit_in_force
from burnerlab.bench.reading.manifold import Expected, expected_input, highest_pressure_Pa, pressure_band
from burnerlab.bench.reading.readings import ManifoldRange
from burnerlab.bench.record.entry import quantities, quantity_words, unit_of
from burnerlab.bench.unit import low_rate_band
from burnerlab.orifice.drill import Drill
from burnerlab.quantity import System, show
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.tables.phrase import Phrase
from burnerlab.tables.problem import Problem, UserError

SCHEMA = "burnerlab-test-plan/1"
NUMBER_LENGTH = 12  # digits of the digest that are the number of the plan
FEWEST_DIGITS = 6  # of a number that is not written in full
PLAN_DIGITS = 6  # significant ones of a figure of the plan: no bench reads more
State = Literal["cold", "hot", "low"]
STATES: tuple[State, ...] = get_args(State)
HOT_AFTER_min = 15  # of burning at full rate
STATE_WORDS: Mapping[State, str] = {
    "cold": Phrase("cold, at lighting"),
    "hot": Phrase("hot, after {time}", time=f"{HOT_AFTER_min} min"),
    "low": Phrase("lowest rate"),
}
NO_LIMIT = Phrase("no limit is calculated: name the limit that applies")
BY_HEAT_INPUT = Phrase("heat input in its band, by the calculated pressure and orifice")
NO_TURNDOWN = Phrase("no turndown in the file: flame and CO are read at the lowest setting of the valve")
DO_NOT_FIT = "do not fit"  # at the end of why a row has no band of the pressure
NO_BAND = Phrase("no pressure band")
MANIFOLD = "manifold_pressure"
BY_PLAN = "the test plan"  # source of a band of the manifold pressure
LOW_RATE_INPUT = "low_rate_heat_input_gross"
LOCK_UP = "lock_up_pressure"  # the same with every burner off, which no row reads
VALVE_WORDS = Phrase("lowest setting of the valve")  # state of a low rate that the file does not name
CARBON_MONOXIDE = "air_free_carbon_monoxide"
OF_EARLIER_PLAN = Phrase(
    "This plan was made before it had rows for carbon monoxide of each burner at full rate and of all at the lowest: "
    "read it there as well, or make the plan anew and print that."
)
CARBON_MONOXIDE_STATES: tuple[State, ...] = ("hot", "low")  # of each burner and of all together
NOT_IN_EARLIER_PLANS = ((True, "hot"), (False, "low"))  # whether of one burner, state: read since 0.2
LONGEST_SCOPE = 110  # characters that card and page print of what a limit of carbon monoxide holds for
NET_OF: Mapping[str, str] = {
    "heat_input_gross": "heat_input_net",
    LOW_RATE_INPUT: "low_rate_heat_input_net",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class CarbonMonoxideLimit:
    """A limit of carbon monoxide free of air that the user names [-], and the appliances it holds for."""

    limit: float
    scope: str


def limit_without_kind() -> float:
    """The limit by which a bench stops where neither a limit nor the kind of appliance is named [mol/mol].

    >>> f"{limit_without_kind():.4g}"
    '0.0008'
    """
    known = limit_in_force(limit_comparisons(0.0))
    assert known is not None  # the table has limits for cooking
    return known.limit


NOT_KNOWN_BESIDE = "EN 498 not known here"  # beside a limit of the user, which may be of it
NOT_KNOWN_IN_EUROPE = "EN 498 (LP gas) not known here: your standard"
OUTDOOR_COOKING = "outdoor-cooking"


def limit_of_papers(
    kind: str, own: CarbonMonoxideLimit | None, region: str = ""
) -> CarbonMonoxideLimit | None:
    """The limit of carbon monoxide of card, plan and bench: the stricter of the user's and that of the kind, and which.

    kind : of the appliance, as its file names it; without one that of the scope, else the lowest for cooking, as the
    bench takes it. None where neither is named.
    region : of the appliance; a European barbecue has a limit of another region where it is the lower, and says so

    >>> limit_of_papers("", CarbonMonoxideLimit(limit=4e-4, scope="report 12")).scope
    'report 12'
    >>> limit_of_papers("outdoor-cooking", CarbonMonoxideLimit(limit=1e-3, scope="report 12")).scope
    'outdoor cooking gas appliance; Z21.58, recalled; stricter than 1000 ppm (report 12)'
    >>> limit_of_papers("outdoor-cooking", CarbonMonoxideLimit(limit=1e-3, scope="EN 498"), "eu").scope[49:]
    'EN 498 not known here; stricter than 1000 ppm (EN 498)'
    """
    if own is None and not kind:
        return None
    known = limit_in_force(limit_comparisons(0.0, kind=kind or kind_named("" if own is None else own.scope)))
    if known is None:
        return own
    limit = float(
        f"{known.limit:.{PLAN_DIGITS}g}"
    )  # in the digits of the plan, so that it is no limit below itself
    if own is not None and own.limit <= limit:
        return own
    more = "" if own is None else f"; stricter than {1e6 * own.limit:.0f} ppm ({own.scope})"
    if region == "eu" and known.kind == OUTDOOR_COOKING:
        more = f"; {NOT_KNOWN_IN_EUROPE}" if own is None else f"; {NOT_KNOWN_BESIDE}{more}"
    standard = known.name.partition("(")[2].rstrip(")")  # that a row of the table has behind its name
    by = ", ".join(filter(None, (standard, known.known_by)))
    return CarbonMonoxideLimit(limit=limit, scope=f"{known.words}; {by}{more}")


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanRow:
    """One reading of a plan, in the SI unit of its quantity."""

    id: str = field(metadata=output("row"))
    order: int = field(metadata=output("order"))
    burner: str = field(metadata=output("burner"))  # "" for all burners together
    state: State = field(metadata=output("state"))
    quantity: str = field(metadata=output("quantity"))  # of the record
    predicted: float | None = field(metadata=output("expected"))
    low: float | None = field(metadata=output("low end of the band"))
    high: float | None = field(metadata=output("high end of the band"))
    source: str = field(metadata=output("band from"))
    which: int = field(default=0, metadata=output("which of them"))  # of several alike; 0: the row is of all
    count: int = field(default=1, metadata=output("burners alike"))  # under the name of the burner

    @property
    def place(self) -> str:
        """The burner under test; of several alike which of them, as the bench asks for it: "2 of 4"."""
        return f"{self.burner}, {self.which_words}" if self.which else self.burner

    @property
    def which_words(self) -> str:
        """Which of several burners alike; "" where the row is of all that have its name."""
        return f"{self.which} of {self.count}" if self.which else ""

    @property
    @computed_output("unit")
    def unit(self) -> str:
        """SI unit of its quantity."""
        return unit_of(self.quantity)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanChange:
    """What a project file is changed to before its units are tested."""

    gas: str
    gauge_pressure_Pa: float
    altitude_m: float | None
    altitude_policy: str | None
    category: str
    stock: tuple[Drill, ...] = ()  # orifices taken from a stock, which the file need not name
    market: str = ""  # of the file, its letter and name; "" of a plan made without one
    orifices: tuple[
        tuple[str, str], ...
    ] = ()  # of each kind of burner its name and the mark of what is put in; none where no orifice fits
    refused: tuple[tuple[str, str], ...] = ()  # burners that no orifice fits, and why


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """The readings of one unit type on one gas."""

    appliance: str = field(metadata=output("appliance"))
    model: str = field(metadata=output("model"))
    gas: str = field(metadata=output("gas"))
    file_sha256: str = field(metadata=output("SHA-256 of the file"))  # that was converted
    change: PlanChange
    carbon_monoxide: CarbonMonoxideLimit | None
    rows: tuple[PlanRow, ...] = field(metadata=output("rows"))
    version: str = field(
        default="", metadata=output("version")
    )  # of the program that made it; "" is not known
    occasions: tuple[str, ...] | None = None  # of cautions beyond those of any test; None where not known
    region: str = ""  # whose words its paper prints
    language: str = ""  # in which its papers are read
    highest_Pa: float | None = (
        None  # of the supply, gauge: above it the gas is shut off; None of an older plan
    )
    dial_m3: float | None = (
        None  # one turn of the meter that its paper times; None: the usual one of the region
    )
    rated: RatedBasis = GROSS_RATED  # of its heat inputs as they are shown; its rows hold them gross
    written_digest: str = ""  # as its file states it; "" of one that was just made
    own_bands: tuple[PlanRow, ...] = field(default=(), compare=False)
    """The rows of one that was just made, each with the pressure band of its state: as plans stored them before."""

    @property
    @computed_output("digest")
    def digest(self) -> str:
        """SHA-256 of model, gas, rows, highest pressure, basis of a net rating and refused burners, as sorted JSON."""
        what: dict[str, Any] = {
            "schema": SCHEMA,
            "model": self.model,
            "gas": self.gas,
            "rows": [row_values(row) for row in self.rows],
        }
        if self.rated != GROSS_RATED:  # a gross one has the digest that it had before plans named a basis
            what["rating"] = rating_values(self.rated)
        if self.highest_Pa is not None:  # nor before they named the highest of the supply
            what["highest_pressure"] = self.highest_Pa
        if self.change.refused:  # nor before they named the burners that no orifice fits
            what["refused"] = [name for name, _ in self.change.refused]
        text = json.dumps(what, sort_keys=True, separators=(",", ":"), ensure_ascii=True, allow_nan=False)
        return hashlib.sha256(text.encode("ascii")).hexdigest()

    @property
    @computed_output("number")
    def number(self) -> str:
        """The first digits of the digest, by which bench and report know the plan."""
        return self.digest[:NUMBER_LENGTH]

    @property
    def is_altered(self) -> bool:
        """Whether its file states another digest than its rows have: it was changed after it was made."""
        return bool(self.written_digest) and self.written_digest != self.digest

    @property
    def refusal(self) -> str:
        """Why no unit of it is built or lit, in a few words; "" of one whose orifices are all to be fitted."""
        if self.change.refused:
            return no_orifice_words([name for name, _ in self.change.refused])
        return NO_BAND if self.refusal_reasons else ""

    @property
    def refusal_reasons(self) -> tuple[tuple[str, str], ...]:
        """The burners whose orifice is not to be fitted, and why; "" for the burner is all of them together."""
        rows = ((row.burner, row.source) for row in self.rows if row.source.endswith(DO_NOT_FIT))
        return self.change.refused or tuple(dict.fromkeys(rows))

    def rated_share(self, row: PlanRow) -> float:
        """Of a figure of a row on the basis of the rating, over that of the row [-]; one for what is no heat input."""
        return self.rated.of_gross if row.quantity in NET_OF else 1.0

    def rated_row(self, row: PlanRow) -> PlanRow:
        """A row as it is shown: as it is judged, a heat input on the basis of the rating."""
        return self.on_basis(self.band_of(row))

    def on_basis(self, row: PlanRow) -> PlanRow:
        """A row as the plan has it, a heat input on the basis of the rating."""
        if self.rated.word == "gross" or row.quantity not in NET_OF:
            return row
        ends = (None if x is None else x * self.rated.of_gross for x in _figures_of(row))
        predicted, low, high = ends
        return replace(row, quantity=NET_OF[row.quantity], predicted=predicted, low=low, high=high)

    def band_of(self, row: PlanRow) -> PlanRow:
        """A row as it is judged: the manifold pressure has one band for all, since one regulator feeds every burner.

        It is that in which every burner is in its band. A row whose expected pressure it does not hold has its own end
        on that side: with fewer burners on a regulator gives more. None is above the highest of the supply.
        """
        if row.quantity != MANIFOLD or row.high is None:
            return row
        rows = [one for one in self.rows if one.quantity == MANIFOLD]
        high = min(one.high for one in rows if one.high is not None)
        low = max((one.low for one in rows if one.low is not None), default=None)
        if low is None or (row.predicted is not None and low > row.predicted):
            low = row.low
        if row.predicted is not None and high < row.predicted:
            high = row.high
        high = min(high, self.highest_Pa or high)
        return replace(row, high=high, low=low if low is not None and low < high else None)

    @property
    def upper_end_Pa(self) -> float | None:
        """The lowest upper end of its manifold pressures [Pa gauge]; None where no row has a band."""
        rows = (self.band_of(row) for row in self.rows if row.quantity == MANIFOLD)
        return min((row.high for row in rows if row.high is not None), default=None)

    def pressure_row(self, burner: str) -> PlanRow | None:
        """The manifold pressure of a burner alone, or of all together, as it is judged; None without such a row."""
        rows = (row for row in self.rows if (row.quantity, row.burner) == (MANIFOLD, burner))
        row = next(rows, None)
        return None if row is None else self.band_of(row)

    def pressure_limits(self, regulator: ManifoldRange, burner: str) -> ManifoldRange:
        """The manifold pressures that a reading with a burner on is judged by, "" for all together.

        regulator : what the regulator should hold, for a burner the plan has not. Where the plan has no band for what
        is on, no pressure is within, and none is taken above the lowest upper end of the plan.
        """
        row = self.pressure_row(burner)
        if row is None:
            return regulator
        if row.high is None:
            upper_Pa = min(regulator.high_Pa, self.upper_end_Pa or regulator.high_Pa)
            return replace(regulator, high_Pa=upper_Pa, source=BY_PLAN, no_band=row.source)
        low_Pa = regulator.low_Pa if row.low is None else row.low
        return ManifoldRange(low_Pa=min(low_Pa, row.high), high_Pa=row.high, source=BY_PLAN)

    @property
    def lacks_carbon_monoxide(self) -> bool:
        """Whether it was made before carbon monoxide was read at every rate, alone and together."""
        return all(map(_is_in_earlier_plans, self.rows))

    def state_words(self, row: PlanRow) -> str:
        """The state of a row in words."""
        is_of_valve = row.state == "low" and row.burner in self.without_turndown
        return VALVE_WORDS if is_of_valve else STATE_WORDS[row.state]

    def rows_of(self, burner: str, state: str, which: int = 0) -> tuple[PlanRow, ...]:
        """The rows that one test of a burner in one state reads.

        which : of several burners alike; 0 gives those of every one of them
        """
        own = (row for row in self.rows if (row.burner, row.state) == (burner, state))
        return tuple(row for row in own if not which or row.which in (0, which))

    def count_of(self, burner: str) -> int:
        """How many burners of a name have rows of their own; 1 where one row is of all of them."""
        return max((row.count for row in self.rows if row.which and row.burner == burner), default=1)

    @property
    def without_turndown(self) -> tuple[str, ...]:
        """Burners whose low rate is not in the file: no heat input is expected of it, carbon monoxide is read."""
        low = {row.burner for row in self.rows if row.quantity == LOW_RATE_INPUT}
        return tuple(dict.fromkeys(row.burner for row in self.rows if row.burner and row.burner not in low))


def plan_of(c: Conversion, carbon_monoxide: CarbonMonoxideLimit | None = None, market: str = "") -> Plan:
    """The test plan of a conversion: each burner alone, cold, hot and at its lowest rate, then all together.

    Of several burners alike each has its rows, since one wrong orifice among them is a usual fault.
    Carbon monoxide is read at full and low rate, each burner alone and all together: of a burner without a turndown in
    the file at the lowest setting of its valve.

    Heat input and manifold pressure are expected by orifices and supply; the input's band is the conversion's about its
    aim, that of a low rate twice the spread of burners as drawn. The pressure has the band of the job card: that in
    which the heat input of every burner that is on lies in its own.
    carbon_monoxide : the limit of the user; without one its row has none, and its verdict is ``not evaluated``
    market : of the file that it is made for, as its papers name it
    Raises UserError for a conversion that holds no job, as one read from elsewhere.

    >>> from burnerlab.appliance import convert, demonstration
    >>> plan = plan_of(convert(demonstration(), "propane", 2740.0))
    >>> plan.rows[0].quantity, plan.rows[0].state, plan.rows[-1].predicted is None
    ('manifold_pressure', 'cold', True)
    """
    if c.job is None:
        raise UserError(Problem("a test plan needs the conversion with its supply", value=c.appliance))
    after, target = _built(c.job), c.job.target
    highest_Pa = float(f"{highest_pressure_Pa(after):.{PLAN_DIGITS}g}")
    made = _Rows(c=c, after=after, limit=carbon_monoxide, highest_Pa=highest_Pa)
    refused = refusals(c)
    readings = [row for b in c.burners for row in _of_each(made, b)]
    readings += _together(made)
    rows = tuple(
        PlanRow(id=_row_id(number), order=number, **reading)
        for number, reading in enumerate(readings, start=1)
    )
    plan = Plan(
        appliance=c.appliance,
        model=c.model or c.appliance,
        gas=c.to_gas.name,
        file_sha256=c.file_sha256,
        change=PlanChange(
            gas=c.to_gas.name,
            gauge_pressure_Pa=target.gauge_pressure_Pa,
            altitude_m=target.altitude_m,
            altitude_policy=target.altitude_policy,
            category=target.category,
            stock=_of_stock(c),
            market=market,
            orifices=tuple((b.name, b.choice.drill) for b in c.burners if b.name not in refused),
            refused=tuple((b.name, refused[b.name]) for b in c.burners if b.name in refused),
        ),
        carbon_monoxide=carbon_monoxide,
        version=__version__,
        occasions=c.occasions,
        region=c.region,
        language=c.job.appliance.language,
        rated=_rated(after),
        highest_Pa=highest_Pa,
        rows=rows,
    )
    return replace(plan, rows=tuple(map(plan.band_of, rows)), own_bands=rows)


BUILT = Memory(40)
"""Appliances as the units of the jobs planned last are built: what burners should read is remembered by them."""


def _built(job: Job) -> Appliance:
    return BUILT.recall(Same(job), lambda: changed_by(job, steps_of(job)))


def _rated(after: Appliance) -> RatedBasis:
    """The basis of the rating, in as many digits as every figure of a plan."""
    basis = rated_basis(after)
    return replace(basis, of_gross=float(f"{basis.of_gross:.{PLAN_DIGITS}g}"))


def rating_values(basis: RatedBasis) -> dict[str, Any]:
    return {"basis": basis.word, "of_gross": basis.of_gross}


def _of_stock(c: Conversion) -> tuple[Drill, ...]:
    """The orifices that a conversion takes from a stock; none from drill lists, which every bench has."""
    assert c.job is not None
    parts = {(b.choice.drill, b.choice.part) for b in c.burners if b.choice.part}
    return tuple(one for one in c.job.drills if (one.name, one.part) in parts)


Figures = dict[str, Any]


def _reading(
    burner: str, state: State, quantity: str, figures: tuple[float | None, ...], source: str
) -> Figures:
    predicted, low, high = (None if each is None else float(f"{each:.{PLAN_DIGITS}g}") for each in figures)
    return {
        "burner": burner,
        "state": state,
        "quantity": quantity,
        "predicted": predicted,
        "low": low,
        "high": high,
        "source": source,
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class _Rows:
    """What the rows of a plan are made of."""

    c: Conversion
    after: Appliance  # as its units are built
    limit: CarbonMonoxideLimit | None  # of the user
    highest_Pa: float  # of the supply, gauge


def _manifold(of: _Rows, expected: Expected, burner: str, state: State) -> Figures:
    kinds = {b.name: b for b in of.c.burners}
    on = [kinds[one.name] for one in expected.burners]
    over = [float(each) / b.aim_gross_W for each, b in zip(expected.each_W, on, strict=True)]
    at_Pa = expected.manifold_Pa
    band = pressure_band(of.c, on, over, at_Pa, of.highest_Pa)
    source = band.reason or BY_HEAT_INPUT
    return _reading(burner, state, MANIFOLD, (at_Pa, band.low_Pa, band.high_Pa), source)


def _of_burner(of: _Rows, b: BurnerConversion) -> Iterator[Figures]:
    """A burner of the kind, alone; hot as cold where the file does not say how warm the gas is at its hot orifice."""
    c, after, limit = of.c, of.after, of.limit
    expected = expected_input(after, b.name)
    predicted = float(expected.each_W[0])
    warm = expected.burners[0].orifice.hot_gas_temperature_K
    change = 1.0 if warm is None else math.sqrt(after.supply.gas_temperature_K / warm)
    low, high = (b.aim_gross_W * (1.0 + end) for end in (c.tolerance_low, c.tolerance))
    by_state: tuple[tuple[State, float], ...] = (("cold", predicted), ("hot", predicted * change))
    for state, heat_W in by_state:
        yield _manifold(of, expected, b.name, state)
        yield _reading(b.name, state, "heat_input_gross", (heat_W, low, high), c.tolerance_source)
        yield from _of_carbon_monoxide(b.name, state, limit)
    if b.turndown is not None:
        band = low_rate_band()
        aim = b.aim_gross_W * b.turndown
        ends = (predicted * b.turndown, aim * (1.0 + band.low), aim * (1.0 + band.high))
        yield _reading(b.name, "low", LOW_RATE_INPUT, ends, band.source)
    yield from _of_carbon_monoxide(b.name, "low", limit)


def _of_each(of: _Rows, b: BurnerConversion) -> Iterator[Figures]:
    """Every one of the kind, one after the other; one that is by itself has no number."""
    rows = tuple(_of_burner(of, b))
    for which in range(1, b.count + 1):
        alike = {"which": which, "count": b.count} if b.count > 1 else {}
        yield from (row | alike for row in rows)


def _of_carbon_monoxide(burner: str, state: State, limit: CarbonMonoxideLimit | None) -> Iterator[Figures]:
    if state not in CARBON_MONOXIDE_STATES:
        return
    high, scope = (None, NO_LIMIT) if limit is None else (limit.limit, limit.scope)
    yield _reading(burner, state, CARBON_MONOXIDE, (None, None, high), scope)


def _together(of: _Rows) -> Iterator[Figures]:
    c = of.c
    together = expected_input(of.after)  # as the bench has it, evaluated or not
    yield _manifold(of, together, "", "hot")
    aim = sum(b.aim_gross_W * b.count for b in c.burners)
    ends = (together.gross_W, aim * (1.0 + c.tolerance_low), aim * (1.0 + c.tolerance))
    yield _reading("", "hot", "heat_input_gross", ends, c.tolerance_source)
    for state in STATES:
        yield from _of_carbon_monoxide("", state, of.limit)


def digests_of(plan: Plan) -> frozenset[str]:
    """Digests by which a plan of a conversion is known: its own, and what it had by earlier rules."""
    return frozenset(each.digest for each in forms_of(plan))


def forms_of(plan: Plan) -> tuple[Plan, ...]:
    """A plan of a conversion, then what it was by earlier rules.

    An earlier plan stored the pressure band of each state instead of the one that it is judged by and that is printed,
    named no highest pressure, no basis of a net rating and no burner that no orifice fits, had one row
    for several burners alike, and read carbon monoxide of a burner at its lowest rate alone and of all together at full
    rate alone.
    """
    stored = (plan, replace(plan, rows=plan.own_bands)) if plan.own_bands else (plan,)
    forms = (
        replace(made, rated=rated, highest_Pa=highest, change=replace(plan.change, refused=refused))
        for each in stored
        for made in _by_rules(each)
        for refused in dict.fromkeys((plan.change.refused, ()))
        for rated in (plan.rated, GROSS_RATED)
        for highest in (plan.highest_Pa, None)
    )
    return tuple({each.digest: each for each in forms}.values())


def difference_words(plan: Plan, present: Sequence[Plan], system: System = "metric") -> str:
    """What of the readings of a plan differs from the nearest of those a file gives; "" where it gives none."""
    found = (_differences(plan, form) for each in present for form in forms_of(each))
    nearest = min(found, key=len, default=None)
    return "" if nearest is None else _difference_words(nearest, plan, system)


def _is_in_earlier_plans(row: PlanRow) -> bool:
    return row.quantity != CARBON_MONOXIDE or (bool(row.burner), row.state) not in NOT_IN_EARLIER_PLANS


def _by_rules(plan: Plan) -> tuple[Plan, Plan, Plan]:
    """A plan; as it was with one row for several alike; before that, when carbon monoxide was not read everywhere."""
    of_all = [replace(row, which=0, count=1) for row in plan.rows if row.which < 2]
    return plan, _of_rows(plan, of_all), _of_rows(plan, list(filter(_is_in_earlier_plans, of_all)))


def _of_rows(plan: Plan, kept: Sequence[PlanRow]) -> Plan:
    rows = tuple(replace(row, id=_row_id(i), order=i) for i, row in enumerate(kept, start=1))
    return replace(plan, rows=rows)


def _row_id(number: int) -> str:
    return f"{number:02d}"


def converted_for(appliance: Appliance, plan: Plan) -> Appliance | None:
    """The appliance as the plan's units are built: changed as the plan says; None where that is another plan.

    Looked for are the change that the plan names and that of each market of the file to its gas, with the orifices of
    the plan's stock where it has one; the digest of the plan made anew, or what it was by earlier rules
    (``digests_of``), shows which it is.
    """
    for c in _conversions_for(appliance, plan):
        made = plan_of(c, plan.carbon_monoxide)
        if plan.digest in digests_of(made) and c.job is not None:
            built = rated_at_place(c.job, changed_by(c.job, steps_of(c.job)))
            return replace(built, language=plan.language or built.language)
    return None


def _conversions_for(appliance: Appliance, plan: Plan) -> Iterator[Conversion]:
    for make in _changes(appliance, plan.change):
        try:
            yield make()
        except UserError:
            continue


def _changes(appliance: Appliance, change: PlanChange) -> Iterator[Callable[[], Conversion]]:
    """The conversions of a file that a plan may be of."""
    names = ("altitude_m", "altitude_policy", "category", "stock")
    options: dict[str, Any] = {name: getattr(change, name) for name in names if getattr(change, name)}
    yield partial(convert, appliance, change.gas, change.gauge_pressure_Pa, **options)
    for market in targets_of(appliance):
        for target in market.targets:
            if target.gas.name == change.gas:
                own = replace(target, stock=change.stock) if change.stock else target
                yield partial(convert_to, market.appliance, own)


def mismatch_words(appliance: Appliance, plan: Plan, system: System = "metric") -> str:
    """Why a plan is not one that a file gives, what differs where that is known, and what to do, in words.

    Nothing is guessed: what the file gives at the plan's gas and pressure is laid beside the rows of the plan.
    """
    file = Path(appliance.file or appliance.name).name
    if plan.file_sha256 and appliance.file_sha256 and plan.file_sha256 != appliance.file_sha256:
        why = f"was made from another text of {file}"
    elif plan.version != __version__:
        by = f"burnerlab {plan.version}" if plan.version else "an earlier burnerlab, which it does not name,"
        why = f"was made by {by} and is not what {__version__} makes of {file}"
    else:
        why = f"is not what {file} gives: other orifices or options made it, or an earlier burnerlab {__version__}"
    made = (plan_of(c, plan.carbon_monoxide) for c in _conversions_for(appliance, plan))
    found = (_differences(plan, one) for new in made for one in _by_rules(new))
    nearest = min(found, key=len, default=None)
    known = "what differs is not known" if nearest is None else _difference_words(nearest, plan, system)
    fix = f"make it anew from this file (burnerlab convert {file} --out DIR) and print that"
    return f"plan {plan.number} {why}; {known}. Nothing is read by it: {fix}."


Difference = tuple[PlanRow | None, PlanRow | None]


def _differences(plan: Plan, made: Plan) -> list[Difference]:
    """Rows of a plan and of the one made anew that are not the same, by burner, state and reading."""
    first, second = ({(r.place, r.state, r.quantity): r for r in one.rows} for one in (plan, made))
    pairs = [(first.get(key), second.get(key)) for key in dict.fromkeys((*first, *second))]
    return [(a, b) for a, b in pairs if a is None or b is None or _figures_of(a) != _figures_of(b)]


def _figures_of(row: PlanRow) -> tuple[float | None, ...]:
    return row.predicted, row.low, row.high


def _difference_words(differences: list[Difference], plan: Plan, system: System) -> str:
    """How many readings differ, and the first of them: one with other figures before one that is missing."""
    if not differences:
        return "its readings are numbered or worded in another way"
    own, other = next(((a, b) for a, b in differences if a is not None and b is not None), differences[0])
    own, other = (None if one is None else plan.on_basis(one) for one in (own, other))
    row = own or other
    assert row is not None
    place = f"{row.place or 'all burners together'}, {STATE_WORDS[row.state]}, {quantity_words(row.quantity)}"
    many = "1 reading differs" if len(differences) == 1 else f"{len(differences)} readings differ, the first"
    if own is None or other is None:
        return f"{many}: {place}, {'is not in the plan' if own is None else 'is in the plan alone'}"
    return f"{many}: {place}, {_row_words(own, system)} in the plan, {_row_words(other, system)} by the file"


def _row_words(row: PlanRow, system: System) -> str:
    """What a row expects, and its band."""
    kind = quantities()[row.quantity].kind
    predicted, low, high = (
        "none" if x is None else show(x, kind, system=system, digits=PLAN_DIGITS - 1)
        for x in _figures_of(row)
    )
    return f"expected {predicted} (band {low} to {high})"


OF_ALIKE = (
    "which",
    "count",
)  # of a row of one of several burners alike; no other has them in file and digest


def row_values(row: PlanRow) -> Figures:
    """A row as file and digest hold it: as before plans had rows for each of several burners alike."""
    values = asdict(row)
    return values if row.which else {name: values[name] for name in values if name not in OF_ALIKE}
