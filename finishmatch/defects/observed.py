"""A defect as it was seen, checked against the film it lies in."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

from finishmatch.defects.diagnose import Diagnosis, diagnose
from finishmatch.defects.evidence import NOTHING_KNOWN, Evidence
from finishmatch.defects.film import MAX_PANEL_MM, METAL, Film, reached_layer
from finishmatch.defects.kinds import DefectKind
from finishmatch.defects.rating import Rating
from finishmatch.defects.rework_figures import ReworkFigures
from finishmatch.defects.spread import Cut, EvenLength, Length, spot_cut
from finishmatch.errors import InputError

MOST = 100_000  # more of anything, in its unit, is a slip
RIM_SIGNS = ("rim", "bare centre")
SUSPECTED = 0.5  # a chance of contamination from which the work reckons with it («common practice»)
PM_TO_SD = 2.0  # a ± as it is spoken holds 95 times in 100


@dataclass(frozen=True)
class SeenDefect:
    """A defect as it was seen.

    depth_um is below the surface beside it, pm_um its ± (95 times in 100); layer_reached is the layer that lies bare at
    its bottom. `rim` says that it has a raised rim around a bare middle. `evidence` is what else is known of it. at_mm
    is its place on the panel (across, down), over_mm the width and height it is spread over, rating that of ISO 4628-1.
    What was not seen is None.
    """

    kind: DefectKind
    count: int | None = None
    size_mm: float | None = None
    depth_um: float | None = None
    pm_um: float | None = None
    layer_reached: str | None = None
    rim: bool = False
    evidence: Evidence = NOTHING_KNOWN
    at_mm: tuple[float, float] | None = None
    over_mm: tuple[float, float] | None = None
    rating: Rating | None = None

    @cached_property
    def known(self) -> Evidence:
        """The evidence, with the rim and the bare middle where `rim` says that they were seen."""
        signs = self.evidence.signs
        seen = tuple(sign for sign in RIM_SIGNS if self.rim and sign not in signs)
        return replace(self.evidence, signs=(*signs, *seen))

    @cached_property
    def diagnosis(self) -> Diagnosis:
        """The causes by their chance."""
        return diagnose(self.kind, self.known)

    @property
    def contamination(self) -> bool:
        """Whether something foreign is suspected: by its kind, a rim on a pit, or because the evidence points to it."""
        rimmed = "rim" in self.known.signs and self.kind.form == "pit"
        return self.kind.contamination or rimmed or self.diagnosis.contamination >= SUSPECTED


@dataclass(frozen=True)
class Bottom:
    """Where a defect ends in a film.

    depth is None when it goes through the whole topcoat as a seen fact; bare is then the index of the layer
    that lies bare (METAL_INDEX: the metal), else None.
    """

    depth: Length | None
    bare: int | None
    notes: tuple[str, ...]


def check_seen(seen: SeenDefect) -> None:
    """Raise `InputError` for a count, size or depth that can't be."""
    if seen.count is not None and seen.count < 1:
        raise InputError("count", f"{seen.count} defects is nothing to judge", "count at least 1")
    if seen.count is not None and seen.count > MOST:
        raise InputError("count", f"{seen.count} is more than anyone can count", "estimate it")
    _check_lengths(seen)
    for name, pair in (("place", seen.at_mm), ("spread", seen.over_mm)):
        if pair is not None and not all(math.isfinite(value) and abs(value) <= MAX_PANEL_MM for value in pair):
            raise InputError(
                name, f"{pair[0]:g}/{pair[1]:g} mm is not a place on a panel", "write it in mm, as 120/340"
            )
    if seen.over_mm is not None and min(seen.over_mm) <= 0:
        raise InputError("spread", f"{seen.over_mm[0]:g}/{seen.over_mm[1]:g} mm is not possible", "both are above 0")
    if seen.depth_um is not None and seen.layer_reached is not None:
        raise InputError("depth", "both a depth and a layer reached are given", "give the one that was seen best")
    if seen.pm_um is not None and seen.depth_um is None:
        raise InputError("the ± of the depth", "there is no depth it belongs to", "give the depth too")


def _check_lengths(seen: SeenDefect) -> None:
    lengths = (
        ("size", seen.size_mm, "mm", False),
        ("depth", seen.depth_um, "µm", True),
        ("the ± of the depth", seen.pm_um, "µm", True),
    )
    for name, value, unit, may_be_zero in lengths:
        if value is None:
            continue
        if not math.isfinite(value):
            raise InputError(name, f"{value} is not a length", f"write a number of {unit}")
        if value > MOST:
            raise InputError(name, f"{value:g} {unit} is too large", f"is it in {unit}?")
        if value < 0 or (value == 0 and not may_be_zero):
            least = "at least 0" if may_be_zero else "above 0"
            raise InputError(name, f"{value:g} {unit} is not possible", f"it is {least}")


def check_in_film(seen: SeenDefect, film: Film) -> int | None:
    """Return the index of the layer that lies bare (None when a depth, or nothing, was seen).

    Raises
    ------
    InputError
        A depth beyond the film, or a layer the film doesn't have.
    """
    check_seen(seen)
    if seen.depth_um is not None and seen.depth_um > film.thickest_um:
        raise InputError(
            "depth",
            f"{seen.depth_um:g} µm is beyond the film, which is {film.mean_um:.0f} µm deep by its readings "
            f"({film.thickest_um:.0f} µm at the thickest)",
            f"check the depth, or say it reached {METAL}",
        )
    return None if seen.layer_reached is None else reached_layer(film, seen.layer_reached)


def bottom_of(seen: SeenDefect, film: Film, figures: ReworkFigures) -> Bottom:
    """Return how deep a defect goes, with its uncertainty.

    Raises
    ------
    InputError
        As `check_in_film`; or a pit of which neither depth nor layer reached is known.
    """
    bare = check_in_film(seen, film)
    if seen.depth_um is not None:
        if seen.pm_um is not None:
            return Bottom(spot_cut((seen.depth_um, seen.pm_um / PM_TO_SD)), None, ())
        sd = math.hypot(figures.depth_error_um, figures.depth_error * seen.depth_um)
        note = f"no ± is known for the depth: {PM_TO_SD * sd:.0f} µm is taken («common practice»)"
        return Bottom(spot_cut((seen.depth_um, sd)), None, (note,))
    if bare is not None and bare < film.top_start:
        return Bottom(None, bare, ())
    if bare is not None:
        above = math.fsum(layer.mean_um for layer in film.layers[bare + 1 :])
        layer = film.layers[bare]
        depth = EvenLength(above, above + layer.mean_um)
        note = (
            f"it ends somewhere in the {layer.name}: any depth from {depth.low_um:.0f} to {depth.high_um:.0f} µm is "
            "taken to be as likely; a measured depth settles it"
        )
        return Bottom(depth, None, (note,))
    if seen.kind.form == "pit":
        raise InputError("depth", f"nothing says how deep it goes ({seen.kind.name})", "give it, or the layer reached")
    if seen.kind.form in figures.unread_depth_um:
        usual = spot_cut(seen.kind.depth_um or figures.unread_depth_um[seen.kind.form])
        note = f"its depth was not measured: {usual.mean_um:.0f} µm is taken («common practice»)"
        return Bottom(usual, None, (note,))
    return Bottom(Cut(0.0, 0.0, 0.0), None, ())
