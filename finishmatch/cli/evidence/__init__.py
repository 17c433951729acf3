"""`finishmatch evidence`: weigh what survives of a colour, and show what is taken of each kind of evidence."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from finishmatch.cli.common import emit_json, job_option, json_option, say_recorded, stage, table
from finishmatch.cli.lazy_group import NamingGroup
from finishmatch.errors import InputError
from finishmatch.files import write_file

if TYPE_CHECKING:
    from finishmatch.colour import Floats
    from finishmatch.evidence import Colour, EvidenceCatalogue, Weighed
    from finishmatch.readings.evidence_file import EvidenceSample

SHOP_FILE = "evidence-kinds.toml"


@click.group(
    "evidence",
    cls=NamingGroup,
    epilog="""\b
Example:
  finishmatch evidence weigh swatches/survivors.csv
""",
)
def evidence_command() -> None:
    """Weigh evidence of a colour that disagrees: what the colour was, how surely, and how near a match must come."""


kinds_option = click.option(
    "--kinds",
    "kinds_file",
    metavar="FILE",
    help=f"The shop's own figures of the kinds, TOML.  [default: {SHOP_FILE} in FINISHMATCH_HOME, where there is one]",
)


@evidence_command.command(
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
@kinds_option
@click.option("--name", metavar="TEXT", help="What the target is called.  [default: the name of the file]")
@click.option("--save", metavar="FILE", help="Write the target, with its tolerance, as a file that mix reads.")
@click.option("--plot", metavar="FILE", help="Draw samples and target into this PNG.")
@click.option("--light", default="D65", show_default=True, help="CIE light (D65, D50, A, F2, F11, LED-B3).")
@click.option(
    "--observer", type=click.Choice(["2", "10"]), default="10", show_default=True, help="CIE observer, degrees."
)
@job_option
@json_option
def weigh(
    file: str,
    use: str,
    ageing: bool,
    pick: int | None,
    without: tuple[str, ...],
    kinds_file: str | None,
    name: str | None,
    save: str | None,
    plot: str | None,
    light: str,
    observer: str,
    job: str | None,
    as_json: bool,
) -> int:
    """Find the colour that the samples of FILE are evidence of."""
    from finishmatch.cli.evidence.shown import as_document, show_weighed
    from finishmatch.colour import light_name
    from finishmatch.evidence import weigh_evidence
    from finishmatch.readings.evidence_file import read_evidence

    if job is not None:
        from finishmatch.steps.record import check_job

        check_job(job)
    catalogue = catalogue_of(kinds_file)
    painted = catalogue.use(use)
    samples = _kept(read_evidence(Path(file), catalogue.columns), without, file)
    if save is not None:
        _check_save(Path(save))
    with stage("weighing the evidence"):
        found = weigh_evidence(samples, catalogue, painted, light_name(light), int(observer), ageing=ageing, pick=pick)
    warnings = list(found.warnings)
    title = " ".join((name or Path(file).stem).split()) or "target"
    if plot is not None:
        write_file(Path(plot), _picture(found, title))
    recorded: list[int] = []
    if found.picked is not None:
        if save is not None:
            write_file(Path(save), _saved(found, found.picked, title).encode("utf-8"))
        recorded = [] if job is None else _record(job, found, found.picked, title, Path(file))
    elif save is not None or job is not None:
        warnings.append("nothing was saved or recorded: say which colour with --colour")
    if as_json:
        emit_json(as_document(found, title, warnings))
    else:
        show_weighed(found, title, warnings)
        if found.picked is not None and save is not None:
            click.echo(f"  target written: {save}")
        if plot is not None:
            click.echo(f"  picture: {plot}")
        say_recorded(job, recorded)
    return 0 if found.picked is not None else 1


@evidence_command.command(
    "kinds",
    epilog="""\b
Example:
  finishmatch evidence kinds
""",
)
@kinds_option
@json_option
def kinds(kinds_file: str | None, as_json: bool) -> int:
    """Show the kinds of evidence, what is taken of each, and which columns tell its condition."""
    catalogue = catalogue_of(kinds_file)
    if as_json:
        emit_json(_kinds_document(catalogue))
        return 0
    source = f"with the shop's own figures of {catalogue.shop_file}" if catalogue.shop_file else "«common practice»"
    click.echo(f"  {source}\n")
    rows = [
        [kind.name, f"{kind.spread:g}", f"{kind.vehicle_spread:g}", ", ".join(kind.effects), _asked(kind.conditions)]
        for kind in catalogue.kinds
    ]
    click.echo("\n".join(table(["kind", "spread", "by vehicle", "always", "asked"], rows)))
    click.echo()
    rows = [
        [name, *(f"{shift:+.2f} ± {sd:.2f}" for shift, sd in (effect.L, effect.chroma, effect.b)), effect.what]
        for name, effect in catalogue.effects.items()
    ]
    click.echo("\n".join(table(["effect", "L*", "chroma, share", "b*", "what it is"], rows)))
    click.echo("\n  spreads are standard deviations in ΔE00; an effect is what is read against the colour as it was")
    return 0


def _asked(conditions: Any) -> str:
    return "; ".join(
        f"{condition.column} "
        + ", ".join(
            f"{case if condition.limit is None or case != 'below' else f'below {condition.limit:g}'}: {effect}"
            for case, effect in condition.effects.items()
        )
        for condition in conditions
    )


def _kinds_document(catalogue: EvidenceCatalogue) -> dict[str, Any]:
    return {
        "shop_file": catalogue.shop_file or None,
        "kinds": [
            {
                "name": kind.name,
                "also": list(kind.also),
                "what": kind.what,
                "spread": kind.spread,
                "vehicle_spread": kind.vehicle_spread,
                "effects": list(kind.effects),
                "conditions": [
                    {"column": c.column, "limit": c.limit, "effects": dict(c.effects)} for c in kind.conditions
                ],
            }
            for kind in catalogue.kinds
        ],
        "effects": {
            name: {"what": e.what, "L": e.L, "chroma": e.chroma, "b": e.b, "ageing": e.ageing}
            for name, e in catalogue.effects.items()
        },
        "uses": {name: {"what": use.what, "largest": use.largest} for name, use in catalogue.uses.items()},
    }


def catalogue_of(kinds_file: str | None) -> EvidenceCatalogue:
    """Return the kinds: with a shop's own figures where a file is named, or lies in the home."""
    from finishmatch.evidence import common_catalogue, shop_catalogue
    from finishmatch.readings.table_file import read_text

    if kinds_file is None:
        from finishmatch.ledger import ledger_home

        at_home = ledger_home() / SHOP_FILE
        if not at_home.is_file():
            return common_catalogue()
        kinds_file = str(at_home)
    return shop_catalogue(read_text(Path(kinds_file)), kinds_file)


def _kept(samples: tuple[EvidenceSample, ...], without: tuple[str, ...], file: str) -> list[EvidenceSample]:
    """Return the samples less those left out by hand."""
    names = [sample.name for sample in samples]
    for name in without:
        if name not in names:
            raise InputError("--without", f"{file} has no sample named {name[:40]!r}", "it has " + ", ".join(names[:8]))
    kept = [sample for sample in samples if sample.name not in without]
    if not kept:
        raise InputError("--without", "leaves no sample", "keep at least one")
    return kept


def _picture(found: Weighed, title: str) -> bytes:
    from finishmatch.colour.display import lab_to_hex
    from finishmatch.dossier.evidence_plot import Mark, Ring, evidence_png

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
        return evidence_png(marks, rings, f"{title} ({found.light}, {found.observer}°)")


def _check_save(path: Path) -> None:
    """See that nothing but an earlier target is written over."""
    from finishmatch.readings.target_file import MARK

    if not path.exists():
        return
    try:
        with path.open("rb") as file:
            ours = file.read(200).startswith(MARK.encode())
    except OSError as error:
        raise InputError(str(path), f"can't be written: {error.strerror}", "name another file") from None
    if not ours:
        raise InputError(str(path), "stands there already and is no target", "name another file")


def _rounded(found: Weighed, colour: Colour) -> tuple[Floats, Floats | None]:
    """Return Lab and spectrum of a target to the digits it is written with, so that mix knows the target again."""
    import numpy as np

    from finishmatch.colour import reflectance_to_lab

    if colour.spectrum is None:
        return np.round(colour.lab, 4), None
    reflectance = np.round(colour.spectrum.reflectance, 6)
    return reflectance_to_lab(reflectance, found.light, found.observer), reflectance


def _saved(found: Weighed, colour: Colour, title: str) -> str:
    from finishmatch.readings.reading import TargetFacts
    from finishmatch.readings.target_file import target_text

    told = (
        f"{title}: weighed from {', '.join(colour.names)}\n"
        f"ΔE00 {colour.u95:.2f} holds the truth 95 times in 100; tolerance for {colour.tolerance.use.name}"
    )
    facts = TargetFacts(colour.tolerance.value, round(colour.u95, 4), colour.covariance)
    lab, reflectance = _rounded(found, colour)
    return target_text(title, lab, reflectance, facts, (found.light, found.observer), told, _geometry(found, colour))


def _geometry(found: Weighed, colour: Colour) -> str:
    """Return how the samples of a colour were read, when all were read alike."""
    read = {item.piece.sample.reading.geometry for item in found.samples if item.piece.name in colour.names}
    return read.pop() if len(read) == 1 else ""


def _record(job: str, found: Weighed, colour: Colour, title: str, file: Path) -> list[int]:
    from finishmatch.cli.entries import reading_entry, sources_of
    from finishmatch.cli.evidence.shown import told_of
    from finishmatch.ledger import Entry, TargetEntry
    from finishmatch.readings.target_file import upper_triangle
    from finishmatch.steps.record import record_to

    shown = [item for item in found.samples if item.piece.name in colour.names]
    entries: list[Entry] = [
        reading_entry(replace(item.piece.sample.reading, name=item.piece.name), f"evidence: {told_of(item.piece)}")
        for item in shown
    ]
    lab, reflectance = _rounded(found, colour)
    entries.append(
        TargetEntry(
            name=title,
            lab=lab.tolist(),
            light=found.light,
            observer=found.observer,
            reflectance=None if reflectance is None else reflectance.tolist(),
            tolerance=colour.tolerance.value,
            u95=round(colour.u95, 4),
            evidence=list(colour.names),
            covariance=upper_triangle(colour.covariance),
        )
    )
    sources = {i: list(dict.fromkeys([file, *sources_of(s.piece.sample.reading)])) for i, s in enumerate(shown)}
    return record_to(job, entries, {**sources, len(shown): [file]})
