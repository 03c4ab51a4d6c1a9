"""The orifices a maker has: read as they are written, kept by their part numbers to what a conversion prints."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from burnerlab.appliance import ConversionTarget, convert_to, demonstration
from burnerlab.gas import load
from burnerlab.orifice.drill import drill_list, tolerance_band
from burnerlab.orifice.stock import stock_list
from burnerlab.report.terminal import terminal_text
from burnerlab.tables.problem import UserError

STOCK = """Part Number,Bore,Minus,Plus,Thread,Price,Weight,shelf
P-1,1.00 mm,0.02,0.01,M6x0.75,0.61,3.1,A1
P-2,#54,,,M8x1,,,A2
P-3,1.10 mm,0.02,,,0.70,,
"""


def stock(folder: Path, text: str = STOCK) -> Path:
    path = folder / "stock.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_stock_is_read_as_makers_write_one(tmp_path: Path) -> None:
    """Other words for the columns, in any case; what is empty is that of a drill; further columns are left alone."""
    first, third, second = stock_list(stock(tmp_path))
    assert [each.part for each in (first, second, third)] == ["P-1", "P-2", "P-3"]
    assert (first.name, second.name) == ("1.00 mm", "#54")
    assert first.band is not None
    assert (first.band.low_m, first.band.high_m) == pytest.approx((0.98e-3, 1.01e-3))
    assert (first.price, first.thread) == (0.61, "M6x0.75")
    assert first.mass_kg == pytest.approx(3.1e-3)
    [number] = [drill for drill in drill_list("number") if drill.name == "#54"]
    assert second.band == tolerance_band(number)
    assert (second.price, second.mass_kg) == (None, None)
    assert third.band is not None
    assert third.band.high_m == third.diameter_m
    assert third.fits(("M6x0.75",))
    assert not second.fits(("M6x0.75",))


def test_a_line_that_begins_with_a_number_drill_is_no_comment(tmp_path: Path) -> None:
    found = stock_list(stock(tmp_path, "# ours\nsize,part\n#54,A\n#55,B\n"))
    assert [(each.name, each.part) for each in found] == [("#55", "B"), ("#54", "A")]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("part,size\n", "empty"),
        ("part,size\nA,1.4\n", "unit"),
        ("part,size,bore_mm\nA,#54,1.4\n", "one size"),
        ("part,size\nA,\n", "one size"),
        ("part,size\nA,#54\nA,#55\n", "twice"),
        ("part,size\n,#54\n", "empty"),
        ("part,bore_mm,minus_mm\nA,1.4,1.5\n", "leaves no bore"),
        ("part,bore_mm,plus\nA,1.4,-0.1\n", "plus_mm"),
        ("part,size,thred\nA,#54,M6\n", "did you mean thread"),
        ("size\n#54\n", "lacks a column"),
        (
            "part;size;price\nA;1,4 mm;1.50\nB;1,5 mm;1,50\n",
            "has a point where other numbers of the file have a comma",
        ),
    ],
)
def test_what_is_no_stock_is_refused_with_its_line(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(UserError, match=words) as error:
        stock_list(stock(tmp_path, text))
    assert all(problem.file == "stock.csv" for problem in error.value.problems)


def test_a_stock_that_a_spreadsheet_saved_with_decimal_commas_is_read(tmp_path: Path) -> None:
    """Semicolons between the cells, as a program of a country with decimal commas writes; a part is a name."""
    found = stock_list(stock(tmp_path, "Part No;Size;Price;Mass_g\nP-1,15;1,15 mm;1,50;3,2\nP-2;#54;2;\n"))
    assert [(each.part, each.diameter_m, each.price) for each in found] == [
        ("P-1,15", 1.15e-3, 1.5),
        ("P-2", pytest.approx(0.055 * 0.0254), 2.0),
    ]
    assert found[0].mass_kg == pytest.approx(3.2e-3)
    plain = stock_list(stock(tmp_path, "part;size\nA;1.15 mm\n"))
    assert plain[0].diameter_m == found[0].diameter_m
    with pytest.raises(UserError, match="use a point as decimal mark"):
        stock_list(stock(tmp_path, 'part,size\nA,"1,15 mm"\n'))


def test_a_conversion_takes_from_the_stock_and_keeps_the_part_number(tmp_path: Path) -> None:
    cart = demonstration()
    one = replace(cart.burners[0], orifice=replace(cart.burners[0].orifice, thread="M6x0.75"))
    path = stock(tmp_path)
    alone = replace(cart, burners=(one,), tables=replace(cart.tables, stock=path))
    target = ConversionTarget(gas=load("propane"), gauge_pressure_Pa="11 in w.c.")
    [burner] = convert_to(alone, target).burners
    assert (burner.part, burner.drill) == ("P-1", "1.00 mm")
    assert burner.choice.drill_tolerance_high_gross_W > burner.choice.heat_input_gross_W  # its own plus
    text = terminal_text(convert_to(alone, target))
    assert f"Part numbers: {one.name} P-1." in text
    [drilled] = convert_to(alone, replace(target, drills=("number",))).burners
    assert drilled.part == ""
    assert "Part numbers" not in terminal_text(convert_to(alone, replace(target, drills=("number",))))
    path.write_text("part,size,thread\nP-9,1.05 mm,M6x0.75\n", encoding="utf-8")
    assert convert_to(alone, target).burners[0].part == "P-9"  # a file changed on the disk is read anew
    other = replace(one, orifice=replace(one.orifice, thread="M10"))
    with pytest.raises(UserError, match=r"no orifice of the stock has this thread.*M6x0.75"):
        convert_to(replace(alone, burners=(other,)), target)


@pytest.mark.parametrize(
    "heads",
    [
        "Artikelnummer;Bohrung;Minus;Plus;Gewinde;Preis;Gewicht",
        "Teil;Größe;Minus;Plus;Gewinde;Preis;Gewicht",
        "Référence;Diamètre;Moins;Plus;Filetage;Prix;Masse [g]",
        "Codice articolo;Foro;Meno;Più;Filettatura;Prezzo;Peso",
        "Referencia;Diámetro;Menos;Más;Rosca;Precio;Peso [g]",
        "Part no;Size;minus mm;plus (mm);Thread;Price each;Mass g",
    ],
)
def test_the_columns_of_a_spreadsheet_of_another_language_are_read(tmp_path: Path, heads: str) -> None:
    stock = tmp_path / "stock.csv"
    stock.write_text(f"\ufeff{heads}\nD-130;1,30 mm;0,01;0,02;M6;0,45;4,2\n", encoding="utf-8")
    (orifice,) = stock_list(stock)
    assert (orifice.part, orifice.thread, orifice.price) == ("D-130", "M6", 0.45)
    assert orifice.diameter_m == pytest.approx(1.30e-3)
    assert orifice.mass_kg == pytest.approx(4.2e-3)
    assert orifice.band is not None
    assert (orifice.band.low_m, orifice.band.high_m) == pytest.approx((1.29e-3, 1.32e-3))


@pytest.mark.parametrize(
    ("head", "slip_of"),
    [("Währung", ""), ("Lieferant", ""), ("Lagerplatz", ""), ("Fournisseur", ""), ("Supplier", ""), ("Menge", ""),
     ("Prise", "price"), ("Price EUR", "price"), ("Tread", "thread"), ("Gewinte", "thread")],
)  # fmt: skip
def test_further_columns_are_left_alone_and_a_slip_of_a_column_is_not(
    tmp_path: Path, head: str, slip_of: str
) -> None:
    stock = tmp_path / "stock.csv"
    stock.write_text(f"Artikelnummer;Durchmesser;{head}\nD-130;1,30 mm;3\n", encoding="utf-8")
    if slip_of:
        with pytest.raises(UserError, match="is not a column of this table"):
            stock_list(stock)
    else:
        (orifice,) = stock_list(stock)
        assert (orifice.part, orifice.price, orifice.thread) == ("D-130", None, "")
