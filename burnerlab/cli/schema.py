"""``schema``: the JSON Schema of the project file, with which an editor completes and checks one."""

from __future__ import annotations

import click

from burnerlab.cli.options import takes
from burnerlab.cli.output import document_option
from burnerlab.cli.text_file import OUTPUT_FILE, OutputFile, give_text


@click.command(short_help="JSON Schema of the appliance file, for editors.")
@takes(to=OUTPUT_FILE)
@document_option
def schema_command(to: OutputFile, as_json: bool) -> None:
    """The JSON Schema (2020-12) of the appliance file: keys, words, gases, drills and spellings of units.

    An editor of TOML that knows JSON Schema completes and checks a file with it. Put the schema into the folder of
    the file as burnerlab.schema.json and make this the first line of the file:

    \b
      #:schema ./burnerlab.schema.json

    burnerlab demo writes both. Ranges of quantities and what one key asks of another are checked by every command
    that reads the file, not by the schema.

    \b
    Examples:
      burnerlab schema
      burnerlab schema --out burnerlab.schema.json
      burnerlab schema --json
    """
    from burnerlab.appliance.project.json_schema import project_schema, schema_text

    give_text(schema_text(), to, as_json, project_file=project_schema())
