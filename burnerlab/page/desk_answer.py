"""What the desk shows of an appliance on its markets: two answers to every edit, as fragments of a page.

The page calls, for an appliance that reads and its markets (letter, name, appliance, targets):

* ``first = first_answer(appliance, markets, system)``: orifices alone, some 20 ms;
* ``whole = whole_answer(first, on, pictures)``: all the rest; ``on``: places (1, 2 ...) of the burners that burn
  together, from checkboxes ``on-1``, ``on-2`` ... of the form and its button ``on``; ``pictures``:
  address below which ``A-1.png`` is what ``desk_heat.heat_picture(whole.markets, "A-1")`` gives;
* ``answer.html()``: {id: whole element}; it replaces the element of that id (outerHTML, not innerHTML). The cells are
  ``market-A``, ``orifice-1-A`` and ``flame-1-A`` (burner 1, market A); ``LAYOUT`` names the others in the order of the
  page; ``desk_answer_marks.html.j2`` goes once into every page, ``desk_answer.css`` has the look;
* ``changes_between(saved, whole)``: ids of texts inside the elements that differ from the answer of the last save.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

from burnerlab.appliance.conversion.convert import convert_to
from burnerlab.appliance.conversion.evaluation import evaluate_conversions
from burnerlab.appliance.conversion.refusal import not_to_fit
from burnerlab.appliance.project.model import Appliance
from burnerlab.page.desk_cautions import caution_lines, warning_lines
from burnerlab.page.desk_findings import look_first, open_questions, state_line, topics_of
from burnerlab.page.desk_flames import burner_air_words, flame_cells, flame_panels
from burnerlab.page.desk_fragment import DeskFigure, DeskMarket, Fragment, MarketConversion, desk_figure
from burnerlab.page.desk_heat import heat_fragment
from burnerlab.page.desk_orifices import OrificeCell, apart_gases, market_head, orifice_cells, present_state
from burnerlab.page.desk_supply import supply_fragment
from burnerlab.page.render import page
from burnerlab.page.result_text import unbroken_html
from burnerlab.quantity import System
from burnerlab.report.sheet.units import conversion_in
from burnerlab.tables.problem import UserError

LAYOUT = ("state", "apart", "warnings", "present", "look", "flames", "supply", "heat", "open", "cautions")
"""Ids of the elements beside the burners and their markets, in the order of the page."""
ELEMENTS = 1000  # remembered: an answer of six burners on three markets has some fifty


@lru_cache(maxsize=ELEMENTS)
def _element(part: Fragment) -> str:
    """A fragment as an element; one that stood in an answer before is not made again."""
    return unbroken_html(page(part.template, part=part))


@dataclass(frozen=True, kw_only=True)
class DeskAnswer:
    """What follows from one text of a project file, fragment by fragment."""

    appliance: Appliance
    system: System
    markets: tuple[MarketConversion, ...]
    fragments: tuple[Fragment, ...]
    is_whole: bool

    def html(self) -> dict[str, str]:
        """Every fragment as an element, by its id."""
        return {one.id: _element(one) for one in self.fragments}

    @cached_property
    def texts(self) -> Mapping[str, str]:
        """Every text with an address, by its id."""
        return {figure.id: figure.text for _, figure in self._figures}

    @cached_property
    def elements(self) -> Mapping[str, str]:
        """The id of the element that each of them stands in."""
        return {figure.id: element for element, figure in self._figures}

    @cached_property
    def _figures(self) -> tuple[tuple[str, DeskFigure], ...]:
        return tuple((fragment.id, figure) for fragment in self.fragments for figure in fragment.figures)


def first_answer(appliance: Appliance, markets: Sequence[DeskMarket], system: System) -> DeskAnswer:
    """The orifices of an appliance on its markets. A market that cannot be calculated says why, the others are there.

    >>> from types import SimpleNamespace
    >>> from burnerlab.appliance import ConversionTarget, demonstration
    >>> from burnerlab.gas import load
    >>> propane = ConversionTarget(gas=load("propane"), gauge_pressure_Pa=2740.0)
    >>> cart = demonstration()
    >>> market = SimpleNamespace(letter="A", name="propane", appliance=cart, targets=(propane,))
    >>> first_answer(cart, [market], "metric").texts["orifice-4-A-mark"]
    '1.55 mm'
    """
    converted = tuple(map(_conversion, markets))
    answer = DeskAnswer(appliance=appliance, system=system, markets=converted, fragments=(), is_whole=False)
    return replace(answer, fragments=tuple(_orifices(answer)))


def _conversion(market: DeskMarket) -> MarketConversion:
    try:
        conversions = tuple(convert_to(market.appliance, target) for target in market.targets)
    except UserError as error:
        problems = tuple(problem.text() for problem in error.problems)
        return MarketConversion(letter=market.letter, name=market.name, conversions=(), problems=problems)
    return MarketConversion(letter=market.letter, name=market.name, conversions=conversions)


def _orifices(answer: DeskAnswer) -> Iterator[Fragment]:
    """The fragments of the first answer."""
    yield state_line(answer.markets, topics_of(answer.markets), is_whole=False)
    yield apart_gases(answer.markets)
    for market in answer.markets:
        like = next((one.letter for one in answer.markets if one.problems == market.problems), "")
        is_first = not market.problems or like == market.letter
        yield market_head(market, answer.system, "" if is_first else like)
        yield from orifice_cells(len(answer.appliance.burners), market, answer.system)


def whole_answer(first: DeskAnswer, on: Collection[int] = (), pictures: str = "") -> DeskAnswer:
    """The first answer with everything else evaluated; figures of the orifices stay as they are.

    on : places of the burners that burn together, from 1; all of them unless given
    pictures : address below which the pictures of ``heat_picture`` stand; without it there are none
    """
    each = iter(evaluate_conversions([c for market in first.markets for c in market.conversions]))
    markets = tuple(
        replace(market, conversions=tuple(next(each) for _ in market.conversions)) for market in first.markets
    )
    answer = replace(first, markets=markets, is_whole=True)
    kept = [fragment for fragment in first.fragments if fragment.id not in LAYOUT]
    return replace(answer, fragments=(*_with_air(kept, markets), *_rest(answer, on, pictures)))


def _with_air(fragments: Sequence[Fragment], markets: Sequence[MarketConversion]) -> Iterator[Fragment]:
    """The cells of the orifices with their air cold to hot."""
    conversions = {market.letter: market.conversion for market in markets}
    for fragment in fragments:
        if isinstance(fragment, OrificeCell) and (c := conversions[fragment.letter]) is not None:
            burner = c.burners[fragment.place - 1].name
            words = "" if burner in not_to_fit(c) else burner_air_words(c, burner)
            yield replace(fragment, air=desk_figure(fragment.air.id, words))
        else:
            yield fragment


def _rest(answer: DeskAnswer, on: Collection[int], pictures: str) -> Iterator[Fragment]:
    """The fragments of air, flames, supply, heat and of what is found."""
    for market in answer.markets:
        yield from flame_cells(len(answer.appliance.burners), market, answer.system)
    markets = tuple(
        replace(market, conversions=tuple(conversion_in(c, answer.system) for c in market.conversions))
        for market in answer.markets
    )
    topics = topics_of(markets)
    yield state_line(markets, topics, is_whole=True)
    yield apart_gases(markets)
    yield warning_lines(markets, topics)
    yield present_state(answer.appliance, answer.markets, answer.system)
    yield look_first(markets, topics)
    yield flame_panels(answer.markets, answer.system)
    yield supply_fragment(answer.appliance, markets, on, answer.system)
    yield heat_fragment(answer.markets, pictures, answer.system)
    yield open_questions(markets)
    yield caution_lines(markets, topics)


def changes_between(saved: DeskAnswer, now: DeskAnswer) -> frozenset[str]:
    """Ids of the texts that are new, or differ, since the answer of the last save."""
    before = saved.texts
    return frozenset(id for id, text in now.texts.items() if before.get(id) != text)
