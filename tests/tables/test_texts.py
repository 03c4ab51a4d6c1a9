"""Texts of the papers in other languages: the catalogue, each way of being wrong, what stays English."""

from __future__ import annotations

import ast
import copy
import csv
import io
import pickle
import re
from pathlib import Path

import pytest
from command_runs import answer, complaint, run
from invented_language import TAG, TRANSLATOR, invented, rows_of_texts, write_project, write_texts
from text_examples import examples_with

from burnerlab import tables
from burnerlab.appliance import demonstration_path, read_appliance
from burnerlab.quantity import UserError
from burnerlab.quantity.prose import in_reader_units
from burnerlab.quantity.quantity_text import millibar, text_in
from burnerlab.tables.catalogue import catalogue, examples, text_table
from burnerlab.tables.cautions import cautions
from burnerlab.tables.languages import language
from burnerlab.tables.phrase import Phrase, applied, places

PACKAGE = tables.package_dir()
OF_TABLES = {  # where the template of a phrase is a cell of a table, or a word that a declaration holds
    "tables/cautions.py", "tables/verdict.py", "tables/phrase.py", "quantity/quantity_text.py",
    "appliance/study/plate_fields.py", "report/plate_paper.py", "bench/reading/meter.py", "bench/stop.py",
    "report/sheet/job_card.py", "report/sheet/vocabulary.py", "page/reader_language.py", "report/plan_report.py",
    "report/unit_answers.py",
}  # fmt: skip


def test_every_phrase_of_the_code_stands_in_the_catalogue() -> None:
    """One whose template is not written where it is made comes from a table, and those are few."""
    elsewhere, english = set(), {one.english for one in catalogue()}
    for path in PACKAGE.rglob("*.py"):
        code = path.read_text(encoding="utf-8")
        for node in ast.walk(ast.parse(code)) if "Phrase(" in code else ():
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "Phrase":
                template = getattr(node.args[0], "value", None)
                if isinstance(template, str):
                    filled = {keyword.arg for keyword in node.keywords}
                    assert filled == set(places(template)), (path, node.lineno)
                else:
                    elsewhere.add(path.relative_to(PACKAGE).as_posix())
    assert elsewhere == OF_TABLES
    assert {row["line"] for row in tables.rows("cautions")} < english
    assert not [one for one in english if one.startswith(("=", "+", "-", "@"))]  # never a formula


@pytest.mark.parametrize(
    ("change", "column", "words"),
    [
        ({"translation": "фор"}, "translation", "has other places than the English text"),
        ({"translation": "{market} {market"}, "translation", "has other places than the English text"),
        ({"translation": "{markt}"}, "translation", "has other places than the English text"),
        ({"language": "Spanish"}, "language", "is no language tag"),
    ],
)
def test_a_wrong_translation_is_refused_with_its_line(
    change: dict[str, str], column: str, words: str, tmp_path: Path
) -> None:
    rows = rows_of_texts()
    at = next(n for n, row in enumerate(rows) if row["english"] == "Kit for {market}")
    rows[at] |= change
    with pytest.raises(UserError) as refused:
        tables.check("texts", write_texts(tmp_path, rows))
    (problem,) = refused.value.problems
    assert (problem.file, problem.line, problem.key) == ("texts.csv", at + 2, column)
    assert words in problem.what


@pytest.mark.parametrize(
    ("change", "column", "words"),
    [
        ({"translator": ""}, "translator", "a paper names who answers for its words"),
        ({"translation": "–"}, "translation", "says nothing"),
    ],
)
def test_a_translation_needs_words_and_somebody_who_answers_for_them(
    change: dict[str, str], column: str, words: str, tmp_path: Path
) -> None:
    rows = rows_of_texts()
    at = next(n for n, row in enumerate(rows) if row["where"].startswith("stops: odour"))
    rows[at] |= change
    with pytest.raises(UserError) as refused:
        tables.check("texts", write_texts(tmp_path, rows))
    (problem,) = refused.value.problems
    assert (problem.line, problem.key) == (at + 2, column)
    assert words in problem.what


def test_semicolons_of_a_spreadsheet_are_read(tmp_path: Path) -> None:
    assert tables.read("texts", write_texts(tmp_path, rows_of_texts(), ";"))[3]["english"] == "NOTICE"


def test_a_caution_of_which_a_sentence_is_missing_stays_english_as_a_whole(tmp_path: Path) -> None:
    rows = rows_of_texts()
    for row in rows:
        if row["where"] == "cautions: gas-leak, consequence":
            row["translation"] = " "
    own = language(TAG, write_texts(tmp_path, rows))
    leak, poison = cautions()[:2]
    assert [own.words(part) for part in (leak.hazard, leak.avoidance, leak.short)] == [
        leak.hazard, leak.avoidance, leak.short,
    ]  # fmt: skip
    assert own.words(poison.hazard) == invented(poison.hazard)
    assert own.credits == (f"{TRANSLATOR}, texts.csv",)


def test_a_text_without_translation_is_english_whole_and_names_stay() -> None:
    own = language("en")
    inner = Phrase("margin {margin}", margin="1.2")
    assert own.words(Phrase("{burner}: {inner}", burner="none", inner=inner)) == "none: margin 1.2"
    from burnerlab.tables.languages import Language

    half = Language(tag="es", translations={"margin {margin}": "margen {margin}"})
    assert half.words(Phrase("{burner}; {inner}", burner="margin", inner=inner)) == "margin; margen 1.2"
    assert half.words(Phrase("nearest: {inner}", inner=inner)) == "nearest: margin 1.2"


@pytest.mark.parametrize(
    ("text", "made"),
    [
        ("ring gas at 20 mbar to G30, butane at 29 mbar", "20 mbar con ring gas a 29 mbar con G30, butane"),
        ("ring gas at 20 mbar", "20 mbar con ring gas"),
        ("ring at 3 s at 20 mbar", "20 mbar con 3 s con ring"),  # no other way to read it
    ],
)
def test_a_place_does_not_take_in_the_words_of_its_template_where_another_one_fits(
    text: str, made: str
) -> None:
    from burnerlab.tables.languages import Language

    texts = {"{gas} at {pressure}": "{pressure} con {gas}", "{first} to {second}": "{first} a {second}"}
    own = Language(tag="es", translations=texts)
    assert own.whole(text, ("ring gas", "ring", "butane")) == made


@pytest.mark.parametrize(
    ("text", "made"),
    [
        ("tube", "tube"),
        ("tube 0.528", "tube 0.528"),
        ("low flame: set", "low flame: ajustar"),
        ("low flame", "low flame"),
        ("burner#mixing-tube", "burner#mixing-tube"),  # an address of the handbook
        ("Propane, pure: set", "Propano puro: ajustar"),  # the title of a gas of ours is a phrase
    ],
)
def test_what_a_user_named_keeps_its_name_where_a_text_of_the_table_is_spelled_as_it(
    text: str, made: str
) -> None:
    from burnerlab.tables.languages import Language

    texts = {"tube": "tubo", "low flame": "llama baja", "set": "ajustar", "Propane, pure": "Propano puro"}
    own = Language(tag="es", translations=texts)
    assert own.whole(text, ("tube", "low flame", Phrase("Propane, pure"))) == made


def test_a_phrase_is_copied_and_keeps_the_units_of_its_reader() -> None:
    line = Phrase("set {pressure} on {gas}", pressure=millibar(2740.0, ".3g"), gas="propane")
    for made in (copy.deepcopy(line), pickle.loads(pickle.dumps(line))):
        assert (made, made.template, made.values) == (line, line.template, line.values)
    in_US = text_in(line, "US")
    assert isinstance(in_US, Phrase)
    assert in_US == "set 11.0 in w.c. on propane"
    printed = Phrase("set {pressure}", pressure="17.4 mbar")
    assert isinstance(in_reader_units(printed, "US"), Phrase)
    spread = Phrase(
        "{low} to {high}", low="17.4", high="20 mbar"
    )  # the unit stands once: only the whole is right
    assert in_reader_units(spread, "US") == "6.99 to 8.03 in w.c."
    assert not isinstance(applied(lambda text: in_reader_units(text, "US"), spread), Phrase)


def test_a_language_without_texts_is_refused_at_its_key(tmp_path: Path) -> None:
    file = write_project(tmp_path, demonstration_path().read_text(encoding="utf-8"))
    assert read_appliance(file).reader_language.tag == TAG
    file.write_text(file.read_text(encoding="utf-8").replace(f'"{TAG}"', '"es"', 1), encoding="utf-8")
    said = complaint("convert", str(file))
    assert "range.toml, line 5: appliance.language" in said
    assert f"accepted: en, {TAG}" in said


def test_the_table_is_written_and_renewed_with_its_translations(tmp_path: Path) -> None:
    path = tmp_path / "texts.csv"
    assert (
        f"{len(catalogue())} texts, 0 of them translated into es"
        in run("tables", "--texts", str(path), "--language", "es").stdout
    )
    text = path.read_text(encoding="utf-8-sig").replace(
        "es,NOTICE,,signal word,,,,", "es,NOTICE,,signal word,,AVISO,A. Person,own"
    )
    text += (
        "es,A former sentence.,,somewhere,,Una frase.,A. Person,own\r\nde,Burner,,,,Brenner,B. Person,own\r\n"
    )
    path.write_text(text, encoding="utf-8-sig", newline="")
    made = answer("tables", "--texts", str(path), "--language", "es", "--overwrite")
    assert made["translated"] == 1
    assert made["not_used_any_more"] == ["A former sentence."]
    again = text_table("es", path)
    assert "AVISO" in again.csv
    assert "Una frase." in again.csv
    assert "de,Burner,,,,Brenner" in again.csv
    by_english = {row["english"]: row["in_europe"] for row in csv.DictReader(io.StringIO(again.csv))}
    assert by_english["Overfire can cause fire, burns and CO."] == "Overload can cause fire, burns and CO."
    assert by_english["WARNING"] == ""


def test_a_text_with_places_has_an_example_that_is_such_a_text() -> None:
    """As it was printed: `tests/text_examples.py` gathers them anew."""
    with_places = [one.english for one in catalogue() if places(one.english)]
    assert len(examples()) > 0.6 * len(with_places)
    assert all(re.search(r"\{\w+\}", example) is None for example in examples().values())
    own = {row["english"]: row["example"] for row in csv.DictReader(io.StringIO(text_table("es").csv))}
    assert own["{gas} at {pressure}"] == examples()["{gas} at {pressure}"]
    assert own["WARNING"] == ""


def test_no_example_is_kept_of_a_text_that_the_program_does_not_have_any_more() -> None:
    """`PYTHONPATH=. python tests/text_examples.py` takes its row out; a run of pytest with it gathers new ones."""
    kept = [row["english"] for row in tables.rows("text_examples")]
    assert [english for english in kept if english not in examples()] == []
    assert sorted(set(kept)) == sorted(kept)


def test_a_run_that_gathers_examples_takes_none_away() -> None:
    """It adds one where there was none, and one that is better by its form: whole brackets, no empty place."""
    text, torn = "{gas} at {pressure}", "{value} % off {rating_words}{measured}"
    before = {text: "propane at 29 mbar", "A former {text}.": "A former one."}
    gathered = dict(examples_with(before, {text: ["G20 at 20 mbar"], torn: ["6 % off ) its rating"]}))
    assert gathered == {text: "propane at 29 mbar"}
    assert dict(examples_with({text: " at 29 mbar"}, {text: ["G20 at 20 mbar"]})) == {text: "G20 at 20 mbar"}


def test_no_query_no_markup_and_no_regular_expression_is_offered_for_translation() -> None:
    offered = [one.english for one in catalogue()]
    assert not [
        text for text in offered if re.search(r'^SELECT |WHERE |ORDER BY|="\{|^<\w|^data:|\(\?[:<!=]', text)
    ]
    assert "{gas} at {pressure}" in offered


def test_a_table_without_the_sentences_of_Europe_is_read(tmp_path: Path) -> None:
    """As one made before there was such a column."""
    newer = ("in_europe", "example")
    rows = [{name: cell for name, cell in row.items() if name not in newer} for row in rows_of_texts()]
    assert language(TAG, write_texts(tmp_path, rows)).words(cautions()[0].short) == invented(
        cautions()[0].short
    )
