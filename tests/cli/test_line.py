"""``line``: several files or a folder, what no orifice serves first, then the set and who gets which."""

from __future__ import annotations

from pathlib import Path

import pytest
from command_runs import answer, run

from burnerlab.appliance import demonstration_path

STOCK = "Part Number,Bore,minus,plus,price\nP-1000,1.00 mm,0.01,0,0.6\nP-0850,0.85 mm,0.01,0,0.6\n"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two models, a draft and a file that is no appliance."""
    made = tmp_path_factory.mktemp("models")
    text = demonstration_path().read_text(encoding="utf-8")
    (made / "a.toml").write_text(text, encoding="utf-8")
    (made / "b.toml").write_text(text.replace('"Lantern Square 6"', '"Lantern Wide"'), encoding="utf-8")
    (made / "b.draft.toml").write_text(text, encoding="utf-8")
    (made / "kit.toml").write_text('name = "kit"\n', encoding="utf-8")
    (made / "stock.csv").write_text(STOCK, encoding="utf-8")
    return made


def test_a_folder_is_its_appliance_files(folder: Path) -> None:
    found = answer("line", str(folder), "--market", "A")
    assert [name.rpartition(" ")[2] for name in found["models"]] == ["6", "Wide"]
    assert found == answer("line", str(folder / "a.toml"), str(folder / "b.toml"), "--market", "A")
    assert found["count"] == len(found["orifices"]) == found["sizes"][0]["count"]
    assert len(found["uses"]) == 12
    assert {use["market"] for use in found["uses"]} == {"bottled propane"}


def test_job_cards_made_of_the_set_name_its_orifices(folder: Path, tmp_path: Path) -> None:
    """Without it a card sizes by itself, to the nearest of all drills offered."""
    file = str(folder / "a.toml")
    found = answer("line", file, "--market", "A", "--out", str(tmp_path))
    (stock,) = tmp_path.glob("*-set.csv")
    (market,) = answer("convert", file, "--market", "A", "--stock", str(stock))["markets"]
    chosen = {one["name"]: one["drill"] for one in market["conversions"][0]["burners"]}
    assert chosen == {use["burner"]: use["name"] for use in found["uses"]}


def test_what_no_orifice_serves_stands_first_with_the_two_nearest(folder: Path) -> None:
    text = run("line", str(folder / "a.toml"), "--stock", str(folder / "stock.csv")).stdout
    found = answer("line", str(folder / "a.toml"), "--stock", str(folder / "stock.csv"))
    none, uses = len(found["unserved"]), len(found["uses"])
    assert " ".join(text.split()).startswith(
        f"OUTSIDE: the set does not serve {none} of {none + uses} burners and markets: no orifice fits. "
        "Order nothing for these. SERVED BY NO ORIFICE: "
    )
    assert text.index("stock-pot ring") < text.index("Different orifices")
    assert "1.00 mm (P-1000)" in text
    assert "One orifice more or fewer" in text
    assert all(len(one["nearest"]) == 2 for one in found["unserved"])
    bought = run(
        "line", str(folder / "a.toml"), "--stock", str(folder / "stock.csv"), "--drills", "metric"
    ).stdout
    assert "To buy: " in bought


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (("--at-most", "2"), "8 or more|7 or more"),
        (("--ends", "5 %..25 %"), "must hold 0 %"),
        (("--ends", "25 %"), "is no range"),
        (("--market", "Z"), "is no market of the file"),
        (("--apart", "2 mm"), "--apart"),
        (("--at-most", "9", "--cheapest"), "--cheapest"),
        (("--cheapest",), "has no price"),
        (("--apart", "0.9 mm"), "too alike to tell apart"),
    ],
)
def test_what_cannot_be_is_said(folder: Path, words: tuple[str, ...], complaint: str) -> None:
    done = run("line", str(folder / "a.toml"), *words)
    assert done.exit_code == 2
    assert any(part in done.stderr for part in complaint.split("|"))


def test_a_folder_without_an_appliance_is_refused(tmp_path: Path) -> None:
    assert "has no appliance file" in run("line", str(tmp_path)).stderr
