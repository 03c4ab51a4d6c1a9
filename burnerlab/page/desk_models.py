"""Several models on the desk: a start page of all of them, each with a desk of its own, and their product line."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from hashlib import sha256
from typing import TYPE_CHECKING, Any, Literal

from burnerlab.appliance.conversion.markets import targets_of
from burnerlab.appliance.study.product_line import InputEnds, ProductLine, product_line
from burnerlab.orifice.drill import SERIES, Drill, drill_list
from burnerlab.page.app import static_routes
from burnerlab.page.desk_answers import Answers
from burnerlab.page.desk_cautions import first_cautions
from burnerlab.page.desk_findings import StateLine, topics_of
from burnerlab.page.desk_language import DeskLanguage, language_of
from burnerlab.page.desk_pages import EVERY_MARKET, example_words, kept_words, query_of
from burnerlab.page.desk_papers import STUDIES, STUDY_FORMATS, MadeFor, as_draft, refused, study_response
from burnerlab.page.desk_state import Desk, DeskEntry, desk_gate
from burnerlab.page.form import RefusedError, words
from burnerlab.page.reader_language import Reader
from burnerlab.page.render import error_page
from burnerlab.page.security import Guard, Receive, Scope, Send
from burnerlab.quantity import Kind, System, read
from burnerlab.quantity.inputs import input_row, together
from burnerlab.report.line_paper import line_paper
from burnerlab.report.paper_units import PaperUnits
from burnerlab.report.study_paper import StudyPaper, paper_for
from burnerlab.tables.cautions import closing_cautions
from burnerlab.tables.languages import ENGLISH_LANGUAGE
from burnerlab.tables.problem import Problem, UserError
from burnerlab.tables.verdict import Verdict, worst

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from burnerlab.appliance import Appliance
    from burnerlab.appliance.study.product_line import Aim

UNUSABLE = 422
IDS = re.compile(r' id="state[^"]*"')
LINE_FIELDS = ("at_most", "low", "high", "apart")


@dataclass(frozen=True, slots=True)
class ModelDesk:
    """A model with its desk, the answer of that, and its address; the last is "" until it has a port."""

    desk: Desk
    answers: Answers
    address: str = ""

    @property
    def readable_entry(self) -> DeskEntry | None:
        """The newest text that reads."""
        return self.desk.figures_of(self.desk.newest_entry)


@dataclass(frozen=True, slots=True)
class ModelRow:
    """A model on the start page."""

    title: str
    file: str
    address: str
    kept: str
    state: Any  # element of its desk: mark and sentence; None where its text does not read
    markets: tuple[tuple[str, str], ...]
    papers: tuple[tuple[str, str], ...]
    urgency: tuple[int, ...]


class ModelGuards(Guard):
    """The guard of the start page and of each desk, by the port of the request."""

    def __init__(self, first: Guard, desks: Mapping[int, Guard]) -> None:
        super().__init__(first.app, first.gate, first.page)
        self.desks = desks
        for one in desks.values():
            one.gate.callers = first.gate.callers

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        port = (scope.get("server") or ("", 0))[1]
        own = self.desks.get(port)
        await (super().__call__ if own is None else own)(scope, receive, send)


def models_application(models: Sequence[ModelDesk], system: System) -> Guard:
    """The start page and the product line behind a guard of their own."""
    from starlette.applications import Starlette
    from starlette.concurrency import run_in_threadpool
    from starlette.exceptions import HTTPException
    from starlette.routing import Route

    def route(path: str, view: Any) -> Route:
        async def endpoint(request: Request) -> Response:
            made: Response = await run_in_threadpool(view, models, system, request)
            return made

        return Route(path, endpoint, methods=["GET"])

    own_page = partial(_error, models)
    handlers: dict[Any, Any] = {
        RefusedError: partial(_refused, own_page),
        HTTPException: partial(_missing_page, own_page),
        UserError: partial(_trouble, own_page),
    }
    routes = [route("/", start), route("/line", line), *static_routes()]
    return Guard(Starlette(routes=routes, exception_handlers=handlers), desk_gate(), own_page)


def _error(models: Sequence[ModelDesk], status: int, sentence: str) -> bytes:
    own = _language(models)
    credits = Reader(language=own.language)
    made = error_page(status, sentence, "desk_models_error", "", credits, own.names, credits=credits)
    return own.regional(made.decode()).encode()


def _page(own: Any, status: int, sentence: str) -> Response:
    from starlette.responses import HTMLResponse

    return HTMLResponse(own(status, sentence), status)


async def _refused(own: Any, request: Request, error: RefusedError) -> Response:
    return _page(own, error.status, error.sentence)


async def _missing_page(own: Any, request: Request, error: Any) -> Response:
    if error.status_code == 405:
        return _page(own, 405, "This page can only be read.")
    return _page(own, 404, "Nothing of this desk is at this address.")


async def _trouble(own: Any, request: Request, error: UserError) -> Response:
    return _page(own, UNUSABLE, ". ".join(words(problem) for problem in error.problems) + ".")


def _language(models: Sequence[ModelDesk]) -> DeskLanguage:
    """The language and the region on which all models agree; names of every one stay."""
    every = [language_of(one.desk, one.desk.newest_entry) for one in models]
    names = tuple(dict.fromkeys(name for own in every for name in own.names))
    is_one = all(own.language == every[0].language for own in every)
    region = every[0].region if len({own.region for own in every}) == 1 else ""
    return (
        DeskLanguage(every[0].language, names, region) if is_one else DeskLanguage(names=names, region=region)
    )


# The start page.


def start(models: Sequence[ModelDesk], system: System, request: Request) -> Response:
    """Every model with its state, the one with the worst signal first, and the way to the product line."""
    from starlette.responses import HTMLResponse

    own = _language(models)
    rows = sorted((_row(one) for one in models), key=lambda row: row.urgency)
    named = [name for one in models for name in one.answers.names(one.desk.newest_entry, _system(one))]
    view = {
        "rows": rows,
        "system": system,
        "formats": [(end, one.words) for end, one in STUDY_FORMATS.items()],
        "has_stock": any(_has_stock(one) for one in models),
        "series": SERIES,
        "apart": "0.001 in" if _system_of_line(models, system) == "US" else "0.03 mm",
        "first_cautions": first_cautions(),
        "cautions": closing_cautions("desk"),
    }
    return HTMLResponse(own.page("desk_models", (*named, *_titles(models)), **view))


def _has_stock(model: ModelDesk) -> bool:
    shown = model.readable_entry
    return shown is not None and shown.appliance is not None and shown.appliance.tables.stock is not None


def _titles(models: Sequence[ModelDesk]) -> list[str]:
    """What people wrote of the models: names of models, files and markets."""
    shown = [one.readable_entry for one in models]
    appliances = [entry.appliance for entry in shown if entry is not None and entry.appliance is not None]
    return [
        *(one.desk.name for one in models),
        *(text for one in appliances for text in (_title(one), one.name, one.model) if text),
        *(market.name for one in appliances for market in one.markets),
    ]


def _title(appliance: Appliance) -> str:
    return appliance.model or appliance.name


def _system(model: ModelDesk) -> System:
    return model.desk.system_of(model.desk.newest_entry)


def _row(model: ModelDesk) -> ModelRow:
    """A model as its newest text that reads has it."""
    from markupsafe import Markup

    desk, shown = model.desk, model.readable_entry
    values = desk.newest_entry.text.values()
    named = dict.fromkeys(values.get(f"appliance.{key}", "") for key in ("name", "model"))
    title = ", ".join(filter(None, named)) or desk.name
    if shown is None or shown.appliance is None:
        return ModelRow(
            title, desk.name, model.address, kept_words(desk, desk.newest_entry), None, (), (), (-1,)
        )
    made = model.answers.whole(shown, _system(model))
    verdict = next(part.mark.verdict for part in made.answer.fragments if isinstance(part, StateLine))
    topics = topics_of(made.answer.markets)
    query = f"?units={_system(model)}"
    is_ready = any(market.conversions for market in made.answer.markets) and not example_words(desk, shown)
    return ModelRow(
        title=title,
        file=desk.name,
        address=model.address,
        kept=kept_words(desk, desk.newest_entry),
        state=Markup(IDS.sub("", made.html["state"])),  # made by a template of ours
        markets=tuple((market.letter, market.name) for market in targets_of(shown.appliance)),
        papers=tuple(
            (f"{model.address}papers/{shown.digest}/{EVERY_MARKET}/{name}{query}", STUDIES[name].words)
            for name in STUDIES
        )
        if is_ready
        else (),
        urgency=(
            worst([verdict or Verdict.NOT_EVALUATED]).rank,
            *(rank for topic in topics[:1] for rank in topic.order),
        ),
    )


# The product line.


@dataclass(frozen=True, slots=True, kw_only=True)
class LineChoice:
    """What the set of orifices is chosen for."""

    aim: Aim
    ends: InputEnds | None
    apart_m: float
    to_buy: tuple[Drill, ...] = ()  # beside the stock


def _choice(pairs: Mapping[str, str]) -> LineChoice:
    """From the fields of the start page; one that is empty is left out. Raises UserError for what does not read."""
    texts = {name: pairs.get(name, "").strip() for name in LINE_FIELDS}

    def figure(name: str, reader: Any) -> Any:
        return reader(texts[name]) if texts[name] else None

    at_most, apart, low, high = together(
        lambda: figure("at_most", lambda text: input_row("set_count").read(text, "at most")),
        lambda: figure("apart", lambda text: input_row("size_difference").read(text, "apart")),
        lambda: figure("low", lambda text: read(text, Kind.FRACTION, key="at the lowest pressure")),
        lambda: figure("high", lambda text: read(text, Kind.FRACTION, key="at the highest pressure")),
    )
    aim: int | Literal["fewest"] = at_most or "fewest"
    bought = pairs.get("buy", "")
    to_buy = drill_list(bought) if bought in SERIES else ()
    if low is None and high is None:
        return LineChoice(aim=aim, ends=None, apart_m=apart or 0.0, to_buy=to_buy)
    if low is None or high is None or not -1.0 < low < 0.0 < high:
        what = "the ends of the heat input need both fields, with 0 % between them"
        raise UserError(Problem(what, f"{texts['low']}..{texts['high']}", accepted="such as -25 % and 25 %"))
    ends = InputEnds(low=low, high=high)
    return LineChoice(aim=aim, ends=ends, apart_m=apart or 0.0, to_buy=to_buy)


def _system_of_line(models: Sequence[ModelDesk], system: System) -> System:
    """The units of all models, where they are one."""
    found = {_system(one) for one in models}
    return found.pop() if len(found) == 1 else system


def line(models: Sequence[ModelDesk], system: System, request: Request) -> Response:
    """The product line of all models as a paper: what no orifice serves first, then the set and its curve."""
    pairs = query_of(request)
    format_ = STUDY_FORMATS.get(pairs.get("format", ""))
    if format_ is None:
        raise RefusedError(404, "There is no such paper.")
    held = [one.desk.name for one in models if _lacks_paper(one)]
    if held:
        names = ", ".join(held)
        raise RefusedError(
            UNUSABLE, f"No paper is made of entries that do not read or are examples: {names}."
        )
    choice = _choice(pairs)
    entries = [one.desk.newest_entry for one in models]
    digest = sha256("".join(entry.digest for entry in entries).encode()).hexdigest()
    made_for = MadeFor(
        units=PaperUnits(written=models[0].desk.written_units, reader=_system_of_line(models, system)),
        sha256=digest,
        is_draft=any(not one.desk.is_saved(entry) for one, entry in zip(models, entries, strict=True)),
        size=models[0].desk.paper,
    )
    appliances = [entry.appliance for entry in entries if entry.appliance is not None]
    try:
        found = _line(appliances, choice)
    except UserError as error:
        raise refused(error) from None
    regions = {one.region for one in found.fitted} or {one.region for one in appliances}
    return study_response(
        lambda: _line_paper(found, appliances, regions, made_for), format_, made_for, regions
    )


def _lacks_paper(model: ModelDesk) -> bool:
    """Whether no paper may be made of a model."""
    entry = model.desk.newest_entry
    return entry.appliance is None or bool(example_words(model.desk, entry))


def _line(appliances: Sequence[Appliance], choice: LineChoice) -> ProductLine:
    to_buy = choice.to_buy if any(one.tables.stock is not None for one in appliances) else ()
    return product_line(appliances, to_buy=to_buy, aim=choice.aim, ends=choice.ends, apart_m=choice.apart_m)


def _line_paper(
    orifices: ProductLine, appliances: Sequence[Appliance], regions: set[str], made_for: MadeFor
) -> StudyPaper:
    """In the units and words of its regions and the language on which the models agree."""
    languages = {one.language: one.reader_language for one in appliances}
    return paper_for(
        as_draft(line_paper(orifices, made_for.sha256, made_for.units), made_for),
        made_for.units.of(*regions),
        next(iter(regions)) if len(regions) == 1 else "",
        language=languages.popitem()[1] if len(languages) == 1 else ENGLISH_LANGUAGE,
    )
