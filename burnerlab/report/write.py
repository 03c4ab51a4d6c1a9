"""Writing the sheet into a folder: nothing outside it, nothing overwritten unasked, each file whole."""

from __future__ import annotations

import os
import tempfile
import unicodedata
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cache, partial
from pathlib import Path
from typing import TYPE_CHECKING, TypedDict

from burnerlab.appliance.conversion.convert import other_of_couple
from burnerlab.appliance.conversion.result import Conversion
from burnerlab.bench.plan_file import PLAN_ENDING, plan_json
from burnerlab.bench.reading_plan import CarbonMonoxideLimit, Plan, plan_of
from burnerlab.quantity import Problem, System, UserError
from burnerlab.quantity.inputs import input_row
from burnerlab.report.formats import csv_text, json_text
from burnerlab.report.paper_size import PAPERS, paper_size
from burnerlab.report.sheet import terms
from burnerlab.report.sheet.job_card import JobCard
from burnerlab.report.sheet.sections import Sheet, build_card, build_sheet
from burnerlab.tables.file_name import name_trouble, path_trouble
from burnerlab.tables.file_replacement import replace_file
from burnerlab.tables.phrase import Phrase, joined

if TYPE_CHECKING:
    from burnerlab.report.plan_paper import PlanPaper

FORMATS = ("html", "pdf", "xlsx", "csv", "json", "card", "plan")
CARD = "card"  # a format of two files: the job card alone as page and as PDF
CARD_FILES = ("-card.html", "-card.pdf")
OF_SHEET = frozenset(("html", "pdf", "xlsx"))  # formats of the whole sheet
PLAN = "plan"  # the test plan, for the bench as JSON and on paper
PLAN_FILES = (PLAN_ENDING, "-plan.html", "-plan.pdf")
SEVERAL = {CARD: CARD_FILES, PLAN: PLAN_FILES}
NEEDS = {".pdf": "typst", "-card.pdf": "typst", "-plan.pdf": "typst", ".xlsx": "xlsxwriter"}
GET_IT = 'pip install "burnerlab[sheet]"'
LONGEST_STEM = 80


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetFiles:
    """The files of a sheet, and what could not be made."""

    files: tuple[Path, ...]
    missing: tuple[str, ...]  # one sentence each, with how to get what it needs


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetOptions:
    """How a sheet is written. None of these takes anything off it."""

    name: str = ""  # of the files, without ending; from the appliance and the new gas when empty
    overwrite: bool = False
    date: str = ""  # printed in the header, as given
    system: System = "metric"
    paper: str = ""  # A4 or Letter; without one Letter for US units, else A4
    market: str = ""  # letter and name of the market it is made for, such as "A (bottled propane)"
    beside: Mapping[str, bytes] = field(default_factory=dict)  # files that go with it, by name
    carbon_monoxide: CarbonMonoxideLimit | None = (
        None  # of test plan and card; without one a line to write it on
    )
    dial_m3: float | None = None  # one turn of the dial that the job card times [m3]; the region's when None
    is_draft: bool = False  # of a text that is in no file: head and footer of every paper say so

    @property
    def size(self) -> str:
        """The size of its papers."""
        return paper_size(self.system, self.paper)


class DraftWords(TypedDict):
    """What head and footer of a draft have in place of those of a file."""

    date: str
    footer: str


class Heads(TypedDict):
    """What head and card of a paper take from the options."""

    date: str
    system: System
    dial_m3: float | None
    market: str
    carbon_monoxide: CarbonMonoxideLimit | None


def write_sheet(
    conversion: Conversion,
    folder: Path | str,
    formats: Iterable[str] = FORMATS,
    options: SheetOptions | None = None,
) -> SheetFiles:
    """Write the sheet of a conversion, evaluated first where that was not done yet.

    folder : made when it is not there
    formats : some of html, pdf, xlsx, csv, json, card, plan; card is the job card alone, as HTML and PDF, plan the
    test plan, as JSON for the bench, HTML and PDF
    Returns the files written, and a sentence for each that needs a library which is not installed.
    Raises UserError for a name outside the folder, a file that exists already, an unknown format or paper.
    """
    from burnerlab.appliance.conversion.evaluation import evaluate_conversion

    settings = with_limit_of_kind(conversion, options or SheetOptions())
    names = _formats(formats, settings)
    if PLAN in names and conversion.job is None:  # one put together by hand, without its supply
        names = tuple(name for name in names if name != PLAN)
    targets = sheet_files(conversion, Path(folder), names, settings)
    conversion = evaluate_conversion(conversion)
    made: dict[str, Callable[[], bytes]]
    if OF_SHEET & set(names):
        sheet = build_sheet(conversion, **_heads(settings))
        if settings.is_draft:
            sheet = replace(sheet, **draft_words(sheet), card=replace(sheet.card, **draft_words(sheet.card)))
        figures, missing = _figures(conversion, sheet, names, settings.system)
        made = _sheet_makers(conversion, sheet, figures, settings) | _card_makers(sheet.card, settings)
    else:  # without the sections, and the study of the layout in them
        card = build_card(conversion, **_heads(settings))
        if settings.is_draft:
            card = replace(card, **draft_words(card))
        made, missing = _card_makers(card, settings), []
    contents: dict[str, bytes] = {}
    lost: dict[str, list[str]] = {}
    makers = made | _plan_makers(conversion, settings) | _table_makers(conversion, settings)
    for ending in targets:
        try:
            contents[ending] = makers[ending]()
        except ImportError as error:
            lost.setdefault(error.name or NEEDS.get(ending, "typst"), []).append(
                ending.lstrip(".-").replace(".", " ")
            )
    for library, words in lost.items():
        were = "file was" if len(words) == 1 else "files were"
        missing.append(f"The {' and '.join(words)} {were} not written: {library} is not installed; {GET_IT}")
    others = {path: settings.beside[path.name] for path in _beside(Path(folder), settings)}
    write_together({targets[ending]: contents[ending] for ending in contents} | others, settings.overwrite)
    return SheetFiles(files=tuple(targets[ending] for ending in contents), missing=tuple(missing))


def with_limit_of_kind(c: Conversion, options: SheetOptions) -> SheetOptions:
    """The options with the limit of carbon monoxide in force: the stricter of theirs and that of the file's kind."""
    from burnerlab.bench.reading_plan import limit_of_papers

    kind = "" if c.job is None else c.job.appliance.kind
    return replace(options, carbon_monoxide=limit_of_papers(kind, options.carbon_monoxide, c.region))


def draft_words(paper: Sheet | JobCard | PlanPaper) -> DraftWords:
    """Date and footer of a paper whose text no file has yet."""
    draft = Phrase("draft, not saved")
    return DraftWords(
        date=joined(", ", filter(None, (draft, paper.date))), footer=joined("; ", (draft, paper.footer))
    )


def _heads(options: SheetOptions) -> Heads:
    return Heads(
        date=options.date,
        system=options.system,
        dial_m3=options.dial_m3,
        market=options.market,
        carbon_monoxide=options.carbon_monoxide,
    )


def _sheet_makers(
    c: Conversion, sheet: Sheet, figures: dict[str, str], options: SheetOptions
) -> dict[str, Callable[[], bytes]]:
    from burnerlab.report.html import html_text
    from burnerlab.report.pdf import pdf_bytes
    from burnerlab.report.xlsx import xlsx_bytes

    return {
        ".html": lambda: html_text(sheet, figures, paper=options.size).encode("utf-8"),
        ".pdf": lambda: pdf_bytes(sheet, figures, paper=options.size),
        ".xlsx": lambda: xlsx_bytes(c, sheet, options.system),
    }


def _card_makers(card: JobCard, options: SheetOptions) -> dict[str, Callable[[], bytes]]:
    from burnerlab.report.html import card_html_text
    from burnerlab.report.pdf import card_pdf_bytes

    return {
        "-card.html": lambda: card_html_text(card, paper=options.size).encode("utf-8"),
        "-card.pdf": lambda: card_pdf_bytes(card, paper=options.size),
    }


def _table_makers(c: Conversion, options: SheetOptions) -> dict[str, Callable[[], bytes]]:
    return {
        ".csv": lambda: csv_text(c, options.system).encode("utf-8"),
        ".json": lambda: json_text(c).encode("utf-8"),
    }


def _plan_makers(c: Conversion, options: SheetOptions) -> dict[str, Callable[[], bytes]]:
    """The plan and, of a couple of gases outside a market, that of the other gas: one orifice, two inputs."""
    from burnerlab.report.plan_paper import plan_paper
    from burnerlab.report.plan_paper_files import paper_html, paper_pdf
    from burnerlab.report.sheet.turn_time import dial_times

    @cache
    def plans() -> tuple[Plan, Plan | None]:
        other = other_of_couple(c)
        limit = options.carbon_monoxide
        market = options.market
        of_gases = (None if one is None else plan_of(one, limit, market) for one in (c, other))
        own, beside = (None if plan is None else replace(plan, dial_m3=options.dial_m3) for plan in of_gases)
        assert own is not None  # of the conversion itself
        return own, beside

    @cache
    def paper(place: int) -> PlanPaper:
        own, beside = plans()[place], plans()[1 - place]
        assert own is not None  # asked for where there is another gas alone
        words = "" if beside is None else couple_words(c, own, beside)
        of_gas = c if place == 0 else other_of_couple(c)
        assert of_gas is not None
        times = dial_times(of_gas, options.dial_m3, options.system)
        made = plan_paper(own, options.date, options.system, words, terms.language_of(c), times)
        return replace(made, **draft_words(made)) if options.is_draft else made

    def document(place: int) -> bytes:
        own = plans()[place]
        assert own is not None
        return plan_json(own).encode("utf-8")

    return {
        f"{before}{ending}": partial(make, place)
        for place, before in enumerate(_plans_before(c, options))
        for ending, make in (
            (PLAN_ENDING, document),
            ("-plan.html", lambda place: paper_html(paper(place), size=options.size).encode("utf-8")),
            ("-plan.pdf", lambda place: paper_pdf(paper(place), size=options.size)),
        )
    }


def _plans_before(c: Conversion, options: SheetOptions) -> tuple[str, ...]:
    """What stands before the ending of each plan; a market is converted for each of its gases by itself."""
    other = None if options.market or c.job is None else other_of_couple(c)
    return ("",) if other is None else ("", f"-couple-{stem(other.to_gas.name)}")


def couple_words(c: Conversion, own: Plan, beside: Plan) -> str:
    """That one orifice serves both gases of a couple, and the number of the other gas's plan."""
    sized = c.pressure_couple.reference_gas if c.pressure_couple is not None else own.gas
    return Phrase(
        "One orifice serves {gas} and {other_gas}, sized on {sized}; each gas has its own input. {other_gas} is read "
        "by plan {number}, after a qualified person has changed the supply.",
        gas=own.gas,
        other_gas=beside.gas,
        sized=sized,
        number=beside.number,
    )


def _formats(formats: Iterable[str], options: SheetOptions) -> tuple[str, ...]:
    names = tuple(dict.fromkeys(formats))
    problems = [
        Problem("not a format of the sheet", value=text, accepted=", ".join(FORMATS))
        for text in names
        if text not in FORMATS
    ]
    if options.paper and options.paper not in PAPERS:
        problems.append(Problem("not a paper size", value=options.paper, accepted=", ".join(PAPERS)))
    problems += input_row("dial").problems(options.dial_m3, "dial")
    if problems:
        raise UserError(problems)
    return names


def _figures(
    c: Conversion, sheet: Sheet, formats: tuple[str, ...], system: System
) -> tuple[dict[str, str], list[str]]:
    if not {"html", "pdf"} & set(formats):
        return {}, []
    try:
        from burnerlab.report.figures.sheet_figures import draw

        language = terms.language_of(c)
        words = terms.whole_words_of(c, language) if language.translations or c.region else None
        return draw(c, sheet.pictures(), system, words), []
    except ImportError as error:
        return {}, [f"The figures were not drawn: {error.name or 'matplotlib'} is not installed; {GET_IT}"]


PAIRS = dict(
    zip(
        [
            "ä",
            "ö",
            "ü",
            "ß",
            "æ",
            "ø",
            "å",
            "œ",
            "\N{LATIN SMALL LETTER L WITH STROKE}",
            "\N{LATIN SMALL LETTER D WITH STROKE}",
        ],
        ["ae", "oe", "ue", "ss", "ae", "oe", "aa", "oe", "l", "d"],
        strict=True,
    )
)
LETTERS = str.maketrans(
    PAIRS | {letter.upper(): pair.title() for letter, pair in PAIRS.items() if letter != "ß"}
)
"""Latin letters as they are written where a file name or a mail holds none of them: common practice."""


def in_plain_letters(text: str) -> str:
    """Latin letters without accents, umlauts as two letters; those of another alphabet stay.

    >>> in_plain_letters("Küche Nº 3, Crème brûlée"), in_plain_letters("σ 3")
    ('Kueche No 3, Creme brulee', 'σ 3')
    """
    whole = unicodedata.normalize("NFC", text).translate(LETTERS)
    return "".join(unicodedata.normalize("NFKD", c).encode("ascii", "ignore").decode() or c for c in whole)


def hyphenated(text: str) -> str:
    """Words in lower case, of letters and digits, joined by hyphens.

    >>> hyphenated("Werk Köln: G31")
    'werk-koeln-g31'
    """
    whole = in_plain_letters(text).lower()
    return "-".join("".join(c if c.isalnum() else " " for c in whole).split())


def stem(text: str) -> str:
    """A file name from words: lower case letters, digits and hyphens, at most 80 characters.

    >>> stem("Market cart range: to propane"), stem("../../x"), stem("***"), stem("AUX")  # a device of Windows
    ('market-cart-range-to-propane', 'x', 'sheet', 'aux-sheet')
    """
    made = hyphenated(text)[:LONGEST_STEM].strip("-")
    return f"{made}-sheet".lstrip("-") if not made or name_trouble(made) else made


def sheet_files(
    c: Conversion, folder: Path, formats: tuple[str, ...], options: SheetOptions
) -> dict[str, Path]:
    """Where each file goes, by its ending, checked before anything is computed or written.

    Raises UserError for a name outside the folder and for files that exist already and may not be replaced.
    """
    if "\0" in str(folder) or "\0" in options.name:
        raise UserError(Problem("a file name cannot hold a NUL character", value=options.name or str(folder)))
    letter = options.market.partition(" ")[0]
    market = f" market {letter}" if letter else ""  # two markets of one gas are two files
    name = options.name or stem(f"{c.appliance[:48]}{market} to {c.to_gas.name[: 16 if market else 24]}")
    home = folder.resolve()
    if folder.exists() and not folder.is_dir():
        raise UserError(
            Problem("not a folder", file=str(folder), fix="name a folder, it is made when missing")
        )
    endings = [each for one in formats if one != PLAN for each in SEVERAL.get(one, (f".{one}",))]
    if PLAN in formats:
        endings += [f"{before}{each}" for before in _plans_before(c, options) for each in PLAN_FILES]
    targets = {ending: home / f"{name}{ending}" for ending in endings}
    problems = []
    for path in _beside(folder, options):
        problems += conflict(path, options.overwrite)
    for path in targets.values():
        if path.resolve().parent != home:
            raise UserError(
                Problem(f"the output must stay inside {folder}", value=name, fix="give a plain file name")
            )
        if len(path.name.encode()) > 255:
            raise UserError(
                Problem("the file name is longer than 255 bytes", value=name, fix="give a shorter one")
            )
        if trouble := name_trouble(path.name):
            raise UserError(Problem(trouble, value=name, fix="give another name"))
        if trouble := path_trouble(path):
            raise UserError(Problem(trouble, file=str(path), fix="name a folder with a shorter path"))
        problems += conflict(path, options.overwrite)
    if problems:
        raise UserError(problems)
    return targets


def _beside(folder: Path, options: SheetOptions) -> list[Path]:
    return [folder.resolve() / name for name in options.beside]


def conflict(path: Path, overwrite: bool) -> list[Problem]:
    """The complaint about a file that exists already and may not be replaced; else nothing."""
    return [_exists(path)] if path.exists() and not (overwrite and path.is_file()) else []


def _exists(path: Path) -> Problem:
    if not path.is_file():
        return Problem("not a regular file, will not overwrite it", file=str(path), fix="name another folder")
    return Problem(
        "exists, will not overwrite it", file=str(path), fix="name another folder or allow overwriting"
    )


def write_together(contents: Mapping[Path, bytes], overwrite: bool) -> None:
    """Write every file beside its target, then put them in place: on a full disk none of them stays."""
    ready: dict[Path, Path] = {}
    try:
        for path, content in contents.items():
            path.parent.mkdir(parents=True, exist_ok=True)
            handle, temporary = tempfile.mkstemp(prefix=".sheet-", dir=path.parent)
            ready[path] = Path(temporary)
            with os.fdopen(handle, "wb") as stream:
                stream.write(content)
            ready[path].chmod(0o666 & ~_umask())
        for path, beside in ready.items():
            if overwrite:
                replace_file(beside, path)
            else:
                _link(beside, path)
    finally:
        for beside in ready.values():
            beside.unlink(missing_ok=True)


def _link(temporary: Path, path: Path) -> None:
    """Give a file its name only when no other has it by now."""
    try:
        os.link(temporary, path)
    except FileExistsError:
        raise UserError(_exists(path)) from None
    except OSError:  # a file system without hard links
        if path.exists():
            raise UserError(_exists(path)) from None
        replace_file(temporary, path)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
