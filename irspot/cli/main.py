"""The command group: finds commands without importing them, and turns refusals into one line and an exit status.

``irspot --help`` must answer at once, so the group knows each command's name and sentence from the table below and
imports a command's file only when it is asked for.
"""

from __future__ import annotations

import atexit
import gc
import importlib
import sys
from typing import Any, Final

import click

from irspot.errors import IrspotError, PlacementRefused

# A process that ends gives all its memory back at once. Python would first search every object of every library it has
# loaded for cycles to free one by one, which takes a tenth of the time of measuring one frame. Registered before those
# libraries are loaded, this runs after whatever they do at exit.
atexit.register(gc.freeze)
# Nearly all that is made while libraries load stays: searching it for cycles after every 700 objects takes a tenth too.
gc.set_threshold(100_000)

COMMANDS: Final[dict[str, str]] = {
    "demo": "Make the demo study in a folder and run it.",
    "new": "Write commented templates of study, camera and board files.",
    "check": "Validate a study and all its files before anything is heated.",
    "run": "Evaluate a whole study: tables, pictures, provenance.",
    "crosscheck": "Hold thermocouples against the image: agreement, causes, beads that came off.",
    "compare": "Rank boards with ties, judge limits, and say what may not be compared.",
    "soak": "Judge steady state: end value, drift and time to go of every zone.",
    "picture": "Draw runs or a frame: grid, difference, isotherm, overlay, warm-up.",
    "measure": "Measure the zones of one frame.",
    "place": "Find the board in one frame, or say why it cannot be found.",
    "reflected": "Measure the reflected temperature with a patch of crumpled foil.",
    "emissivity": "Measure a zone's emissivity from a contact or a strip of tape.",
    "twoview": "Tell hot spots from reflections by two views of one board.",
    "zones-from": "Make zones of a part position list, or an outline of a layout file.",
    "decode": "Decode colour-mapped pictures to temperatures.",
    "lens": "Fit focal length and distortion of the lens from frames of a target.",
    "bundle": "Pack a study with everything its numbers follow from.",
    "verify": "Check a bundle, measure its study anew and compare every number.",
    "guide": "Show a page of the guide, or what pages there are.",
    "schema": "Print the JSON Schema of a file format, or what columns tables have.",
}
"""Name and one sentence of every command, in the order of the work. A test holds each to its command's own help."""


class LazyGroup(click.Group):
    """A group that imports a command when it is used, not before."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Note whether JSON is wanted: arguments can be wrong before the command's own option is looked at."""
        ctx.meta["irspot.json"] = "--json" in args
        return super().parse_args(ctx, args)

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Name the commands, in the order of the work."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import the file of one command."""
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(f"irspot.cli.{cmd_name.replace('-', '_')}")
        command: click.Command = module.command
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Name the nearest command when there is no such one."""
        name = args[0] if args else ""
        if name and not name.startswith("-") and name not in COMMANDS:
            import difflib

            near = difflib.get_close_matches(name, COMMANDS, n=1)
            ctx.fail(f"no command '{name}'." + (f" Did you mean '{near[0]}'?" if near else " See 'irspot --help'."))
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands from the table, importing none of them."""
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command; a refusal becomes one line on stderr and an exit status."""
        try:
            return super().invoke(ctx)
        except IrspotError as error:
            report_refusal(error, as_json=bool(ctx.meta.get("irspot.json")))
            ctx.exit(error.exit_status)
        except click.UsageError as error:
            if ctx.meta.get("irspot.json"):
                _print_error_object("usage", "", _option_of(error), error.format_message())
            raise
        except OSError as error:
            ctx.exit(_given_up(error))
        except MemoryError:
            click.echo("irspot: not enough memory for this job; try smaller frames or fewer at once", err=True)
            ctx.exit(1)


def report_refusal(error: IrspotError, *, as_json: bool) -> None:
    """Print an error: one line a problem on stderr, and with ``--json`` an error object on stdout."""
    from irspot.cli.console import say

    if as_json:
        # What refused for one of several causes says which, and what to do next, for programs too.
        details = {"cause": error.cause, "hint": error.hint} if isinstance(error, PlacementRefused) else {}
        _print_error_object(error.code, error.file, error.key, str(error), **details)
    for line in str(error).splitlines():
        say(f"irspot: {line}")


def _print_error_object(code: str, file: str, key: str, message: str, **details: str) -> None:
    import json

    body = {"code": code, "file": file, "key": key, "message": message, **details}
    click.echo(json.dumps({"error": body}, ensure_ascii=False, allow_nan=False))


def _option_of(error: click.UsageError) -> str:
    parameter = getattr(error, "param", None)
    return max(parameter.opts, key=len) if isinstance(parameter, click.Option) else ""


def _given_up(error: OSError) -> int:
    """Give the exit status where results could not be printed; nothing further may be flushed there."""
    from irspot.cli.console import say, silence

    silence(sys.stdout)
    if isinstance(error, BrokenPipeError):  # the reader of the pipe went away; what it wanted it has
        return 0
    named = f"{error.filename}: " if error.filename else ""
    say(f"irspot: {named}cannot be read or written: {error.strerror or error}")
    return 1


def _print_version(ctx: click.Context, _option: click.Parameter, wanted: bool) -> None:
    if wanted and not ctx.resilient_parsing:
        from irspot.version import __version__

        click.echo(f"irspot {__version__}")
        ctx.exit()


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.option(
    "--version", is_flag=True, expose_value=False, is_eager=True, callback=_print_version, help="Print the version."
)
def main() -> None:
    """How hot each zone of a circuit board gets, from infrared frames, with an honest uncertainty.

    Results go to stdout, messages to stderr. Exit status: 0 done, 1 something failed, 2 misuse.

    \b
    Example:
      irspot demo demo
      irspot run demo/study.toml -o out
    """
