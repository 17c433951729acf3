"""What to do about a defect: the options ranked, and the gentlest one whose risk is acceptable."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from finishmatch.defects.case import Case, Timing
from finishmatch.defects.diagnose import Diagnosis
from finishmatch.defects.expected_cost import with_expected_costs
from finishmatch.defects.film import Film
from finishmatch.defects.observed import SeenDefect, bottom_of
from finishmatch.defects.options import LEAVE, LEVEL, NAMES, POLISH, RECOAT, RUB, THINKABLE, Option
from finishmatch.defects.predicted_build import spread_is_assumed
from finishmatch.defects.repainting import back_to_primer, recoat, strip_spot
from finishmatch.defects.rework_figures import ReworkFigures, common_rework_figures
from finishmatch.defects.spot_repair import leave, level, polish, rub_out
from finishmatch.errors import InputError
from finishmatch.near_names import plain_key

JUDGE_AFTER = "judge the finish after it is cut and polished, not as sprayed"  # «common practice»
TRIED_READINGS = (1, 2, 3, 4, 5, 6, 8, 10, 15, 20)  # more of one layer nobody takes
SUSPICIOUS_RATIO = 3.0  # readings of one layer this far apart look like a slip


@dataclass(frozen=True)
class Advice:
    """What to do about a defect.

    options hold those that can be advised, the least expected cost first, then those ruled out; chosen is the first.
    breakthrough and anywhere are the chances of breaking through when it is rubbed out, at one spot and anywhere.
    readings_needed names the layers that should be read more often. more_readings is how many more of the topcoat, if
    they come out like those there are, would settle whether it can be rubbed out: 0 when that is settled, None when
    none would. causes hold the likeliest first.
    """

    seen: SeenDefect
    options: tuple[Option, ...]
    chosen: Option
    reason: str
    breakthrough: float
    anywhere: float
    causes: tuple[str, ...]
    diagnosis: Diagnosis
    then: str
    warnings: tuple[str, ...]
    readings_needed: tuple[str, ...]
    more_readings: int | None

    @property
    def mendable(self) -> bool:
        """Whether the paint there is can be saved: left, polished, rubbed out or levelled."""
        return self.chosen.key in (LEAVE, POLISH, RUB, LEVEL)

    @property
    def worth_showing(self) -> tuple[Option, ...]:
        """The options without those that can't even be thought of, save rubbing out, which everyone asks about."""
        return tuple(
            option
            for option in self.options
            if option is self.chosen or not option.forbidden or option.key in (RUB, LEVEL, RECOAT)
        )


def likely_causes(seen: SeenDefect) -> tuple[str, ...]:
    """Return the causes, the likeliest first; a rim around a bare middle puts silicone, oil or wax first."""
    return seen.diagnosis.names


def advise(
    seen: SeenDefect,
    film: Film,
    figures: ReworkFigures | None = None,
    keep_um: float | None = None,
    max_risk: float | None = None,
    timing: Timing | None = None,
) -> Advice:
    """Decide whether a defect can be rubbed out or levelled, or the panel must be painted again, and how far back.

    Parameters
    ----------
    seen : SeenDefect
    film : Film
        The layers around it with their build readings.
    figures : ReworkFigures or None
        The shop's figures; those of rework.toml when left out.
    keep_um : float or None
        Topcoat that must stay, in µm; by the figures when left out.
    max_risk : float or None
        The greatest chance of breaking through, anywhere on the panel, that may be advised.
    timing : Timing or None
        The age of the finish, its cure and its recoat window; unknown, and by the figures, when left out.

    Returns
    -------
    Advice

    Raises
    ------
    InputError
        A depth beyond the film, a layer it doesn't have, a pit without depth, numbers that can't be.
    """
    case = _case(seen, film, figures or common_rework_figures(), keep_um, max_risk, timing)
    ways = (leave, polish, rub_out, level, recoat, strip_spot, back_to_primer)
    by_gentleness = with_expected_costs(case, [way(case) for way in ways])
    options = tuple(sorted(by_gentleness, key=_worth))
    rub = next(option for option in by_gentleness if option.key == RUB)
    few = (layer.name for layer in film.layers if len(layer.builds_um) < case.figures.enough_readings)
    return Advice(
        seen=seen,
        options=options,
        chosen=options[0],
        reason=_reason(case, by_gentleness, options[0]),
        breakthrough=rub.breakthrough,
        anywhere=rub.anywhere,
        causes=likely_causes(seen),
        diagnosis=seen.diagnosis,
        then=JUDGE_AFTER,
        warnings=(*_reading_warnings(case), *case.bottom.notes, *_case_warnings(case), *_cheaper_risks(options)),
        readings_needed=tuple(few),
        more_readings=readings_to_settle(case, rub),
    )


def _case(
    seen: SeenDefect,
    film: Film,
    figures: ReworkFigures,
    keep_um: float | None,
    max_risk: float | None,
    timing: Timing | None,
) -> Case:
    if keep_um is not None and not (math.isfinite(keep_um) and keep_um >= 0):
        raise InputError("film to keep", f"{keep_um:g} µm is not possible", "it is a number of µm, at least 0")
    if max_risk is not None and not 0 <= max_risk <= 1:
        raise InputError("greatest risk", f"{max_risk:g} is not a chance", "it is between 0 and 1; 5 % is 0.05")
    return Case(
        seen=seen,
        film=film,
        bottom=bottom_of(seen, film, figures),
        figures=figures,
        keep_um=figures.keep_um[film.layers[-1].role] if keep_um is None else keep_um,
        max_risk=figures.max_risk if max_risk is None else max_risk,
        timing=timing or Timing(None, figures.cure_days, figures.window_days),
    )


def readings_to_settle(case: Case, rub: Option) -> int | None:
    """Return how many more readings of the topcoat would settle whether it can be rubbed out (see `Advice`)."""
    if case.bottom.depth is None or rub.anywhere <= case.max_risk or rub.anywhere >= 1 - case.max_risk:
        return 0
    removed = (*case.depth, *case.cut(RUB))

    def settled(more: float) -> bool:
        risk = case.risk_with_more_readings(removed, more)
        return not case.max_risk < risk < 1 - case.max_risk

    return next((more for more in TRIED_READINGS if settled(more)), None)


def find_option(text: str) -> str:
    """Return the full name of an option from any part of it that names it ("rub", "level", "recoat", "back to primer").

    Raises
    ------
    InputError
        When it names none, or more than one.
    """
    key = plain_key(text)
    fits = [name for name in NAMES.values() if key and key in plain_key(name)]
    if len(fits) != 1:
        what = "names more than one option" if fits else "is not an option"
        raise InputError(f"choice {text.strip()[:40]!r}", what, "choose one of: " + "; ".join(NAMES.values()))
    return fits[0]


def _worth(option: Option) -> tuple[int, float]:
    """Order options: what can be advised by its expected cost, then what is too risky, then what is forbidden."""
    if option.forbidden:
        return (2, 0.0)
    return (int(bool(option.ruled_out)), option.expected_cost or 0.0)


def _reason(case: Case, by_gentleness: Sequence[Option], chosen: Option) -> str:
    """Say why the chosen option, and why none gentler."""
    thinkable = THINKABLE[case.seen.kind.form]
    sentences = []
    for option in by_gentleness:
        if option is chosen:
            break
        if option.key in thinkable and option.key not in (LEAVE, POLISH):
            dearer = (
                f"it is expected to cost more ({option.expected_cost or 0:.0f} against {chosen.expected_cost or 0:.0f})"
            )
            sentences.append(f"Not {option.name}: {option.ruled_out or dearer}.")
    if not sentences and chosen.key not in (LEAVE, POLISH, RUB):
        rub = next(option for option in by_gentleness if option.key == RUB)
        sentences.append(f"Not {rub.name}: {rub.ruled_out}.")
    return " ".join([*sentences, f"{chosen.name.capitalize()}: {chosen.why}."])


def _cheaper_risks(options: Sequence[Option]) -> list[str]:
    """Name the ways that would be expected to cost less than the advice, were their risk taken."""
    worth = options[0].expected_cost or 0.0
    return [
        f"{option.name} would be expected to cost less ({option.expected_cost:.0f} against {worth:.0f}), with all that "
        "follows when it fails; whether to take the greater risk is your decision"
        for option in options
        if option.ruled_out and option.expected_cost is not None and option.expected_cost < worth
    ]


def _reading_warnings(case: Case) -> list[str]:
    """Say where the readings show too little."""
    notes = []
    figures = case.figures
    for layer in case.film.layers:
        count, low, high = len(layer.builds_um), min(layer.builds_um), max(layer.builds_um)
        if spread_is_assumed(layer):
            how = "one reading says" if count == 1 else f"{count} readings all the same say"
            notes.append(
                f"{layer.name}: {how} nothing about the spread; {100 * figures.spread:g} % of the build and "
                f"{figures.gauge_um:g} µm of gauge error are taken («common practice»)"
            )
        elif count < figures.enough_readings:
            notes.append(f"{layer.name}: {count} readings say little about the spread; one more would say much")
        if high > SUSPICIOUS_RATIO * low:
            notes.append(f"{layer.name}: readings from {low:g} to {high:g} µm; was a decimal comma typed?")
    return notes


def _case_warnings(case: Case) -> list[str]:
    """Say what was assumed about the defect and the film."""
    notes = []
    if case.film.primer_index < 0:
        notes.append("no primer was read: none is counted")
    if case.seen.count is None:
        notes.append("they were not counted: one is assumed")
    top_um = math.fsum(layer.mean_um for layer in case.film.topcoat)
    if top_um < case.keep_um:
        notes.append(f"the {case.top} is {top_um:.0f} µm before any cut, already under the {case.keep_um:g} µm to keep")
    return notes
