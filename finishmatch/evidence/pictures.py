"""What samples read from photographs are off by together: by one picture, and by one camera in the next picture too."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from finishmatch.colour import Floats
from finishmatch.colour.local_metric import WITHIN_95
from finishmatch.readings.evidence_file import EvidenceSample
from finishmatch.readings.reading import TargetFacts
from finishmatch.readings.seen import USUAL_U95

USUAL_OWN_U95 = USUAL_U95 / 2**0.5  # ΔE00: two such errors make that of a difference in one photograph


@dataclass(frozen=True)
class Seen:
    """What a sample shares with others that were photographed: the pictures it is of, and whose camera took them.

    `shared_var` is the part of its reading's variance that is not its own, ΔE00² in each direction.
    """

    shared_var: float = 0.0
    pictures: frozenset[str] = frozenset()
    camera: str = ""


ALONE = Seen()  # by an instrument, or by photographs of which nothing is known


def seen_of(sample: EvidenceSample, reading_var: float, least_var: float) -> Seen:
    """Return what of a sample's reading is shared with others; nothing where no photograph of it is known.

    Parameters
    ----------
    sample : EvidenceSample
    reading_var : float
        The variance of its reading, ΔE00² in each direction.
    least_var : float
        What of that is its own at the least.
    """
    if sample.u95 is None or not sample.of_photographs:
        return ALONE
    return _seen(sample, sample.u95, reading_var, least_var, sample.camera)


def _seen(
    one: EvidenceSample | TargetFacts, u95: float, reading_var: float, least_var: float, camera: str = ""
) -> Seen:
    own = min(USUAL_OWN_U95 if one.u95_own is None else one.u95_own, u95) / WITHIN_95
    return Seen(max(reading_var - max(own**2, least_var), 0.0), frozenset(map(_key, one.pictures)), _key(camera))


@dataclass(frozen=True)
class DoubtOfTwo:
    """What two colours that were each known by themselves leave open of their difference.

    Parameters
    ----------
    u95 : float
        The ΔE00 that their difference is known within, 95 times in 100.
    own_var, shared_var : float
        Of what the trial's colour is known to, ΔE00² in each direction: what is its own, and what the standard is off
        by as well.
    """

    u95: float
    own_var: float
    shared_var: float


def doubt_of_two(
    standard: TargetFacts | None, trial: TargetFacts | None, same_camera: float, least_u95: float = 0.0
) -> DoubtOfTwo:
    """Return what two colours leave open of their difference: what they share of photographs drops out.

    Parameters
    ----------
    standard, trial : TargetFacts or None
        How well each is known; of one that nothing is said of, it is taken as it stands.
    same_camera : float
        As of `shared_covariance`.
    least_u95 : float
        What of the trial's doubt is its own at the least, ΔE00.

    Notes
    -----
    Photographs of which no camera is named are taken to be by one, as in weighing evidence.
    """
    known = [0.0 if one is None or not one.u95 else one.u95 for one in (standard, trial)]
    known[1] = max(known[1], least_u95)
    variances = [(u95 / WITHIN_95) ** 2 for u95 in known]
    seen = [
        _seen(one, u95, variance, (least_u95 / WITHIN_95) ** 2) if one is not None and u95 and one.pictures else ALONE
        for one, u95, variance in zip((standard, trial), known, variances, strict=True)
    ]
    shared, own = float(shared_covariance(seen, same_camera)[0, 1]), variances[1]
    of_standard = variances[0] - shared
    if seen[0].pictures and seen[0].pictures == seen[1].pictures:  # each own doubt is what differences there leave
        shared, of_standard = seen[1].shared_var, variances[0] - seen[0].shared_var
    return DoubtOfTwo(float(WITHIN_95 * np.sqrt(own - shared + of_standard)), own - shared, shared)


def shared_with_next(facts: TargetFacts, same_camera: float) -> float:
    """Return what the next photograph by the same camera is off by as well, ΔE00² in each direction; `facts` are of one
    that is known, and none is shared where no photograph is named.
    """
    return doubt_of_two(replace(facts, pictures=("the next",) if facts.pictures else ()), facts, same_camera).shared_var


def _key(text: str) -> str:
    return " ".join(text.split())


def shared_covariance(seen: Sequence[Seen], same_camera: float) -> Floats:
    """Return the covariance of what samples are off by together, ΔE00² in each direction, shape (n, n).

    Parameters
    ----------
    seen : sequence of Seen
    same_camera : float
        The share of what a picture is off by that another picture by the same camera is off by as well.

    Notes
    -----
    Two samples share by the lesser of what they may be off by: the one that is less sure differs from the other by its
    excess, so that none weighs against the others what these are off by. Of pictures A and B the share is
    |A ∩ B| / √(|A| |B|), as of means of independent errors.
    """
    variances = np.array([one.shared_var for one in seen])
    if not variances.any():
        return np.zeros((len(seen), len(seen)))
    names = sorted(frozenset().union(*(one.pictures for one in seen)))
    parts = np.array([[name in one.pictures for name in names] for one in seen], dtype=float)
    parts /= np.sqrt(np.maximum(parts.sum(axis=1, keepdims=True), 1.0))
    cameras = np.array([one.camera for one in seen])
    alike = same_camera * (cameras[:, None] == cameras) + (1 - same_camera) * parts @ parts.T
    np.fill_diagonal(alike, 1.0)
    covariance: Floats = alike * np.minimum(variances[:, None], variances)
    return covariance


def said_of_pictures(names: Sequence[str], seen: Sequence[Seen]) -> list[str]:
    """Return what samples share by how they were photographed, a line for each camera.

    Parameters
    ----------
    names : sequence of str
    seen : sequence of Seen
        Of each sample.
    """
    cameras: dict[str, list[int]] = {}
    for i, one in enumerate(seen):
        if one.shared_var > 0:
            cameras.setdefault(one.camera, []).append(i)
    alone = all(one.shared_var > 0 for one in seen)
    more = "; an instrument's reading of one of them would tell more than another sample" if alone else ""
    said = []
    for camera, group in cameras.items():
        if len(group) < 2:
            continue
        which = {seen[i].pictures for i in group}
        whose = f"by the camera {camera}" if camera else "taken to be by one camera (an evidence file may name others)"
        if len(which) > 1 or which == {frozenset()}:
            how = f"are of several photographs, {whose}: most of what these are off by they share"
        elif len(min(which)) > 1:
            how = "are of the same photographs: what these are off by they share"
        else:
            how = "are of one photograph: what it is off by they share"
        said.append(f"{listed([names[i] for i in group])} {how}{more}")
    return said


def listed(names: Sequence[str]) -> str:
    """Return names as one says them: some, and how many more."""
    if len(names) > 4:
        return ", ".join(names[:4]) + f" and {len(names) - 4} more"
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)
