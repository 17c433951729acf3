"""What was read of one photograph or several: the samples over all of them, and what each gave."""

from __future__ import annotations

import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from finishmatch.errors import InputError
from finishmatch.photo.colour_in_lights import read_beside
from finishmatch.photo.combine import CombinedRegion, own_u95
from finishmatch.photo.find.chart import MADE_WORDS
from finishmatch.photo.geometry import GEOMETRY
from finishmatch.photo.read import LostRegion, PhotoDifference, PhotoReading
from finishmatch.readings import Reading
from finishmatch.steps.photo.outlines import outlines_of


@dataclass(frozen=True)
class ReferenceRead:
    """How well the known colours are read, the medians over several photographs; None where there were none.

    Parameters
    ----------
    found : bool
        Whether a chart was.
    printed : bool
        Whether the card's registered print served in its place.
    patches_used : int
    fit_de00_median : float or None
        As fitted.
    left_out_median, left_out_p90 : float or None
        ΔE00 of each read by a correction made without it.
    made : str
        When the chart was made, as it is taken, a key of `MADE`; "" of a chart that was read itself, and of a print.
    """

    found: bool
    printed: bool = False
    patches_used: int = 0
    fit_de00_median: float | None = None
    left_out_median: float | None = None
    left_out_p90: float | None = None
    made: str = ""

    @property
    def as_made(self) -> str:
        """In words, as which chart it was taken; "" where `made` is."""
        return MADE_WORDS.get(self.made, "")

    @property
    def others_made(self) -> tuple[tuple[str, str], ...]:
        """As which it could be taken as well: keys of `MADE`, and in words; none where `made` is ""."""
        return tuple((made, words) for made, words in MADE_WORDS.items() if self.made and made != self.made)

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object."""
        return {
            "found": self.found,
            "printed": self.printed,
            "made": self.made or None,
            "patches_used": self.patches_used,
            "fit_de00_median": self.fit_de00_median,
            "leave_one_out": {"median": self.left_out_median, "p90": self.left_out_p90},
        }


@dataclass(frozen=True)
class PhotoRead:
    """What was read of one photograph or several.

    Parameters
    ----------
    photographs : tuple of PhotoReading
        Each that was given.
    regions : tuple of CombinedRegion
        The samples, over all photographs that serve.
    differences : tuple of PhotoDifference
        Between samples within one photograph.
    light, observer
        For which the colours are given.
    warnings : tuple of str
    why : str
        Why no photograph serves, with what to change; "" when one does.
    recorded : tuple of int
        The numbers of the entries in the job.
    lamps : tuple of PhotoReading
        Photographs of the same samples under lamps, as they were read.
    """

    photographs: tuple[PhotoReading, ...]
    regions: tuple[CombinedRegion, ...]
    differences: tuple[PhotoDifference, ...]
    light: str
    observer: int
    warnings: tuple[str, ...]
    why: str
    recorded: tuple[int, ...] = ()
    lamps: tuple[PhotoReading, ...] = ()

    @property
    def lamps_used(self) -> tuple[PhotoReading, ...]:
        """Those of the lamps by which the colours are known nearer."""
        return tuple(one for one in self.lamps if self._used(one))

    def _used(self, lamp: PhotoReading) -> bool:
        return any(read_beside(one, lamp) for one in self.photographs)

    @property
    def chart(self) -> ReferenceRead:
        """How well the known colours are read."""
        return _reference_read(self.photographs)

    @property
    def lost(self) -> tuple[LostRegion, ...]:
        """The samples that none of the photographs could read, each once."""
        read = {region.name for region in self.regions}
        lost: dict[str, LostRegion] = {}
        for photograph in self.photographs:
            for one in photograph.lost:
                if one.name not in read:
                    lost.setdefault(one.name, one)
        return tuple(lost.values())

    def reading(self, name: str) -> Reading:
        """Return a sample as a reading, with the photographs' colours as its repeats.

        Raises
        ------
        InputError
            None of that name was read.
        """
        found = next((region for region in self.regions if region.name == name), None)
        if found is None:
            read = ", ".join(region.name for region in self.regions) or "none"
            raise InputError(f"`sample` {name[:40]!r}", "was not read in the photograph", f"these were: {read}")
        source = next(one.picture.source for one in self.photographs if not one.why_not)
        return Reading(name, found.labs, self.light, self.observer, GEOMETRY, source=source)

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object."""
        return {
            "chart": self.chart.as_dict(),
            "card": any(one.card is not None for one in self.photographs),
            "regions": [
                {
                    "name": region.name,
                    "lab": region.lab.tolist(),
                    "light": self.light,
                    "observer": self.observer,
                    "u95": region.u95,
                    "u95_own": own_u95(region.name, region.u95, self.differences),
                    "rejected": region.rejected,
                    "clipped": region.clipped,
                    "photographs": len(region.labs),
                    "spread_de00": region.spread_de00,
                    "photographs_needed": region.needed,
                }
                for region in self.regions
            ],
            "lost": [{"name": one.name, "why": one.why} for one in self.lost],
            "differences": [
                {"standard": one.standard, "trial": one.trial, "de00": one.de00, "u95": one.u95}
                for one in self.differences
            ],
            "photographs": [
                {
                    "file": str(one.picture.source),
                    "kind": one.picture.kind,
                    "chart": _reference_read([one]).as_dict(),
                    "card": one.card is not None,
                    "windows": None if one.card is None else one.card.layout.numbered,
                    "used": not one.why_not,
                    "why_not": one.why_not,
                    "lost": [region.name for region in one.lost],
                    "outlines": outlines_of(one),
                }
                for one in self.photographs
            ],
            "under": [
                {"light": one.light, "file": str(one.picture.source), "used": self._used(one)} for one in self.lamps
            ],
            "why": self.why,
            "warnings": list(self.warnings),
        }


def _reference_read(readings: Sequence[PhotoReading]) -> ReferenceRead:
    found = any(reading.chart is not None for reading in readings)
    fitted = [(reading, reading.fit) for reading in readings if reading.fit is not None]
    if not fitted:
        return ReferenceRead(found)
    return ReferenceRead(
        found,
        any(reading.printed for reading, _ in fitted),
        min(len(reading.patches) for reading, _ in fitted),
        statistics.median(float(np.median(fit.residuals)) for _, fit in fitted),
        statistics.median(float(np.median(fit.left_out)) for _, fit in fitted),
        statistics.median(float(np.percentile(fit.left_out, 90)) for _, fit in fitted),
        next((reading.reference.chart.made for reading, _ in fitted if reading.reference is not None), ""),
    )
