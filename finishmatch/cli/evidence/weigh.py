"""`finishmatch evidence weigh`: what a colour was, by what survives of it."""

from __future__ import annotations

from typing import Any

import click

from finishmatch.cli.common import (
    LIGHT,
    emit_json,
    json_option,
    observer_option,
    replace_option,
    request_from,
    say_recorded,
    stage,
)
from finishmatch.cli.evidence.kinds import kinds_option
from finishmatch.cli.evidence.shown import show_weighed
from finishmatch.cli.in_use import job_in_use_option
from finishmatch.colour.display import lab_to_hex
from finishmatch.dossier.evidence_plot import Mark, Ring, evidence_png
from finishmatch.outputs import check_output, write_output
from finishmatch.steps.weigh_evidence import WeighedEvidence, WeighRequest, weigh_evidence


@click.command(
    "weigh",
    epilog="""\b
Examples:
  finishmatch evidence weigh swatches/survivors.csv
  finishmatch evidence weigh swatches/survivors.csv --ageing --use panel-beside-old-paint --save weighed.csv

FILE holds one row a reading: name, kind, condition, and L,a,b or a spectrum. Exit status: 0 there is one colour, or it
was said which; 1 there are several and it must be said which, with --colour.
""",
)
@click.argument("file")
@click.option(
    "--use", default="whole-vehicle", show_default=True, metavar="USE",
    help="What is painted: whole-vehicle, panel-beside-old-paint or touch-in; bounds the tolerance.",
)  # fmt: skip
@click.option("--ageing", is_flag=True, help="Measure what age did from pairs of samples (column pair).")
@click.option("--colour", "pick", type=int, metavar="N", help="Which colour is the target, where there are several.")
@click.option("--without", multiple=True, metavar="NAME", help="A sample to leave out; repeat for several.")
@click.option(
    "--why", multiple=True, metavar="TEXT", help="Why it is left out, which is kept; once for all, or once for each."
)
@kinds_option
@click.option("--name", metavar="TEXT", help="What the target is called.  [default: the name of the file]")
@click.option("--save", metavar="FILE", help="Write the target, with its tolerance, as a file that mix reads.")
@click.option("--plot", metavar="FILE", help="Draw samples and target into this PNG.")
@replace_option
@click.option("--light", default="D65", show_default=True, help=f"{LIGHT}.")
@observer_option
@job_in_use_option("Record what was found in this job.")
@json_option
def weigh(file: str, plot: str | None, job: str | None, as_json: bool, **options: Any) -> int:
    """Find the colour from the samples of FILE, which are evidence of it."""
    request = request_from(WeighRequest, options)
    check_output(plot, request.replace)
    drawn = None if plot is None else lambda weighed: _draw(plot, weighed, request.replace)
    weighed = weigh_evidence(file, request, job=job, progress=stage, before_recording=drawn)
    if as_json:
        emit_json(weighed.as_dict())
    else:
        show_weighed(weighed)
        if weighed.picked is not None and request.save is not None:
            click.echo(f"  target written: {request.save}")
        if plot is not None:
            click.echo(f"  picture: {plot}")
        say_recorded(job, weighed.recorded)
    return 0 if weighed.picked is not None else 1


def _draw(plot: str, weighed: WeighedEvidence, replace: bool) -> None:
    found = weighed.found
    marks = [
        Mark(s.piece.name, s.piece.lab, s.lab_as_it_was, lab_to_hex(s.piece.lab), not s.outlier) for s in found.samples
    ]
    rings = [
        Ring(
            "target" if found.picked is colour else f"colour {colour.number}",
            colour.lab, colour.covariance, colour.tolerance.value, lab_to_hex(colour.lab),
        )
        for colour in ((found.picked,) if found.picked else found.colours)
    ]  # fmt: skip
    with stage("drawing the picture"):
        picture = evidence_png(marks, rings, f"{weighed.title} ({found.light}, {found.observer}°)")
    write_output(plot, picture, replace, mend="name another file")
