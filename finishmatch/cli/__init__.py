"""The terminal face. Each group of commands is a file of its own and is imported only when it is used."""

from __future__ import annotations

import gc
import re
import sys
from collections.abc import Sequence
from contextlib import suppress

import click
from click.exceptions import NoArgsIsHelpError

from finishmatch import __version__
from finishmatch.cli.lazy_group import LazyGroup
from finishmatch.cli.page_width import folded_to_terminal
from finishmatch.cli.terminal import colour_wanted, drop_the_rest, make_writable
from finishmatch.errors import InputError
from finishmatch.opened_once import opening_once
from finishmatch.signs import check_signs, shown
from finishmatch.understood import listening

# command: where it is, and one line for the list of commands
COMMANDS = {
    "demo": ("demo:demo_command", "The whole job on the bundled, invented scenario."),
    "compare": ("compare:compare_command", "The difference of two colours, in numbers and in words."),
    "bank": ("bank:bank_command", "Fit the optics of a bank of tints, and look at them."),
    "evidence": ("evidence:evidence_command", "Weigh evidence that disagrees about a colour; find the target."),
    "mix": ("mix:mix_command", "A recipe in grams for a target colour."),
    "predict": ("predict:predict_command", "What a batch will look like before it is sprayed; the way back by adding."),
    "correct": ("correct:correct_command", "What to add to a poured tin to bring it to the target."),
    "judge": ("judge:judge_command", "A card: recorded, held against the target, and what to add to the tin."),
    "plan": ("plan:plan_command", "From the colour to the panel: quantity, hiding, sheen, law, booth air; one page."),
    "defect": ("defect:defect_command", "Log a defect: what it is, its rework, where it came from."),
    "photo": ("photo:photo_command", "Photographs as readings; the shop's card to print and register."),
    "next": ("next:next_command_of_all", "What is open in all jobs, and the one command that comes next."),
    "serve": ("serve:serve_command", "The bench page, for a phone or a tablet beside the scale."),
    "job": ("job:job_command", "The record: open, pour, spray, coats, film builds, show."),
    "find": ("find:find_command", "Have we matched this before? The nearest colours of the record."),
    "label": ("label:label_command", "The formula for the lid: labels with a code that holds it, and back."),
    "spec": ("spec:spec_command", "One page for a paint shop that is to mix a job's colour."),
    "export": ("export:export_command", "A job as open data in one zip: record, spectra, files, dossier."),
    "import": ("import_bundle:import_command", "Take a job that was exported elsewhere into this record."),
    "backup": ("backup:backup_command", "The whole record in one file, to be put back with restore."),
    "restore": ("restore:restore_command", "A backup takes the place of the record, which is kept."),
    "ledger": ("ledger:ledger_command", "Where the record is kept; onto a server that several bays share."),
    "dossier": ("dossier:dossier_command", "A job as the document that goes with the car: a page and a PDF."),
}


_NUMBER = re.compile(r"[-+]?\d+(?:[.,]\d+)?", re.ASCII)
_PART = re.compile(r"[^-=][^=]*=[0-9.,]+\s*g?")
_WHOLE = re.compile(r"is not a valid integer(?: range)?")
UNWRITTEN = 3  # a full device: what was found may stand in the ledger, but wasn't shown
# after how many allocations Python looks for cycles that nobody holds any more: what a command loads stays to its end,
# and would be looked through time and again
RARELY = (20_000, 10, 10)
CLOSED_PIPE = 141  # as the shell has it for a program that nobody reads any more: 128 + SIGPIPE


def _version(ctx: click.Context, _param: click.Parameter, wanted: bool) -> None:
    if wanted:
        click.echo(f"finishmatch {__version__}")
        ctx.exit()


@click.group(
    cls=LazyGroup,
    table=COMMANDS,
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
    """Run one command line and return its exit status; what is wrong is said in one line on standard error."""
    try:
        with folded_to_terminal():
            return _answered(sys.argv[1:] if arguments is None else arguments)
    except SystemExit:  # click leaves by this door, and by no other, when a pipe is closed
        return CLOSED_PIPE
    except BrokenPipeError:
        return CLOSED_PIPE
    except OSError as error:
        named = str(error.filename)[:60] if error.filename else ""
        what = f"{named}: can't be used" if named else "what was found can't be written"
        with suppress(OSError):  # standard error may be as full
            click.echo(f"finishmatch: {shown(what)}: {error.strerror or error}", err=True)
        return 2 if named else UNWRITTEN


def _answered(arguments: Sequence[str]) -> int:
    try:
        for word in arguments:
            check_signs(f"'{word[:40]}'", word)
        with listening(), opening_once():
            status = root.main(
                args=list(arguments), prog_name="finishmatch", standalone_mode=False, color=colour_wanted()
            )
    except InputError as error:
        click.echo(f"finishmatch: {error}", err=True)
        return 2
    except NoArgsIsHelpError as error:  # a bare group asks what there is
        click.echo(error.format_message())
        return 0
    except click.ClickException as error:
        context = getattr(error, "ctx", None)
        help_at = f" (see '{context.command_path} --help')" if context else ""
        apart = _typed_apart(arguments)
        said = _WHOLE.sub("is not a whole number", " ".join(error.format_message().split()))
        click.echo(f"finishmatch: {said}{apart or help_at}", err=True)
        return 2
    except click.Abort:
        click.echo("finishmatch: stopped; nothing more was written", err=True)
        return 130
    return status if isinstance(status, int) else 0


def _typed_apart(arguments: Sequence[str]) -> str:
    """Return how to type a colour that was typed as three words, as in 50 20 30, or a batch where a file is, or ""."""
    if "--batch" in arguments and sum(_PART.fullmatch(word) is not None for word in arguments) > 1:
        return "; --batch takes one file, with a line of tint,grams for each part"
    words = [word.strip(",;").replace("−", "-") for word in arguments]
    for three in zip(words, words[1:], words[2:], strict=False):
        if all(_NUMBER.fullmatch(word) for word in three):
            return f"; type a colour with commas and no blanks: {','.join(word.replace(',', '.') for word in three)}"
    return ""


def main() -> None:
    """Entry point of the `finishmatch` command."""
    make_writable()
    gc.set_threshold(*RARELY)
    status = run()
    if status in (UNWRITTEN, CLOSED_PIPE):
        drop_the_rest()
    gc.freeze()  # what there still is goes with the process: nobody needs to look through it
    sys.exit(status)
