"""`finishmatch spec`: the page for a paint shop that is to mix a job's colour."""

from __future__ import annotations

import click

from finishmatch.cli.common import emit_json, json_option, replace_option, say_warnings, stage
from finishmatch.cli.handed_over import named_for, paper_option, say_files
from finishmatch.cli.in_use import InJob
from finishmatch.dossier.document_pdf import document_pdf
from finishmatch.dossier.spec_document import spec_document
from finishmatch.outputs import check_output, write_output
from finishmatch.steps.handover.dossier import write_spec
from finishmatch.steps.handover.kept_job import KeptJob

EXAMPLE = """\b
Example:
  finishmatch spec J1
"""


@click.command(cls=InJob, epilog=EXAMPLE)
@click.argument("job", metavar="[JOB]")
@click.option("--out", metavar="FILE", help="Where the page is written, as a PDF.  [default: J1-spec.pdf, by the job]")
@paper_option
@replace_option
@json_option
def spec_command(job: str, out: str | None, paper: str, replace: bool, as_json: bool) -> None:
    """Write one page for a paint shop that is to mix the colour of JOB: target, tolerance, geometry, sheen."""
    file = named_for(job, out, "-spec.pdf")
    check_output(file, replace)

    def draw(kept: KeptJob) -> tuple[tuple[str, ...], str]:
        with stage("setting the page"):
            content, standard = document_pdf(spec_document(kept), paper)
        write_output(file, content, replace)
        return (file,), standard

    written = write_spec(job, draw)
    if as_json:
        emit_json(written.as_dict())
        return
    click.echo(f"{written.kept.job.ref}  {written.kept.job.title}")
    say_files(written.files, written.standard)
    say_warnings(written.warnings)
