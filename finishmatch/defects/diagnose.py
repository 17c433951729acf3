"""Which cause: Bayes over the causes of a kind, the evidence for and against, the check that would show most."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from finishmatch.defects.evidence import (
    NOTHING_KNOWN,
    Cause,
    Check,
    Evidence,
    all_causes,
    all_checks,
    all_signs,
    exposure_chance,
    outcome_chances,
    sign_chance,
)
from finishmatch.defects.kinds import DefectKind, find_kind

UNLISTED = 0.04  # of the whole, before any evidence: a cause that no list holds («common practice»)
RIMMED = 0.5  # a pit with a rim is as likely a crater as what it was called («common practice»)
SHOWN_BITS = 0.3  # evidence that shifts a cause by less is not shown: it is 1.2 times as likely or less
WORTH_BITS = 0.03  # a check that shows less is not worth its while
FIXED_MINUTES = 5.0  # to walk there and write it down, whatever the check («common practice»)
OTHER = Cause("other", "something that is not listed here", False, "", {}, {}, {})


@dataclass(frozen=True)
class RankedCause:
    """A cause with its chance, and what speaks for and against it in plain words, the weightiest first."""

    cause: Cause
    chance: float
    speaks_for: tuple[str, ...]
    speaks_against: tuple[str, ...]


@dataclass(frozen=True)
class CheckWorth:
    """What a check is expected to show: bits of information, and the trouble in minutes (its cost turned into time)."""

    check: Check
    bits: float
    trouble_min: float

    @property
    def bits_per_hour(self) -> float:
        """What it shows for the trouble it makes."""
        return 60 * self.bits / self.trouble_min


@dataclass(frozen=True)
class Diagnosis:
    """The causes, the likeliest first; the checks not done yet, those that show most for their trouble first.

    `contamination` is the chance that something foreign is the cause.
    """

    causes: tuple[RankedCause, ...]
    checks: tuple[CheckWorth, ...]
    contamination: float

    @property
    def names(self) -> tuple[str, ...]:
        """The names of the listed causes, the likeliest first."""
        return tuple(ranked.cause.name for ranked in self.causes if ranked.cause is not OTHER)


def diagnose(kind: DefectKind, evidence: Evidence = NOTHING_KNOWN, hour_cost: float = 60.0) -> Diagnosis:
    """Rank the causes of a defect.

    Parameters
    ----------
    kind : DefectKind
    evidence : Evidence
        Signs, checks done, exposures; by their one names.
    hour_cost : float
        What an hour of the shop costs, to weigh a check's material against its minutes.

    Returns
    -------
    Diagnosis

    Notes
    -----
    Bayes' rule, the pieces of evidence taken as independent given the cause. So that related signs don't make it surer
    than it is, a cause that is not listed is always among them. What a check shows is the mutual information of cause
    and outcome under the chances as they stand (Lindley 1956). All the shares are «common practice».
    """
    chances = priors(kind, evidence)
    items = _items(list(chances), evidence)
    for _, likelihood in items:
        chances = _updated(chances, likelihood)
    causes = {**all_causes(), OTHER.key: OTHER}
    ranked = [
        RankedCause(causes[key], chance, *_for_and_against(key, chances, items))
        for key, chance in sorted(chances.items(), key=lambda pair: -pair[1])
    ]
    done = {name for name, _ in evidence.checks}
    open_to = [check for check in all_checks().values() if check.name not in done and kind.form in check.forms]
    worths = [_worth(check, chances, causes, hour_cost) for check in open_to]
    showing = [worth for worth in worths if worth.bits >= WORTH_BITS]
    foreign = math.fsum(chance for key, chance in chances.items() if causes[key].contamination)
    return Diagnosis(tuple(ranked), tuple(sorted(showing, key=lambda worth: -worth.bits_per_hour)), foreign)


def priors(kind: DefectKind, evidence: Evidence) -> dict[str, float]:
    """Return the share of each cause before the evidence, by key; one that is not listed among them.

    A pit with a rim may be a crater whatever it was called, so a crater's causes come in («common practice»).
    """
    shares = {key: (1 - UNLISTED) * share for key, share in kind.priors.items()}
    crater = find_kind("cratering")
    if kind.form == "pit" and "rim" in evidence.signs and kind != crater:
        shares = {key: (1 - RIMMED) * share for key, share in shares.items()}
        for key, share in crater.priors.items():
            shares[key] = shares.get(key, 0.0) + RIMMED * (1 - UNLISTED) * share
    return {**shares, OTHER.key: UNLISTED}


def _items(keys: Sequence[str], evidence: Evidence) -> list[tuple[str, dict[str, float]]]:
    """Return each piece of evidence in words, with its chance under each cause."""
    causes, signs, checks = {**all_causes(), OTHER.key: OTHER}, all_signs(), all_checks()
    items = []
    for noted in evidence.signs:
        words = signs[noted].when_seen if noted in signs else signs[noted.removeprefix("no ")].when_absent
        items.append((words, {key: sign_chance(causes[key], noted) for key in keys}))
    for name, outcome in evidence.checks:
        likelihood = {key: outcome_chances(causes[key], checks[name])[outcome] for key in keys}
        items.append((f"{name}: {outcome}", likelihood))
    for exposure in evidence.exposures:
        told_by = {key: exposure_chance(causes[key], exposure) for key in keys}
        known = {key: chance for key, chance in told_by.items() if chance is not None}
        if len(known) == len(keys):
            items.append((f"met: {exposure[0]} {exposure[1]}", known))
    return items


def _updated(chances: Mapping[str, float], likelihood: Mapping[str, float]) -> dict[str, float]:
    """Return the chances after one piece of evidence (Bayes)."""
    joint = {key: chance * likelihood[key] for key, chance in chances.items()}
    total = math.fsum(joint.values())
    return {key: value / total for key, value in joint.items()}


def _for_and_against(
    key: str, chances: Mapping[str, float], items: Sequence[tuple[str, Mapping[str, float]]]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return what speaks for and against a cause, by how much likelier it is with it than with all the others."""
    others = {other: chance for other, chance in chances.items() if other != key}
    total = math.fsum(others.values())
    weighed = []
    for words, likelihood in items:
        rest = math.fsum(chance * likelihood[other] for other, chance in others.items()) / total if total else 0.0
        if rest > 0:
            weighed.append((math.log2(likelihood[key] / rest), words))
    speaks_for = [words for bits, words in sorted(weighed, reverse=True) if bits >= SHOWN_BITS]
    against = [words for bits, words in sorted(weighed) if bits <= -SHOWN_BITS]
    return tuple(speaks_for), tuple(against)


def _worth(check: Check, chances: Mapping[str, float], causes: Mapping[str, Cause], hour_cost: float) -> CheckWorth:
    """Return the mutual information of cause and outcome, in bits, and the trouble of the check."""
    table = {key: outcome_chances(causes[key], check) for key in chances}
    bits = 0.0
    for outcome in check.outcomes:
        of_outcome = math.fsum(chance * table[key][outcome] for key, chance in chances.items())
        for key, chance in chances.items():
            joint = chance * table[key][outcome]
            if joint > 0:
                bits += joint * math.log2(table[key][outcome] / of_outcome)
    trouble = FIXED_MINUTES + check.minutes + 60 * check.cost / hour_cost
    return CheckWorth(check, max(0.0, bits), trouble)
