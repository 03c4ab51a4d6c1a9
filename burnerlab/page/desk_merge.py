"""Changes of two sides in one file put together: what one alone changed is taken, what both changed is chosen."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from burnerlab.appliance.project.input_comparison import InputComparison, Pair, compare_inputs
from burnerlab.appliance.project.project_text import ProjectText
from burnerlab.tables.problem import UserError

RATING = "appliance.rating"
PAGE, FILE = "page", "file"  # whose value of an entry is taken
STOCK_KEY = "tables.stock"
BURNER_NAME = re.compile(r"burner\[\d+\]\.name")
ENTRY = re.compile(r"([a-z_]+)\[(\d+)\](.*)")
INNER_LIST = re.compile(r"(.+)\[\d+\]\.")
RATE = re.compile(r"burner\[\d+\]\.rate")
OF_SUPPLY = re.compile(r"(.*supply(?:\[\d+\])?)\.(?:gas|pressure)")
Values = Mapping[str, str]
Numbers = Mapping[tuple[str, int | None], int | None]


@dataclass(frozen=True, slots=True)
class Clash:
    """An entry that both sides changed, or that means another thing by what the other side changed."""

    key: str  # in the text that the other side's changes are put into
    place_key: str  # in the text of the page
    typed: str
    file: str

    @property
    def field(self) -> str:
        """The name of its choice in a form."""
        return f"choose {self.key}"


@dataclass(frozen=True, slots=True)
class Merge:
    """One side whole, and what the other side changed, by the keys of the first."""

    base: ProjectText
    changes: Mapping[str, str]
    clashes: tuple[Clash, ...]

    def text(self, choices: Mapping[str, str]) -> ProjectText | None:
        """Both together; choices : "page" or "file" by the field of each clash. None where one is not chosen."""
        values = dict(self.changes)
        for one in self.clashes:
            choice = choices.get(one.field)
            if choice not in (PAGE, FILE):
                return None
            values[one.key] = one.typed if choice == PAGE else one.file
        stock = values.pop(STOCK_KEY, None)  # of a text that was read or chosen from a list, not of a form
        try:
            text = written(self.base, values, self.base.values())
            return text if stock is None else text.with_stock(stock)
        except UserError:
            return None


def written(text: ProjectText, changes: Values, present: Values) -> ProjectText:
    """The text with other values; a burner's other name goes to all that refers to it."""
    names = {key: changes[key] for key in changes if BURNER_NAME.fullmatch(key) and present.get(key)}
    text = text.with_values({key: one for key, one in changes.items() if key not in names})
    every = [one for key, one in present.items() if BURNER_NAME.fullmatch(key)]
    for key, name in names.items():
        is_shared = (
            every.count(present[key]) > 1 or name in every or not name
        )  # the reader says what is wrong with it
        number = int(key[len("burner[") : key.index("]")])
        text = text.with_values({key: name}) if is_shared else text.with_burner_name(number, name)
    return text


def merge_of(begun: ProjectText, typed: ProjectText, now: ProjectText) -> Merge | None:
    """What was typed on a page and what was changed in its file since, together.

    None where both added, removed or moved entries of lists, or one changed an entry that the other removed: nobody
    knows then which entry a value belongs to.

    >>> begun = ProjectText.blank().with_burner()
    >>> typed = begun.with_values({"burner[1].rate": "13 kBtu/h"})
    >>> merge = merge_of(begun, typed, begun.with_values({"burner[2].rate": "9 kBtu/h"}))
    >>> merge.clashes, [merge.text({}).values()[f"burner[{n}].rate"] for n in (1, 2)]
    ((), ['13 kBtu/h', '9 kBtu/h'])
    """
    own, other = (compare_inputs(begun, one) for one in (typed, now))
    if _is_as_it_was(own.pairs):
        return _put_into(now, typed, begun, (other, own), is_page_base=False)
    if not _is_as_it_was(other.pairs):
        return None
    made = _put_into(typed, now, begun, (own, other), is_page_base=True)
    if made is None:
        return None
    alone = {key: now.values().get(key, "") for key in _changed(begun.values(), now.values())}
    # comments of the file are kept: they differ only where values do
    return made if begun.with_values(alone).text == now.text else None


def _put_into(
    base: ProjectText,
    side: ProjectText,
    begun: ProjectText,
    since: tuple[InputComparison, InputComparison],
    *,
    is_page_base: bool,
) -> Merge | None:
    """The changes of a side, whose lists are as they were, in the text of the other.

    since : what base and side say differently from begun
    """
    numbers = {(one.table, one.number_before): one.number_after for one in since[0].pairs}
    start, now, there = begun.values(), side.values(), base.values()
    places = {key: _numbered(key, numbers) for key in {**start, **now}}
    back = {place: key for key, place in places.items()}
    changed = _changed(start, now)
    if not all(places[key] for key in changed):  # the other side removed its entry
        return None
    before = {places[key]: text for key, text in start.items() if places[key]}
    own = {places[key]: now.get(key, "") for key in changed}
    foreign = _changed(before, there)
    if (
        RATING not in own and RATING not in foreign
    ):  # a figure in other writing is no change beside one that is
        in_other_words = [{one.key for one in each.respelt} for each in since]
        own = {
            key: text
            for key, text in own.items()
            if key not in foreign or back.get(key) not in in_other_words[1]
        }
        foreign = [key for key in foreign if key not in own or key not in in_other_words[0]]
    here = {**before, **own}
    if any(_has_moved(one, before, here, there) for one in _inner_lists(own) & _inner_lists(foreign)):
        return None
    clashes = list[Clash]()
    for key in _clashing(own, foreign, here, there):
        texts = here.get(key, ""), there.get(key, "")
        typed, file = texts[::-1] if is_page_base else texts
        clashes.append(Clash(key, key if is_page_base else back.get(key, key), typed, file))
    left = {one.key for one in clashes}
    return Merge(base, {key: text for key, text in own.items() if key not in left}, tuple(clashes))


def _is_as_it_was(pairs: tuple[Pair, ...]) -> bool:
    """Whether every entry of the lists has the number that it had."""
    return all(one.number_before == one.number_after for one in pairs)


def _changed(before: Values, after: Values) -> list[str]:
    return [key for key in dict.fromkeys((*before, *after)) if before.get(key, "") != after.get(key, "")]


def _numbered(key: str, numbers: Numbers) -> str:
    """A key by the number that its entry has in the other text; "" where it is not there."""
    entry = ENTRY.fullmatch(key)
    if entry is None:
        return key
    number = numbers.get((entry[1], int(entry[2])), int(entry[2]))
    return f"{entry[1]}[{number}]{entry[3]}" if number is not None else ""


def _clashing(own: Values, foreign: list[str], here: Values, there: Values) -> list[str]:
    """Keys that both changed to another value, and those that have a meaning together of which each changed a part."""
    unlike = [key for key in dict.fromkeys((*own, *foreign)) if here.get(key, "") != there.get(key, "")]
    groups: dict[str, list[str]] = {}
    for key in unlike:
        groups.setdefault(_meaning_of(key), []).append(key)
    found = list[str]()
    for name, keys in groups.items():
        if name == RATING and RATING not in keys:  # rates alone, each of its own burner
            found += [key for key in keys if key in own and key in foreign]
        elif any(key in own for key in keys) and any(key in foreign for key in keys):
            found += keys
    return found


def _meaning_of(key: str) -> str:
    """What a key has its meaning with: the basis of the rates, the supply of a gas at its pressure; else itself."""
    supply = OF_SUPPLY.fullmatch(key)
    if supply is not None:
        return supply[1]
    return RATING if RATE.fullmatch(key) else key


def _inner_lists(keys: Iterable[str]) -> set[str]:
    """Lists inside an entry, whose own entries have no names."""
    found = (INNER_LIST.match(key) for key in keys)
    return {one[1] for one in found if one and "[" in one[1]}


def _has_moved(path: str, *texts: Values) -> bool:
    """Whether a list has not as many entries in one of these as in another."""
    entry = re.compile(re.escape(path) + r"\[(\d+)\]")
    return len({len({hit[1] for key in one if (hit := entry.match(key))}) for one in texts}) > 1
