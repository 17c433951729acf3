"""A defect in its film: what every option is judged from."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from finishmatch.defects.breakthrough import film_left
from finishmatch.defects.film import METAL_INDEX, Film
from finishmatch.defects.observed import Bottom, SeenDefect
from finishmatch.defects.predicted_build import Builds, Spots, predicted_builds, spots_over, with_more_readings
from finishmatch.defects.rework_figures import Record, ReworkFigures
from finishmatch.defects.spread import Cut, Length, spot_cut

LIKELY = 0.5


@dataclass(frozen=True)
class Timing:
    """The age of the finish in days (None where not known), when it has cured, how long it may be recoated as it is."""

    age_days: float | None
    cure_days: float
    window_days: float


@dataclass(frozen=True)
class Case:
    """A defect in its film, with what must stay (topcoat, µm) and the greatest risk that is acceptable."""

    seen: SeenDefect
    film: Film
    bottom: Bottom
    figures: ReworkFigures
    keep_um: float
    max_risk: float
    timing: Timing

    @cached_property
    def spots(self) -> Spots:
        """Where it lies; a spoilt skin is cut all over, and then every patch of it is a spot."""
        count = self.seen.count or 1
        if self.seen.kind.form == "surface" and self.seen.over_mm is not None:
            width, height = self.seen.over_mm
            count = max(count, round(width * height / self.figures.patch_mm**2))
        return spots_over(count, self.seen.at_mm or (), self.seen.over_mm or ())

    @cached_property
    def builds(self) -> Builds:
        """What the layers may be at the spots, from the metal up."""
        return predicted_builds(self.film.layers, self.figures, self.spots)

    @property
    def topcoat(self) -> Builds:
        """What the topcoat may be there."""
        return self.builds.part(self.film.top_start, len(self.film.layers))

    @property
    def count(self) -> int:
        """How many spots are cut; one when they were not counted."""
        return self.spots.count

    @property
    def top(self) -> str:
        """What the topcoat is: clear or colour."""
        return self.film.layers[-1].role

    @property
    def rim(self) -> tuple[Cut, ...]:
        """What the rim of a pit costs: it is never cut without touching what is around it."""
        return (spot_cut(self.figures.rim_um),) if self.seen.kind.form == "pit" else ()

    def steps(self, key: str) -> tuple[Cut, ...]:
        """What the steps of an option take."""
        steps = (self.figures.steps[name] for name in self.figures.sequence[key])
        return tuple(Cut(step.mean_um, step.panel_sd_um, step.spot_sd_um) for step in steps)

    def cut(self, key: str) -> tuple[Cut, ...]:
        """What flattening takes over and above the depth: the rim of a pit, and the steps of an option."""
        return (*self.rim, *self.steps(key))

    def risk_with_more_readings(self, removed: Sequence[Length], more: float) -> float:
        """Return the chance of breaking through anywhere if the topcoat had been read so many times more."""
        builds = with_more_readings(self.topcoat, self.film.topcoat, more)
        return film_left(builds, removed).chance_anywhere(self.keep_um)

    @property
    def depth(self) -> tuple[Length, ...]:
        """The depth where it is a length, nothing where a bare layer was seen."""
        return () if self.bottom.depth is None else (self.bottom.depth,)

    @cached_property
    def chance_at_primer(self) -> float:
        """The chance that it is open to the primer; where no primer was read, to the bottom of what was read."""
        if self.bottom.bare is not None:
            return 1.0 if self.bottom.bare <= self.film.primer_index else 0.0
        above = self.builds.part(self.film.primer_index + 1, len(self.film.layers))
        return film_left(above, self.depth).chance_below(0.0)

    @property
    def at_primer(self) -> bool:
        """Whether the defect is open to the primer or the metal: seen so, or likelier than not by its depth."""
        return self.chance_at_primer >= LIKELY

    @cached_property
    def at_metal(self) -> bool:
        """Whether it is open to the metal: seen so, or likelier than not by its depth."""
        if self.bottom.bare is not None:
            return self.bottom.bare == METAL_INDEX
        return film_left(self.builds, self.depth).chance_below(0.0) >= LIKELY

    def success(self, key: str) -> float:
        """Return how often the work comes right when the film is there: common practice and the shop's own record.

        The mean of a Beta distribution that weighs common practice as so many jobs (A. Gelman and others, Bayesian Data
        Analysis, 2013, 2.4).
        """
        shares = self.figures.success_contaminated if self.seen.contamination else self.figures.success
        record, weight = self.record(key), self.figures.prior_jobs
        return (weight * shares[key] + record.right) / (weight + record.tried)

    def record(self, key: str) -> Record:
        """Return how an option came out in the shop, on panels as clean or as contaminated as this one."""
        return self.figures.record.get((key, self.seen.contamination), Record())

    @property
    def cure_wait_days(self) -> float:
        """How long the finish still has to cure before it may be cut; the whole time where its age is not known."""
        return max(0.0, self.timing.cure_days - (self.timing.age_days or 0.0))


def mean_um(lengths: Sequence[Length]) -> float:
    """Return what several lengths come to on the whole."""
    return math.fsum(length.mean_um for length in lengths)


def layers_um(case: Case, start: int = 0) -> float:
    """Return the mean of a film's readings from a layer up."""
    return math.fsum(layer.mean_um for layer in case.film.layers[start:])
