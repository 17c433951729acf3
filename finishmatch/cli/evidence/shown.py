"""Weighed evidence on the page."""

from __future__ import annotations

import click

from finishmatch.cli.common import say_warnings, swatch, table
from finishmatch.cli.option_names import with_options
from finishmatch.colour.display import lab_to_hex
from finishmatch.evidence import Colour, Weighed
from finishmatch.evidence.ageing import Shift
from finishmatch.evidence.weighed import WeighedSample
from finishmatch.steps.weigh_evidence import WeighedEvidence, described


def show_weighed(weighed: WeighedEvidence) -> None:
    """Print the samples, the colour or colours, the tolerance, what age did and what one more sample would bring."""
    found = weighed.found
    rows = [
        [
            swatch(lab_to_hex(item.piece.lab)),
            item.piece.name,
            described(item.piece),
            str(len(item.piece.sample.reading.repeats)),
            *(f"{value:.1f}" for value in item.piece.lab),
            f"{item.de00_to_target:.2f}",
            _part(item, found),
            "-" if item.pull is None else f"{item.pull:.2f}",
        ]
        for item in found.samples
    ]
    which = "the target" if found.picked is not None or len(found.colours) == 1 else "colour 1"
    header = ["", "sample", "what it is", "read", "L*", "a*", "b*", "ΔE00", "counts", "moves"]
    click.echo("\n".join(table(header, rows)))
    click.echo(f"  ΔE00 is from {which}, as read; a sample moves its colour by so much, with it against without it")
    for sample, why in weighed.left_out:
        click.echo(f"  left out: {sample}" + (f" ({why})" if why else ""))
    for colour in (found.picked,) if found.picked is not None else found.colours:
        click.echo()
        _show_colour(colour, found, weighed.title)
    if found.picked is None:
        click.echo("\n  Which of them is it? Say --colour N; look at the years, and under the newest coat.")
    if weighed.warnings:
        click.echo()
    say_warnings(weighed.warnings)


def _part(item: WeighedSample, found: Weighed) -> str:
    if item.outlier:
        return "set aside"
    if found.picked is None or item.colour != found.picked.number:
        return f"colour {item.colour}"
    return f"{item.weight:.0%}" if item.weight >= 0.005 else "under 1%"


def _show_colour(colour: Colour, found: Weighed, title: str) -> None:
    lab = colour.lab
    name = title if found.picked is not None else f"colour {colour.number} ({', '.join(colour.names)})"
    click.echo(
        f"  {swatch(lab_to_hex(lab))} {name}: L* {lab[0]:.2f}  a* {lab[1]:.2f}  b* {lab[2]:.2f} "
        f"({found.light}, {found.observer}°)"
    )
    click.echo(f"  the colour as it was lies within ΔE00 {colour.u95:.2f} of it, 95 times in 100")
    if len(colour.names) > 1:
        beyond = colour.beyond_kinds_de00
        explained = "as their kinds explain" if beyond < 0.05 else f"ΔE00 {beyond:.2f} of it is more than kinds explain"
        click.echo(f"  the samples differ by ΔE00 {colour.between_de00:.2f} beyond their readings: {explained}")
    tolerance = colour.tolerance
    click.echo(with_options(f"  tolerance ΔE00 {tolerance.value:.2f}: {tolerance.why}"))
    if colour.spectrum is not None:
        rests = ", ".join(colour.spectrum.names)
        click.echo(f"  its spectrum rests on {rests}")
    else:
        click.echo("  no sample has a spectrum, so nothing can be promised in another light")
    white = colour.off_white
    if white is not None:
        tint = f"a {white.tint_word} tint (hue {white.hue_degrees:.0f}°)" if white.tint_word else "hardly a tint"
        what = "a cream" if white.cream else "a white"
        indices = (("yellowness", white.yellowness), ("whiteness", white.whiteness))
        said = ", ".join(f"{name} {'out of scope' if value is None else f'{value:.1f}'}" for name, value in indices)
        click.echo(f"  {what}: {tint}; {said} (ASTM E313)")
    if colour.shifts:
        click.echo("\n  what age did, by the pairs")
        for shift in colour.shifts:
            click.echo(f"    {shift.what}: {_words(shift)}, ΔE00 {shift.de00:.1f} ± {shift.u95:.1f} (95 in 100)")
            L, a, b = shift.lab
            count = len(shift.pairs)
            source = f"{count} pair" + ("s" if count > 1 else "") + (f": {', '.join(shift.pairs)}" if count else "")
            click.echo(f"      L* {L:+.1f}  a* {a:+.1f}  b* {b:+.1f}, from {source}")
    if colour.one_more and found.picked is not None:
        click.echo("\n  one more sample, well kept and read three times, would bring")
        more = [[one.kind, f"{one.u95:.2f}", f"{one.tolerance:.2f}"] for one in colour.one_more]
        click.echo("\n".join(table(["", "known to", "tolerance"], more, indent="    ")))


def _words(shift: Shift) -> str:
    return " and ".join(shift.words) if shift.words else "nothing the eye can see"
