"""`finishmatch label`: the formula for the lid, and back from a photograph of it."""

from __future__ import annotations

from pathlib import Path

import click

from finishmatch.cautions import MIXING
from finishmatch.cli.common import emit_json, json_option, replace_option, say_cautions, stage, table
from finishmatch.cli.handed_over import named_for, say_files
from finishmatch.dossier.label_pdf import label_pdf
from finishmatch.errors import InputError
from finishmatch.outputs import check_output, write_output
from finishmatch.steps.handover.label import Label, LabelRequest, LabelWritten, read_label, write_label
from finishmatch.steps.job.current_job import needed_job

EXAMPLE = """\b
Examples:
  finishmatch label J1
  finishmatch label J1 --out label.pdf --paper 62 --use-by 2027-05-31

\b
Back from a photograph of the lid:
  finishmatch label --read lid.jpg
"""


@click.command(epilog=EXAMPLE)
@click.argument("job", required=False)
@click.option(
    "--out", metavar="FILE", help="Where the labels are written, as a PDF.  [default: J1-labels.pdf, by the job]"
)
@click.option(
    "--paper",
    type=click.Choice(["A4", "letter", "62"], case_sensitive=False),
    default="A4",
    show_default=True,
    help="Sheets of eight to cut, or a tape of 62 mm.",
)
@click.option("--count", type=int, metavar="N", help="How many labels.  [default: a sheet, or one on the tape]")
@click.option("--use-by", metavar="DATE", help="The last day the mix may be used.  [default: a line to write on]")
@click.option("--lot", metavar="TEXT", help="The lot of the mix.  [default: the job and the number of the batch]")
@click.option("--read", "photo", metavar="PHOTO", help="Read a label's formula back from a photograph of it.")
@click.option("--save", metavar="FILE", help="With --read: write the formula as a batch file.")
@replace_option
@json_option
def label_command(
    job: str | None,
    out: str | None,
    paper: str,
    photo: str | None,
    save: str | None,
    replace: bool,
    as_json: bool,
    **options: str | int | None,
) -> None:
    """Draw the label for the tin of JOB: swatch, formula, lot, what harms in it, and a square code.

    The code holds the formula itself, as text that any phone shows and that --read takes back.
    """
    if photo is not None:
        _see_alone(job, out)
        found = read_label(photo, save=save, replace=replace, progress=stage)
    else:
        if save is not None:
            raise InputError("--save", "is given without --read", "leave it out")
        meant = needed_job(job)
        file = named_for(meant, out, "-labels.pdf")
        check_output(file, replace)
        found = write_label(meant, LabelRequest(**options), lambda label: _drawn(label, file, paper, replace))  # type: ignore[arg-type]
    if as_json:
        emit_json(found.as_dict())
    else:
        _show(found)


def _see_alone(job: str | None, out: str | None) -> None:
    for name, given in (("JOB", job), ("--out", out)):
        if given is not None:
            raise InputError("--read", f"is given with {name}", "a photograph is read by itself: leave that out")


def _drawn(label: Label, out: str, paper: str, replace: bool) -> tuple[str, str]:
    with stage("setting the labels"):
        content, standard = label_pdf(label, paper)
    write_output(out, content, replace)
    return str(Path(out)), standard


def _show(found: LabelWritten) -> None:
    code = found.code
    click.echo(f"{code.name}: {code.job}, lot {code.lot}, {code.day}")
    rows = [[part.tint, part.colour_index, f"{part.grams:g}"] for part in code.parts]
    click.echo("\n".join(table(["tint", "Colour Index", "grams"], rows)))
    if found.file is not None:
        say_files((found.file,), found.standard or "")
    for harm in found.hazards:
        click.echo(f"  ! {harm}")
    say_cautions(MIXING)
