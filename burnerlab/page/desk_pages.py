"""The pages of the desk: one live page, its two answers to an edit, comparison, papers, and what is saved."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from burnerlab.appliance.conversion.markets import targets_of
from burnerlab.appliance.project.project_text import ProjectText
from burnerlab.page.desk_answers import BELOW, Answers
from burnerlab.page.desk_cautions import first_cautions
from burnerlab.page.desk_compare import DifferenceView, all_differences, input_differences
from burnerlab.page.desk_file import ANOTHER, content_of, digest_of
from burnerlab.page.desk_form import (
    BURNER,
    DRILL_LISTS,
    PARTS,
    RATING,
    REGION_QUERY,
    DeskForm,
    burners_of,
    folded_lines,
    markets_of,
    names_on,
    part_of,
    part_words,
    place_of,
    problem_lines,
    site_of,
)
from burnerlab.page.desk_language import language_of
from burnerlab.page.desk_papers import (
    STUDIES,
    MadeFor,
    PaperLink,
    gas_papers,
    paper_of,
    study_of,
    study_papers,
)
from burnerlab.page.desk_port_shop import shop_query
from burnerlab.page.desk_state import REGION, BehindError, Desk, DeskEntry
from burnerlab.page.desk_stock import stock_choice, with_stock
from burnerlab.page.desk_unread import unread_columns
from burnerlab.page.desk_windows import behind_page, behind_words, joined_text, other_windows
from burnerlab.page.download import attachment
from burnerlab.page.form import SYSTEMS, RefusedError, pairs_of
from burnerlab.page.reader_words import for_reader
from burnerlab.page.render import page
from burnerlab.quantity import System
from burnerlab.report.paper_units import PaperUnits
from burnerlab.report.write import in_plain_letters
from burnerlab.tables.cautions import closing_cautions
from burnerlab.tables.literal import Key
from burnerlab.tables.problem import UserError

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

UNUSABLE, CONFLICT = 422, 409
MOST_FIELDS = 4000
LONGEST_FIELD = 1000
EVERY_MARKET = "all"  # in place of a letter
CONTROL = ("token", "base", "units", "file", "open", "on", "act", "window", "other", "stock")
ACT = re.compile(r"(add|copy|remove|up|down) (burner|market)(?: (\d{1,3}))?")
READ = re.compile(r"read (\d) (\S{1,80})")
ON = re.compile(r"on-[1-9]\d{0,2}")
OF_REGION = re.compile(r"(?:appliance|market\[\d{1,3}\])\.region")
PORTS = re.compile(r"ports (\d{1,3})")
JOINED = (
    "What you typed and what was changed in the file stand together on this page. Nothing is written yet: look at what "
    "follows from both, then Save."
)
APART = re.compile(r"apart ([A-Z]{1,2})")
OPEN = re.compile(r"open ([a-z_]{1,20}(?:\[\d{1,3}\])?)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """How a page is looked at: units, what is opened, and the file as this page knows it."""

    system: System
    file: str  # digest of its bytes
    open: str = ""
    on: tuple[int, ...] = ()  # burners that burn together, all unless given

    @property
    def query(self) -> str:
        on = ",".join(map(str, self.on))
        pairs = {"units": self.system, "file": self.file, "open": self.open, "on": on}
        return urlencode({name: text for name, text in pairs.items() if text or name == "file"})

    def address(self, digest: str, place: str = "", **more: str) -> str:
        """Of the page of a text."""
        extra = f"&{urlencode(more)}" if more else ""
        return f"/at/{digest}?{self.query}{extra}" + (f"#{place}" if place else "")


def look_of(desk: Desk, pairs: Mapping[str, str]) -> Look:
    """How a request wants the page."""
    wish = pairs.get("act", "").partition("units ")[2] or pairs.get("units")
    system = next((one for one in SYSTEMS if one == wish), desk.system)
    found = pairs.get("open", "")
    opened = found if OPEN.fullmatch(f"open {found}") else ""
    if pairs.get("act") == "on":
        places = [name.removeprefix("on-") for name in pairs if ON.fullmatch(name)]
    else:
        places = [place for place in pairs.get("on", "").split(",") if ON.fullmatch(f"on-{place}")]
    on = tuple(sorted(set(map(int, places))))
    return Look(system=system, file=pairs.get("file", ""), open=opened, on=on)


def first_look(desk: Desk) -> Look:
    """At the newest text, before anything is chosen."""
    return Look(system=desk.system_of(desk.newest_entry), file=desk.file_digest)


def query_of(request: Request) -> dict[str, str]:
    return pairs_of(request.scope["query_string"].decode("latin-1"), MOST_FIELDS, LONGEST_FIELD)


def posted(desk: Desk, body: str) -> dict[str, str]:
    """The fields of a form that a page of this desk made. Raises RefusedError for any other."""
    pairs = pairs_of(body, MOST_FIELDS, LONGEST_FIELD)
    if not desk.gate.is_token(pairs.get("token", "")):
        sentence = (
            "This page was made before the desk was started again. Nothing was written: what was typed last is in the "
            "draft. Load the page again."
        )
        raise RefusedError(403, sentence)
    return pairs


def values_of(pairs: Mapping[str, str]) -> dict[str, str]:
    """The keys of the file among the fields of a form."""
    return {name: text for name, text in pairs.items() if name not in CONTROL and not ON.fullmatch(name)}


# The page.


def home(desk: Desk, _: Answers, request: Request) -> Response:
    """To the newest text; first to the draft of a desk before, where there is one."""
    from starlette.responses import RedirectResponse

    if desk.earlier is not None:
        return RedirectResponse("/draft", 303)
    open, on = desk.chosen
    return RedirectResponse(replace(first_look(desk), open=open, on=on).address(desk.newest), 303)


def read_file(desk: Desk, _: Answers, request: Request) -> Response:
    """To the file as it is on the disk now."""
    from starlette.responses import RedirectResponse

    pairs = query_of(request)
    entry = desk.open_file() if pairs.get("instead") == "yes" else desk.read_file()
    system = look_of(desk, pairs).system if "units" in pairs else desk.system_of(entry)
    return RedirectResponse(Look(system=system, file=desk.file_digest).address(entry.digest), 303)


def at(desk: Desk, answers: Answers, request: Request) -> Response:
    """The whole page of one text."""
    pairs = query_of(request)
    look = look_of(desk, pairs)
    entry = desk.entry(request.path_params["digest"])
    news = "Saved." if pairs.get("saved") == "yes" else JOINED if pairs.get("joined") == "yes" else ""
    desk.chosen = (look.open, look.on)
    if pairs.get("other") == "yes":  # from the page that says so
        desk.refused = None
    return desk_page(desk, answers, entry, look, news)


def newest(desk: Desk, _: Answers, request: Request) -> Response:
    """What a page that stands open must know of other windows and programs on its file."""
    from starlette.responses import JSONResponse

    pairs = query_of(request)
    entry = desk.entry(request.path_params["digest"])
    others = other_windows(desk, entry, pairs.get("window", ""), look_of(desk, pairs))
    own = language_of(desk, entry)
    return JSONResponse(own.answer(others, "words"))


def desk_page(
    desk: Desk, answers: Answers, entry: DeskEntry, look: Look, news: str = "", status: int = 0
) -> Response:
    from starlette.responses import HTMLResponse

    view = page_view(desk, answers, entry, look) | {"news": news}
    wrong = any(not one.is_missing for one in view["problems"])
    made = language_of(desk, entry).page("desk", answers.names(entry, look.system), **view)
    return HTMLResponse(made, status or (UNUSABLE if wrong else 200))


def page_view(desk: Desk, answers: Answers, entry: DeskEntry, look: Look) -> dict[str, Any]:
    """Everything the template of the page shows."""
    form = DeskForm.of(desk, entry)
    shown = desk.figures_of(entry)
    is_blank = (
        shown is None and desk.saved_entry is None
    )  # a file that does not read opens what is wrong alone
    site, markets = site_of(form, is_blank), markets_of(form, is_blank)
    burners = burners_of(form, look.open, is_blank)
    opened = part_of(form, look.open)
    groups = [site, *markets, *burners, *([opened] if opened else [])]
    whole = answers.whole(shown, look.system, look.on) if shown is not None else None
    shown_html = answers.marked(whole, look.system, look.on) if whole else {}
    shown_html = shown_html | unread_columns(desk, entry, form)
    return {
        **line_view(desk, entry, look, form),
        **problems_view(desk, entry, form, names_on(groups)),
        "digest": entry.digest,
        "is_live": False,
        "token": desk.gate.token,
        "others": other_windows(desk, entry, "", look),
        "look": look,
        "system": look.system,
        "file_digest": look.file,
        "open": look.open,
        "on": ",".join(map(str, look.on)),
        "title": form.values.get("appliance.name", "new appliance"),
        "cautions": closing_cautions("desk"),
        "first_cautions": first_cautions(),
        "site": site,
        "markets": markets,
        "markets_open": any(one.is_open for one in markets),
        "burners": burners,
        "columns": [one.label for one in BURNER.values()],
        "tables": [{"path": one, "words": part_words(one)} for one in PARTS],
        "opened": opened,
        "answers": elements(shown_html),
        "layout": BELOW,
        "record": desk.record.name if desk.record is not None and entry.appliance is not None else "",
        "gases": answers.gases(entry),
        "drill_lists": DRILL_LISTS,
        "stock": stock_choice(desk, entry),
        **papers_view(desk, answers, entry, look),
    }


def elements(html: Mapping[str, str]) -> dict[str, Any]:
    """Elements that our own templates made, which a page takes as they are."""
    from markupsafe import Markup

    return {id: Markup(text) for id, text in html.items()}


def papers_view(desk: Desk, answers: Answers, entry: DeskEntry, look: Look) -> dict[str, Any]:
    """The papers, or why there are none: nobody may drill by an example."""
    held = example_words(desk, entry) if entry.appliance is not None else ""
    return {"papers": [] if held else papers_of(answers, entry, look), "held": held, "models": desk.models}


def papers_of(answers: Answers, entry: DeskEntry, look: Look) -> list[dict[str, Any]]:
    """The papers of each calculated market: for each of its gases, then of the whole market, with their addresses."""
    if entry.appliance is None:
        return []
    lines = []
    every = [one for one in answers.first(entry, look.system).answer.markets if one.conversions]
    for market in every:
        is_one = len(market.conversions) == 1
        for letter, conversion in market.by_gas:
            gas = "" if is_one else conversion.to_gas.name
            lines.append(_papers_line(entry, look, letter, gas, gas_papers()))
        lines += _market_lines(entry, look, market.letter, "" if is_one else "all its gases, ")
    if len(every) > 1:
        lines += _market_lines(entry, look, EVERY_MARKET, "markets, ")
    return lines


def _market_lines(entry: DeskEntry, look: Look, letter: str, words: str) -> Iterator[dict[str, Any]]:
    """The papers of a whole market, a line for each."""
    for name in STUDIES:
        yield _papers_line(entry, look, letter, words + STUDIES[name].words, study_papers(name))


def _papers_line(
    entry: DeskEntry, look: Look, letter: str, words: str, papers: Iterable[PaperLink]
) -> dict[str, Any]:
    """Papers of a market, or of one of its gases."""
    kinds = [
        (f"/papers/{entry.digest}/{letter}/{one.kind}?units={look.system}", one.of, one.words)
        for one in papers
    ]
    return {"letter": letter, "words": words, "kinds": kinds}


def line_view(desk: Desk, entry: DeskEntry, look: Look, form: DeskForm) -> dict[str, Any]:
    """State in one sentence, and what can be done."""
    changes = desk.change_count(entry)
    saved = desk.saved_entry
    return {
        "status": status_of(desk, entry, form),
        "undo": desk.undo(entry),
        "redo": desk.redo(entry),
        "file_name": desk.name,
        "is_saved": desk.is_saved(entry),
        "kept": kept_words(desk, entry),
        "changes": changes,
        "has_papers": entry.appliance is not None,
        "compare": f"/compare?a={saved.digest}&b={entry.digest}&{look.query}" if saved is not None else "",
    }


def status_of(desk: Desk, entry: DeskEntry, form: DeskForm) -> str:
    """What keeps the figures from standing on the page; "" where nothing does."""
    missing = [one for one in entry.problems if one.fix.startswith("add ")]
    wrong = len(entry.problems) - len(missing)
    if wrong:
        which = "1 entry does not read" if wrong == 1 else f"{wrong} entries do not read"
        return f"{which}; {'the figures are of the entry before' if desk.figures_of(entry) else 'no figures yet'}."
    if RATING in form.missing and desk.saved_entry is None:
        return "First choose what the rates are, gross or net, as on the rating plate; the orifices follow."
    if missing:
        which = "One entry is" if len(missing) == 1 else f"{len(missing)} entries are"
        return f"{which} still needed; the orifices follow at once."
    assert entry.appliance is not None
    slips = {key: words for key, words in form.queries.items() if key != REGION}
    if slips:
        return " ".join(f"Query: {place_of(key, form.values)}, {words}" for key, words in slips.items())
    if not entry.appliance.markets:
        return "Add a market: a gas and its pressure. The orifices of every burner follow."
    region = (
        f"{place_of(REGION, form.values).capitalize()}: {REGION_QUERY}." if REGION in form.queries else ""
    )
    return " ".join(filter(None, (region, example_words(desk, entry))))


def example_words(desk: Desk, entry: DeskEntry) -> str:
    """Which values of a page without a file are still those of the blank page."""
    kept, values = desk.examples_of(entry), entry.text.values()
    return (
        f"Example values, overwrite them: {'; '.join(place_of(key, values) for key in kept)}." if kept else ""
    )


def kept_words(desk: Desk, entry: DeskEntry) -> str:
    """Where the text is kept."""
    if desk.is_saved(entry):
        return (
            "as in the file" if desk.is_file_as_known else "as last saved; the file was changed outside since"
        )
    if desk.saved_entry is None and not entry.parent:
        return "nothing typed yet"
    if desk.draft.is_waiting:
        return "not saved; no draft is kept until the earlier one is taken or dropped"
    if desk.draft.trouble:
        why = f": {ANOTHER}" if desk.draft.trouble == ANOTHER else " could be written"
        return f"not saved, and no draft{why}"
    return "not saved; a draft is kept"


def problems_view(desk: Desk, entry: DeskEntry, form: DeskForm, on_page: list[str]) -> dict[str, Any]:
    lines = problem_lines(entry, form, on_page)
    before = entry.appliance is None and desk.figures_of(entry) is not None
    wrong = sum(not one.is_missing for one in lines)
    heads = {
        "wrong_head": "Correct 1 entry" if wrong == 1 else f"Correct {wrong} entries",
        "missing_head": "Still needed",
    }
    if before:
        first = "wrong_head" if wrong else "missing_head"
        heads[first] = f"{heads[first]}: the figures below are of the entry before"
    return {
        **heads,
        "problems": lines,
        "before": before,
        "form_wrong": form.wrong,
        "form_changed": form.changed,
    }


# Edits.


def edit(desk: Desk, answers: Answers, pairs: dict[str, str], live: bool) -> Response:
    """The text with what was typed: its page, or for the script its parts."""
    from starlette.responses import JSONResponse, RedirectResponse

    look, window = look_of(desk, pairs), pairs.get("window", "")
    act = pairs.get("act", "")
    if act.startswith("units "):
        desk.preferred_units = look.system
    try:
        before = desk.entry(pairs.get("base", ""))
        entry = desk.write(before.digest, values_of(pairs), window)
        look = in_units_of(desk, look, before, entry)
        if live:
            desk.accept_examples(
                entry, values_of(pairs)
            )  # typed anew, the same as they were, they are the user's
            followed = followed_values(desk, entry, pairs)
            parts = parts_of(desk, answers, entry, look) | {"values": followed}
            parts["anew"] = any(OF_REGION.fullmatch(key) for key in values_of(pairs))
            return JSONResponse(parts, 200 if not entry.problems else UNUSABLE)
        opening = OPEN.fullmatch(act)
        if opening or act == "close":
            look = replace(look, open=opening[1] if opening else "")
            return RedirectResponse(look.address(entry.digest, "opened" if opening else ""), 303)
        if act == "on":
            return RedirectResponse(look.address(entry.digest, "supply"), 303)
        if act == "accept":
            desk.accept_examples(entry)
            return RedirectResponse(look.address(entry.digest, "papers"), 303)
        if act == "measured":
            return RedirectResponse(f"/units/{entry.digest}?{look.query}", 303)
        if region := PORTS.fullmatch(act):
            shop = shop_query(answers.shop_for(int(region[1])))
            return RedirectResponse(f"/ports/{entry.digest}/{region[1]}?{look.query}{shop}", 303)
        if act == "stock":
            entry = with_stock(desk, entry, pairs.get("stock", ""), window)
            return RedirectResponse(look.address(entry.digest, "stock"), 303)
        digest, place = acted(desk, entry, act, window)
    except BehindError as behind:
        if live:
            address = look.address(desk.newest)
            found = {"behind": behind_words(behind), "newest": address}
            return JSONResponse(
                language_of(desk, behind.newest, behind.before.text.values()).answer(found, "behind"),
                CONFLICT,
            )
        return behind_page(desk, behind, pairs, look)
    except RefusedError as error:
        if live and error.status == UNUSABLE:
            own = language_of(desk, desk.newest_entry)
            return JSONResponse(own.answer({"refused": error.sentence}, "refused"), UNUSABLE)
        raise
    return RedirectResponse(in_units_of(desk, look, entry, desk.entry(digest)).address(digest, place), 303)


def in_units_of(desk: Desk, look: Look, before: DeskEntry, entry: DeskEntry) -> Look:
    """The page in the units of another region, where an edit has changed it and nobody has chosen units."""
    system = desk.system_of(entry)
    return replace(look, system=system) if system != desk.system_of(before) else look


def followed_values(desk: Desk, entry: DeskEntry, pairs: Mapping[str, str]) -> dict[str, str]:
    """What an edit changed besides what was sent: examples of another region, references to a burner's other name."""
    then, now = desk.entry(pairs.get("base", "")).text.values(), entry.text.values()
    sent = values_of(pairs)
    return {
        key: now.get(key, "")
        for key in {**then, **now}
        if key not in sent and then.get(key, "") != now.get(key, "")
    }


def parts_of(desk: Desk, answers: Answers, entry: DeskEntry, look: Look) -> dict[str, Any]:
    """What the script puts into the page at once: state, complaints and orifices."""
    form = DeskForm.of(desk, entry)
    lines = line_view(desk, entry, look, form)
    on_page = list(form.values) + list(form.wrong)
    problems = problems_view(desk, entry, form, on_page)
    parts = {
        name: page(f"desk_{name}", **lines, **problems, is_live=True)
        for name in ("acts", "status", "problems")
    }
    parts["papers"] = page("desk_papers", **papers_view(desk, answers, entry, look))
    own = language_of(desk, entry)
    parts = own.pieces(parts | unread_columns(desk, entry, form))
    if entry.appliance is not None:
        parts |= answers.marked(answers.first(entry, look.system), look.system)
    found = {
        "digest": entry.digest,
        "units": look.system,
        "address": look.address(entry.digest),
        "rest": f"/answer/{entry.digest}?{look.query}",
        "parts": parts,
        "wrong": dict(form.wrong),
        "queries": dict(form.queries),
        "lines": folded_lines(form),
        "readings": {key: list(texts) for key, texts in form.readings.items()},
        "changed": sorted(form.changed),
        "before": problems["before"],
    }
    return own.answer(found, "wrong", "queries")


def acted(desk: Desk, entry: DeskEntry, act: str, window: str = "") -> tuple[Key, Key]:
    """The text after an act on the whole of it, and the place on the page to look at."""
    if act in ("undo", "redo"):
        digest = desk.undo(entry) if act == "undo" else desk.redo(entry)
        return desk.go_to(entry, digest or entry.digest, window).digest, ""
    apart = APART.fullmatch(act)
    if apart:
        text = with_gas_apart(entry, apart[1]) or entry.text
        return desk.add(entry, text, window=window).digest, "head-markets"
    read = READ.fullmatch(act)
    if read:
        key, number = read[2], int(read[1])
        readings = DeskForm.of(desk, entry).readings.get(key, ())
        if not 1 <= number <= len(readings):
            return entry.digest, ""
        return desk.write(entry.digest, {key: readings[number - 1]}, window).digest, key
    found = ACT.fullmatch(act)
    if found is None:
        return entry.digest, ""
    what, kind, number = found[1], found[2], int(found[3] or 0)
    text, count = entry.text, DeskForm.of(desk, entry).count(kind)
    if what == "add":
        text, number = getattr(text, f"with_{kind}")(), count + 1
    elif not 1 <= number <= count or (what == "remove" and kind == "burner" and count == 1):
        return entry.digest, ""
    elif what == "copy":
        text, number = getattr(text, f"with_{kind}")(number), number + 1
    elif what == "remove":
        text = getattr(text, f"without_{kind}")(number)
    else:
        to = number + (1 if what == "down" else -1)
        if not 1 <= to <= count:
            return entry.digest, ""
        text, number = getattr(text, f"with_{kind}_at")(number, to), to
    return desk.add(entry, text, window=window).digest, f"{kind}-{number}"


def with_gas_apart(entry: DeskEntry, letter: str) -> ProjectText | None:
    """With the last gas of a market as a market of its own after it; None where it has no second one."""
    every = () if entry.appliance is None else targets_of(entry.appliance)
    number = next((one.number for one in every if one.letter == letter and len(one.targets) > 1), 0)
    if not number:
        return None
    last = len(every[number - 1].targets)
    values = entry.text.values()
    old, new = f"market[{number}]", f"market[{number + 1}]"
    moved = {one: values.get(f"{old}.supply[{last}].{one}", "") for one in ("gas", "pressure")}
    changes = {f"{old}.supply[{last}].{one}": "" for one in moved}
    changes |= {f"{new}.supply[{i}].{one}": "" for i in range(2, last + 1) for one in moved}
    changes |= {f"{new}.supply[1].{one}": text for one, text in moved.items()}
    changes |= {f"{one}.category": "" for one in (old, new) if values.get(f"{old}.category")}
    return entry.text.with_market(number).with_values(changes)


def rest(desk: Desk, answers: Answers, request: Request) -> Response:
    """The second answer to an edit: everything that follows."""
    from starlette.responses import JSONResponse

    look = look_of(desk, query_of(request))
    entry = desk.entry(request.path_params["digest"])
    if entry.appliance is None:
        return JSONResponse({"parts": {}})
    whole = answers.whole(entry, look.system, look.on)
    return JSONResponse({"parts": answers.marked(whole, look.system, look.on)})


# Saving.


def save(desk: Desk, answers: Answers, pairs: dict[str, str]) -> Response:
    """Write the file, unless another program or window wrote since this page read it, or the text does not read."""
    look, window = look_of(desk, pairs), pairs.get("window", "")
    try:
        before = desk.entry(pairs.get("base", ""))
        entry = desk.write(before.digest, values_of(pairs), window)
        return saved_page(desk, answers, entry, in_units_of(desk, look, before, entry), window)
    except BehindError as behind:
        return behind_page(desk, behind, pairs, look)


def saved_page(desk: Desk, answers: Answers, entry: DeskEntry, look: Look, window: str) -> Response:
    """The file written, or why it is not. Raises BehindError where another window wrote since."""
    from starlette.responses import RedirectResponse

    if desk.path is None:
        raise RefusedError(UNUSABLE, "The desk was started without a file. Download the text instead.")
    if entry.problems:
        return desk_page(desk, answers, entry, look, "Not saved: correct the entries below first.", UNUSABLE)
    now = digest_of(desk.path)
    if not desk.is_known_file(entry, now, look.file):
        text = joined_text(desk, entry)
        if text is None:
            return conflict(desk, entry, look, now, window)
        entry = desk.add(entry, text, window=window)
    try:
        desk.save(entry, window)
    except UserError as error:
        said = "; ".join(one.text() for one in error.problems)
        return desk_page(desk, answers, entry, look, f"Not saved: {said}", 503)
    return RedirectResponse(replace(look, file=desk.file_digest).address(entry.digest, saved="yes"), 303)


def take_both(desk: Desk, answers: Answers, pairs: dict[str, str]) -> Response:
    """What was typed and what was changed in the file since, together on the page; the file itself stays."""
    from starlette.responses import RedirectResponse

    look, window = look_of(desk, pairs), pairs.get("window", "")
    try:
        entry = desk.entry(pairs.get("base", ""))
        joined = desk.take_both(entry, look.file, pairs, window)
    except BehindError as behind:
        return behind_page(desk, behind, pairs, look)
    if joined is None:
        return conflict(desk, entry, look, digest_of(desk.path) if desk.path else "", window, pairs)
    look = replace(look, file=desk.file_digest)
    return RedirectResponse(look.address(joined.digest, joined="yes"), 303)


def conflict(
    desk: Desk, entry: DeskEntry, look: Look, now: str, window: str, choices: Mapping[str, str] | None = None
) -> Response:
    """The file is another than this page read: what each side changed, and the choice.

    choices : made already, of which one is missing
    """
    from starlette.responses import HTMLResponse

    assert desk.path is not None
    trouble, found, outside, merge = "", DifferenceView((), ()), desk.text_of(""), None
    try:
        content = content_of(desk.path)
        if content.digest:
            outside = desk.text_of(content.text)
            found, merge = input_differences(outside, entry.text), desk.merge_with_file(entry, content)
        if not content.digest:
            trouble = "The file is not there any more."
        elif not outside.values():
            trouble = "The file cannot be read as it is now."
    except UserError as error:
        trouble = "; ".join(one.what for one in error.problems)
    values = entry.text.values()
    begun = None if merge is None else desk.begun_text(entry)
    view = {
        "file_name": desk.name,
        "token": desk.gate.token,
        "digest": entry.digest,
        "now": now,
        "look": look,
        "window": window,
        "on": ",".join(map(str, look.on)),
        "found": found,
        "trouble": trouble,
        "back": look.address(entry.digest),
        "merge": merge,
        "is_known": desk.saved_entry is not None,
        "clashes": [(place_of(one.place_key, values), one) for one in merge.clashes] if merge else [],
        "choices": choices or {},
        "typed": input_differences(begun, entry.text) if begun else None,
        "outside": input_differences(begun, outside) if begun else None,
    }
    return HTMLResponse(language_of(desk, entry, outside.values()).page("desk_conflict", **view), CONFLICT)


def download(desk: Desk, pairs: dict[str, str]) -> Response:
    """The text as a file of the browser's."""
    from starlette.responses import Response

    text, _ = desk.text_with(pairs.get("base", ""), values_of(pairs))
    kind = {"content-disposition": attachment(f"{file_word(desk, text)}.toml")}
    return Response(text.text, media_type="application/toml; charset=utf-8", headers=kind)


def file_word(desk: Desk, text: ProjectText) -> str:
    """A name for a downloaded file, of letters, digits and hyphens."""
    words = desk.name.removesuffix(".toml") or text.values().get("appliance.name", "")
    return re.sub(r"[^A-Za-z0-9]+", "-", in_plain_letters(words)).strip("-")[:60] or "appliance"


# Pictures, comparison, papers.


def heat_map(desk: Desk, answers: Answers, request: Request) -> Response:
    """Where the heat lands on a cooking surface, as a picture."""
    from starlette.responses import Response

    entry = desk.entry(request.path_params["digest"])
    picture = answers.heat_map(entry, request.path_params["picture"])
    if picture is None:
        raise RefusedError(404, "There is no such heat map.")
    return Response(picture, media_type="image/png")


def compare(desk: Desk, answers: Answers, request: Request) -> Response:
    """What differs between two texts."""
    from starlette.responses import HTMLResponse

    pairs = query_of(request)
    first, second = (desk.entry(pairs.get(name, "")) for name in "ab")
    view = {
        "file_name": desk.name,
        "found": all_differences(first.text, second.text, look_of(desk, pairs).system),
        "cautions": closing_cautions("desk"),
        "back": look_of(desk, pairs).address(second.digest),
    }
    names = answers.names(second, look_of(desk, pairs).system)
    made = language_of(desk, second, first.text.values()).page("desk_compare", names, **view)
    return HTMLResponse(for_reader(made, "", ()))  # figures stay with their units


def paper(desk: Desk, answers: Answers, request: Request) -> Response:
    """A paper of one market."""
    entry = desk.entry(request.path_params["digest"])
    look = look_of(desk, query_of(request))
    letter = request.path_params["market"]
    if held := example_words(desk, entry):
        raise RefusedError(CONFLICT, f"No paper is made of example values. {held}")
    kind, is_draft = request.path_params["kind"], not desk.is_saved(entry)
    version = hashlib.sha256(entry.text.text.encode("utf-8", "surrogatepass")).hexdigest()
    markets = () if entry.appliance is None else targets_of(entry.appliance)
    own = [one for one in markets if letter in (one.letter, EVERY_MARKET)]
    units = PaperUnits(written=desk.written_units, reader=look.system)
    made_for = MadeFor(units=units, sha256=version, is_draft=is_draft, size=desk.paper)
    if entry.appliance is not None and own:
        made = study_of(entry.appliance, own, kind, made_for)
        if made is not None:
            return made
    conversion = answers.conversion(entry, look.system, letter)
    if conversion is None or entry.appliance is None:
        raise RefusedError(404, "There is no such market, or its orifices could not be calculated.")
    at = letter.rstrip("0123456789")
    market = next((f"{one.letter} ({one.name})" for one in markets if one.letter == at), "")
    return paper_of(replace(conversion, file_sha256=version), kind, made_for, market)


# The draft of a desk before.


def draft_page(desk: Desk, _: Answers, request: Request) -> Response:
    """The draft beside the file, and what to do with it."""
    return _draft_page(desk)


def _draft_page(desk: Desk, choices: Mapping[str, str] | None = None) -> Response:
    """choices : made already, of which one is missing"""
    from starlette.responses import HTMLResponse, RedirectResponse

    if desk.earlier is None:
        return RedirectResponse("/", 303)
    merge, values = desk.draft_merge, desk.earlier.values()
    now = desk.text_on_disk
    found = input_differences(now, desk.earlier)
    outside = None if desk.begun_from is None else input_differences(desk.begun_from, now)
    is_typed = desk.saved_entry is not None and not desk.is_saved(desk.newest_entry)
    view = {
        "outside": outside,
        "is_put_together": merge is not None,
        "clashes": [(place_of(one.place_key, values), one) for one in merge.clashes] if merge else [],
        "choices": choices or {},
        "file_name": desk.name,
        "moment": desk.draft.moment,
        "found": found,
        "token": desk.gate.token,
        "is_new": desk.saved_entry is None,
        "is_typed": is_typed,
    }
    return HTMLResponse(
        language_of(desk, desk.newest_entry, values).page("desk_draft", **view),
        CONFLICT if choices else 200,
    )


def decide_draft(desk: Desk, pairs: dict[str, str]) -> Response:
    """Take it, with or without what was changed in the file since, or drop it."""
    from starlette.responses import RedirectResponse

    if desk.decide(pairs.get("act", ""), pairs) is None:
        return _draft_page(desk, pairs)
    return RedirectResponse("/", 303)
