"""What the desk has worked out: the two answers of each text, so that a page that is loaded again costs nothing."""

from __future__ import annotations

import re
from collections import OrderedDict
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from functools import cache
from threading import Lock
from typing import TYPE_CHECKING

from burnerlab.appliance.conversion.markets import targets_of
from burnerlab.appliance.conversion.result import Conversion
from burnerlab.appliance.project.key_readers import own_gas_name
from burnerlab.burner.port_region import PortRegion
from burnerlab.gas.library import fuels, gases_of, load
from burnerlab.page.answer_language import AnswerLanguage, names_of_answer
from burnerlab.page.desk_answer import LAYOUT, DeskAnswer, changes_between, first_answer, whole_answer
from burnerlab.page.desk_heat import heat_picture
from burnerlab.page.desk_language import language_of
from burnerlab.page.desk_state import Desk, DeskEntry
from burnerlab.quantity import System
from burnerlab.quantity.prose import in_print
from burnerlab.tables.libraries import MARK as OF_LIBRARY
from burnerlab.tables.libraries import installed, is_mix
from burnerlab.tables.problem import UserError

if TYPE_CHECKING:
    from burnerlab.appliance.study.port_study import PortCase
    from burnerlab.page.desk_port_shop import Shop

APART = ("state", "apart", "warnings", "present", "cautions")  # have a place of their own
FOLDED = {
    "look": "What to look at first",
    "flames": "Flames",
    "supply": "Supply",
    "heat": "Heat",
    "open": "Not evaluated",
}
"""What a phone folds, and the words it then shows."""
BELOW = tuple((one, FOLDED.get(one, "")) for one in LAYOUT if one not in APART)
MARK = 'data-new=""'  # in an element whose text is new since the last save
Places = tuple[int, ...]
"""Numbers of burners, from 1."""
Key = tuple[str, System, Places]
RegionKey = tuple[str, int, tuple[str, ...], tuple[tuple[str, str], ...]]
"""Of a region: text, burner (from 1), markets, and what the maker can drill."""
MOST_REGIONS = 6  # of ports: some megabytes each
SUPPLY_GAS = re.compile(r"supply\[\d+\]\.gas$")
REMEMBERED = 32  # answers of each kind


@cache
def gas_titles() -> tuple[tuple[str, str], ...]:
    """Every gas of the library by its name, and its title where that says more.

    >>> dict(gas_titles())["G31"]
    'G31, propane test gas'
    """
    return tuple((name, in_print(load(name).title)) for name in fuels())


@cache
def installed_gases() -> tuple[tuple[str, str], ...]:
    """Every gas of the installed libraries that can be read, as a market names it, with its title."""
    found = []
    for one in installed().values():
        with suppress(UserError):
            found += [(gas.name, in_print(gas.title)) for gas in gases_of(one)]
    return tuple(found)


def gases_of_file(values: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
    """Gases that no library has and the file has: that of its [gas] table, and what its supplies name.

    >>> gases_of_file({"gas.name": "our gas", "supply.gas": "propane", "market[1].supply[1].gas": "mix:CH4=1"})
    (('our gas', 'own gas of this file'), ('mix:CH4=1', 'in this file'))
    """
    own = own_gas_name(
        {key.partition(".")[2]: text for key, text in values.items() if key.startswith("gas.")} or None
    )
    found = {own: "own gas of this file"} if own else {}
    named = [text for key, text in values.items() if key.endswith("supply.gas") or SUPPLY_GAS.search(key)]
    found |= {text: "in this file" for text in named if text != own and (is_mix(text) or OF_LIBRARY in text)}
    return tuple(found.items())


@dataclass(frozen=True, slots=True)
class AnswerHtml:
    """An answer as elements by their ids, and their order on the page."""

    answer: DeskAnswer
    html: dict[str, str]


@dataclass(slots=True)
class Answers:
    """Answers by text and units."""

    desk: Desk
    firsts: OrderedDict[Key, AnswerHtml] = field(default_factory=OrderedDict)
    wholes: OrderedDict[Key, AnswerHtml] = field(default_factory=OrderedDict)
    regions: OrderedDict[RegionKey, PortRegion] = field(default_factory=OrderedDict)
    shop: tuple[int, Shop] = (0, ())  # entries of the page of ports as they were last, and their burner
    words: AnswerLanguage | None = None  # of the language of the file, unless that is English
    lock: Lock = field(default_factory=Lock)

    def first(self, entry: DeskEntry, system: System) -> AnswerHtml:
        """The orifices of an entry that reads."""

        def make() -> DeskAnswer:
            assert entry.appliance is not None
            return first_answer(entry.appliance, targets_of(entry.appliance), system)

        return self._remembered(self.firsts, entry, (entry.digest, system, ()), make)

    def whole(self, entry: DeskEntry, system: System, on: Places = ()) -> AnswerHtml:
        """Everything that follows from an entry that reads; ``on``: burners that burn together, all unless given."""

        def make() -> DeskAnswer:
            return whole_answer(self.first(entry, system).answer, on, f"/map/{entry.digest}")

        return self._remembered(self.wholes, entry, (entry.digest, system, on), make)

    def marked(self, made: AnswerHtml, system: System, on: Places = ()) -> dict[str, str]:
        """The elements of an answer, with a mark at each text that differs from those of the last save."""
        saved = self.desk.saved_entry
        if saved is None or saved.appliance is None:
            return made.html
        before = self.whole(saved, system, on) if made.answer.is_whole else self.first(saved, system)
        changed = changes_between(before.answer, made.answer) if before is not made else frozenset()
        html, elements = dict(made.html), made.answer.elements
        for id in changed:
            html[elements[id]] = html[elements[id]].replace(f'id="{id}"', f'id="{id}" {MARK}')
        return html

    def _remembered(
        self,
        kept: OrderedDict[Key, AnswerHtml],
        entry: DeskEntry,
        key: Key,
        make: Callable[[], DeskAnswer],
    ) -> AnswerHtml:
        with self.lock:
            if key in kept:
                kept.move_to_end(key)
                return kept[key]
        answer = make()
        made = AnswerHtml(answer, self._in_language(entry, answer))
        with self.lock:
            kept[key] = made
            while len(kept) > REMEMBERED:
                kept.popitem(last=False)
        return made

    def _in_language(self, entry: DeskEntry, answer: DeskAnswer) -> dict[str, str]:
        """The elements of an answer in the language of its file."""
        html, own = answer.html(), language_of(self.desk, entry)
        if own.is_english and not own.region:
            return html
        if own.is_english:
            names = names_of_answer(answer)
            return {id: own.regional(text, *names) for id, text in html.items()}
        words = self.words
        key = (own.names, own.region)
        if words is None or words.language is not own.language or (words.names, words.region) != key:
            self.words = words = AnswerLanguage(own.language, *key)
        return words.of(answer, html)

    def names(self, entry: DeskEntry, system: System) -> tuple[str, ...]:
        """What publications, libraries and the file named in the answers on the page of an entry."""
        shown = self.desk.figures_of(entry)
        return () if shown is None else names_of_answer(self.first(shown, system).answer)

    def conversion(self, entry: DeskEntry, system: System, letter: str) -> Conversion | None:
        """The appliance of an entry on a market and gas: A, or B2 for the second gas of B. None where it has none.

        B alone is the gas that the orifices are sized on.
        """
        if entry.appliance is None:
            return None
        every = self.first(entry, system).answer.markets
        found = {market.letter: market.conversion for market in every}
        found |= {by_letter: conversion for market in every for by_letter, conversion in market.by_gas}
        return found.get(letter)

    def region(
        self,
        entry: DeskEntry,
        number: int,
        letters: tuple[str, ...],
        shop: Shop = (),
        case: PortCase | None = None,
    ) -> PortRegion:
        """The region of ports of a burner (from 1) of an entry that reads, on some markets, as it can be made.

        case : the burner, where it is known. Raises UserError as ``case_of`` and ``region_of`` do.
        """
        from burnerlab.page.desk_ports import case_of, region_of

        key = (entry.digest, number, letters, shop)
        with self.lock:
            if key in self.regions:
                self.regions.move_to_end(key)
                return self.regions[key]
        assert entry.appliance is not None
        found = region_of(case or case_of(entry.appliance, number, letters), shop)
        with self.lock:
            self.regions[key] = found
            while len(self.regions) > MOST_REGIONS:
                self.regions.popitem(last=False)
        return found

    def shop_for(self, number: int) -> Shop:
        """The entries of the page of ports to begin with: those of the workshop, and a burner's own of that burner."""
        from burnerlab.page.desk_port_shop import OF_ANY_BURNER

        of, shop = self.shop
        return shop if of == number else tuple(one for one in shop if one[0] in OF_ANY_BURNER)

    def heat_map(self, entry: DeskEntry, picture: str) -> bytes | None:
        """The picture of a cooking surface on a market, such as A-1; None where there is none."""
        if entry.appliance is None:
            return None
        return heat_picture(self.whole(entry, self.desk.system).answer.markets, picture)

    def gases(self, entry: DeskEntry) -> tuple[tuple[str, str], ...]:
        """Names of gases to choose from, with their titles: those of the file, of the user's libraries, of ours."""
        return (*gases_of_file(entry.text.values()), *installed_gases(), *gas_titles())
