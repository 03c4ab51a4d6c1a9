"""Examples of the texts with places, as the program makes them: what ``text_examples.csv`` holds, and its renewal.

A plug-in of pytest. A run adds an example to each text that it reaches and that has none, or a better one; it takes
none away but those of texts that the program does not have any more:

    PYTHONPATH=tests python -m pytest -p no:xdist -p text_examples tests/page tests/report tests/appliance \
        tests/bench tests/cli tests/supply tests/orifice tests/burner tests/gas

By itself, `PYTHONPATH=. python tests/text_examples.py`, it takes the rows of former texts out and runs no test.
"""

from __future__ import annotations

import ast
import csv
import re
import sys
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from html import unescape
from importlib.machinery import ModuleSpec, PathFinder, SourceFileLoader
from types import CodeType, ModuleType

import pytest
from invented_language import LETTERS, TAG

from burnerlab.tables import rows
from burnerlab.tables.catalogue import catalogue
from burnerlab.tables.folders import data_dir
from burnerlab.tables.html_text import FIRST_TOKEN, Element, Run
from burnerlab.tables.languages import Language
from burnerlab.tables.literal import _numbered, _parts, template_of
from burnerlab.tables.phrase import PLACE, Phrase, filled, pattern, places
from burnerlab.tables.translation import FIRST_MARK, MARK, Translation

HEADS = ("english", "example", "source", "place", "provenance")
ORIGIN = ("appliance-rules", "papers and pages of invented appliances", "computed")
LONGEST, MOST, MOST_PAGES = 240, 8, 400
LONGEST_VALUES = 120  # of what stands at the places of a longer text
INVENTED = re.compile(f"[{''.join(map(chr, LETTERS.values()))}]")  # the language of the tests
UNREADABLE = re.compile(
    rf"{INVENTED.pattern}|[<>{{}}]|[\ue000-\uf8ff\U000f0000-\U0010ffff]|/tmp/"
)  # that, marks of what is filled in later, a folder of a test
EMPTY = ("", "none", "None")  # values that show nothing
NOTE = "_note_example"
WORDS = re.compile(r"[^\W\d_]{3,}")
printed: dict[str, list[str]] = {}
figures: list[str] = []  # and names, of the text that is being translated: signs stand for them meanwhile
names: list[str] = []
elements: list[str] = []  # their texts


def note(template: str, text: str) -> None:
    """One more print of a template, lines and signs about them as the catalogue has them."""
    for own, made in zip(*(_lines(one) for one in (template, text)), strict=False):
        kept = printed.setdefault(own, [])
        longest = max(LONGEST, len(own) + LONGEST_VALUES)
        if len(kept) < MOST and len(made) <= longest and made not in kept and not UNREADABLE.search(made):
            kept.append(made)


def _lines(text: str) -> list[str]:
    return [line.strip().lstrip(",;: ").rstrip(",; ") for line in text.split("\n")]


def likeness(template: str, text: str) -> tuple[bool, bool, int]:
    """How far a text is from an example that helps: brackets and places that are filled whole come first."""
    hit = pattern(template).fullmatch(text)
    values = list(hit.groupdict().values()) if hit else []
    is_torn = any(value.count("(") != value.count(")") or value[:1] in tuple(",;:%)") for value in values)
    return is_torn or not hit, any(value.strip() in EMPTY for value in values), len(text)


def examples_with(before: Mapping[str, str], made: Mapping[str, Iterable[str]]) -> Iterator[tuple[str, str]]:
    """The example of each text of the catalogue that has one; one of before stays where none is better by its form."""
    for one in catalogue():
        known = [before[one.english]] if one.english in before else []
        best = min(made.get(one.english, ()), key=lambda text: likeness(one.english, text), default=None)
        if best is not None and not likeness(one.english, best)[0]:
            known.append(best)
        if places(one.english) and known:
            yield one.english, min(known, key=lambda text: likeness(one.english, text)[:2])


def write(made: Mapping[str, Iterable[str]]) -> None:
    """The table with a row for each text of the catalogue that was printed, now or before."""
    former = {row["english"]: row for row in rows("text_examples")}
    before = {english: row["example"] for english, row in former.items()}
    with (data_dir() / "text_examples.csv").open("w", encoding="utf-8", newline="") as stream:
        stream.write("# a text with places as it was printed; tests/text_examples.py gathers them\n")
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(HEADS)
        for english, example in examples_with(before, made):
            is_former = before.get(english) == example
            own = [former[english][head] for head in HEADS[2:]] if is_former else ORIGIN
            writer.writerow((english, example, *own))


class _Noting(ast.NodeTransformer):
    """Code whose formatted texts are noted with their template whenever they are made."""

    def visit_FormattedValue(self, node: ast.FormattedValue) -> ast.FormattedValue:
        node.value = self.visit(node.value)  # not the format of the value, which is a formatted text as well
        return node

    def visit_JoinedStr(self, node: ast.JoinedStr) -> ast.expr:
        return self._noted(node)

    def visit_BinOp(self, node: ast.BinOp) -> ast.expr:
        return self._noted(node)

    def visit_Call(self, node: ast.Call) -> ast.expr:
        """A literal, or a name of one, that ``format`` or ``quantity_text`` fills."""
        self.generic_visit(node)
        called = node.func
        if isinstance(called, ast.Name) and called.id == "quantity_text":
            filled_in = node.args[0]
        elif isinstance(called, ast.Attribute) and called.attr == "format":
            filled_in = called.value
        else:
            return node
        if isinstance(filled_in, ast.Constant) and isinstance(filled_in.value, str):
            return _call(_numbered(filled_in.value), node)
        return _call(filled_in, node) if isinstance(filled_in, ast.Name) else node

    def _noted(self, node: ast.JoinedStr | ast.BinOp) -> ast.expr:
        parts = _parts(node)
        template = _numbered(template_of(parts)) if parts else ""
        self.generic_visit(node)
        return _call(template, node) if places(template) else node


def _call(template: str | ast.Name, node: ast.expr) -> ast.expr:
    first = ast.Constant(template) if isinstance(template, str) else ast.Name(template.id, ast.Load())
    made = ast.Call(func=ast.Name(NOTE, ast.Load()), args=[first, node], keywords=[])
    return ast.fix_missing_locations(ast.copy_location(made, node))


def noted(template: object, text: object) -> object:
    if isinstance(text, str) and isinstance(template, str):
        note(_numbered(template), str(text))
    return text


class _Loader(SourceFileLoader):
    def get_code(self, fullname: str) -> CodeType:
        path = self.get_filename(fullname)
        tree = _Noting().visit(ast.parse(self.get_data(path)))
        return compile(tree, path, "exec", dont_inherit=True)

    def exec_module(self, module: ModuleType) -> None:
        setattr(module, NOTE, noted)
        super().exec_module(module)


class _Finder(PathFinder):
    @classmethod
    def find_spec(cls, fullname: str, path: object = None, target: object = None) -> ModuleSpec | None:
        if not fullname.startswith("burnerlab."):
            return None
        spec = super().find_spec(fullname, path, target)  # type: ignore[arg-type]
        if spec and spec.origin and type(spec.loader) is SourceFileLoader:
            spec.loader = _Loader(fullname, spec.origin)
        return spec


def _identity() -> Language:
    texts = [one.english for one in catalogue()]
    return Language(tag=TAG, translations=dict(zip(texts, texts, strict=True)))


def _note_translations() -> None:
    """What a translation of a page traces to its templates: their own texts, which no code makes."""
    from burnerlab.page.page_language import FIRST_NAME, NAMED, PageLanguage

    mark, fill, mark_names = Translation._with_figures_marked, Translation._filled, PageLanguage._marked
    translate = PageLanguage._translated

    def translated(self: PageLanguage, run: Run) -> Run | None:
        outer = elements[:]
        elements[:] = [_text_of(one) for one in run if isinstance(one, Element)]
        done = translate(self, run)
        elements[:] = outer
        return done

    def marked(self: Translation, text: str, kept: list[str]) -> str:
        done = mark(self, text, kept)
        figures[:] = kept
        return done

    def named(self: PageLanguage, text: str) -> tuple[str, list[str]]:
        done, kept = mark_names(self, text)
        names[:] = kept
        return done, kept

    def filled_in(self: Translation, template: str, values: Mapping[str, str], depth: int) -> str | None:
        done = fill(self, template, values, depth)
        if (
            done is not None and len(WORDS.findall(PLACE.sub(" ", template))) > 1
        ):  # few words are read into any text
            text = filled(template, values)
            text = MARK.sub(lambda hit: figures[ord(hit[0]) - FIRST_MARK], text) if figures else text
            text = NAMED.sub(lambda hit: names[ord(hit[0]) - FIRST_NAME], text) if names else text
            for number, inner in enumerate(elements):
                text = text.replace(chr(FIRST_TOKEN + number), inner)
            note(template, text)
        return done

    Translation._with_figures_marked = marked  # type: ignore[method-assign]
    Translation._filled = filled_in  # type: ignore[method-assign]
    PageLanguage._marked = named  # type: ignore[method-assign]
    PageLanguage._translated = translated  # type: ignore[method-assign]


def _text_of(element: Element) -> str:
    """What stands in an element, without its marks; of a field what it holds."""
    parts = [unescape(one) if isinstance(one, str) else _text_of(one) for one in element.children]
    text = re.sub(r"\s+", " ", "".join(parts))
    return text if text.strip() else element.attributes.get("value", "")


def _note_pages() -> None:
    """Every English page is read as if it were translated into English."""
    from jinja2 import Template

    from burnerlab.gas import fuels
    from burnerlab.page.page_language import in_language
    from burnerlab.page.reader_words import own_words

    render, identity = Template.render, _identity()
    seen, read = (
        dict[str, set[str]](),
        Counter[str | None](),
    )  # texts of a template without figures; pages of it

    def rendered(self: Template, *given: object, **values: object) -> str:
        made = render(self, *given, **values)
        known_texts = seen.setdefault(self.name or "", set())
        texts = {re.sub(r"[\d.,]+|[a-f\d]{7,}", "", one) for one in re.split(r"<[^>]*>", made)}
        if (
            not texts <= known_texts
            and read[self.name] < MOST_PAGES
            and not INVENTED.search(re.sub("<[^>]*>", "", made))
        ):
            known_texts |= texts
            read[self.name] += 1
            own = values.get("names", ())
            known = [*own, *fuels(), *own_words(values, is_typed=True)] if isinstance(own, Iterable) else []
            in_language(made, identity, [str(one) for one in known])
        return made

    Template.render = rendered  # type: ignore[method-assign, assignment]


@pytest.hookimpl(tryfirst=True)
def pytest_load_initial_conftests() -> None:
    """Before anything of the package is read, its tables apart, which this file needs."""
    for name in [one for one in sys.modules if re.match(r"burnerlab\.(?!tables\b)", one)]:
        del sys.modules[name]
    sys.meta_path.insert(0, _Finder)


def pytest_configure() -> None:
    make = Phrase.__new__

    def made(cls: type[Phrase], template: str, /, **values: object) -> Phrase:
        phrase = make(cls, template, **values)
        note(template, str(phrase))
        return phrase

    Phrase.__new__ = made  # type: ignore[method-assign, assignment]
    _note_translations()
    _note_pages()


def pytest_unconfigure() -> None:
    write(printed)


if __name__ == "__main__":
    write({})
