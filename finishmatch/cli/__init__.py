"""The terminal face. Each group of commands is a file of its own and is imported only when it is used."""

from __future__ import annotations

import importlib
import sys
from collections.abc import Sequence
from contextlib import suppress

import click
from click.exceptions import NoArgsIsHelpError

from finishmatch.cli.terminal import drop_the_rest, make_writable
from finishmatch.errors import InputError

# command: (module that holds it, one line for the list of commands)
COMMANDS = {
    "demo": ("demo", "The whole job on the bundled, invented scenario."),
    "compare": ("compare", "The difference of two colours, in numbers and in words."),
    "bank": ("bank", "Fit the optics of a bank of tints, and look at them."),
    "evidence": ("evidence", "Weigh evidence of a colour that disagrees; find the target."),
    "mix": ("mix", "A recipe in grams for a target colour."),
    "correct": ("correct", "What to add to a poured tin to bring it to the target."),
    "plan": ("plan", "From the colour to the panel: quantity, hiding, sheen, law, booth air; one page."),
    "defect": ("defect", "Log a defect: what it is, its rework, where it came from."),
    "photo": ("photo", "Photographs as readings; the shop's card to print and register."),
    "job": ("job", "The record: open, pour, spray, coats, film builds, show."),
}


UNWRITTEN = 3  # a full device: what was found may stand in the ledger, but wasn't told
CLOSED_PIPE = 141  # as the shell has it for a program that nobody reads any more: 128 + SIGPIPE


class _LazyGroup(click.Group):
    """A group that imports a command's module only when that command is run."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(f"finishmatch.cli.{COMMANDS[cmd_name][0]}")
        command: click.Command = getattr(module, f"{cmd_name}_command")
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, line) for name, (_, line) in COMMANDS.items()])


def _version(ctx: click.Context, _param: click.Parameter, wanted: bool) -> None:
    if wanted:
        from finishmatch import __version__

        click.echo(f"finishmatch {__version__}")
        ctx.exit()


@click.group(
    cls=_LazyGroup,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog="""\b
Examples:
  finishmatch compare 52.1,-3.0,4.2 51.8,-2.6,4.9
  finishmatch demo
  finishmatch mix --help
""",
)
@click.option("--version", is_flag=True, expose_value=False, is_eager=True, callback=_version, help="Show the version.")
def root() -> None:
    """The colour and finish bench of a restoration painter.

    Match a period colour, mix it by weight, spray, measure, correct, decide the rework of a contaminated panel, and
    keep the record. Exit status: 0 done; 1 the answer is no; 2 the input is wrong; 3 the answer couldn't be written.
    """


def run(arguments: Sequence[str] | None = None) -> int:
    """Run one command line and return its exit status; what is wrong is told in one line on standard error."""
    try:
        return _answered(arguments)
    except SystemExit:  # click leaves by this door, and by no other, when a pipe is closed
        return CLOSED_PIPE
    except BrokenPipeError:
        return CLOSED_PIPE
    except OSError as error:
        what = f"{error.filename} can't be used" if error.filename else "what was found can't be written"
        with suppress(OSError):  # standard error may be as full
            click.echo(f"finishmatch: {what}: {error.strerror or error}", err=True)
        return UNWRITTEN


def _answered(arguments: Sequence[str] | None) -> int:
    try:
        status = root.main(args=arguments, prog_name="finishmatch", standalone_mode=False)
    except InputError as error:
        click.echo(f"finishmatch: {error}", err=True)
        return 2
    except NoArgsIsHelpError as error:  # a bare group asks what there is
        click.echo(error.format_message())
        return 0
    except click.ClickException as error:
        context = getattr(error, "ctx", None)
        help_at = f" (see '{context.command_path} --help')" if context else ""
        click.echo(f"finishmatch: {' '.join(error.format_message().split())}{help_at}", err=True)
        return 2
    except click.Abort:
        click.echo("finishmatch: stopped; nothing more was written", err=True)
        return 130
    return status if isinstance(status, int) else 0


def main() -> None:
    """Entry point of the `finishmatch` command."""
    make_writable()
    status = run()
    if status in (UNWRITTEN, CLOSED_PIPE):
        drop_the_rest()
    sys.exit(status)
