"""A defect in its film: what every option is judged from."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from finishmatch.defects.breakthrough import film_left
from finishmatch.defects.film import METAL_INDEX, Film
from finishmatch.defects.practice import Practice
from finishmatch.defects.seen import Bottom, SeenDefect
from finishmatch.defects.spread import Length, StudentLength, normal_length

LIKELY = 0.5


@dataclass(frozen=True)
class Case:
    """A defect in its film, with what must stay (topcoat, µm) and the greatest risk that is answered for."""

    seen: SeenDefect
    film: Film
    builds: tuple[StudentLength, ...]
    bottom: Bottom
    practice: Practice
    keep_um: float
    max_risk: float

    @property
    def count(self) -> int:
        """How many there are; one when they were not counted."""
        return self.seen.count or 1

    @property
    def top(self) -> str:
        """What the topcoat is: clear or colour."""
        return self.film.layers[-1].role

    @property
    def sanding(self) -> tuple[Length, ...]:
        """What flattening takes over and above the depth: the rim of a pit, and sanding until it is flat."""
        flat = normal_length(self.practice.flat_um)
        return (normal_length(self.practice.rim_um), flat) if self.seen.kind.form == "pit" else (flat,)

    @property
    def cut(self) -> tuple[Length, ...]:
        """Sanding and polishing."""
        return (*self.sanding, normal_length(self.practice.polish_um))

    @property
    def depth(self) -> tuple[Length, ...]:
        """The depth where it is a length, nothing where a bare layer was seen."""
        return () if self.bottom.depth is None else (self.bottom.depth,)

    @cached_property
    def chance_at_primer(self) -> float:
        """The chance that it is open to the primer; where no primer was read, to the bottom of what was read."""
        if self.bottom.bare is not None:
            return 1.0 if self.bottom.bare <= self.film.primer_index else 0.0
        return film_left(self.builds[self.film.primer_index + 1 :], self.depth).chance_below(0.0)

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
        """How often the work comes right when the film is there."""
        shares = self.practice.success_contaminated if self.seen.contamination else self.practice.success
        return shares[key]
