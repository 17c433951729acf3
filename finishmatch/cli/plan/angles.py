"""`finishmatch plan angles`: metallics and pearls, angle by angle, and their flop."""

from __future__ import annotations

import click

from finishmatch.cli.plan.common import Told, checked_job, plan_options, tell


@click.command(
    "angles",
    short_help="Metallics and pearls, angle by angle, and their flop.",
    epilog="""\b
Example:
  finishmatch plan angles swatches/plan/metallic.csv@standard swatches/plan/metallic.csv@"card 1"

Exit status: 0 within the tolerance at every angle, 1 outside.
""",
)
@click.argument("standard")
@click.argument("trial")
@click.option("--tolerance", type=float, default=1.0, show_default=True, help="ΔE00 that passes, at every angle.")
@click.option("--light", default="D65", show_default=True, help="CIE light (D65, D50, A, F2, F11, LED-B3).")
@click.option("--observer", type=click.Choice(["2", "10"]), default="10", show_default=True, help="CIE observer.")
@plan_options
def angles(
    standard: str,
    trial: str,
    tolerance: float,
    light: str,
    observer: str,
    units: str,
    job: str | None,
    as_json: bool,
) -> int:
    """Compare STANDARD and TRIAL (FILE or FILE@NAME), read at several angles, at each of them and as flop."""
    checked_job(job)
    return tell(angles_told(standard, trial, tolerance, light, int(observer)), units, job, as_json)


def angles_told(standard: str, trial: str, tolerance: float, light: str, observer: int) -> Told:
    """Return how two colours differ angle by angle, and their flop."""
    from finishmatch.cli.inputs import check_tolerance
    from finishmatch.dossier.page import Table
    from finishmatch.dossier.plan_page import Part
    from finishmatch.finish.flop import NO_FLAKE, compare_angles, flop_words
    from finishmatch.readings.angles_file import resolve_angles

    check_tolerance(tolerance)
    one, other = (resolve_angles(text, light, observer) for text in (standard, trial))
    found = compare_angles((one.angles, one.labs), (other.angles, other.labs))
    worst = found.worst
    within = worst.de00 <= tolerance
    notes = [NO_FLAKE]
    if found.standard_flop is None or found.trial_flop is None:
        notes.append("the flop index needs both at 15°, 45° and 110° from the gloss (ASTM E2194)")
    if found.left_out:
        notes.append("not compared, since only one was read there: " + ", ".join(f"{a:g}°" for a in found.left_out))
    rows = tuple(
        (
            f"{a.angle:g}°",
            f"{a.de00:.2f}",
            f"{a.delta['L']:+.2f}",
            f"{a.delta['C']:+.2f}",
            f"{a.delta['H']:+.2f}",
            ", ".join(a.words) or "alike",
        )
        for a in found.angles
    )
    flop = flop_words(found.standard_flop, found.trial_flop)
    lines = [("light", f"{one.light}, {observer}°; angles from the gloss")]
    if found.standard_flop is not None and found.trial_flop is not None:
        lines.append(("flop index", f"standard {found.standard_flop:.1f}, trial {found.trial_flop:.1f}: {flop}"))
    part = Part(
        heading="Metallic, angle by angle",
        answer=f"{'Within' if within else 'Outside'} the tolerance of {tolerance:g}: "
        f"at most ΔE00 {worst.de00:.2f}, at {worst.angle:g}°",
        lines=tuple(lines),
        tables=(Table("trial minus standard", ("angle", "ΔE00", "ΔL*", "ΔC*", "ΔH*", "the trial is"), rows),),
        notes=tuple(notes),
    )
    document = {
        "angles": [{"angle": a.angle, "de00": a.de00, "delta": a.delta, "words": list(a.words)} for a in found.angles],
        "flop": {"standard": found.standard_flop, "trial": found.trial_flop},
        "verdict": "within" if within else "outside",
        "tolerance": tolerance,
        "warnings": notes,
    }
    figures = {f"de00_at_{a.angle:g}": a.de00 for a in found.angles}
    return Told(
        "angles",
        part,
        document,
        figures,
        yes=within,
        sources=tuple(dict.fromkeys((one.source, other.source))),
    )
