"""``burnerlab bench`` and ``burnerlab desk``: pages in a browser."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from threading import Thread
from typing import TYPE_CHECKING, Any

import click

from burnerlab.cli.common_inputs import STOCK, read_appliance_file
from burnerlab.cli.options import takes
from burnerlab.cli.output import (
    document_option,
    note_region_of_file,
    preferred_system,
    print_cautions,
    print_json,
    print_open_stops,
    reader_system,
    stops_json,
    written_system,
)
from burnerlab.cli.record_output import RECORD, RELEASE_LIMITS, text_input
from burnerlab.cli.user_settings import remembered_paper
from burnerlab.quantity import System
from burnerlab.quantity.inputs import Input
from burnerlab.tables.problem import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance
    from burnerlab.bench.reading_plan import Plan
    from burnerlab.bench.record import OpenStop
    from burnerlab.page.app import Listening
    from burnerlab.page.bench_state import Bench
    from burnerlab.page.desk_state import Desk

PORT = 8741
DESK_PORT = 8742
OPEN = (
    "other machines of this network can reach the bench and, with the key of the address, read and add to the record; "
    "nothing on the way is encrypted"
)

NO_NETWORK = "this machine has no address on a network: a phone cannot open the one below"


@dataclass(frozen=True, slots=True, kw_only=True)
class ModelFile:
    """A model to test, and the folder its file lies in."""

    appliance: Appliance
    folder: Path


def _model_file(text: Any, key: str) -> ModelFile:
    return ModelFile(appliance=read_appliance_file(text, key), folder=Path(text).parent)


@click.command(short_help="The test bench in a browser, for a phone or a desk.")
@takes(
    models=Input(
        name="models",
        reader=_model_file,
        metavar="MODEL.toml ...",
        is_argument=True,
        is_many=True,
    ),
    file=RECORD,
    demo=Input(name="demo", is_flag=True, help="Also the demonstration appliance."),
    plans=text_input(
        "plan",
        "PLAN",
        "Test plan: its JSON file, or its number where the file is in the folder of a model.",
        is_many=True,
    ),
    port=Input(
        name="port", metavar="INTEGER", default=str(PORT), help="Port of the page; 0 takes a free one."
    ),
    host=text_input(
        "host",
        "ADDRESS",
        "Address to answer on; another than this machine's own opens the bench to the network.",
        default="127.0.0.1",
    ),
    key_file=text_input(
        "key_file",
        "FILE",
        "With --host: keep the key in this file, made when missing, so that it outlives a restart.",
    ),
    own_limits=RELEASE_LIMITS,
    code=Input(
        name="qr",
        flags=("--qr/--no-qr",),
        is_flag=True,
        help="Draw the address as a QR code (on a terminal, where the bench is opened to the network).",
    ),
)
@document_option
def bench_command(
    models: tuple[ModelFile, ...],
    demo: bool,
    plans: tuple[str, ...],
    file: str,
    port: int,
    host: str,
    key_file: str | None,
    own_limits: Path | None,
    code: bool | None,
    as_json: bool,
) -> int:
    """Serve the test bench as pages on this machine until it is stopped with Ctrl+C.

    Choose model and serial number, time the meter, read the finding, look at the flame, save, print the sheet. Each
    MODEL.toml is a project file; the record is made when it is not there. Nothing is fetched from the network. A plan
    that was made from MODEL.toml (convert --out) serves it with the gas and the orifices of the plan.

    \b
    Examples:
      burnerlab bench range.toml
      burnerlab bench --demo --units us --file units.sqlite
      burnerlab bench range.toml --plan sheet/range-to-propane-plan.json
      burnerlab bench range.toml --host 0.0.0.0 --key-file bench.key
    """
    from burnerlab.bench.record.release_statements import release_limits

    by_number = _plans(plans, models)
    appliances = _to_test(tuple(model.appliance for model in models), demo)
    troubles: dict[str, str] = {}
    built: dict[str, Appliance] = {}
    as_planned = _as_planned(appliances, by_number.values(), troubles, built)
    bench = _bench(as_planned, Path(file), host, reader_system(), key_file)
    bench.take_plans(by_number, troubles, built)
    bench.release_limits = release_limits(own_limits)
    from burnerlab.page.app import application, listen, serve

    listening = listen(bench.gate, port)
    try:
        _make_files(bench, key_file)
    except BaseException:
        listening.socket.close()
        raise
    _announce(bench, listening, as_json, code)
    serve(application(bench), listening)
    if not as_json:
        click.echo("stopped")
    return 0


def _bench(
    models: tuple[Appliance, ...], file: Path, host: str, system: System, key_file: str | None
) -> Bench:
    """The bench with its models; no file is made yet."""
    _libraries()
    from burnerlab.page.app import is_on_network
    from burnerlab.page.bench_state import Bench
    from burnerlab.page.heat_input_test import models_of
    from burnerlab.page.security import Gate, new_key

    is_open = is_on_network(host)
    if key_file is not None and not is_open:
        what = "has a meaning only where the bench is opened to the network"
        raise UserError(Problem(what, key_file, "--key-file", fix="add --host 0.0.0.0"))
    gate = Gate(host=host, key=new_key() if is_open else "")
    return Bench(file=file, models=models_of(models), gate=gate, system=system)


def _make_files(bench: Bench, key_file: str | None) -> None:
    """The record and, where it is asked for, the file of the key; none of them where one is refused."""
    from burnerlab.bench.record import open_record
    from burnerlab.page.security import key_of_file

    new_key = None
    if key_file is not None:
        key, is_new = key_of_file(Path(key_file))
        new_key = Path(key_file) if is_new else None
        bench.gate.keep(key)
    try:
        open_record(bench.file).close()
    except BaseException:
        if new_key is not None:
            new_key.unlink()
        raise


def _to_test(models: tuple[Appliance, ...], demo: bool) -> tuple[Appliance, ...]:
    from burnerlab.appliance import demonstration

    if not models and not demo:
        fix = "name a project file, or add --demo"
        raise UserError(Problem("no model to test", key="MODEL.toml", fix=fix))
    return (*models, *([demonstration()] if demo else []))


def _plans(texts: tuple[str, ...], models: tuple[ModelFile, ...]) -> dict[str, Plan]:
    """The plans by number; a number is looked for beside the files of the models and here."""
    from burnerlab.bench.plan_file import plan_named

    folders = [Path(), *(model.folder for model in models)]
    plans = [plan_named(text, *folders) for text in texts]
    return {plan.number: plan for plan in plans}


def _as_planned(
    models: tuple[Appliance, ...],
    plans: Iterable[Plan],
    troubles: dict[str, str] | None = None,
    built: dict[str, Appliance] | None = None,
) -> tuple[Appliance, ...]:
    """The models as the plans' units are built: one whose file a plan was made from is converted as the plan says.

    Of several plans of one model each has its own: both gases of a couple are tested on one bench. Why a plan is not
    one of its file goes to the error stream and, by its number, into ``troubles``; what its units are into ``built``.
    """
    from burnerlab.bench.reading_plan import OF_EARLIER_PLAN, converted_for, mismatch_words

    by_model, taken = list(models), set[int]()
    names = tuple(dict.fromkeys(model.model or model.name for model in models))
    for plan in plans:
        if plan.model not in names:
            what = f"plan {plan.number} is for model {plan.model}, which no file of this bench has"
            fix = "start the bench with the file of that model, or without the plan"
            raise UserError(Problem(what, plan.number, "--plan", accepted=", ".join(names), fix=fix))
        if plan.lacks_carbon_monoxide:
            click.echo(f"note: plan {plan.number}: {OF_EARLIER_PLAN}", err=True)
        for place, model in enumerate(models):
            if (model.model or model.name) != plan.model:
                continue
            converted = converted_for(model, plan)
            if converted is None and model.supply.gas.name == plan.gas:  # the file is of a converted unit
                continue
            if converted is not None and built is not None:
                built[plan.number] = converted
            if converted is None:
                why = mismatch_words(model, plan, reader_system())
                click.echo(f"warning: {why}", err=True)
                if troubles is not None:
                    troubles[plan.number] = why
            elif place in taken:  # the other gas of a couple, or another market
                by_model.append(converted)
            else:
                by_model[place] = converted
                taken.add(place)
    return tuple(by_model)


def _libraries(command: str = "bench") -> None:
    """Raise UserError unless the web libraries are there."""
    for name in ("starlette", "uvicorn", "segno"):
        if find_spec(name) is None:
            fix = 'pip install "burnerlab[page]"'
            raise UserError(Problem(f"the page needs {name}", key=command, fix=fix))


def _stops_of_the_bench(bench: Bench) -> list[OpenStop]:
    """Stops of an earlier day that stand for every unit until a qualified person releases them."""
    from burnerlab.bench.record import open_stops

    with bench.read_record() as record:
        return [one for one in open_stops(record) if one.is_of_the_bench]


def _announce(bench: Bench, listening: Listening, as_json: bool, code: bool | None) -> None:
    from burnerlab.page.app import can_draw, code_of, is_on_network

    stops = _stops_of_the_bench(bench)
    if bench.gate.key:
        click.echo(f"warning: {OPEN}", err=True)
        if not is_on_network(listening.host):
            click.echo(f"warning: {NO_NETWORK}", err=True)
    if as_json:
        names = [model.name for model in bench.models.values()]
        document = {"address": listening.address, "record": str(bench.file), "models": names}
        print_json(stops_json(stops) | document)
        return
    print_open_stops(stops)
    on_screen = sys.stdout.isatty()
    if code or (code is None and on_screen and bench.gate.key and can_draw(sys.stdout.encoding)):
        click.echo(code_of(listening.address, on_screen), color=on_screen)
    click.echo(f"The test bench is at {listening.address}")
    click.echo(f"It records into {bench.file}. Stop it with Ctrl+C.")
    print_cautions(*(model.appliance.supply.gas for model in bench.models.values()))


def _desk_files(text: Any, key: str) -> tuple[Path, ...]:
    """A file of the desk, or the appliance files of a folder."""
    from burnerlab.appliance.project.project_file import STANDARD_INPUT, files_of_folder, is_folder

    if text == STANDARD_INPUT:
        what = "the standard input is no file that the desk can save"
        raise UserError(Problem(what, text, "FILE", fix="name a file, or leave it out for a blank page"))
    return files_of_folder(text, key) if is_folder(text) else (Path(text),)


@click.command(short_help="The engineer's page in a browser: edit the appliance, see what follows.")
@takes(
    files=Input(
        name="file",
        reader=_desk_files,
        metavar="[FILE...]",
        is_argument=True,
        is_many=True,
    ),
    record=text_input(
        "record",
        "RECORD",
        "Record of the bench, whose measured units are shown; bench.sqlite where it is there.",
    ),
    stock=STOCK,
    port=Input(
        name="port", metavar="INTEGER", default=str(DESK_PORT), help="Port of the page; 0 takes a free one."
    ),
)
@document_option
def desk_command(
    files: tuple[tuple[Path, ...], ...], record: str | None, stock: Path | None, port: int, as_json: bool
) -> int:
    """Edit an appliance on one page of this machine, and see what follows, until stopped with Ctrl+C.

    FILE is a project file; a name of a file that is not there yet starts a blank page, and Save makes the file. Without
    FILE the page is blank and its text can be downloaded. What is typed and not saved is kept in a draft in the folder
    of the file. Only this machine can open the page; nothing is fetched from the network.

    Several files, or a folder of them, have a start page: every model with its state, the worst signal first, and the
    fewest orifices for all of them. Each has a desk of its own on a port of its own.

    \b
    Examples:
      burnerlab desk range.toml
      burnerlab desk range.toml --record units.sqlite
      burnerlab desk new-range.toml --units us
      burnerlab desk range.toml --stock orifices.csv
      burnerlab desk range.toml fryer.toml
      burnerlab desk
    """
    _libraries("desk")
    paths = list(dict.fromkeys(path for each in files for path in each))
    if len(paths) > 1 or any(each != (paths[0],) for each in files):
        return _several_desks(paths, record, stock, port, as_json)
    return _single_desk(paths[0] if paths else None, record, stock, port, as_json)


def _desk(path: Path | None, record: str | None, stock: Path | None) -> Desk:
    """The desk of a file. Its region decides the words of what the command prints."""
    from burnerlab.page.desk_state import Desk

    units = preferred_system()
    desk = Desk(
        path=path,
        system=units or "metric",
        record=_record_of_desk(record),
        stock=stock,
        preferred_units=units,
        written_units=written_system(),
        paper=remembered_paper(),
    )
    region = desk.newest_entry.text.values().get("appliance.region", "")
    note_region_of_file(region, (str(path), desk.name) if path else ())
    return desk


def _single_desk(path: Path | None, record: str | None, stock: Path | None, port: int, as_json: bool) -> int:
    from burnerlab.page.app import listen, serve
    from burnerlab.page.desk_answers import Answers
    from burnerlab.page.desk_app import desk_application, warm_up

    desk = _desk(path, record, stock)
    answers = Answers(desk)
    listening = listen(desk.gate, port)
    file = str(path) if path else ""
    if as_json:
        print_json({"address": listening.address, "file": file, "draft": str(desk.draft.path)})
    else:
        click.echo(f"The desk is at {listening.address}")
        click.echo(f"{_kept(file, desk)} Stop it with Ctrl+C.")
        print_cautions()
    Thread(target=warm_up, args=(desk, answers), daemon=True).start()  # while the browser is opened
    try:
        serve(desk_application(desk, answers), listening)
    finally:
        desk.draft.flush()
    if not as_json:
        click.echo("stopped")
    return 0


def _several_desks(
    paths: list[Path], record: str | None, stock: Path | None, port: int, as_json: bool
) -> int:
    """A start page, and a desk for each file on a port of its own: the next ones behind that of the start page."""
    from burnerlab.page.app import listen, serve
    from burnerlab.page.desk_answers import Answers
    from burnerlab.page.desk_app import desk_application, warm_up
    from burnerlab.page.desk_models import ModelDesk, ModelGuards, models_application

    missing = [Problem("there is no such file", str(one), "FILE") for one in paths if not one.is_file()]
    if missing:
        raise UserError(missing)
    desks = [_desk(path, record, stock) for path in paths]
    models: list[ModelDesk] = []
    first = models_application(models, preferred_system() or "metric")
    listening = [listen(first.gate, port)]
    try:
        for desk in desks:
            listening.append(_next_port(desk, port and port + len(listening)))
            desk.models = listening[0].address
            models.append(ModelDesk(desk, Answers(desk), listening[-1].address))
        if as_json:
            named = [
                {"file": str(path), "address": one.address, "draft": str(one.desk.draft.path)}
                for path, one in zip(paths, models, strict=True)
            ]
            print_json({"address": listening[0].address, "models": named})
        else:
            click.echo(f"The start page of {len(models)} models is at {listening[0].address}")
            for path, one in zip(paths, models, strict=True):
                click.echo(f"  {one.address}  {path}")
            click.echo(
                "What is not saved is kept in a draft in the folder of each file. Stop it with Ctrl+C."
            )
            print_cautions()
        guards = {
            each.socket.getsockname()[1]: desk_application(one.desk, one.answers)
            for each, one in zip(listening[1:], models, strict=True)
        }

        def warm_up_all() -> None:
            for one in models:
                warm_up(one.desk, one.answers)

        Thread(target=warm_up_all, daemon=True).start()
        serve(ModelGuards(first, guards), *listening)
    finally:
        for each in listening:
            each.socket.close()
        for desk in desks:
            desk.draft.flush()
    if not as_json:
        click.echo("stopped")
    return 0


def _next_port(desk: Desk, port: int) -> Listening:
    """The port for the desk of a model, or a free one where that is in use."""
    from burnerlab.page.app import listen

    try:
        return listen(desk.gate, port)
    except UserError:
        return listen(desk.gate, 0)


def _record_of_desk(record: str | None) -> Path | None:
    """The record whose units the desk shows. Raises UserError for a file that is none."""
    from burnerlab.bench.record import open_record

    path = Path(record or RECORD.default or "")
    if record is None and not path.is_file():
        return None
    open_record(path, readonly=True).close()
    return path


def _kept(file: str, desk: Desk) -> str:
    """Where what is typed is kept."""
    draft = f"what is not saved is kept in {desk.draft.path}."
    return f"It edits {file}; {draft}" if file else f"It has no file to save into; {draft}"
