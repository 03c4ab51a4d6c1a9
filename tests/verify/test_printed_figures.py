"""Every printed figure of shared/ is met within the tolerance its row states."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from itertools import combinations

import pytest

from burnerlab import verify
from burnerlab.tables import package_dir, sources

CHECKS = verify.checks()


COMPARED = [check for check in CHECKS if check.kind != "shown"]
TOPICS = list(dict.fromkeys(check.topic for check in COMPARED))


def test_there_are_figures_to_meet() -> None:
    """A topic lost from shared/ is no test fewer by itself."""
    assert len(COMPARED) > 1900
    assert len(TOPICS) > 30


@pytest.mark.parametrize("topic", TOPICS)
def test_printed_figures_are_met(topic: str) -> None:
    """Every row of a topic; each that is not met is named."""
    results = [verify.evaluate(check) for check in COMPARED if check.topic == topic]
    assert results
    not_met = [result for result in results if result.ours is None or not result.agrees]
    assert not not_met, "\n".join(
        f"{check.id}, {check.source}, {check.place}: printed {check.printed} {check.unit}, ours {result.ours}, "
        f"difference {result.difference} ({check.kind}), tolerance {check.tolerance}"
        for result in not_met
        for check in [result.check]
    )


def test_every_id_is_used_once() -> None:
    names = [(check.topic, check.id) for check in CHECKS]
    assert len(names) == len(set(names))


def test_every_measure_is_used() -> None:
    assert set(verify.measures()) == {check.measure for check in CHECKS if check.measure}


PUBLISHED = ("measured", "seen", "memory")
LARGEST_QUOTATION = 12  # check cells of one publication that is no open data


def _published() -> Counter[str]:
    return Counter(check.source for check in CHECKS if check.provenance in PUBLISHED)


def test_a_handful_of_cells_is_quoted_of_a_publication_that_is_no_open_data() -> None:
    open_data = {source.title for source in sources().values() if source.licence}
    counts = _published()
    assert open_data <= set(counts)
    assert not {
        source: count
        for source, count in counts.items()
        if count > LARGEST_QUOTATION and source not in open_data
    }


ALIKE = 4  # words at the beginning of two names that ask whether they are one publication
APART = {
    "furnace installation manual, orifice and manifold pressure at sea level": "two manuals, each with a table of its "
    "own: 20 000 and 22 000 Btu/h a burner, coefficients 0.90 and 0.87",
    "public page of a": "two makers: of gas-air blenders, and of steam equipment",
    "public page of an LPG": "two sellers: a supplier, and a wholesaler",
    "trade formula of valves for gases": "two formulas, with Kv and with Cv",
}
"""What names of publications have in common that are none the less two, and why."""


def _words(name: str) -> list[str]:
    return re.findall(r"\w+", name.casefold())


def _alike(one: str, other: str) -> bool:
    """Whether two names begin with the same words: one as a whole, or ``ALIKE`` of them."""
    short, long = sorted((_words(one), _words(other)), key=len)
    least = min(ALIKE, len(short))
    return short[:least] == long[:least]


def _apart(names: Iterable[str]) -> list[str]:
    """The beginnings of ``APART`` that stand before each of the names."""
    return [
        start for start in APART if all(_words(name)[: len(_words(start))] == _words(start) for name in names)
    ]


def test_names_that_begin_alike_are_one_publication_or_two_for_a_reason() -> None:
    """One publication under two names would have twice the cells; its parts stand in the place."""
    pairs = [pair for pair in combinations(sorted(_published()), 2) if _alike(*pair)]
    assert not [pair for pair in pairs if not _apart(pair)]
    assert {start for pair in pairs for start in _apart(pair)} == set(APART)


@pytest.mark.parametrize(("one", "other", "alike"), [
    ("US Standard Atmosphere 1976 / ICAO Doc 7488", "US Standard Atmosphere 1976 in feet", True),
    ("EN 437:2003+A1:2009", "EN 437:2003+A1:2009, annex B", True), ("ISO 6976:2016", "ISO 6976:2016 (annex)", True),
    ("JCGM 100:2008", "JCGM 101:2008", False), ("NFPA 54 / ANSI Z223.1", "NFPA 58, annex table", False),
])  # fmt: skip
def test_names_are_compared_word_by_word(one: str, other: str, alike: bool) -> None:
    assert _alike(one, other) is alike


def test_the_notices_name_each_publication_of_open_data() -> None:
    notice = (package_dir() / "tables" / "NOTICE.md").read_text(encoding="utf-8")
    for source in sources().values():
        if source.licence:
            assert source.title in notice
            assert source.edition, "who published it, and when"
            assert all(part in notice for part in source.edition.split(", "))
            assert source.licence.removesuffix(" (recalled)") in notice


def test_what_the_model_does_not_produce_is_shown_and_counted_as_no_agreement() -> None:
    """The published ratio of hot to cold air is one burner's: ours is near 1, and neither is fitted to the other."""
    results = {result.check.id: result for result in verify.run(("measured_burner",))}
    ratio = results["hot over cold primary aeration"]
    assert ratio.check.printed == 0.63
    assert ratio.ours is not None
    assert 0.95 < ratio.ours < 1.0
    assert ratio.agrees is None
    assert results["hydrogen that changes a cooktop burner not significantly"].ours is None
    shown = [result for result in results.values() if result.agrees is None]
    assert verify.by_provenance(shown) == {"measured": len(shown)}
    lines = verify.summary(list(results.values()))
    assert (
        f"shown beside the model, not compared: {len(shown)} measured by others, read in public texts"
        in lines
    )
    assert not any(line.startswith("outside its tolerance: 1") for line in lines)


def test_measured_figures_are_counted_apart_from_published_ones() -> None:
    """Sets of burning velocities, flame heights and plumes, the abstracts of burner tests: about seventy of all."""
    counts = verify.by_provenance([verify.CheckResult(check=c, quantity="", ours=c.printed) for c in CHECKS])
    assert list(counts) == ["measured", "seen", "memory", "computed", "definition"]
    assert 50 < counts["measured"] < 100


def test_a_wrong_figure_is_caught() -> None:
    check = next(check for check in CHECKS if check.kind == "rel" and check.printed)
    assert check.tolerance is not None
    result = verify.evaluate(check)
    shifted = verify.CheckResult(
        check=check, quantity=result.quantity, ours=check.printed * (1 + 2 * check.tolerance + 1e-9)
    )
    assert not shifted.agrees
