"""`finishmatch serve`: the bench page, for a phone or a tablet beside the scale."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import click

from finishmatch.bench.pairing import code_in_text, pairing_link
from finishmatch.bench.sessions import Devices
from finishmatch.bench.start import home_of_demo, prepared, serve
from finishmatch.cli.common import table
from finishmatch.cli.dossier import dossier_pdf
from finishmatch.cli.local_time import local_time
from finishmatch.cli.photo.card import sheet_for_page
from finishmatch.cli.terminal import writes_unicode
from finishmatch.errors import InputError
from finishmatch.readings import read_bank
from finishmatch.steps.demo import OUT
from finishmatch.steps.job.home import home_used, place_used

PORT = 8420


@click.command(
    epilog="""\b
Examples:
  finishmatch serve --devices

Exit status: 0 when it is stopped with Ctrl-C; 2 when it can't be served.
""",
)
@click.option(
    "--port", type=click.IntRange(0, 65535), default=PORT, show_default=True, help="The port; 0 is one that is free."
)
@click.option("--lan", is_flag=True, help="Let devices of the shop's network in, each after it was paired by a code.")
@click.option(
    "--home",
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="The folder of the ledger, as demo-out.  [default: as the other commands; where there is no record yet, "
    "the demo's]",
)
@click.option(
    "--bank",
    "banks",
    type=click.Path(path_type=Path),
    multiple=True,
    metavar="FOLDER",
    help="A bank of tints to mix from, or a begun one to be filled, besides those of the jobs; repeat for several.",
)
@click.option(
    "--scale", metavar="DEVICE", help="The serial line of a bench scale, as /dev/ttyUSB0: its number is followed."
)
@click.option("--devices", "list_devices", is_flag=True, help="List the devices that are paired, and serve nothing.")
@click.option(
    "--forget",
    metavar="N",
    type=click.IntRange(min=1),
    help="Forget device N: it has to be paired again. Serves nothing.",
)
def serve_command(
    port: int,
    lan: bool,
    home: Path | None,
    banks: tuple[Path, ...],
    scale: str | None,
    list_devices: bool,
    forget: int | None,
) -> None:
    """Serve the bench page: banks, jobs, weigh-out, cards, corrections, film and defects on a phone or a tablet.

    It is served to this machine alone, at http://127.0.0.1:8420, until Ctrl-C. With --lan other devices of the shop's
    network may come: each is paired once, by the code that is shown here, and can be forgotten. What is sent over the
    network isn't encrypted: use one that is the shop's own.
    """
    _choose_home(home)
    if forget is not None:
        gone = Devices(home_used()).forget(forget)
        click.echo(f"Forgotten: {gone.name} (device {gone.number}). It has to be paired again.")
        return
    if list_devices:
        _show_devices()
        return
    for bank in banks:
        read_bank(bank, begun=True)  # what is wrong with it is said before anything is served
    drawn: dict[str, Any] = {"dossier": dossier_pdf, "sheet": sheet_for_page}
    bench, listening = prepared(port, lan=lan, scale=scale, banks=banks, tell=_tell, **drawn)
    own = f"http://127.0.0.1:{listening.getsockname()[1]}"
    click.echo(f"The bench page: {own}")
    click.echo(f"  the record is in {place_used()}")
    if lan:
        _show_code(bench.served.address, bench.pairing.code())
    click.echo("  stop it with Ctrl-C")
    serve(bench, listening)


def _choose_home(home: Path | None) -> None:
    """Work in the ledger that was named; or in the demo's, where the painter has no record yet."""
    if home is not None:
        if not (home / "ledger.db").exists():
            raise InputError("--home", f"there is no ledger in {home}", "name the folder of one, as demo-out")
        os.environ["FINISHMATCH_HOME"] = str(home.absolute())
        return
    demo = home_of_demo(Path(OUT))
    if demo is not None and "FINISHMATCH_HOME" not in os.environ and home_of_demo(home_used()) is None:
        os.environ["FINISHMATCH_HOME"] = str(demo.absolute())


def _show_devices() -> None:
    devices = Devices(home_used()).listed()
    if not devices:
        click.echo("No device is paired. Pair one with: finishmatch serve --lan")
        return
    rows = [(str(one.number), one.name, local_time(one.paired_at), local_time(one.seen_at)) for one in devices]
    for line in table(("device", "name", "paired", "seen last"), rows):
        click.echo(line)


def _show_code(address: str, code: str) -> None:
    click.echo(f"\n  on a phone or tablet: {address}")
    click.echo(f"  the code to pair it:  {code}  (good for one device and ten minutes)\n")
    if writes_unicode():
        click.echo(code_in_text(pairing_link(address, code)))
    click.echo()


def _tell(line: str) -> None:
    click.echo(f"  {line}")
