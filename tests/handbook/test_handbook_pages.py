"""Every link and every block of code of every page of the handbook, and the command that shows them.

For whoever writes a page: a topic is the file stem, its place a row of ``burnerlab/handbook/contents.csv``, its title
the first line (``# ...``, the only heading of level one). Link to another page as ``[words](topic.md#heading)``, to a
heading of the same page as ``(#heading)``; generated pages are linked in the same way. The languages of blocks:

- ``console``: lines ``$ burnerlab ...`` are run in this process, in the order of the page, in one temporary folder per
  page; it holds ``burnerlab-demo`` as ``burnerlab demo`` wrote it, and ``range.toml``, the demonstration's file. What
  is shown below a line is compared with what it prints (NUMBER: ``1.4`` agrees with 1.38; a line ``...`` stands for any
  lines); a block whose output begins with ``error: `` is one that is refused. A line may end in a backslash.
  **Every such block is run in every run of the tests: keep them cheap** (``size``, ``flow``, ``gas``, ``clock``,
  ``convert range.toml`` once or twice a page), no ``verify``, ``sweep``, ``optimise``, ``tolerance`` without few draws.
- ``python``: a doctest where it has ``>>>``, else run; names last to the end of the page.
- ``toml``: a whole appliance file where it has ``[appliance]``, else a part that is added to the demonstration: a table
  to its table, ``[[burner]]`` to the burner of that name, to the first where it names none, or as a new one.
- ``csv``, ``json``, ``text``, ``sh`` and ``equation`` are shown and not run.

A second word behind the language (``toml parts.toml``, ``csv stock.csv``) is the file that a reader saves the block
as; it is written for the blocks below it, a part of an appliance file as the whole it makes. Every file that a command
of a page reads, run or only shown, is made by a block or a command above it, or is of the demonstration.
"""

from __future__ import annotations

import doctest
import os
import re
import shlex
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from command_runs import answer, complaint, demonstration_run, run
from forbidden_words import claims
from printed_blocks import commands
from sentence_lengths import figures, prose_files

from burnerlab.appliance import demonstration_path, read_appliance_text
from burnerlab.handbook.contents import HandbookPage, handbook_dir, page_of, pages, passages, search
from burnerlab.handbook.gallery import picture_files
from burnerlab.handbook.markdown_text import (
    CodeBlock,
    address_of,
    code_blocks,
    headings,
    links,
    plain,
    tokens,
)
from burnerlab.handbook.notebook_results import notebook_paths
from burnerlab.handbook.terminal_text import WIDTH, terminal_text
from burnerlab.tables import read_csv

SHOWN_ALONE = {
    "csv",
    "json",
    "text",
    "sh",
    "equation",
    "pycon",
}  # pycon: of docstrings, which run with their module
RUN = {"console", "python", "toml"}
OUTSIDE = "https://doi.org/"  # the only address that a page may lead to outside the package
TOPICS = [page.topic for page in pages()]


def page(topic: str) -> HandbookPage:
    found = page_of(topic)
    assert found is not None
    return found


def test_every_page_of_the_folder_stands_in_the_contents_once() -> None:
    files = sorted(path.stem for path in handbook_dir().glob("*.md"))
    assert sorted(one.topic for one in pages() if not one.made_by) == files
    assert len(set(TOPICS)) == len(TOPICS)
    parts = [one.part for one in pages()]
    assert len(set(parts)) == sum(part != before for part, before in zip(parts, ["", *parts], strict=False))


@pytest.mark.parametrize("topic", TOPICS)
def test_a_page_has_one_title_and_no_word_that_claims(topic: str) -> None:
    made = page(topic)
    assert made.text.startswith("# ")
    assert [one.level for one in made.headings].count(1) == 1
    assert made.title == made.headings[0].title
    assert not claims(re.sub("`[^`]*`", "", made.text))  # names of keys, of 0.1.0 as well


@pytest.mark.parametrize("topic", TOPICS)
def test_every_link_of_a_page_leads_to_a_heading_that_exists(topic: str) -> None:
    lost = []
    for target in links(page(topic).text):
        if target.startswith(OUTSIDE) or (topic == "gallery" and target in picture_files()):
            continue
        name, _, anchor = address_of(target, topic).partition("#")
        leads_to = next((one for one in pages() if one.topic == name), None)
        is_file = not target.startswith("#") and (handbook_dir() / target.partition("#")[0]).suffix != ".md"
        if (
            leads_to is None
            or is_file
            or (anchor and anchor not in {one.anchor for one in leads_to.headings})
        ):
            lost.append(target)
    assert not lost


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    shutil.copytree(demonstration_run().folder, tmp_path / "burnerlab-demo")
    (tmp_path / "range.toml").write_bytes(demonstration_path().read_bytes())
    monkeypatch.chdir(tmp_path)
    return tmp_path


# by their text: no page is read as Markdown only to list the tests
WITH_CODE = [
    topic for topic in TOPICS if re.search(f"^ *```({'|'.join(RUN)})\\b", page(topic).text, re.MULTILINE)
]


@pytest.mark.parametrize("topic", TOPICS)
def test_every_block_has_a_language(topic: str) -> None:
    assert {block.language for block in code_blocks(page(topic).text)} <= SHOWN_ALONE | RUN


@pytest.mark.slow
@pytest.mark.parametrize("topic", WITH_CODE)
def test_every_block_of_a_page_does_what_it_shows(topic: str, folder: Path) -> None:
    names: dict[str, Any] = {}
    wrong = []
    for block in code_blocks(page(topic).text):
        if block.language == "console":
            wrong += [
                f"line {block.line}: {found}" for one in commands(block.text) if (found := one.complaint())
            ]
        elif block.language == "python":
            wrong += [f"line {block.line}: {found}" for found in _python(block, names, topic)]
        elif block.language == "toml" and block.file != PARTS_LIST:
            read_appliance_text(whole_file(block.text), name=f"{topic}.md, line {block.line}")
        if block.file:
            is_part = block.language == "toml" and block.file != PARTS_LIST
            text = whole_file(block.text) if is_part else block.text
            (folder / block.file).write_text(text, encoding="utf-8")
    assert Path.cwd() == folder
    assert not wrong, "\n\n".join(wrong)


PARTS_LIST = "parts.toml"  # of a kit: no appliance file
OF_THE_DEMONSTRATION = {"range.toml", "burnerlab-demo/market-cart-range.toml"}
READ = re.compile(r"[\w./-]+\.(?:toml|csv|sqlite|json|md)")
MADE_BY = {"--out", "--texts", "--svg", "--html", "--key-file", ">"}


def files_not_there(topic: str) -> Iterator[str]:
    """Files that the commands of a page read and that nothing above them made."""
    there = set(OF_THE_DEMONSTRATION)
    for block in code_blocks(page(topic).text):
        there |= {block.file}
        if block.language not in ("sh", "console"):
            continue
        for line in block.text.replace("\\\n", " ").split("\n"):
            words = (
                shlex.split(line.removeprefix("$ "), comments=True)
                if READ.search(line) or ">" in line
                else []
            )
            if line.startswith("cp "):
                there.add(words.pop())
            is_record = words[1:3] == ["record", "add"]
            for before, word in pairwise(["", *words]):
                if before in MADE_BY or (is_record and before == "--file"):
                    there.add(word)
                elif READ.fullmatch(word) and not {word, word.partition("/")[0]} & there:
                    yield f"{word} in: {line}"


@pytest.mark.parametrize("topic", [one.topic for one in pages() if one.topic != "commands"])
def test_every_file_that_a_page_reads_is_made_on_it(topic: str) -> None:
    assert not list(files_not_there(topic))


def _python(block: CodeBlock, names: dict[str, Any], topic: str) -> Iterator[str]:
    from printed_blocks import FLAGS, _get_checker, _get_number_flag

    if ">>>" not in block.text:
        exec(compile(block.text, f"{topic}.md", "exec"), names)
        return
    test = doctest.DocTestParser().get_doctest(block.text, names, topic, f"{topic}.md", block.line)
    said: list[str] = []
    runner = doctest.DocTestRunner(_get_checker(), verbose=False, optionflags=FLAGS | _get_number_flag())
    runner.run(test, out=said.append, clear_globs=False)
    names.update(test.globs)
    if runner.failures:
        yield "".join(said)


def whole_file(text: str) -> str:
    """A part of an appliance file added to the demonstration; a whole one as it is."""
    import tomlkit

    part = tomllib.loads(text)
    if "appliance" in part:
        return text
    whole: dict[str, Any] = tomllib.loads(demonstration_path().read_text(encoding="utf-8"))
    for key, value in part.items():
        if key == "burner":
            for burner in value:
                same = [one for one in whole[key] if one["name"] == burner.get("name", whole[key][0]["name"])]
                if same:
                    same[0].update(burner)
                else:
                    whole[key].append(burner)
        elif isinstance(value, dict):
            whole.setdefault(key, {}).update(value)
        else:
            whole[key] = value
    return tomlkit.dumps(whole)


def test_a_part_of_a_file_joins_the_demonstration() -> None:
    made = tomllib.loads(whole_file('[limits]\ntolerance = "8 %"\n\n[[burner]]\ncount = 2\n'))
    before = tomllib.loads(demonstration_path().read_text(encoding="utf-8"))
    assert made["limits"] == before["limits"] | {"tolerance": "8 %"}
    assert made["burner"][0] == before["burner"][0] | {"count": 2}
    assert made["burner"][1:] == before["burner"][1:]


def test_output_that_differs_from_what_a_page_shows_is_seen(folder: Path) -> None:
    block = (
        "$ burnerlab gas propane\nname  butane\n$ burnerlab gas prpane\nerror: ...\n$ burnerlab gas propane\n"
    )
    first, second, third = commands(block)
    assert "the page shows" in first.complaint()
    assert not second.complaint()
    assert not third.complaint()


# How it reads

MOST_MEAN, MOST_LONG = 15.0, 0.10  # words of a sentence, share of sentences of more than 20


@pytest.mark.parametrize("path", prose_files(), ids=lambda path: path.stem)
def test_sentences_of_a_page_are_short(path: Path) -> None:
    """Measured by ``tests/handbook/sentence_lengths.py``; the bound is a rule of thumb of technical writing."""
    _, mean, share = figures(path)
    assert mean <= MOST_MEAN
    assert share <= MOST_LONG


# The command


@pytest.mark.parametrize("topic", TOPICS)
def test_a_page_fits_eighty_columns_save_its_code_which_is_printed_as_it_is_saved(topic: str) -> None:
    printed = terminal_text(page(topic).text, topic)
    assert "\x1b" not in printed
    for block in code_blocks(page(topic).text):  # what is copied from the terminal is what the page has
        text = block.text.rstrip("\n")
        before, found, behind = f"\n{printed}".partition(f"\n{text}\n")
        assert found, block.text
        printed = f"{before[1:]}\n{behind}"
    assert max(map(len, printed.split("\n"))) <= WIDTH


def test_a_terminal_gets_its_headings_in_bold() -> None:
    assert "\x1b[1" in terminal_text(page("json").text, "json", is_terminal=True)


def test_the_contents_name_every_page_and_a_page_is_shown_by_its_topic() -> None:
    listed = run("handbook").stdout
    assert all(f"  {topic} " in listed for topic in TOPICS)
    assert [one["topic"] for one in answer("handbook")["pages"]] == [
        *TOPICS,
        *(path.stem for path in notebook_paths()),
    ]
    assert run("handbook", "changes").stdout.startswith("What changed\n============\n")
    assert answer("handbook", "json")["markdown"] == page("json").text


def test_a_heading_is_shown_alone() -> None:
    shown = run("handbook", "json#envelope").stdout
    assert shown.startswith("Envelope\n--------\n")
    assert "There is one unit for each kind" not in shown
    assert "did you mean keys?" in complaint("handbook", "json#keyz")


def test_a_word_that_is_no_topic_is_looked_for() -> None:
    found = answer("handbook", "extinction strain")["passages"]
    assert "extinction" in {one["address"] for one in found}
    assert {one.address for one in passages("envelope")} == {
        one["address"] for one in answer("handbook", "envelope", "--all-pages")["passages"]
    }
    assert "did you mean bands?" in complaint("handbook", "bnads")


@pytest.mark.parametrize(("word", "term"), [
    ("near", "near"), ("as made", "as made"), ("injector", "orifice"), ("Cd", "discharge coefficient"),
    ("pressure couple", "pressure couple"), ("lift", "flame lift"), ("aeration", "primary aeration"),
    ("flashback", "light-back"), ("specific gravity", "relative density"),
])  # fmt: skip
def test_a_term_of_either_side_of_the_ocean_comes_first_by_name(word: str, term: str) -> None:
    first = answer("handbook", word)["passages"][0]
    assert (first["address"], first["heading"]) == ("glossary#terms", term)


@pytest.mark.parametrize(("words", "address"), [
    ("european", "project-file#a-whole-file-european"), ("workbook", "convert-a-burner#the-workbook"),
    ("last version", "convert-a-burner#compare-with-the-last-version"), ("settings", "settings-and-units"),
    ("drop_fraction_percent", "json-keys#elementdrop"),
])  # fmt: skip
def test_a_heading_or_an_address_with_the_words_comes_before_text(words: str, address: str) -> None:
    assert answer("handbook", words)["passages"][0]["address"] == address


@pytest.mark.parametrize(
    ("words", "address"), [tuple(row.values()) for row in read_csv(Path(__file__).parent / "questions.csv")]
)
def test_a_question_in_plain_words_finds_its_paragraph_among_the_first_three(
    words: str, address: str
) -> None:
    result = search(words)
    assert address in [one.address for one in result.passages[:3]]
    assert not result.missing


def test_the_headings_found_line_by_line_are_those_of_the_grammar() -> None:
    """Of every page: fences, escapes and code in a title are read as CommonMark does."""
    for text in (
        *(page.text for page in pages()),
        "# `a_b` \\_ c\n\n````\n```\n# no\n````\n## *yes* & [x](y)\n",
    ):
        every = tokens(text)
        read = [
            (int(one.tag[1:]), plain(every[place + 1]), (one.map or [0])[0])
            for place, one in enumerate(every)
            if one.type == "heading_open"
        ]
        assert [(one.level, one.title, one.line) for one in headings(text)] == read


def test_a_question_loads_no_calculation_and_one_about_a_key_the_declarations_of_keys() -> None:
    """What makes a person wait: prose is searched in a third of the time that the declarations take to load."""
    script = (
        "import sys; from burnerlab.handbook.contents import search; found = search(sys.argv[1]); "
        "print('project-file' in found.not_searched, 'numpy' in sys.modules, found.passages[0].address)"
    )

    def searched(words: str) -> list[str]:
        command = [sys.executable, "-c", script, words]
        return subprocess.run(command, capture_output=True, text=True, check=True).stdout.split()

    assert searched("can I reuse the hose") == ["True", "False", "convert-a-burner#hose-seals-and-valves"]
    assert searched("which key holds the [supply.hose]")[0] == "False"


def test_words_of_a_question_that_stand_nowhere_are_named() -> None:
    shown = run("handbook", "zebra regulator spring").stdout
    assert "in no paragraph that was searched: zebra" in shown
    assert answer("handbook", "zebra regulator spring")["missing"] == ["zebra"]


def test_chapters_of_the_reference_are_searched_where_no_prose_has_the_words() -> None:
    made = {one.topic for one in pages() if one.made_by} - {
        "glossary",
        "project-file",
        "study-file",
        "cautions",
    }
    first = answer("handbook", "wobbe")
    assert set(first["not_searched"]) == made
    assert not {one["address"].partition("#")[0] for one in first["passages"]} & made
    text = " ".join(run("handbook", "wobbe").stdout.split())
    assert f"Not searched: {', '.join(first['not_searched'])}. --all-pages looks there too." in text
    every = answer("handbook", "wobbe", "--all-pages")
    assert not every["not_searched"]
    assert {one["address"] for one in first["passages"]} < {one["address"] for one in every["passages"]}
    alone = answer("handbook", "gri30")  # in no prose
    assert not alone["not_searched"]


def test_help_imports_no_page() -> None:
    import subprocess
    import sys

    code = (
        "import sys\nfrom burnerlab.cli import main\ntry: main(['--help'])\nexcept SystemExit: pass\n"
        "print(*[m for m in ('rich', 'markdown_it', 'burnerlab.handbook') if m in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env=os.environ
    )
    assert done.stderr.strip() == ""
