"""Weighed evidence on the page and as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from finishmatch.cli.common import say_warnings, swatch, table

if TYPE_CHECKING:
    from finishmatch.evidence import Colour, Weighed
    from finishmatch.evidence.ageing import Shift
    from finishmatch.evidence.model import Piece
    from finishmatch.evidence.weighed import WeighedSample


def told_of(piece: Piece) -> str:
    """Return kind and condition of a sample on one line."""
    sample = piece.sample
    parts = [piece.kind.name, *(f"{column.replace('_', ' ')} {text}" for column, text in sample.conditions.items())]
    parts += [f"{what} {text}" for what, text in (("vehicle", sample.vehicle), ("year", sample.year)) if text]
    return ", ".join(parts)


def as_document(found: Weighed, title: str, warnings: list[str]) -> dict[str, Any]:
    """Return the JSON object of weighed evidence; with several colours and none picked the target is the surest."""
    colour = found.picked or found.colours[0]
    spectrum = colour.spectrum
    tolerance = colour.tolerance
    white = colour.off_white
    return {
        "target": {
            "name": title,
            "lab": colour.lab,
            "u95": colour.u95,
            "covariance": colour.covariance,
            "light": found.light,
            "observer": found.observer,
            "reflectance": None if spectrum is None else spectrum.reflectance,
            "reflectance_sd": None if spectrum is None else spectrum.sd,
        },
        "between_samples_de00": colour.between_de00,
        "beyond_kinds_de00": colour.beyond_kinds_de00,
        "tolerance": tolerance.value,
        "tolerance_from": {
            "use": tolerance.use.name,
            "evidence": tolerance.evidence,
            "readings": tolerance.least,
            "eye": tolerance.use.largest,
            "why": tolerance.why,
        },
        "samples": [_sample_document(item) for item in found.samples],
        "colours": [
            {
                "number": one.number,
                "samples": list(one.names),
                "lab": one.lab,
                "u95": one.u95,
                "between_samples_de00": one.between_de00,
                "tolerance": one.tolerance.value,
            }
            for one in found.colours
        ],
        "picked": None if found.picked is None else found.picked.number,
        "estimates": colour.estimates,
        "ageing": [_shift_document(shift) for shift in colour.shifts],
        "one_more": [vars(more) for more in colour.one_more],
        "off_white": None if white is None else vars(white),
        "warnings": warnings,
    }


def _sample_document(item: WeighedSample) -> dict[str, Any]:
    return {
        "name": item.piece.name,
        "kind": item.piece.kind.name,
        "readings": len(item.piece.sample.reading.repeats),
        "effects": list(item.piece.effects),
        "lab": item.piece.lab,
        "lab_as_it_was": item.lab_as_it_was,
        "weight": item.weight,
        "de00_to_target": item.de00_to_target,
        "outlier": item.outlier,
        "colour": item.colour or None,
    }


def _shift_document(shift: Shift) -> dict[str, Any]:
    return {
        "effect": shift.effect,
        "what": shift.what,
        "shift_lab": shift.lab,
        "de00": shift.de00,
        "u95": shift.u95,
        "words": list(shift.words),
        "pairs": list(shift.pairs),
    }


def show_weighed(found: Weighed, title: str, warnings: list[str]) -> None:
    """Print the samples, the colour or colours, the tolerance, what age did and what one more sample would bring."""
    from finishmatch.colour.display import lab_to_hex

    rows = [
        [
            swatch(lab_to_hex(item.piece.lab)),
            item.piece.name,
            told_of(item.piece),
            str(len(item.piece.sample.reading.repeats)),
            *(f"{value:.1f}" for value in item.piece.lab),
            f"{item.de00_to_target:.2f}",
            _part(item, found),
        ]
        for item in found.samples
    ]
    which = "the target" if found.picked is not None or len(found.colours) == 1 else "colour 1"
    click.echo("\n".join(table(["", "sample", "what it is", "read", "L*", "a*", "b*", "ΔE00", "counts"], rows)))
    click.echo(f"  ΔE00 is from {which}, as read")
    for colour in (found.picked,) if found.picked is not None else found.colours:
        click.echo()
        _show_colour(colour, found, title)
    if found.picked is None:
        click.echo("\n  Which of them is it? Say --colour N; look at the years, and under the newest coat.")
    if warnings:
        click.echo()
    say_warnings(warnings)


def _part(item: WeighedSample, found: Weighed) -> str:
    if item.outlier:
        return "set aside"
    if found.picked is None or item.colour != found.picked.number:
        return f"colour {item.colour}"
    return f"{item.weight:.0%}" if item.weight >= 0.005 else "under 1%"


def _show_colour(colour: Colour, found: Weighed, title: str) -> None:
    from finishmatch.colour.display import lab_to_hex

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
    click.echo(f"  tolerance ΔE00 {tolerance.value:.2f}: {tolerance.why}")
    if colour.spectrum is not None:
        rests = ", ".join(colour.spectrum.names)
        click.echo(f"  its spectrum rests on {rests}")
    else:
        click.echo("  no sample has a spectrum, so nothing can be promised in another light")
    white = colour.off_white
    if white is not None:
        tint = f"a {white.tint_word} tint (hue {white.hue_degrees:.0f}°)" if white.tint_word else "hardly a tint"
        what = "a cream" if white.cream else "a white"
        click.echo(f"  {what}: {tint}; yellowness {white.yellowness:.1f}, whiteness {white.whiteness:.1f} (ASTM E313)")
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
