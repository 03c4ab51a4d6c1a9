"""The form of the desk: every key of the file as a field in the user's own words, with the reader's word beside it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from operator import attrgetter
from pathlib import Path
from typing import NamedTuple

from burnerlab import tables
from burnerlab.appliance.conversion.markets import letter
from burnerlab.appliance.project.bare_numbers import list_readings, readings, turndown_readings
from burnerlab.appliance.project.lookups import region_tolerance
from burnerlab.appliance.project.model import DRILLS_OF_REGION, REGIONS
from burnerlab.appliance.project.problems import DRILL_OR_DIAMETER, example
from burnerlab.appliance.project.project_text import (
    ProjectField,
    declared_key,
    entries_of,
    key_path,
    schema_fields,
)
from burnerlab.gas.library import fuels
from burnerlab.orifice.altitude import FULL_RATING, REGION_PLACES
from burnerlab.orifice.drill import KINDS, SERIES
from burnerlab.page.desk_queries import pattern_of, queries_of
from burnerlab.page.desk_state import REGION, Desk, DeskEntry
from burnerlab.page.result_text import minus
from burnerlab.quantity.examples import us_example
from burnerlab.quantity.grammar import comma_readings
from burnerlab.quantity.prose import WITHOUT_UNIT
from burnerlab.tables.key_declarations import key_label
from burnerlab.tables.problem import Problem, UserError, in_quotes

NUMBER = re.compile(r"\[\d+\]")
MISSING = "is missing"  # what the reader says of a key that it has no words of its own for
GUESS = re.compile(r"did you mean (.+)\?")
PROPOSAL = re.compile(
    r'(?:if per cent, )?write "[^"]+"(?:, "[^"]+")*(?: or "[^"]+")?(?: if that is its unit)?'
)
QUOTED = re.compile(r'"([^"]+)"')
OF_FILES = ", LIBRARY:NAME"  # of gases that stand in files, which no page names
OWN_GAS = 'a gas of your own: its parts, such as "mix: methane = 0.9, ethane = 0.1", or the name that own gas below has'
HEAT_INPUT = "heat input"
EUROPE: Mapping[str, dict[str, str]] = {"appliance": {"region": "eu"}}
METRIC = {"11 in w.c.": "20 mbar", "10 psi": "50 mbar", "0.5 in w.c.": "1 mbar"}  # examples of the schema
RATING = "appliance.rating"
BAND = "limits.tolerance"
DRILLS = "limits.drills"
ONE_DRILL = "1.40 mm"
DRILL_LISTS = (*dict.fromkeys(map(", ".join, DRILLS_OF_REGION.values())), *SERIES)  # to choose one from
ALTITUDE_RULE = re.compile(r"(?:^limits|^market\[\d+\])\.altitude_policy$")
FULL_RATING_QUERY = (
    "WARNING: full rating kept with larger bores at altitude: only where no rule of the place lowers it"
)
RULE_OF_ELSEWHERE = "a rule of {place}, not of this region: an engineer names the rule of the place"
UNUSED_OPENING = (
    "not used: the air is that of a burner without a shutter until its area, fully open, is given"
)
KEPT_RATING = "full rating kept: larger bores at altitude"
NO_RULE = "not given: bores for sea level"
NO_RULE_HERE = "any place; no rule of this region is known here"
PLACES = {"": "any place", **REGION_PLACES}
REGION_QUERY = "choose us or eu: input band, usual pressures, altitude rule and units follow it"


class ChoiceGroup(NamedTuple):
    """Values of a choice that belong together, each with what it means."""

    label: str
    choices: tuple[tuple[str, str], ...]


class FieldPlace(NamedTuple):
    """A field that has a place of its own on the page."""

    label: str
    width: str = "w-short"


# by key, in the order of the page
SITE = {
    "appliance.name": FieldPlace(label="name", width="w-wide"),
    "appliance.model": FieldPlace(label="model", width="w-wide"),
    "appliance.rating": FieldPlace(label="rates are"),
    "appliance.region": FieldPlace(label="sold in"),
    "supply.gas": FieldPlace(label="gas now", width="w-wide"),
    "supply.pressure": FieldPlace(label="pressure now"),
    "supply.altitude": FieldPlace(label="altitude"),
    "limits.altitude_policy": FieldPlace(label="altitude rule"),
    "limits.tolerance": FieldPlace(label="input band"),
    "limits.drills": FieldPlace(label="drills you have", width="w-wide"),
}
MARKET = {
    "name": FieldPlace(label="name", width="w-wide"),
    "supply[1].gas": FieldPlace(label="gas", width="w-wide"),
    "supply[1].pressure": FieldPlace(label="pressure"),
    "supply[2].gas": FieldPlace(label="2nd gas, same orifices", width="w-wide"),
    "supply[2].pressure": FieldPlace(label="its pressure"),
    "region": FieldPlace(label="region"),
    "altitude": FieldPlace(label="altitude"),
    "altitude_policy": FieldPlace(label="altitude rule"),
}
BURNER = {
    "rate": FieldPlace(label="rate of one"),
    "count": FieldPlace(label="how many"),
    "kind": FieldPlace(label="kind"),
    "orifice.drill": FieldPlace(label="orifice now"),
    "throat": FieldPlace(label="throat"),
    "shutter.opening": FieldPlace(label="shutter open"),
    "shutter.area": FieldPlace(label="shutter area"),
    "ports.count": FieldPlace(label="ports"),
    "ports.diameter": FieldPlace(label="port diameter"),
}
PARTS = ("appliance", "supply", "tolerance", "new_supply", "gas", "grate", "shield", "box", "panel",
         "carry_over", "optimise")  # fmt: skip
PART_PLACES = {
    "carry_over": FieldPlace(label="carry-over"),
    "new_supply": FieldPlace(label="supply of the new gas"),
    "gas": FieldPlace(label="own gas"),
    "tolerance": FieldPlace(label="spread in production"),
    "optimise": FieldPlace(label="search of positions"),
    "box": FieldPlace(label="boxes"),
    "grate": FieldPlace(label="cooking surfaces"),
    "shield": FieldPlace(label="shields"),
    "panel": FieldPlace(label="panels"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class DeskField:
    """A key of the file on the page."""

    name: str  # the key, as problems spell it
    label: str
    text: str
    width: str = "w-short"
    wrong: str = ""
    readings: tuple[str, ...] = ()  # what a text with a comma may mean
    query: str = ""  # of a value that may be a slip
    is_needed: bool = False
    is_changed: bool = False
    choices: tuple[str, ...] = ()
    groups: tuple[ChoiceGroup, ...] = ()  # in place of choices: rows of a table
    if_blank: str = ""  # what holds where the entry is blank
    unchosen: str = ""  # what it means that none of the groups is chosen
    example: str = ""
    help: str = ""
    list: str = ""  # id of a list to choose from

    @property
    def blank(self) -> str:
        """What a choice says where none is made."""
        return self.unchosen or ("choose" if self.is_needed or self.query else "not given")

    @property
    def values(self) -> tuple[str, ...]:
        """Every value that may be chosen."""
        return (*self.choices, *(value for group in self.groups for value, _ in group.choices))


@dataclass(frozen=True, slots=True, kw_only=True)
class DeskGroup:
    """Fields that stand together: the site, a market, a burner, a table of the file."""

    fields: tuple[DeskField, ...]
    number: int = 0
    name: str = ""
    line: str = ""  # what is said of it while it is folded
    times: str = ""  # of a burner: how many, unless one
    is_open: bool = False
    head: DeskField | None = None
    more: tuple[DeskField, ...] = ()

    @property
    def times_beside(self) -> str:
        """How many, as it stands before another word."""
        return _beside(self.times)

    @property
    def more_by_part(self) -> list[tuple[str, list[DeskField]]]:
        """The other entries by the part of the burner they describe; those of the burner itself first."""
        parts: dict[str, list[DeskField]] = {"": []}
        for one in self.more:
            part, dot, _ = one.name.partition(".")[2].partition(".")
            parts.setdefault(part.replace("_", " ") if dot else "", []).append(one)
        return [(label_of(part), fields) for part, fields in parts.items() if fields]

    @property
    def letter(self) -> str:
        """Of a market: A, B, C ..."""
        return letter(self.number - 1)


@dataclass(frozen=True, slots=True)
class ProblemLine:
    """What is wrong, where, and the field to go to; "" for a field that is not on the page."""

    field: str
    place: str
    words: str
    is_missing: bool


@cache
def schema() -> Mapping[str, ProjectField]:
    """Every key that a page may write, by its pattern."""
    return {one.path: one for one in schema_fields() if one.is_writable}


def altitude_choices(region: str, own: Path | None = None, present: str = "") -> tuple[ChoiceGroup, ...]:
    """The altitude rules of a table, with what each does to the rating: those of a region first.

    Those of another region have no place there: they are offered to its own markets.

    own : table of the user's in place of ours; present : rule of the file, whose group stands there in any region

    >>> [[value for value, _ in group.choices][:2] for group in altitude_choices("us")]
    [['4-percent-from-sea-level', '4-percent-from-2000-ft'], ['none']]
    >>> [group.label for group in altitude_choices("eu")]
    ['any place; no rule of this region is known here']
    >>> [group.label for group in altitude_choices("eu", present="canada-10-percent")]
    ['any place; no rule of this region is known here', 'North America']
    """
    groups: dict[str, dict[str, str]] = {region: {}, "": {}}
    for row in tables.read("altitude_policies", own):
        words = KEPT_RATING if row["policy"] == FULL_RATING else row["title"]
        groups.setdefault(row.get("region", ""), {})[row["policy"]] = words
    labels = PLACES if not region or groups[region] else {**PLACES, "": NO_RULE_HERE}
    return tuple(
        ChoiceGroup(labels[place], tuple(rules.items()))
        for place, rules in groups.items()
        if rules and (not region or place in ("", region) or present in rules)
    )


def _region_of(rule: str, values: Mapping[str, str]) -> str:
    """The region of the market of an altitude rule, else of the file; "" where neither is one of ours."""
    own = values.get(f"{rule.rpartition('.')[0]}.region") if rule.startswith("market") else ""
    region = own or values.get(REGION, "")
    return region if region in REGIONS else ""


def _rules_of_elsewhere(values: Mapping[str, str], own: Path | None) -> dict[str, str]:
    """Altitude rules of another region than that of their market, each with the sentence beside it; own : table."""
    chosen = {key: rule for key, rule in values.items() if ALTITUDE_RULE.search(key) and rule}
    places = (
        {row["policy"]: row.get("region", "") for row in tables.read("altitude_policies", own)}
        if chosen
        else {}
    )
    found: dict[str, str] = {}
    for key, rule in chosen.items():
        place, region = places.get(rule, ""), _region_of(key, values)
        if place and region and place != region:
            found[key] = RULE_OF_ELSEWHERE.format(place=PLACES[place])
    return found


def _unused_openings(values: Mapping[str, str]) -> Iterator[str]:
    """Keys of shutter openings of which no area is given: no air is calculated with them."""
    for key, text in values.items():
        burner = key.removesuffix(".opening")
        if key.endswith("shutter.opening") and text and not values.get(f"{burner}.area"):
            yield key


def has_metric_file(desk: Desk, values: Mapping[str, str]) -> bool:
    """Whether a value without a unit is likely a metric one: by the region, else, without a file, by the units."""
    region = values.get(REGION, "")
    return region == "eu" or (not region and desk.saved_entry is None and desk.system == "metric")


def default_band(region: str) -> str:
    """The band of the heat input that holds where the file gives none.

    >>> default_band("eu")
    '±5 %'
    """
    band = region_tolerance(region if region in REGIONS else "")
    if band.low == -band.high:
        return f"±{100 * band.high:.0f} %"
    return minus(f"{100 * band.low:+.0f} to {100 * band.high:+.0f} %")


def default_drills(region: str) -> str:
    """The lists of drills that hold where the file names none.

    >>> default_drills("eu")
    'metric, hundredth'
    """
    return ", ".join(DRILLS_OF_REGION.get(region, KINDS))


def _altitude_table(desk: Desk, entry: DeskEntry) -> Path | None:
    """The table of altitude rules that the file names, as far as it reads."""
    shown = desk.figures_of(entry)
    return None if shown is None or shown.appliance is None else shown.appliance.tables.altitude_policies


def readings_of(entry: DeskEntry, wrong: Iterable[str], is_metric: bool) -> dict[str, tuple[str, ...]]:
    """What the texts that are wrong may mean, by key: with another sign, a unit, a name like it; those that read."""
    values, proposed = entry.text.values(), dict[str, list[str]]()
    for problem in entry.problems:
        key = field_of(problem.key, values)
        meant = proposals_of(problem, is_metric) or _sizes_meant(problem, key, values)
        proposed.setdefault(key, []).extend(meant or _list_or_turndown(key, values))
    found = {}
    for key in wrong:
        every = dict.fromkeys((*comma_readings(values.get(key, "")), *proposed.get(key, ())))
        if readings := tuple(one for one in every if _reads(entry, key, one)):
            found[key] = readings
    return found


COMMA_FIX = re.compile(r"write [^;]*, as it should be")


def _with_readings(words: str, meant: Sequence[str]) -> str:
    """A complaint on a comma with the readings alone that are possible at its key.

    >>> _with_readings("commas are not read; write 10000 Btu/h or 10.000 Btu/h, as it should be", ["10000 Btu/h"])
    'commas are not read; write 10000 Btu/h'
    """
    return COMMA_FIX.sub(lambda _: f"write {meant[0]}", words) if len(meant) == 1 else words


def proposals_of(problem: Problem, is_metric: bool) -> tuple[str, ...]:
    """The texts that a problem proposes in place of what stands there.

    >>> proposals_of(Problem("unknown gas", fix="did you mean G20 or G25?"), True)
    ('G20', 'G25')
    >>> proposals_of(Problem("a bare number", value="7", fix='write "7 in w.c." if that is its unit'), True)
    ('7 mbar',)
    """
    fix = _fix(problem, is_metric)
    if guess := GUESS.fullmatch(fix):
        return tuple(guess[1].split(" or "))
    return tuple(QUOTED.findall(fix)) if _is_proposed(problem, fix) else ()


def _sizes_meant(problem: Problem, key: str, values: Mapping[str, str]) -> tuple[str, ...]:
    """The sizes that a number may mean of which a problem says what each would be."""
    path = key_path(key) if problem.what.startswith(DRILL_OR_DIAMETER) else None
    found = declared_key(path) if path is not None else None
    beside = [text for one, text in values.items() if one != key and pattern_of(one) == pattern_of(key)]
    return readings(values.get(key, ""), found.key, values.get(REGION, ""), beside) if found else ()


def _list_or_turndown(key: str, values: Mapping[str, str]) -> tuple[str, ...]:
    """What the bare numbers of a list of drills, or of a turndown, may mean; no other key."""
    text = values.get(key, "")
    if key == DRILLS and (orifice := declared_key(("burner", 0, "orifice", "drill"))) is not None:
        return list_readings(entries_of(text), orifice.key, values.get(REGION, ""))
    if key.endswith(".turndown"):
        return turndown_readings(text, values.get(f"{key.removesuffix('turndown')}rate", ""))
    return ()


def _is_proposed(problem: Problem, fix: str) -> bool:
    """Whether what a problem asks for are readings of what stands there, and no examples."""
    return problem.what.startswith(WITHOUT_UNIT) and PROPOSAL.fullmatch(fix) is not None


def _fix(problem: Problem, is_metric: bool) -> str:
    """What a problem asks for, a unit that it proposes being one of the reader."""
    if not is_metric:
        return problem.fix
    fix = problem.fix.replace(f"{problem.value} in w.c.", f"{problem.value} mbar")
    fix = fix.replace(f"{problem.value} kBtu/h", f"{problem.value} kW")
    return fix.replace(f"{problem.value} Btu/h", f"{problem.value} W")


def _reads(entry: DeskEntry, key: str, text: str) -> bool:
    """Whether nothing is wrong with a key that has another text."""
    try:
        content = entry.text.with_values({key: text}).content()
    except UserError:
        return False
    return all(problem.key != key for problem in content.problems)


def is_missing(problem: Problem) -> bool:
    """Whether a problem says that a key is not there."""
    return problem.fix.startswith("add ")


def example_of(key: str, values: Mapping[str, str], is_metric: bool) -> str:
    """A value to copy for a field, in the units of its reader; of a supply's pressure the usual one of its gas."""
    known = schema().get(pattern_of(key))
    if known is None or not is_metric:
        return known.example if known is not None else ""
    if known.kind == HEAT_INPUT:
        return str(example(("burner", 0, "rate"), EUROPE)[0])
    if pattern_of(key).endswith("supply.pressure") or pattern_of(key).endswith("supply[].pressure"):
        gas = values.get(f"{key.removesuffix('pressure')}gas", "")
        return str(example(("supply", "pressure"), {**EUROPE, "supply": {"gas": gas}})[0])
    return METRIC.get(known.example, known.example)


@cache
def _gases_words() -> str:
    return f"one of the {len(fuels())} gases of the library"


def words_of(problem: Problem, key: str, values: Mapping[str, str], is_metric: bool) -> str:
    """A problem in one sentence, without the place in the file that a page has no lines for; ``key``: of its field."""
    if is_missing(problem):
        if problem.what != MISSING:
            return f"{problem.what}, as on the rating plate" if key == RATING else problem.what
        known = schema().get(pattern_of(key))
        such = example_of(key, values, is_metric)
        such = f", such as {such if is_metric else us_example(such)}" if such else ""
        hint = f" ({known.hint})" if known is not None and known.hint else ""
        return f"needed{such}{hint}"
    fix = _fix(problem, is_metric)
    is_proposed = _is_proposed(problem, fix)  # a unit to copy needs no list of them beside it
    accepted = problem.accepted
    if OF_FILES in accepted:
        accepted = _gases_words()
        fix = f"{fix} Or {OWN_GAS}" if GUESS.fullmatch(fix) else OWN_GAS
    accepted = f" (accepted: {accepted})" if accepted and not is_proposed else ""
    such = example_of(key, values, True)
    if key == DRILLS:  # of one entry, not of the list
        fix = fix.replace(us_example(such), us_example(ONE_DRILL))
        such = ONE_DRILL
    if is_metric and such:
        fix = re.sub(r'(?<=as in ")[^"]*(?=")', such, fix)
    return f"{problem.what}{accepted}" + (f"; {fix}" if fix else "")


@dataclass(frozen=True, slots=True)
class DeskForm:
    """The fields of one entry, and what is wrong with them."""

    values: Mapping[str, str]
    wrong: Mapping[str, str]
    changed: frozenset[str]
    missing: frozenset[str]
    queries: Mapping[str, str]
    is_metric: bool = False  # whether a unit that it proposes for a value is
    has_metric_examples: bool = False  # beside its fields, else those of a shop in the United States
    altitude_table: Path | None = None  # of the user's own
    defaults: Mapping[str, str] = field(default_factory=dict)  # what holds where an entry is blank, by key
    readings: Mapping[str, tuple[str, ...]] = field(default_factory=dict)  # of texts with a comma, by key

    @staticmethod
    def of(desk: Desk, entry: DeskEntry) -> DeskForm:
        values = entry.text.values()
        is_metric = has_metric_file(desk, values)
        by_field: dict[str, list[str]] = {}
        missing = set()
        for problem in entry.problems:
            key = field_of(problem.key, values)
            by_field.setdefault(key, []).append(words_of(problem, key, values, is_metric))
            if is_missing(problem):
                missing.add(key)
        meant = readings_of(entry, by_field, is_metric)
        wrong = {key: _with_readings("; ".join(words), meant.get(key, ())) for key, words in by_field.items()}
        found = queries_of(values, desk.values_before(entry))
        rules = {key for key, rule in values.items() if ALTITUDE_RULE.search(key) and rule == FULL_RATING}
        found |= dict.fromkeys(rules, FULL_RATING_QUERY)
        found |= _rules_of_elsewhere(values, _altitude_table(desk, entry))
        found |= dict.fromkeys(_unused_openings(values), UNUSED_OPENING)
        queries = {key: words for key, words in found.items() if key not in wrong}
        is_next = values.get(RATING) and not values.get(REGION)  # one note at a time: they stand side by side
        if desk.saved_entry is None and is_next and REGION not in wrong:
            queries[REGION] = REGION_QUERY
        return DeskForm(
            values,
            wrong,
            desk.changed_keys(entry),
            frozenset(missing),
            queries,
            is_metric,
            desk.system_of(entry) == "metric",
            _altitude_table(desk, entry),
            {BAND: default_band(values.get(REGION, "")), DRILLS: default_drills(values.get(REGION, ""))},
            meant,
        )

    def field(self, key: str, label: str = "", width: str = "") -> DeskField:
        """One key as a field."""
        known = schema()[pattern_of(key)]
        such = example_of(key, self.values, self.has_metric_examples)
        return DeskField(
            name=key,
            label=label or known.label,
            text=self.values.get(key, ""),
            width=width or "w-short",
            wrong=self.wrong.get(key, ""),
            readings=self.readings.get(key, ()),
            query=self.queries.get(key, ""),
            is_needed=key in self.missing,
            is_changed=key in self.changed,
            choices=known.choices,
            groups=self._rules(key) if (is_rule := bool(ALTITUDE_RULE.search(key))) else (),
            if_blank=self.defaults.get(key, ""),
            unchosen=NO_RULE if is_rule else "",
            example=such if self.has_metric_examples else us_example(such),
            help=known.help,
            list="gases" if known.kind == "gas" else "drill-lists" if key == DRILLS else "",
        )

    def _rules(self, key: str) -> tuple[ChoiceGroup, ...]:
        """The altitude rules of a field, those of its market's region first."""
        return altitude_choices(_region_of(key, self.values), self.altitude_table, self.values.get(key, ""))

    def group(self, prefix: str, places: Mapping[str, FieldPlace]) -> tuple[DeskField, ...]:
        """The fields of a table that have a place of their own on the page."""
        keys = {f"{prefix}{key}": value for key, value in places.items()}
        return tuple(self.field(key, *value) for key, value in keys.items() if pattern_of(key) in schema())

    def further(self, prefix: str, beside: Iterable[str], is_whole: bool) -> tuple[DeskField, ...]:
        """The other keys of a table: those written or wrong, or all that it may have."""
        placed = {f"{prefix}{key}" for key in beside}
        keys = [key for key in (*self.values, *self.wrong) if key.startswith(prefix) and key not in placed]
        if is_whole:
            keys += [key for key in self._every(prefix) if key not in placed]
        order = {one: place for place, one in enumerate(schema())}
        known = [key for key in dict.fromkeys(keys) if pattern_of(key) in order]
        known.sort(key=lambda key: ([int(n[1:-1]) for n in NUMBER.findall(key)], order[pattern_of(key)]))
        return tuple(self.field(key, label_of(key.removeprefix(prefix))) for key in known)

    def _every(self, prefix: str) -> Iterator[str]:
        """Each key that a table may have; of a list inside it the entries written and one more."""
        pattern = pattern_of(prefix)
        for one in schema():
            if not one.startswith(pattern):
                continue
            *lists, last = one.removeprefix(pattern).split("[]")
            keys = [prefix]
            for part in lists:
                keys = [f"{key}{part}[{n}]" for key in keys for n in range(1, self.count(f"{key}{part}") + 2)]
            yield from (key + last for key in keys)

    def count(self, path: str) -> int:
        """Entries of a list."""
        found = [re.match(re.escape(path) + r"\[(\d+)\]", key) for key in self.values]
        return max((int(one[1]) for one in found if one), default=0)


def field_of(key: str, values: Mapping[str, str]) -> str:
    """The field that a problem belongs to: the key, or the one that makes the table whole it is about."""
    if pattern_of(key) in schema():
        return key
    for group, prefix in ((BURNER, r"burner\[\d+\]\."), (MARKET, r"market\[\d+\]\.")):
        head = re.match(prefix, key)
        if head:
            rest = key[head.end() :]
            inside = next((f"{head[0]}{one}" for one in group if one.startswith(f"{rest}.")), "")
            inside = inside or next((f"{head[0]}{one}" for one in group if one.startswith(f"{rest}[")), "")
            return inside or key
    return next((one for one in (*SITE, *values) if one.startswith(f"{key}.")), key)


def label_of(rest: str) -> str:
    """A key inside its table in words.

    >>> label_of("place[1].x"), label_of("tube_length"), label_of("ports.row_pitch")
    ('place 1, x', 'tube length', 'ports, row pitch')
    """
    return ", ".join(map(key_label, rest.split(".")))


def site_of(form: DeskForm, is_open: bool) -> DeskGroup:
    """Appliance and present supply."""
    fields = form.group("", SITE)
    is_wrong = any(one.wrong for one in fields)
    return DeskGroup(fields=fields, line=_site_line(form.values), is_open=is_open or is_wrong)


def markets_of(form: DeskForm, is_open: bool) -> tuple[DeskGroup, ...]:
    groups = []
    for number in range(1, form.count("market") + 1):
        prefix = f"market[{number}]."
        fields = form.group(prefix, MARKET)
        wrong = any(one.wrong for one in fields)
        line = _market_line(form.values, prefix)
        name = form.values.get(f"{prefix}name", "") or line
        groups.append(DeskGroup(fields=fields, number=number, name=name, line=line, is_open=wrong or is_open))
    return tuple(groups)


def burners_of(form: DeskForm, opened: str, is_blank: bool = False) -> tuple[DeskGroup, ...]:
    groups = []
    for number in range(1, form.count("burner") + 1):
        prefix = f"burner[{number}]."
        title = form.field(f"{prefix}name", "name", "w-name")
        is_whole = opened == prefix.rstrip(".")
        places = burner_places(form.values, prefix)
        fields = form.group(prefix, places)
        more = form.further(prefix, ("name", *places), is_whole)
        is_wrong = any(one.wrong for one in more)
        groups.append(
            DeskGroup(
                fields=fields,
                number=number,
                name=_burner_name(form.values, number),
                line=_burner_line(form.values, prefix),
                times=_times(form.values, prefix),
                is_open=is_blank or is_whole or any(one.wrong for one in fields),
                head=title,
                more=more if is_whole or is_wrong else (),
            )
        )
    return tuple(groups)


def burner_places(values: Mapping[str, str], prefix: str) -> dict[str, FieldPlace]:
    """The places of a burner's keys; the orifice of one that has a diameter in place of a drill is that.

    >>> list(burner_places({"burner[1].orifice.diameter": "1.30 mm"}, "burner[1]."))[3]
    'orifice.diameter'
    """
    key = _orifice_key(values, prefix)
    return {key if one == "orifice.drill" else one: place for one, place in BURNER.items()}


def _orifice_key(values: Mapping[str, str], prefix: str) -> str:
    """The key of a burner that names its hole."""
    has_diameter = values.get(f"{prefix}orifice.diameter") and not values.get(f"{prefix}orifice.drill")
    return "orifice.diameter" if has_diameter else "orifice.drill"


def folded_lines(form: DeskForm) -> dict[str, str]:
    """What the folds of a small screen say, by id: values of the file alone."""
    values, lines = form.values, {"line-site": _site_line(form.values)}
    for number in range(1, form.count("market") + 1):
        lines[f"line-market-{number}"] = _market_line(values, f"market[{number}].")
    for number in range(1, form.count("burner") + 1):
        prefix = f"burner[{number}]."
        lines[f"line-name-{number}"] = _burner_name(values, number)
        lines[f"line-burner-{number}"] = _burner_line(values, prefix)
        lines[f"line-times-{number}"] = _beside(_times(values, prefix))
    return lines


def _site_line(values: Mapping[str, str]) -> str:
    """Appliance and present supply in one short line."""
    return _joined(values.get(key, "") for key in ("appliance.name", "supply.gas", "supply.pressure"))


def _market_line(values: Mapping[str, str], prefix: str) -> str:
    """The entries of a market in one short line."""
    return _joined(values.get(prefix + key, "") for key in MARKET)


def _joined(texts: Iterable[str]) -> str:
    return " · ".join(filter(None, texts))


def _burner_name(values: Mapping[str, str], number: int) -> str:
    return values.get(f"burner[{number}].name", "") or f"burner {number}"


def _burner_line(values: Mapping[str, str], prefix: str) -> str:
    """The entries of a burner in one short line."""
    keys = ("rate", _orifice_key(values, prefix), "ports.count", "ports.diameter")
    rate, drill, count, diameter = (values.get(prefix + key, "") for key in keys)
    ports = f"{count} × {diameter}" if count and diameter else ""
    return _joined((_times(values, prefix), rate, drill, ports)) or "entries"


def _beside(times: str) -> str:
    """How many, as it stands before another word."""
    return f"{times} · " if times else ""


def _times(values: Mapping[str, str], prefix: str) -> str:
    """How many burners of an entry there are, unless it is one."""
    count = values.get(f"{prefix}count", "")
    return f"× {count}" if count not in ("", "1") else ""


def part_of(form: DeskForm, part: str) -> DeskGroup | None:
    """A table of the file, or a list of tables, with all its keys."""
    if part not in PARTS:
        return None
    is_list = any(one.startswith(f"{part}[]") for one in schema())
    fields: tuple[DeskField, ...] = ()
    if is_list:
        for number in range(1, form.count(part) + 2):
            fields += form.further(f"{part}[{number}].", (), True)
        fields = tuple(form.field(one.name, label_of(one.name)) for one in fields)
    elif part in schema():
        fields = (form.field(part, part_words(part), "w-wide"),)
    else:
        beside = [key.partition(".")[2] for key in SITE if key.startswith(f"{part}.")]
        fields = form.further(f"{part}.", beside, True)
    return DeskGroup(fields=fields, name=part_words(part))


def part_words(part: str) -> str:
    return PART_PLACES[part].label if part in PART_PLACES else key_label(part)


def problem_lines(entry: DeskEntry, form: DeskForm, on_page: Iterable[str]) -> tuple[ProblemLine, ...]:
    """Every problem with the field it belongs to, what is missing last."""
    shown = set(on_page)
    lines = []
    for problem in entry.problems:
        key = field_of(problem.key, form.values)
        lines.append(
            ProblemLine(
                field=key if key in shown else "",
                place=place_of(key, form.values) or line_of(problem, entry.text.text),
                words=words_of(problem, key, form.values, form.is_metric),
                is_missing=is_missing(problem),
            )
        )
    return tuple(sorted(lines, key=attrgetter("is_missing")))


def line_of(problem: Problem, text: str) -> str:
    """The line of a file that cannot be read there, as it stands; "" for any other problem.

    >>> line_of(Problem("is not TOML", file="cart.toml", line=2), "[appliance]\\nname = [")
    'line 2, "name = ["'
    """
    lines = text.split("\n")
    is_line = not problem.key and 1 <= problem.line <= len(lines)
    return f"line {problem.line}, {in_quotes(lines[problem.line - 1].strip())}" if is_line else ""


def place_of(key: str, values: Mapping[str, str]) -> str:
    """Where a key stands, in the user's words.

    >>> place_of("burner[2].ports.count", {"burner[2].name": "left tube"})
    'left tube, ports'
    """
    head = re.match(r"(burner|market)\[(\d+)\]\.?", key)
    if head is None:
        return SITE[key].label if key in SITE else label_of(key)
    own = values.get(f"{head[1]}[{head[2]}].name") or f"{head[1]} {head[2]}"
    rest = key[head.end() :]
    words = (burner_places(values, head[0]) if head[1] == "burner" else MARKET).get(rest)
    label = words.label if words else label_of(rest)
    return f"{own}, {label}" if label else own


def names_on(groups: Sequence[DeskGroup]) -> list[str]:
    """Every field of some groups."""
    heads = [group.head.name for group in groups if group.head is not None]
    return heads + [one.name for group in groups for one in (*group.fields, *group.more)]
