"""``burnerlab bench``: the test bench in a browser."""

from __future__ import annotations

import secrets
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

import click

from burnerlab.cli.cautions import cautions, print_cautions
from burnerlab.cli.options import json_option
from burnerlab.cli.output import print_json
from burnerlab.cli.record_options import file_option
from burnerlab.quantity.error import Problem, UserError

if TYPE_CHECKING:
    from burnerlab.appliance import Appliance
    from burnerlab.page.app import Listening
    from burnerlab.page.context import Bench

PORT = 8741
OPEN = (
    "other machines of this network can reach the bench and, with the key of the address, read and add to the record; "
    "nothing on the way is encrypted"
)


@click.command(short_help="The test bench in a browser, for a phone or a desk.")
@click.argument("models", nargs=-1, metavar="MODEL.toml ...")
@file_option
@click.option("--demo", is_flag=True, help="Also the demonstration appliance.")
@click.option(
    "--port", type=click.IntRange(0, 65535), default=PORT, show_default=True, help="0 takes a free one."
)
@click.option(
    "--host",
    metavar="ADDRESS",
    default="127.0.0.1",
    show_default=True,
    help="Address to answer on; another than this machine's own opens the bench to the network.",
)
@click.option(
    "--units",
    type=click.Choice(["metric", "US"]),
    default="metric",
    show_default=True,
    help="Until chosen on the page.",
)
@json_option
def command(
    models: tuple[str, ...], file: str, demo: bool, port: int, host: str, units: str, as_json: bool
) -> int:
    """Serve the test bench as pages on this machine until it is stopped with Ctrl+C.

    Choose model and serial number, time the meter, read the finding, look at the flame, save, print the sheet. Each
    MODEL.toml is a project file; the record is made when it is not there. Nothing is fetched from the network.

    \b
    Examples:
      burnerlab bench range.toml
      burnerlab bench --demo --units US --file units.sqlite
    """
    bench = _bench(models, file, demo, host, units)
    from burnerlab.page.app import listen, serve

    listening = listen(bench, port)
    _announce(bench, listening, as_json)
    serve(bench, listening)
    if not as_json:
        click.echo("stopped")
    return 0


def _bench(models: tuple[str, ...], file: str, demo: bool, host: str, units: str) -> Bench:
    """The bench with its models read and its record there to be written."""
    _libraries()
    from burnerlab.bench.record import open_record
    from burnerlab.page.app import opened_to_others
    from burnerlab.page.context import Bench
    from burnerlab.page.security import Gate
    from burnerlab.page.tested import models_of

    found = models_of(_appliances(models, demo))
    path = Path(file)
    open_record(path).close()
    key = secrets.token_urlsafe(18) if opened_to_others(host) else ""
    return Bench(
        file=path,
        models=found,
        gate=Gate(host=host, key=key),
        system="US" if units == "US" else "metric",
    )


def _appliances(models: tuple[str, ...], demo: bool) -> list[Appliance]:
    from burnerlab.appliance import demonstration, read_appliance
    from burnerlab.cli.asked import together

    if not models and not demo:
        fix = "name a project file, or add --demo"
        raise UserError(Problem("no model to test", key="MODEL.toml", fix=fix))
    found: list[Appliance] = together(*(lambda name=name: read_appliance(name) for name in models))
    return [*found, *([demonstration()] if demo else [])]


def _libraries() -> None:
    """Raise UserError unless the web libraries are there."""
    for name in ("starlette", "uvicorn"):
        if find_spec(name) is None:
            fix = 'pip install "burnerlab[page]"'
            raise UserError(Problem(f"the page needs {name}", key="bench", fix=fix))


def _announce(bench: Bench, listening: Listening, as_json: bool) -> None:
    if bench.gate.key:
        click.echo(f"warning: {OPEN}", err=True)
    if as_json:
        names = [model.name for model in bench.models.values()]
        print_json(
            {"address": listening.address, "record": str(bench.file), "models": names, "cautions": cautions()}
        )
        return
    click.echo(f"The test bench is at {listening.address}")
    click.echo(f"It records into {bench.file}. Stop it with Ctrl+C.")
    print_cautions(*(model.appliance.supply.gas for model in bench.models.values()))
