"""`finishmatch export`: a job as open data in one zip."""

from __future__ import annotations

import click

from finishmatch.cli.common import emit_json, json_option, replace_option, say_warnings, stage
from finishmatch.cli.handed_over import named_for
from finishmatch.cli.in_use import InJob
from finishmatch.dossier.document_html import document_html
from finishmatch.dossier.document_pdf import document_pdf
from finishmatch.dossier.job_document import job_document
from finishmatch.outputs import check_output, write_output
from finishmatch.steps.handover.export import export_job
from finishmatch.steps.handover.kept_job import KeptJob

EXAMPLE = """\b
Example:
  finishmatch export J1
"""


@click.command(cls=InJob, epilog=EXAMPLE)
@click.argument("job", metavar="[JOB]")
@click.option("--out", metavar="FILE", help="Where the zip is written.  [default: J1.zip, by the job]")
@click.option("--keep-place", is_flag=True, help="Let photographs leave with what their files say of place and time.")
@replace_option
@json_option
def export_command(job: str, out: str | None, keep_place: bool, replace: bool, as_json: bool) -> None:
    """Write JOB as open data: the whole record as JSON, spectra as CGATS.17 and CxF3, its files, and the dossier.

    Photographs leave without what their files say of place, time and camera. Import takes the zip into another record.
    """
    file = named_for(job, out, ".zip")
    check_output(file, replace)

    def draw(kept: KeptJob) -> dict[str, bytes]:
        with stage("drawing the dossier"):
            document = job_document(kept)
            pdf, _ = document_pdf(document)
        return {"dossier.html": document_html(document).encode(), "dossier.pdf": pdf}

    def write(content: bytes) -> str:
        write_output(file, content, replace)
        return file

    found = export_job(job, keep_place=keep_place, draw=draw, write=write)
    if as_json:
        emit_json(found.as_dict())
        return
    click.echo(f"{found.kept.job.ref}  {found.kept.job.title}")
    click.echo(f"  {found.file}: {found.kept.entries} entries, {found.spectra} spectra, {len(found.files)} files")
    if found.stripped:
        click.echo(f"  without place, time and camera: {', '.join(found.stripped)}")
    click.echo(f"  seal {found.kept.seal}")
    say_warnings(found.warnings)
