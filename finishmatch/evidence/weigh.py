"""Evidence weighed: the colour or colours it holds, how surely each is known, and how near a match must come."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats, de00
from finishmatch.colour.off_white import OffWhite, off_white
from finishmatch.errors import InputError
from finishmatch.evidence.ageing import Shift, measured_effects, pairs_of, shifts_found, without_shifts
from finishmatch.evidence.certainty import certainty, with_one_more
from finishmatch.evidence.groups import part_colours
from finishmatch.evidence.kinds import UNTOLD, EvidenceCatalogue, Use
from finishmatch.evidence.model import Model, Piece, make_model, pieces_of
from finishmatch.evidence.pool import dersimonian_laird, paule_mandel, robust_mean
from finishmatch.evidence.spectrum import TargetSpectrum, combine_spectra
from finishmatch.evidence.tolerance import Tolerance, single_reading_var, tolerance_for
from finishmatch.readings.evidence_file import EvidenceSample

LONE_STRANGER = 1.5  # a lone sample less sure than the other lone one by this is set aside, not a colour of its own

STRIKING = 1.5  # ΔE00 of scatter that the kinds don't explain
WORTH_TELLING = 1.5  # times the tolerance: a target less sure than that is told of


@dataclass(frozen=True)
class WeighedSample:
    """A sample and what became of it.

    `lab` is as read, `lab_as_it_was` with the shifts of its kind taken off; `colour` counts from 1, 0 when set aside.
    """

    piece: Piece
    lab_as_it_was: Floats
    weight: float
    de00_to_target: float
    colour: int
    outlier: bool


@dataclass(frozen=True)
class OneMore:
    """What one more sample of a kind, well kept and read three times, would bring."""

    kind: str
    u95: float
    tolerance: float


@dataclass(frozen=True)
class Colour:
    """One colour the evidence holds.

    Parameters
    ----------
    number : int
        From 1, the surest first.
    names : tuple of str
        Its samples.
    lab, covariance : ndarray, shapes (3,) and (3, 3)
        CIELAB and its covariance.
    u95 : float
        ΔE00 that holds the truth 95 times in 100.
    between_de00 : float
        How far the samples lie from one another beyond their readings, shifts taken off: root mean square ΔE00.
    beyond_kinds_de00 : float
        The part of it that their kinds don't explain.
    estimates : dict of str to ndarray, shape (3,)
        CIELAB by other ways of taking the mean.
    """

    number: int
    names: tuple[str, ...]
    lab: Floats
    covariance: Floats
    u95: float
    between_de00: float
    beyond_kinds_de00: float
    tolerance: Tolerance
    spectrum: TargetSpectrum | None
    estimates: dict[str, Floats]
    shifts: tuple[Shift, ...]
    one_more: tuple[OneMore, ...]
    off_white: OffWhite | None


@dataclass(frozen=True)
class Weighed:
    """All of it; `picked` is the colour that is the target, or None while it must be said which."""

    colours: tuple[Colour, ...]
    samples: tuple[WeighedSample, ...]
    picked: Colour | None
    light: str
    observer: int
    warnings: tuple[str, ...]


def weigh_evidence(
    samples: Sequence[EvidenceSample],
    catalogue: EvidenceCatalogue,
    use: Use,
    light: str = "D65",
    observer: int = 10,
    *,
    ageing: bool = False,
    pick: int | None = None,
    forecast: bool = True,
) -> Weighed:
    """Weigh evidence of a colour.

    Parameters
    ----------
    samples : sequence of EvidenceSample
    catalogue : EvidenceCatalogue
        The kinds.
    use : Use
        What is painted.
    light, observer
        What CIELAB is taken under.
    ageing : bool
        Measure what age did from pairs, in place of the usual figures.
    pick : int or None
        Which colour is the target where there are several.
    forecast : bool
        Work out what one more sample would bring, which takes most of the time.

    Returns
    -------
    Weighed

    Raises
    ------
    InputError
        An unknown kind or answer, no pair with `ageing`, a colour picked that is not there.
    """
    pieces = pieces_of(samples, catalogue, light, observer)
    measured = measured_effects(pieces, catalogue) if ageing else frozenset()
    whole = make_model(pieces, catalogue, _middle(pieces), measured)
    mains, lone = _ranked(whole, part_colours(whole, catalogue.settings), catalogue)
    colours = []
    found: dict[int, tuple[float, Floats, int]] = {}
    for number, group in enumerate(mains, start=1):
        colour, weights, as_it_was = _colour(
            number, [pieces[i] for i in group], catalogue, use, measured, (light, observer), forecast
        )
        colours.append(colour)
        found |= {i: (float(w), lab, number) for i, w, lab in zip(group, weights, as_it_was, strict=True)}
    if pick is not None and not 1 <= pick <= len(colours):
        raise InputError("`pick`", f"there is no colour {pick}", f"the evidence holds {len(colours)}: give 1" + (
            f" to {len(colours)}" if len(colours) > 1 else ""))  # fmt: skip
    picked = colours[pick - 1] if pick is not None else colours[0] if len(colours) == 1 else None
    weighed = _weighed_samples(whole, picked or colours[0], found, lone)
    warnings = _warnings(pieces, colours, weighed, picked)
    return Weighed(tuple(colours), tuple(weighed), picked, light, observer, tuple(warnings))


def _weighed_samples(
    whole: Model, shown: Colour, found: Mapping[int, tuple[float, Floats, int]], lone: Collection[int]
) -> list[WeighedSample]:
    """Return what became of each sample; `found` holds weight, Lab as it was and colour of those in a colour."""
    weighed = []
    for i, piece in enumerate(whole.pieces):
        weight, as_it_was, number = found.get(i, (0.0, whole.lab(whole.y[i]), 0))
        counts = weight if number == shown.number else 0.0
        weighed.append(
            WeighedSample(piece, as_it_was, counts, float(de00(shown.lab, piece.lab)), number, outlier=i in lone)
        )
    return weighed


def _middle(pieces: Sequence[Piece]) -> Floats:
    """Return the Lab of the sample nearest to the others."""
    labs = np.array([piece.lab for piece in pieces])
    nearest: Floats = labs[np.argmin(de00(labs[:, None], labs[None]).sum(axis=1))]
    return nearest


def _ranked(
    whole: Model, groups: tuple[tuple[int, ...], ...], catalogue: EvidenceCatalogue
) -> tuple[list[tuple[int, ...]], set[int]]:
    """Return the groups that are colours, the surest first, and the samples that are set aside.

    A lone sample is set aside where others agree and are surer than it is; one that is surer itself (a good tin against
    two faded survivors) is a colour.
    """
    if len(groups) == 1:
        return [groups[0]], set()
    u95 = {}
    for group in groups:
        model = whole.only(group)
        u95[group] = certainty(model, paule_mandel(model.y, model.V, model.B).mean, catalogue.settings).u95
    # as sure to a tenth: the one with more samples, then as they stand in the file
    ranked = sorted(groups, key=lambda group: (round(u95[group], 1), -len(group), group))
    mains, lone = [ranked[0]], set()
    for group in ranked[1:]:
        weaker = len(ranked[0]) > 1 or u95[group] > LONE_STRANGER * u95[ranked[0]]
        if len(group) == 1 and weaker:
            lone |= set(group)
        else:
            mains.append(group)
    return mains, lone


def _colour(
    number: int,
    pieces: list[Piece],
    catalogue: EvidenceCatalogue,
    use: Use,
    measured: frozenset[str],
    viewing: tuple[str, int],
    forecast: bool,
) -> tuple[Colour, Floats, Floats]:
    """Return a colour, what each of its samples counts for, and their Lab with the shifts taken off."""
    light, observer = viewing
    centre = _middle(pieces)
    for _ in range(2):  # once more round what was found
        model = make_model(pieces, catalogue, centre, measured)
        found = paule_mandel(model.y, model.V, model.B)
        centre = model.lab(found.mean)
    sure = certainty(model, found.mean, catalogue.settings)
    tolerance = tolerance_for(sure.u95, tuple(pieces), catalogue, use)
    shifts = shifts_found(model, found, measured, catalogue)
    y = without_shifts(model, shifts)
    readings_only = np.kron(np.diag(model.readings), np.eye(3))
    apart = paule_mandel(y, np.asarray(readings_only, dtype=np.float64))
    # what only measures ageing may pull a little the other way: it counts as nothing
    weights = np.maximum(np.trace(found.weights, axis1=1, axis2=2) / 3, 0.0)
    weights = weights / weights.sum()
    lab, as_it_was = model.lab(found.mean), model.lab(y)
    spectra = [piece.sample.reading.reflectance for piece in pieces]
    names = tuple(piece.name for piece in pieces)
    estimates = {
        "paule_mandel": lab,
        "dersimonian_laird": model.lab(dersimonian_laird(model.y, model.V, model.B).mean),
        "robust": model.lab(robust_mean(model.y, model.V, model.own, model.B).mean),
        "by_readings_alone": model.lab(apart.mean),
    }
    one_more = []
    for kind in catalogue.kinds if forecast else ():
        if kind.name != UNTOLD:
            more = with_one_more(model, _well_kept(kind.name, pieces, catalogue), catalogue, measured, found)
            one_more.append(OneMore(kind.name, more.u95, tolerance_for(more.u95, tuple(pieces), catalogue, use).value))
    colour = Colour(
        number, names, lab, model.covariance_lab(sure.covariance), sure.u95,
        float(np.sqrt(3 * apart.tau2)), float(np.sqrt(3 * found.tau2)), tolerance,
        combine_spectra(names, spectra, as_it_was, weights, lab, light, observer),
        estimates, shifts, tuple(one_more), off_white(lab, observer) if light == "D65" else None,
    )  # fmt: skip
    return colour, weights, as_it_was


def _well_kept(kind_name: str, pieces: list[Piece], catalogue: EvidenceCatalogue) -> Piece:
    """Return one more sample of a kind, in the condition that hurts least, read three times."""
    kind = next(kind for kind in catalogue.kinds if kind.name == kind_name)
    effects = list(kind.effects)
    for condition in kind.conditions:
        case = next((case for case in ("yes", "after") if case in condition.effects), None)
        if case:
            effects.append(condition.effects[case])
    nearest = pieces[0]
    vehicle = "one more vehicle" if kind.other_vehicle else "this vehicle"
    return Piece(
        "one more", kind, nearest.sample, nearest.lab, tuple(effects), single_reading_var(tuple(pieces)) / 3,
        vehicle, "one more place",
    )  # fmt: skip


def _warnings(
    pieces: Sequence[Piece], colours: Sequence[Colour], weighed: Sequence[WeighedSample], picked: Colour | None
) -> list[str]:
    warnings = list(dict.fromkeys(text for piece in pieces for text in piece.sample.reading.warnings))
    if any(piece.kind.name == UNTOLD for piece in pieces):
        names = [piece.name for piece in pieces if piece.kind.name == UNTOLD]
        warnings.append(f"of {_list(names)} no kind is told: say what it is in the column kind, and it counts for more")
    geometries = sorted({piece.sample.reading.geometry for piece in pieces} - {""})
    if len(geometries) > 1:
        warnings.append(
            f"the samples were read in unlike geometries ({', '.join(geometries)}): gloss counts as colour here; read "
            "them all the same way"
        )
    for name, members in pairs_of(pieces).items():
        if len(members) == 1:
            warnings.append(f"the pair {name!r} has one sample only: {members[0].name}")
    if len(colours) > 1:
        warnings += _differences(pieces, colours)
    for item in weighed:
        if item.outlier:
            warnings.append(
                f"{item.piece.name} is set aside: ΔE00 {item.de00_to_target:.1f} from the target, more than its kind "
                "and its reading allow; look at it again (a repaint, another colour, a slip of the instrument)"
            )
    for colour in (picked,) if picked else colours:
        warnings += _doubts(colour, "the target" if picked else f"colour {colour.number}")
    return warnings


def _doubts(colour: Colour, which: str) -> list[str]:
    """Return what is doubtful or striking about a colour, which is named so."""
    warnings = []
    if colour.off_white is not None and colour.off_white.cream:
        warnings.append(
            f"{which} is a cream, not a white: yellowness {colour.off_white.yellowness:.0f} (ASTM E313; a clean "
            "white is below 5); mixed as a white it would look wrong on the whole vehicle"
        )
    if colour.u95 > WORTH_TELLING * colour.tolerance.value:
        warnings.append(
            f"{which} is known to ΔE00 {colour.u95:.2f} only: a match within {colour.tolerance.value:.2f} of it "
            f"may be {colour.u95 + colour.tolerance.value:.1f} from the colour as it was"
        )
    if colour.beyond_kinds_de00 > STRIKING:
        warnings.append(
            f"the samples of {which} differ by ΔE00 {colour.beyond_kinds_de00:.1f} more than their kinds explain: "
            "look at them again; one more sample would help most"
        )
    robust = float(de00(colour.lab, colour.estimates["robust"]))
    if robust > colour.u95 / 2:
        warnings.append(f"{which} hangs on its farthest sample: counted less, the target moves by ΔE00 {robust:.1f}")
    if len(colour.names) == 1:
        warnings.append(f"{which} rests on one sample: nothing else says that it is right")
    return warnings


def _differences(pieces: Sequence[Piece], colours: Sequence[Colour]) -> list[str]:
    """Return in what the samples of the colours differ, besides the colour."""
    by_name = {piece.name: piece for piece in pieces}
    warnings = [
        f"there are {len(colours)} colours here, ΔE00 {float(de00(colours[0].lab, colours[1].lab)):.1f} apart"
        + (" (the first two)" if len(colours) > 2 else "")
        + ": a repaint, another year, or age; they are not averaged"
    ]
    for what in ("year", "vehicle", "kind"):
        groups = [{_said(by_name[name], what) for name in colour.names} for colour in colours]
        if all(len(group) == 1 and "" not in group for group in groups) and len(set.union(*groups)) == len(groups):
            words = ", ".join(f"colour {c.number} {next(iter(g))}" for c, g in zip(colours, groups, strict=True))
            warnings.append(f"they differ in {what}: {words}")
    return warnings


def _said(piece: Piece, what: str) -> str:
    return piece.kind.name if what == "kind" else str(getattr(piece.sample, what))


def _list(names: Sequence[str]) -> str:
    return ", ".join(names[:4]) + (f" and {len(names) - 4} more" if len(names) > 4 else "")
