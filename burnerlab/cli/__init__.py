"""The command line: one file per command, loaded only when it is called.

``burnerlab --help`` reads the table below and imports no command, so that it answers at once.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from importlib import import_module
from typing import TYPE_CHECKING, Any

import click

from burnerlab import __version__
from burnerlab.cli.errors import output_to_a_pipe, run

if TYPE_CHECKING:
    from click.shell_completion import CompletionItem

# before numpy is loaded: small matrices are solved on one core, for threads of linear algebra wait for each other
for _threads in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS"):
    os.environ.setdefault(_threads, "1")

# command -> (file in this folder, what it does); in the order a job is done
COMMANDS: dict[str, tuple[str, str]] = {
    "demo": ("conversion", "Convert a demonstration appliance and write its sheet."),
    "convert": (
        "conversion",
        "Change an appliance file to another gas: orifices, inputs, air, checks, sheet.",
    ),
    "compare": ("comparison", "What differs between two appliance files, and what that does."),
    "desk": ("page", "The engineer's page in a browser: edit the appliance, see what follows."),
    "gas": ("gas", "Properties of a gas: heating value, Wobbe index, density, air, flame."),
    "fuels": ("gas", "List the gases of the library."),
    "flow": ("orifice", "Flow and heat input of an orifice."),
    "size": ("orifice", "Orifice for a heat input, and the drills nearest to it."),
    "injectors": ("study", "Injector table of an appliance: gases, pressures, altitudes."),
    "line": ("line", "Fewest different orifices for several appliance files and their markets."),
    "plate": ("plate", "Figures for the rating plate of each market and gas, and who checks them."),
    "tolerance": ("study", "Spread of the heat input in production, and what causes it."),
    "sweep": ("study", "Vary any parameter of an appliance over a grid, a list or at random."),
    "supply": ("supply", "Pressure and input of every burner through regulator, hose, pipe and valves."),
    "regulator": (
        "regulator",
        "Rate, air and flame against the regulator's setting; outlet against its inlet.",
    ),
    "cylinder": ("cylinder", "How long an LP cylinder holds a heat input as it cools."),
    "burner": ("burner", "Primary air, ports and flame limits of every burner."),
    "ports": ("ports", "Ports, throat and air inlet with which every limit holds on every gas."),
    "flame": ("flame", "Burning velocity, flame temperature and thickness of a gas with air."),
    "tile": ("tile", "Face temperature and radiant efficiency of a ceramic tile burner."),
    "interchange": ("interchange", "What published methods predict for another gas at the same orifice."),
    "clock": ("reading", "Heat input by gas meter and watch, with its uncertainty."),
    "weigh": ("reading", "Heat input by the mass a cylinder loses, with its uncertainty."),
    "flue": ("reading", "Excess air, air-free CO and flue loss from analyser readings."),
    "explain": ("faults", "What may be wrong when a heat input is off, and what to measure next."),
    "bench": ("page", "The test bench in a browser: test units, save, print, chart."),
    "record": ("record", "The bench record: tests of units, kits, charts, copies."),
    "kit": ("kit", "Is a packed kit complete: what the scale can distinguish, and a weighing."),
    "calibrate": ("learning", "Learn the constants of your own units from the bench record."),
    "layout": ("layout", "Where the heat lands: flux map over a cooking surface."),
    "optimise": ("search", "Search positions, heights and rates for a more even map."),
    "carryover": ("carryover", "Which burner can light which, and weak links."),
    "skins": ("skins", "Temperatures of outer panels, compared with touch thresholds and limits."),
    "settings": ("settings", "Units of texts and paper size, remembered for you."),
    "completion": ("completion", "Script of bash, zsh or fish to complete command lines."),
    "man": ("manual", "Manual page, made from the help of every command."),
    "schema": ("schema", "JSON Schema of the appliance file: editors complete and check it."),
    "verify": ("verify", "Compare burnerlab with published figures."),
    "tables": ("tables", "List the tables, ours and those of others, with their sources."),
    "handbook": ("handbook", "Look up how it is used, what it rests on and what changed."),
}

EPILOG = """\b
Examples:
  burnerlab demo
  burnerlab gas propane --at 15C/15C
  burnerlab size --gas propane --rate "12 kBtu/h gross" --pressure "11 inH2O"
  burnerlab convert range.toml --to propane --pressure "11 inH2O" --out sheet

Quantities are written as one number and one unit, with a point as decimal mark: "11 inH2O",
"28 mbar", "1.40 mm", "#54", "1/16 in", "12 kBtu/h gross". burnerlab COMMAND --help prints more.

Exit status: 0 answered, 1 not as it must be or a STOP (clock, weigh, kit check, record add and check,
verify), 2 wrong input, 3 a defect of burnerlab, 130 stopped at the keyboard.

Results are calculations for a qualified person to check. A converted appliance must be tested."""


def command_of(name: str) -> click.Command:
    """The command of that name, its file imported."""
    command: click.Command = getattr(import_module(f"burnerlab.cli.{COMMANDS[name][0]}"), f"{name}_command")
    return command


class LazyGroup(click.Group):
    """A group that knows its commands by name and imports one when it is called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        return command_of(cmd_name) if cmd_name in COMMANDS else None

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args and args[0] not in COMMANDS:
            from difflib import get_close_matches

            near = get_close_matches(args[0].lower(), COMMANDS, n=1)
            hint = f"did you mean {near[0]}?" if near else f"commands: {', '.join(COMMANDS)}"
            ctx.fail(f"no command {args[0]!r}; {hint}")
        return super().resolve_command(ctx, args)

    def shell_complete(self, ctx: click.Context, incomplete: str) -> list[CompletionItem]:
        """Names of commands from the table, so that none is imported for a key; options as click has them."""
        from click.shell_completion import CompletionItem

        named = [CompletionItem(name, help=about) for name, (_, about) in COMMANDS.items()]
        listed = [item for item in named if item.value.startswith(incomplete)]
        return [*listed, *click.Command.shell_complete(self, ctx, incomplete)]

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, about) for name, (_, about) in COMMANDS.items()])

    def make_context(self, *words: Any, **extra: Any) -> click.Context:
        with output_to_a_pipe():  # its help
            return super().make_context(*words, **extra)

    def invoke(self, ctx: click.Context) -> Any:
        with output_to_a_pipe():
            return super().invoke(ctx)

    def main(self, args: Sequence[str] | None = None, **extra: Any) -> Any:  # type: ignore[override]
        """Run a command; every complaint goes to the error stream and sets the exit status."""

        words = list(sys.argv[1:] if args is None else args)
        debug = "--debug" in words
        words = [arg for arg in words if arg != "--debug"]
        extra.pop("standalone_mode", None)
        as_json = "--json" in words

        def answer() -> Any:
            if "--verbose" not in words:
                return super(LazyGroup, self).main(words, standalone_mode=False, **extra)
            from burnerlab.cli.verbosity import ProgramRun, note_files, print_run

            this = ProgramRun()
            note_files(this, words)
            status = super(LazyGroup, self).main(words, standalone_mode=False, obj=this, **extra)
            if this.is_verbose():
                print_run(this)
            return status

        sys.exit(run(answer, as_json, debug, words))


@click.group(
    cls=LazyGroup,
    epilog=EPILOG,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@click.version_option(__version__, "--version", prog_name="burnerlab", message="%(prog)s %(version)s")
@click.option("--debug", is_flag=True, help="Show the traceback of an error. Accepted after any command.")
def main(debug: bool) -> None:
    """Gas-appliance combustion and orifice sizing.

    Describe an appliance in one file, name the gas it must change to, and read the orifices, the heat
    input each will give, the air it needs and what must be tested.
    """


__all__ = ["COMMANDS", "command_of", "main"]
