"""A card that was photographed by itself: what its difference from its target is known to, and what is said of that."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

from finishmatch import evidence  # what two photographs share is worked out where there is a doubt
from finishmatch.colour.local_metric import WITHIN_95
from finishmatch.colour.told_within import told_within
from finishmatch.correct.verdict import Verdict
from finishmatch.errors import InputError
from finishmatch.readings import Reading
from finishmatch.readings.photograph_sign import is_photograph_file
from finishmatch.readings.reading import SeenDifference, TargetFacts
from finishmatch.readings.seen import MOST_U95, TOGETHER, USUAL_U95, by_itself, covariance_within, seen_beside
from finishmatch.steps.colour_inputs import ReadingLike, reading_of

_LEAST_U95 = 0.1  # ΔE00: no photograph repeats itself nearer («common practice»)
_ADVICE = "photograph the card beside what it is to match, and judge it by that"


def is_by_itself(reading: Reading) -> bool:
    """Return whether only the CIELAB of a colour is known, and to a doubt that is stated: as a photograph tells it."""
    facts = reading.target
    return facts is not None and bool(facts.u95) and not facts.weighed and not reading.is_spectral


def surely_read(given: ReadingLike, viewing: tuple[str, int], name: str, mend: str) -> Reading:
    """Return the reading that is meant where it shows tins by itself; `viewing` and `name` are as of `reading_of`.

    Raises
    ------
    InputError
        A photograph of it alone tells it: so little surely that it shows nothing of its tins; `mend` says what does.
    """
    if isinstance(given, str | Path) and is_photograph_file(Path(given)):
        raise InputError(str(given), "is a photograph, and no file of readings", mend)
    reading = reading_of(given, *viewing, name)
    if is_by_itself(reading):
        raise InputError(reading.name, "is known only by its own photograph, as surely as that says", mend)
    return reading


def doubt_between(standard: Reading, trial: Reading) -> float | None:
    """Return the ΔE00 that the difference of two readings is known within 95 times in 100; None where nobody said."""
    if not any(one.target is not None and one.target.u95 for one in (standard, trial)):
        return None
    same_camera = evidence.common_catalogue().settings.same_camera
    return evidence.doubt_of_two(standard.target, trial.target, same_camera).u95


def seen_by_itself(standard: Reading, trial: Reading) -> Reading:
    """Return a card that was photographed by itself as one of which its difference from its standard is known.

    Parameters
    ----------
    standard, trial : Reading
        Both as one instrument would have read them.

    Raises
    ------
    InputError
        The standard isn't known in the light of the card; the two leave so much open that nothing is told.

    Notes
    -----
    As a target its colour is worth what it is known to, its doubt less what both photographs are off by; of the rest of
    the target's doubt nothing is in it. With these two as the covariances of the difference and of the standard, what
    the model makes of the tin is weighed against the photograph as the joint covariance of all three has it.
    """
    facts = trial.target
    assert facts is not None
    lab, about = trial.lab_in(trial.light, trial.observer), standard.lab_in(trial.light, trial.observer)
    same_camera = evidence.common_catalogue().settings.same_camera
    doubt = evidence.doubt_of_two(standard.target, facts, same_camera, _LEAST_U95)
    if doubt.u95 > MOST_U95:
        what = f"is known to ±{doubt.u95:.1f} from {standard.name} only, by photographs of each: that tells nothing"
        raise InputError(trial.name, what, _ADVICE)
    own, shared = (
        covariance_within(WITHIN_95 * math.sqrt(variance), about) for variance in (doubt.own_var, doubt.shared_var)
    )
    one = SeenDifference(
        lab - about,
        doubt.u95,
        trial.light,
        trial.observer,
        covariance=own,
        pictures=max(len(facts.pictures), 1),
        u95_more=_together(facts),
        standard_covariance=shared,
        by_itself=replace(facts, covariance=None, tolerance=None),
    )
    found = seen_beside(standard, (one,), trial.name, (trial.light, trial.observer))
    return replace(  # its colour to the last digit: by that a card is known again
        found, repeats=trial.repeats, source=trial.source, warnings=trial.warnings, target=trial.target
    )


def _together(facts: TargetFacts) -> float:
    """Return what one photograph of a card and its target would tell, as far as that of the card says."""
    own = 0.0 if facts.u95_own is None or not facts.pictures else math.sqrt(2) * facts.u95_own
    return max(own, USUAL_U95)


def of_one_photograph(standard: Reading, trial: Reading) -> bool:
    """Return whether two colours were read of the same photographs."""
    of = [set() if one.target is None else set(one.target.pictures) for one in (standard, trial)]
    return bool(of[0]) and of[0] == of[1]


def said_of_card(standard: Reading, trial: Reading) -> tuple[str, ...]:
    """Return what is to be borne in mind of a card that was photographed apart from its standard."""
    if not by_itself(trial) or of_one_photograph(standard, trial):
        return ()
    one = trial.seen[0]
    also = "; so is the target" if standard.target is not None and standard.target.pictures else ""
    return (
        f"{trial.name} is known by a photograph of its own{also}: their difference is known to "
        f"±{told_within(one.u95):g}, and {TOGETHER} would tell about ±{one.u95_more:.2g}; before anything is added, "
        f"{_ADVICE}",
    )


def said_of_two(verdict: Verdict, standard: Reading, trial: Reading) -> tuple[str, ...]:
    """Return what is to be said of a verdict that the doubt of two readings leaves open."""
    if verdict.u95 is None or verdict.sure:
        return ()
    apart = [one.target is not None and bool(one.target.pictures) for one in (standard, trial)]
    side = "within" if verdict.within else "outside"
    said = f"{side} the tolerance is the likelier only: the difference is known to ±{told_within(verdict.u95):g}"
    if all(apart) and not of_one_photograph(standard, trial):
        facts = trial.target
        assert facts is not None
        said += f", as far as separate photographs tell; {TOGETHER} would tell about ±{_together(facts):.2g}"
    return (said,)
