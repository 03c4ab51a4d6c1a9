"""What was typed and what was changed in the file meanwhile, put together entry by entry."""

from __future__ import annotations

from pathlib import Path

import pytest
from desk_client import BASE, HIDDEN, SMALL, DeskClient, written

from burnerlab.appliance.project.project_text import ProjectText
from burnerlab.page.desk_merge import merge_of
from burnerlab.page.desk_state import Desk

LEFT, RIGHT, THROAT = "burner[1].rate", "burner[2].rate", "burner[1].throat"
GAS, PRESSURE = "supply.gas", "supply.pressure"
BASIS = "appliance.rating"
BEGUN = ProjectText(SMALL)
SWAPPED = BEGUN.with_burner_at(2, 1)


def test_what_each_side_alone_changed_is_taken_with_the_comments_of_the_file() -> None:
    outside = ProjectText(
        SMALL.replace("14.5 kBtu/h", "15 kBtu/h").replace("# where it is sold", "# sold there")
    )
    merge = merge_of(BEGUN, BEGUN.with_values({LEFT: "13 kBtu/h"}), outside)
    assert merge is not None
    assert not merge.clashes
    both = merge.text({})
    assert both is not None
    assert both.text == outside.text.replace("12.5 kBtu/h", "13 kBtu/h")


@pytest.mark.parametrize(
    ("typed", "outside", "clashing"),
    [
        ({LEFT: "13 kBtu/h"}, {LEFT: "14 kBtu/h", RIGHT: "15 kBtu/h"}, {LEFT}),
        ({LEFT: "13 kBtu/h"}, {LEFT: "13 kBtu/h", RIGHT: "15 kBtu/h"}, set()),
        ({THROAT: "16 mm"}, {THROAT: ""}, {THROAT}),
        # a figure in other writing is no change of its own
        ({LEFT: "12500 Btu/h"}, {LEFT: "14 kBtu/h"}, set()),
        ({LEFT: "13 kBtu/h"}, {LEFT: "12500 Btu/h"}, set()),
        # a pressure is that of its gas, a rate that of its basis
        ({PRESSURE: "8 in w.c."}, {GAS: "propane"}, {GAS, PRESSURE}),
        ({BASIS: "net", LEFT: "11.3 kBtu/h"}, {RIGHT: "15 kBtu/h"}, {BASIS, LEFT, RIGHT}),
        ({BASIS: "net"}, {THROAT: "16 mm"}, set()),
        ({"market[1].supply[1].pressure": "14 in w.c."}, {PRESSURE: "4 in w.c."}, set()),
    ],
)
def test_what_both_changed_or_means_something_together_is_chosen(
    typed: dict[str, str], outside: dict[str, str], clashing: set[str]
) -> None:
    merge = merge_of(BEGUN, BEGUN.with_values(typed), BEGUN.with_values(outside))
    assert merge is not None
    assert {one.key for one in merge.clashes} == clashing
    assert bool(clashing) == (merge.text({}) is None)
    begun = BEGUN.values()
    for side, own in (("page", typed), ("file", outside)):
        both = merge.text({one.field: side for one in merge.clashes})
        assert both is not None
        wanted = begun | outside | typed | {key: own.get(key, begun.get(key, "")) for key in clashing}
        if typed.get(LEFT) == "12500 Btu/h":
            wanted = wanted | outside
        assert both.values() == {key: text for key, text in wanted.items() if text}


@pytest.mark.parametrize(
    ("typed", "outside", "rates"),
    [
        # moved or added on one side: a value goes to the burner of its name
        (BEGUN.with_values({LEFT: "13 kBtu/h"}), SWAPPED, ["14.5 kBtu/h", "13 kBtu/h"]),
        (SWAPPED, BEGUN.with_values({LEFT: "13 kBtu/h"}), ["14.5 kBtu/h", "13 kBtu/h"]),
        (
            BEGUN.with_burner(1),
            BEGUN.with_values({RIGHT: "9 kBtu/h"}),
            ["12.5 kBtu/h", "12.5 kBtu/h", "9 kBtu/h"],
        ),
        (BEGUN.with_values({LEFT: "13 kBtu/h"}), BEGUN.without_burner(2), ["13 kBtu/h"]),
        (BEGUN.with_values({RIGHT: "13 kBtu/h"}), BEGUN.without_burner(2), None),
        (BEGUN.without_burner(2), BEGUN.with_values({RIGHT: "13 kBtu/h"}), None),
        (BEGUN.with_burner(1), BEGUN.with_burner(2), None),
        (SWAPPED, ProjectText(SMALL.replace("# as marked", "# as drilled")), None),
    ],
)
def test_a_value_is_never_put_beside_another_burner(
    typed: ProjectText, outside: ProjectText, rates: list[str] | None
) -> None:
    merge = merge_of(BEGUN, typed, outside)
    both = None if merge is None else merge.text({})
    found = None if both is None else [text for key, text in both.values().items() if key.endswith("].rate")]
    assert found == rates


def test_another_name_of_a_burner_goes_to_what_refers_to_it() -> None:
    typed = BEGUN.with_burner_name(1, "front tube")
    merge = merge_of(BEGUN, typed, BEGUN.with_values({THROAT: "16 mm"}))
    both = None if merge is None else merge.text({})
    assert both == typed.with_values({THROAT: "16 mm"})


def test_both_are_taken_from_the_page_of_the_conflict_and_saved(tmp_path: Path) -> None:
    path = written(tmp_path)
    client = DeskClient(Desk(path))
    client.look()
    outside = SMALL.replace("14.5 kBtu/h", "15 kBtu/h").replace('"15.5 mm"', '"16 mm"')
    path.write_text(outside, encoding="utf-8")
    page = client.send("/save", **{LEFT: "13 kBtu/h", THROAT: "17 mm"}).text
    assert (
        page.index("left tube, throat")
        < page.index("Take both into the page")
        < page.index("Write this page over")
    )
    fields = dict(HIDDEN.findall(page))
    headers = {"origin": BASE}
    refused = client.request("POST", "/take-both", data=fields, headers=headers)
    assert refused.status_code == 409
    assert '<p class="wrong">choose</p>' in refused.text
    joined = client._seen(
        client.request("POST", "/take-both", data=fields | {f"choose {THROAT}": "page"}, headers=headers)
    )
    assert "Nothing is written yet" in joined.text
    assert path.read_text(encoding="utf-8") == outside
    assert (client.fields[LEFT], client.fields[RIGHT], client.fields[THROAT]) == (
        "13 kBtu/h",
        "15 kBtu/h",
        "17 mm",
    )
    assert client.send("/save").status_code == 200
    saved = outside.replace("12.5 kBtu/h", "13 kBtu/h").replace('"16 mm"', '"17 mm"')
    assert path.read_text(encoding="utf-8") == saved


def test_choices_made_on_another_file_are_not_taken(tmp_path: Path) -> None:
    path = written(tmp_path)
    client = DeskClient(Desk(path))
    client.look()
    path.write_text(SMALL.replace("14.5 kBtu/h", "15 kBtu/h"), encoding="utf-8")
    fields = dict(HIDDEN.findall(client.send("/save", **{LEFT: "13 kBtu/h"}).text))
    newer = SMALL.replace("14.5 kBtu/h", "16 kBtu/h")
    path.write_text(newer, encoding="utf-8")
    page = client.request("POST", "/take-both", data=fields, headers={"origin": BASE})
    assert page.status_code == 409
    assert "16 kBtu/h" in page.text
    assert path.read_text(encoding="utf-8") == newer


OUTSIDE = SMALL.replace("14.5 kBtu/h", "15 kBtu/h")


def opened_anew(path: Path) -> tuple[DeskClient, dict[str, str]]:
    """A page on which something was typed, and the same window after the file was changed outside and opened anew."""
    client = DeskClient(Desk(path))
    client.look()
    client.form["window"] = "w"
    client.type(**{LEFT: "13 kBtu/h"})
    before = dict(client.form)
    path.write_text(OUTSIDE, encoding="utf-8")
    client.look("/file?instead=yes")
    client.form["window"] = "w"
    client.type(**{THROAT: "16 mm"})
    return client, before


def test_an_earlier_page_is_not_written_over_a_file_opened_anew(tmp_path: Path) -> None:
    """Back leads to it, and its window wrote last."""
    path = written(tmp_path)
    client, before = opened_anew(path)
    client.form, client.fields = before, {}
    seen = client.request("GET", f"/newest/{before['base']}", params={"window": "w"}).json()
    assert "as it was before another program wrote it" in seen["words"]
    page = client.send("/save")
    assert page.status_code == 409
    assert path.read_text(encoding="utf-8") == OUTSIDE
    assert "No entry was changed on both sides" in page.text
    fields = dict(HIDDEN.findall(page.text))
    client._seen(client.request("POST", "/take-both", data=fields, headers={"origin": BASE}))
    assert client.send("/save").status_code == 200
    assert path.read_text(encoding="utf-8") == OUTSIDE.replace("12.5 kBtu/h", "13 kBtu/h")


def test_what_is_typed_on_an_earlier_page_is_compared_too(tmp_path: Path) -> None:
    path = written(tmp_path)
    client, before = opened_anew(path)
    client.form, client.fields = before, {}
    assert client.type(**{RIGHT: "16 kBtu/h"})["status"] == 200
    page = client.send("/save")
    assert page.status_code == 409
    assert "right tube, rate" in page.text
    assert path.read_text(encoding="utf-8") == OUTSIDE


def test_the_page_of_a_file_opened_anew_is_saved(tmp_path: Path) -> None:
    path = written(tmp_path)
    client, _ = opened_anew(path)
    client.fields = {}
    assert client.send("/save").status_code == 200
    assert path.read_text(encoding="utf-8") == OUTSIDE.replace("15.5 mm", "16 mm")
