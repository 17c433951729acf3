"""What samples read from photographs are off by together: by one picture, and by one camera in the next picture too."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats
from finishmatch.colour.local_metric import WITHIN_95
from finishmatch.readings.evidence_file import EvidenceSample
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
    own = USUAL_OWN_U95 if sample.u95_own is None else sample.u95_own
    own = min(own, sample.u95) / WITHIN_95
    return Seen(
        max(reading_var - max(own**2, least_var), 0.0), frozenset(map(_key, sample.pictures)), _key(sample.camera)
    )


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
