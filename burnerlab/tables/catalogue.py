"""Every text of papers and pages that can be had in another language, made from the code and tables that hold it."""

from __future__ import annotations

import ast
import csv
import io
import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from burnerlab.tables.figure import Evidence
from burnerlab.tables.folders import folder, package_dir
from burnerlab.tables.key_declarations import choice_texts, key_texts
from burnerlab.tables.literal import literals
from burnerlab.tables.phrase import PLACE, Phrase, has_words, pattern, places
from burnerlab.tables.reader import CONTENTS, OF_CAUTIONS, PROVENANCES, read, rows
from burnerlab.tables.region import in_terms_of
from burnerlab.tables.template_text import script_texts, template_texts
from burnerlab.tables.translation import FIGURES
from burnerlab.tables.verdict import Verdict

OF_TABLES: Mapping[str, tuple[str, ...]] = {
    **OF_CAUTIONS,
    "stops": (*OF_CAUTIONS["stops"], "trigger", "card", "correction"),
    "flue_limits": ("name", "applies_to"),
    "prompts": ("short", "text"),
    "not_evaluated": ("topic", "why"),
    "touch_limits": ("name", "note"),
    "discharge": ("title", "note"),
    "lowpressure_constants": ("basis",),
    "roughness": ("material",),
    "altitude_policies": ("title", "beyond"),
    "fittings": ("name",),
    "gas_components": ("name",),
    "rating_plate": ("field", "words", "check"),
    "meter_dials": ("words",),
    "handbook_links": ("topic",),
    "inputs": ("label", "words"),
    "declared_families": ("family",),
    "observations": ("words", "at"),
    "causes": ("title",),
    "cause_groups": ("title", "action"),
    "record_quantities": ("words",),
    "next_measurements": ("title",),
    "instrument_uncertainty": ("words",),
    "decision_rules": ("title",),
    "release_statements": ("label", "when", "hint", "example"),
    "unit_refusals": ("what", "fix"),
}
"""Columns of shipped tables that papers and pages print, the cautions first."""
SPOKEN = (
    "bench/faults/ca", "bench/faults/explanation", "bench/stop", "report/",
    "appliance/conversion/", "appliance/operation/checks", "appliance/operation/operate",
    "appliance/operation/solution", "appliance/project/burner_kind",
    "burner/checks", "burner/evaluation", "burner/primary_air", "burner/shutter_setting", "burner/stability",
    "burner/tile_evaluation", "layout/carry_over", "layout/hot_panels",
)  # fmt: skip
"""Files and folders of the package whose literals are printed on papers as they are."""
WITH_HEADS = (
    "appliance/conversion/evaluation_result", "appliance/conversion/gas_facts", "appliance/conversion/headline",
    "appliance/conversion/result", "burner/tile_evaluation", "report/",
)  # fmt: skip
"""Those of them whose results head the columns of a paper by the labels they declare."""
NOT_SPOKEN: Mapping[str, str] = {
    "report/terminal": "the terminal speaks English",
    "report/data_frame": "keys and kinds of columns, for programs",
    "report/layout_page": "the study of a layout is in English; labels that it shares with other papers are phrases",
    "report/write": "what it says of files stands in the terminal alone; what it prints on a plan is a phrase",
    "report/paper_size": "sizes of paper",
    "report/sheet/layout_change": "two layouts side by side: a table of the terminal",
    "report/figures/control_chart": "a chart of the record, in English",
    "report/figures/notebook": "figures for notebooks, in English",
    "report/figures/plan": "a figure of the study of a layout, in English",
    "report/figures/port_region": "a figure of the study of ports, in English",
    "report/figures/trade_off": "a figure of the study of a layout, in English",
    "report/figures/style": "colours and strokes",
}
"""Files within ``SPOKEN`` whose literals no paper prints in another language, each with why."""
ON_PAGES = (
    "appliance/conversion/burner_conversion", "appliance/conversion/markets",
    "appliance/conversion/project_comparison", "appliance/conversion/target",
    "appliance/operation/supply_pressures", "appliance/project/", "appliance/study/port_study",
    "bench/bench_air", "bench/decision_rule", "bench/earlier_readings", "bench/faults/ca",
    "bench/faults/explanation",
    "bench/plan_", "bench/reading",
    "bench/record/checks", "bench/record/control_chart", "bench/record/entry", "bench/record/open_stops",
    "bench/record/photographs", "bench/record/other_unit", "bench/record/query",
    "bench/record/release_statements", "bench/record/slip",
    "bench/record/stop_display", "bench/stop", "bench/uncertainty", "bench/unit", "burner/port_region",
    "gas/composition", "gas/dew_point", "gas/gas", "gas/library", "gas/real_gas", "layout/layout_study",
    "orifice/altitude", "orifice/drill", "orifice/nozzle", "orifice/stock", "page/", "quantity/drill_size",
    "quantity/grammar", "quantity/inputs", "quantity/limits", "quantity/minutes", "quantity/read",
    "quantity/units",
    "report/figures/control_chart", "supply/atmosphere", "tables/languages", "tables/problem",
)  # fmt: skip
"""Those whose literals pages print, what they say of a wrong entry too."""
OF_KEYS = "appliance/project/"
"""Beginning of the names of the modules that declare the keys of the project file."""
OF_CHOICES = ("gas/composition",)
"""Modules of other rooms whose words a key may be."""
MARKUP = re.compile(
    r'\b(?:SELECT|WHERE|ORDER BY|LIMIT) |^ON \{|^data:|\b[\w-]+="\{|^<|^M\{'
)  # a query, an attribute, an element, a path
KEY = re.compile(
    r"[^\s{}]*\{[^\s{}]+\}(?:[-_.\[]|\w*[_.\[])\S*|[a-z]+(?:-[a-z]+)*-\{\w+\}|[^\s{}]*\[\S*|.*\w-src '.*|/\S*|"
    r'attachment;.*|\{prefix\}\w+|.*\(\?, \?\).*|\w+ *= "\{\w+\}"|'
    r"\??\w+=\{\w+\}(?:&\S+)?|\w+\.\{\w+\}|.* COLLATE NOCASE"
)
"""Of the literals, keys of the project file and their lines, ids, addresses, headers and statements of the record."""
PAPERS: Mapping[str, str] = {
    "appliance/": "conversion sheet",
    "appliance/conversion/headline": "conversion sheet: figures at its top",
    "appliance/conversion/result": "conversion sheet: facts and heads of tables",
    "appliance/conversion/checks": "conversion sheet and job card: checks and notes",
    "appliance/conversion/tolerance": "conversion sheet: checks",
    "appliance/project/": "desk pages: what they say of an entry",
    "appliance/conversion/project_comparison": "desk pages: comparison",
    "appliance/operation/": "conversion sheet: supply in operation",
    "appliance/project/burner_kind": "all papers: kinds of burner",
    "appliance/study/injector_table": "injector table",
    "appliance/study/port_study": "desk pages: region of the ports",
    "appliance/study/plate_fields": "rating plate fields",
    "appliance/study/product_line": "orifices of a product line",
    "bench/": "bench pages",
    "bench/faults/": "bench pages: findings, causes and next measurement",
    "bench/kit": "kit list",
    "bench/plan_file": "test plan and test report",
    "bench/plan_results": "test report",
    "bench/reading/manifold": "job card, test plan and bench pages: pressure",
    "bench/reading/meter": "job card and bench pages: meter",
    "bench/reading_plan": "test plan and test report",
    "bench/record/control_chart": "bench pages: control chart",
    "bench/stop": "bench pages and test report: STOP",
    "burner/port_region": "desk pages: region of the ports",
    "burner/": "conversion sheet: air, flame and tile",
    "flame/": "conversion sheet: flame",
    "gas/": "conversion sheet: gases",
    "layout/": "conversion sheet: layout of the burners",
    "orifice/": "conversion sheet: orifices",
    "page/": "bench pages",
    "page/desk": "desk pages",
    "quantity/": "bench pages: what they say of an entry",
    "report/": "conversion sheet",
    "report/calculation": "workbook of the conversion sheet: page that calculates",
    "report/chain": "workbook of the conversion sheet: steps from pressure to flow",
    "report/coefficient_page": "workbook of the conversion sheet: discharge coefficients",
    "report/figures/": "conversion sheet: its pictures",
    "report/figures/control_chart": "bench pages: control chart",
    "report/formats": "workbook and CSV of the conversion sheet: titles of tables",
    "report/injector_paper": "injector table and orifices of a product line",
    "report/kit_paper": "kit list",
    "report/layout_page": "kit list, rating plate fields and injector table: heads on each page",
    "report/plan_paper": "test plan and test report",
    "report/plan_report": "test report",
    "report/plate_paper": "rating plate fields",
    "report/sheet/alternatives": "conversion sheet: alternatives",
    "report/sheet/burners": "conversion sheet: tables of burners",
    "report/sheet/checks": "conversion sheet: checks",
    "report/sheet/evaluation": "conversion sheet: air, flame, supply",
    "report/sheet/job_card": "job card",
    "report/sheet/layout": "conversion sheet: layout of the burners",
    "report/sheet/stop_box": "job card and test plan: when to stop",
    "report/sheet/terms": "every paper: who translated; conversion sheet: terms",
    "report/sheet/turn_time": "job card and test plan: meter",
    "report/sheet/vocabulary": "all papers: words within sentences and cells",
    "report/sheet/wording": "every paper: its statement and cautions",
    "report/study_paper": "kit list, rating plate fields and injector table",
    "report/workbook": "workbook of the conversion sheet",
    "report/xlsx": "workbook of the conversion sheet",
    "supply/": "conversion sheet: supply",
    "cli/": "injector table",
    "tables/": "every paper",
    "tables/cautions": "bench pages and test report: STOP",
}
"""The paper or page that prints the texts of a folder or file, as a translator knows it; the longest name counts."""
LONGEST_PART = 40  # characters of a text in small letters that is a part of another, or a cell of a table
FORMULA_SIGNS = ("=", "+", "-", "@")  # with which no cell of a spreadsheet begins
TEMPLATE, SCRIPT = ".html.j2", ".js"
CHECK = "check"  # of handbook_links, the rows whose topic papers print
VOCABULARY = (
    *(one.value for one in Verdict),
    Verdict.OUTSIDE.emphatic,
    *(one.value for one in Evidence),
    *PROVENANCES,
    "rating",
    "gross",
    "net",
    "accepted: {values}",
    "{unit} gross at {reference}",
    *("number", "letter", "fraction", "metric", "hundredth"),  # drills
    *("nominal", "all on", "alone", "all of its kind on"),  # cases of a heat input
)
"""Words that the program keeps as they are and papers print."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CatalogueText:
    """A text that can be translated, and where it stands."""

    english: str  # with a {place} for each figure or name
    where: str


@cache
def catalogue() -> tuple[CatalogueText, ...]:
    """The texts, each once: signal words, cautions and stops, then the steps of the work, then those of the papers.

    >>> catalogue()[0].english, any(one.english == "Take out" for one in catalogue())
    ('DANGER', True)
    """
    found: dict[str, list[str]] = {}
    of_gases = (CatalogueText(english=title, where="name of a gas") for title in gas_titles())
    for one in (*_of_tables(), *_of_code(), *_of_pages(), *of_gases):
        places = found.setdefault(one.english, [])
        if one.where not in places:
            places.append(one.where)
    return tuple(CatalogueText(english=english, where="; ".join(where)) for english, where in found.items())


def _of_tables() -> Iterator[CatalogueText]:
    for word in dict.fromkeys(row["signal"] for name in reversed(OF_CAUTIONS) for row in rows(name)):
        yield CatalogueText(english=word, where="signal word")
    for word in VOCABULARY:
        yield CatalogueText(english=word, where="verdict, evidence or provenance")
    for row in rows("stops"):
        yield CatalogueText(english=row["id"].replace("-", " "), where="stops: their names")
    for word in dict.fromkeys(row["name"].rpartition(", ")[0] for row in rows("burner_materials")):
        yield CatalogueText(english=word, where="materials of burners")
    for name, columns in OF_TABLES.items():
        for row in rows(name):
            key = next(iter(row))
            for column in columns if row.get("of", CHECK) == CHECK else ():
                if has_words(row[column]):
                    yield CatalogueText(
                        english=row[column],
                        where=f"{name.replace('_', ' ')}: {row[key]}, {column.replace('_', ' ')}",
                    )


@cache
def gas_titles() -> tuple[str, ...]:
    """What the gases of the shipped library are called on papers.

    >>> "Propane, pure" in gas_titles()
    True
    """
    entries = (
        tomllib.loads(path.read_text(encoding="utf-8")) for path in sorted(folder("fuels").glob("*.toml"))
    )
    return tuple(dict.fromkeys(gas["title"] for one in entries for gas in one.values() if "title" in gas))


def _of_code() -> Iterator[CatalogueText]:
    """Every literal ``Phrase`` of the package, and every literal of ``SPOKEN``, with the paper that prints it."""
    for path in sorted(package_dir().rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        name = path.relative_to(package_dir()).with_suffix("").as_posix()
        is_spoken, has_phrases = is_printed(name), f"{Phrase.__name__}(" in text
        if not is_spoken and not name.startswith(ON_PAGES) and not has_phrases:
            continue
        module = ast.parse(text)
        of_keys = key_texts(module) if name.startswith(OF_KEYS) else ()
        of_keys = choice_texts(module) if name in OF_CHOICES else of_keys
        for template in dict.fromkeys(one for one in of_keys if has_words(FIGURES.sub(" ", one))):
            yield CatalogueText(english=template, where="desk pages: keys of the project file")
        is_on_page = name.startswith(ON_PAGES)
        spoken = (
            literals(module, has_heads=name.startswith(WITH_HEADS), has_problems=is_on_page)
            if is_spoken or is_on_page
            else ()
        )
        phrases = templates(module) if has_phrases else ()
        for template in dict.fromkeys((*phrases, *spoken)):
            is_text = has_words(FIGURES.sub(" ", PLACE.sub(" ", template))) and not KEY.fullmatch(template)
            if is_text and not template.startswith(FORMULA_SIGNS) and not MARKUP.search(template):
                where = paper_of(name)
                is_part = template[0].islower() and len(template) <= LONGEST_PART
                yield CatalogueText(
                    english=template, where=f"{where}, in a sentence or cell" if is_part else where
                )


def _of_pages() -> Iterator[CatalogueText]:
    """Every text of a template and of a script of the pages."""
    for path in sorted((package_dir() / "page").rglob("*")):
        if path.name.endswith(TEMPLATE):
            texts, of = template_texts, ""
        elif path.suffix == SCRIPT:
            texts, of = script_texts, "script "
        else:
            continue
        stem = path.name.partition(".")[0].replace("_", " ")
        where = f"{'desk' if stem.startswith('desk') else 'bench'} page: {of}{stem.removeprefix('desk ')}"
        for text in texts(path.read_text(encoding="utf-8")):
            yield CatalogueText(english=text, where=where)


def paper_of(module: str) -> str:
    """The paper or page on which the texts of a module are printed.

    >>> paper_of("report/sheet/job_card"), paper_of("report/sheet/sections"), paper_of("bench/stop_rules")
    ('job card', 'conversion sheet', 'bench pages and test report: STOP')
    """
    return PAPERS[max((one for one in PAPERS if module.startswith(one)), key=len)]


def is_printed(module: str) -> bool:
    """Whether the literals of a module are printed on papers, as they are.

    module : its path in the package, without its ending

    >>> is_printed("report/sheet/sections"), is_printed("report/terminal"), is_printed("cli/gas")
    (True, False, False)
    """
    return module.startswith(SPOKEN) and module not in NOT_SPOKEN


def templates(module: ast.Module) -> Iterator[str]:
    """The template of each ``Phrase`` of a module that is written where it is made, in the order of the text."""
    found = [
        (node.lineno, node.col_offset, node.args[0].value)
        for node in ast.walk(module)
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Name)
        and node.func.id == Phrase.__name__
        and node.args
        and isinstance(node.args[0], ast.Constant)
        and isinstance(node.args[0].value, str)
    ]
    yield from (template for _, _, template in sorted(found))


@cache
def in_Europe() -> Mapping[str, str]:
    """What a paper of region "eu" prints in English where that is another sentence; places stay as they are.

    >>> in_Europe()["Overfire can cause fire, burns and CO."], "WARNING" in in_Europe()
    ('Overload can cause fire, burns and CO.', False)
    """
    texts = [one.english for one in catalogue()]
    words = in_terms_of("eu", {f"{{{place}}}" for text in texts for place in places(text)})
    return {text: made for text in texts if (made := words(text)) != text}


@cache
def examples() -> Mapping[str, str]:
    """A text as a paper or page printed it, with its places filled, by its template; of some templates there is none.

    >>> examples()["{gas} at {pressure}"]
    'G20 at 20 mbar'
    """
    printed = {row["english"]: row["example"] for row in rows("text_examples")}
    known = (one.english for one in catalogue() if one.english in printed)
    return {text: printed[text] for text in known if pattern(text).fullmatch(printed[text])}


@dataclass(frozen=True, slots=True, kw_only=True)
class TextTable:
    """The catalogue as a table to be filled in, and how far it is."""

    csv: str
    texts: int
    translated: int
    cautions: int  # and stops
    whole: int  # of these, with every sentence translated: the others are printed in English
    unknown: tuple[str, ...]  # translated, whose English the program does not have any more


def text_table(tag: str, former: Path | None = None) -> TextTable:
    """The catalogue with room for a translation; translations of a former table are kept, those without use at the end.

    tag : of the language; rows of other languages stay as they are
    Raises UserError for a former table that is wrong.
    """
    kept = () if former is None else read("texts", former)
    own = {row["english"]: row for row in kept if row["language"] == tag}
    heads = CONTENTS["texts"].columns
    stream = io.StringIO()
    writer = csv.DictWriter(stream, heads, lineterminator="\r\n", extrasaction="ignore")  # RFC 4180
    writer.writeheader()
    european = in_Europe()
    blank = dict.fromkeys(("translation", "translator", "source"), "")
    for one in catalogue():
        row = own.get(one.english, blank)
        if not row["translation"]:
            row = blank
        ours = {
            "english": one.english,
            "in_europe": european.get(one.english, ""),
            "where": one.where,
            "example": examples().get(one.english, ""),
        }
        writer.writerow({**row, "language": tag, **ours})
    known = {one.english for one in catalogue()}
    unknown = tuple(english for english, row in own.items() if english not in known and row["translation"])
    writer.writerows(own[english] for english in unknown)
    writer.writerows(row for row in kept if row["language"] != tag)
    done = {english for english, row in own.items() if row["translation"]}
    sets = [
        [row[column] for column in columns] for name, columns in OF_CAUTIONS.items() for row in rows(name)
    ]
    return TextTable(
        csv=stream.getvalue(),
        texts=len(known),
        translated=len(known & done),
        cautions=len(sets),
        whole=sum(done.issuperset(one) for one in sets),
        unknown=unknown,
    )
