"""`finishmatch defect map`: the film over a panel, place by place."""

from __future__ import annotations

from typing import Any

import click

from finishmatch.cautions import REWORK
from finishmatch.cli.common import emit_json, json_option, request_from, say_cautions, say_warnings, table
from finishmatch.cli.defect.film_asked import film_asked_for
from finishmatch.cli.defect.input import in_unit, place_typed
from finishmatch.cli.in_use import job_in_use_option
from finishmatch.defects import percent
from finishmatch.steps.defect.map import FilmMapped, MapCell, MapRequest, map_film
from finishmatch.steps.job.current_job import needed_job


@click.command(
    "map",
    epilog="""\b
Example:
  finishmatch job new "Tarnbeck Six, Saltmarsh Blue"
  finishmatch job film J1 --panel roof --layer primer --build 60
  finishmatch job film J1 --panel roof --layer colour --build 98,84,66 --place 200/200 --place 600/500 --place 1000/800
  finishmatch defect map --job J1 --size 1200/1000 --depth-um 12

Exit status: 0 a defect of that depth may be rubbed out anywhere; 1 not everywhere.
""",
)
@click.argument("panel", required=False)
@job_in_use_option("The job whose film it is.")
@click.option(
    "--size",
    metavar="W/H",
    callback=place_typed,
    help="Width and height of the panel, mm.  [default: as far as its readings go]",
)
@click.option("--across", metavar="N", type=int, default=4, show_default=True, help="Places across.")
@click.option("--down", metavar="N", type=int, default=3, show_default=True, help="Places down.")
@click.option("--at", metavar="X/Y", callback=place_typed, help="One place more, mm across and down, as in 120/340.")
@click.option(
    "--depth-um",
    metavar="UM",
    callback=in_unit("µm"),
    help="How deep the defect is that is rubbed out, µm.  [default: the steps of rubbing alone]",
)
@click.option(
    "--keep-um",
    metavar="UM",
    callback=in_unit("µm"),
    help="Topcoat that must stay, µm.  [default: clear 50, colour 40]",
)
@click.option(
    "--max-risk",
    metavar="CHANCE",
    callback=in_unit("", "a chance between 0 and 1; 5 % is 0.05"),
    help="The greatest chance of breaking through to accept.  [default: 0.05]",
)
@json_option
def map_command(job: str | None, as_json: bool, **options: Any) -> int:
    """Show the film over PANEL: the topcoat to expect, the depth safe to rub out, the chance of breaking through.

    PANEL may be left out where the film of one alone was read. Between the readings, each with its place
    (job film --place), builds are predicted with their doubt.
    """
    where = needed_job(job)
    with film_asked_for(where):
        found = map_film(request_from(MapRequest, options), job=where)
    if as_json:
        emit_json(found.as_dict())
    else:
        _show(found)
        say_cautions(REWORK, where)
    return 0 if found.safe_everywhere else 1


def _show(found: FilmMapped) -> None:
    width, height = found.size
    deep = "no pit" if found.depth_um is None else f"a pit of {found.depth_um:g} µm"
    click.echo(f"  {found.job}, {found.panel}, {width:g} × {height:g} mm")
    click.echo(
        f"  rubbed out: {deep}, and {found.cut_um:.0f} µm by the steps; {found.keep_um:g} µm of topcoat must stay, "
        f"a chance of {percent(found.max_risk)} of breaking through is accepted"
    )
    click.echo()
    header = ("across/down, mm", "topcoat, µm (80 %)", "pit safe to rub, µm", "breaks through", "")
    cells = found.cells if found.here is None else (*found.cells, found.here)
    click.echo("\n".join(table(header, [_row(cell, found) for cell in cells])))
    click.echo()
    answer = "it may be rubbed out anywhere" if found.safe_everywhere else "it may not be rubbed out everywhere"
    x, y = found.worst.at
    click.echo(f"  {answer}; most likely it breaks through at {x:.0f}/{y:.0f}: {percent(found.worst.chance)}")
    say_warnings(found.warnings)


def _row(cell: MapCell, found: FilmMapped) -> tuple[str, ...]:
    sign = "safe" if cell.chance <= found.max_risk else "not safe"
    return (
        f"{cell.at[0]:.0f}/{cell.at[1]:.0f}",
        f"{cell.build_um:.0f} ({cell.low_um:.0f} to {cell.high_um:.0f})",
        f"{cell.safe_um:.0f}",
        percent(cell.chance),
        sign,
    )
