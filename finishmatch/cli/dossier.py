"""`finishmatch dossier`: a job as the document that goes with the car."""

from __future__ import annotations

import dataclasses

import click

from finishmatch.cli.common import emit_json, json_option, replace_option, say_warnings, stage
from finishmatch.cli.handed_over import folder_for, named_for, paper_option, say_files
from finishmatch.cli.in_use import InJob
from finishmatch.cli.job.use import use
from finishmatch.cli.option_names import with_options
from finishmatch.dossier.document_html import document_html
from finishmatch.dossier.document_pdf import document_pdf
from finishmatch.dossier.job_document import job_document
from finishmatch.outputs import check_output, write_output
from finishmatch.steps.handover.dossier import write_dossier
from finishmatch.steps.handover.kept_job import KeptJob

EXAMPLE = """\b
Example:
  finishmatch dossier J1
"""


@click.command(cls=InJob, epilog=EXAMPLE)
@click.argument("job", metavar="[JOB]")
@click.option(
    "--out", metavar="FOLDER", help="Where dossier.html and dossier.pdf are written.  [default: J1-dossier, by the job]"
)
@paper_option
@replace_option
@json_option
def dossier_command(job: str, out: str | None, paper: str, replace: bool, as_json: bool) -> None:
    """Make of JOB the document that goes with the car, from the record alone.

    A first page for the owner, then what the next painter needs: what the colour rests on and what is doubtful, the
    formula, the cards, the film, the defects, the photographs, and what lies under the paint.
    """
    with folder_for(named_for(job, out, "-dossier")) as folder:
        page, pdf = folder / "dossier.html", folder / "dossier.pdf"
        for file in (page, pdf):
            check_output(file, replace)

        def draw(kept: KeptJob) -> tuple[tuple[str, ...], str]:
            with stage("drawing the pages"):
                document = job_document(kept)
                text = document_html(document)
            with stage("setting the PDF"):
                content, standard = document_pdf(document, paper)
            write_output(page, text, replace)
            write_output(pdf, content, replace)
            return (str(page), str(pdf)), standard

        written = write_dossier(job, draw)
    warnings = tuple(with_options(warning, use) for warning in written.warnings)
    written = dataclasses.replace(written, warnings=warnings)
    if as_json:
        emit_json(written.as_dict())
        return
    click.echo(f"{written.kept.job.ref}  {written.kept.job.title}")
    say_files(written.files, written.standard)
    click.echo(f"  seal {written.kept.seal}")
    say_warnings(written.warnings)


def dossier_pdf(job: str) -> bytes:
    """Return the dossier of a job as a PDF, for the bench page."""
    drawn: list[bytes] = []

    def draw(kept: KeptJob) -> tuple[tuple[str, ...], str]:
        content, standard = document_pdf(job_document(kept))
        drawn.append(content)
        return (), standard

    write_dossier(job, draw)
    return drawn[0]
