"""Evidence weighed: the colour or colours it holds, how surely each is known, and how near a match must come."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from finishmatch.colour import Floats, de00, difference_words
from finishmatch.colour.off_white import off_white
from finishmatch.errors import InputError
from finishmatch.evidence.ageing import measured_effects, shifts_found, without_shifts
from finishmatch.evidence.certainty import certainty, with_one_more
from finishmatch.evidence.groups import separate_colours
from finishmatch.evidence.kinds import NO_KIND, EvidenceCatalogue, Use
from finishmatch.evidence.model import Model, Piece, make_model, pieces_of
from finishmatch.evidence.pictures import ALONE
from finishmatch.evidence.pool import dersimonian_laird, paule_mandel, robust_mean
from finishmatch.evidence.spectrum import combine_spectra
from finishmatch.evidence.tolerance import single_reading_var, tolerance_for
from finishmatch.evidence.weighed import Colour, OneMore, Weighed, WeighedSample, warnings_of
from finishmatch.readings.evidence_file import EvidenceSample

LONE_STRANGER = 1.5  # a lone sample less sure than the other lone one by this is set aside, not a colour of its own


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
    mains, lone = _ranked(whole, separate_colours(whole, catalogue.settings), catalogue)
    colours = []
    found: dict[int, _InColour] = {}
    for number, group in enumerate(mains, start=1):
        colour, weights, as_it_was, pulls = _colour(
            number, [pieces[i] for i in group], catalogue, use, measured, (light, observer), forecast
        )
        colours.append(colour)
        found |= {
            i: _InColour(float(weight), lab, number, pull)
            for i, weight, lab, pull in zip(group, weights, as_it_was, pulls, strict=True)
        }
    if pick is not None and not 1 <= pick <= len(colours):
        raise InputError("`pick`", f"there is no colour {pick}", f"the evidence holds {len(colours)}: give 1" + (
            f" to {len(colours)}" if len(colours) > 1 else ""))  # fmt: skip
    picked = colours[pick - 1] if pick is not None else colours[0] if len(colours) == 1 else None
    weighed = _weighed_samples(whole, picked or colours[0], found, lone)
    warnings = warnings_of(pieces, colours, weighed, picked)
    return Weighed(tuple(colours), tuple(weighed), picked, light, observer, tuple(warnings))


Pull = tuple[float | None, tuple[str, ...]]


@dataclass(frozen=True)
class _InColour:
    """A sample in a colour: what it counts for, its Lab as it was, the colour, and what it moves that by."""

    weight: float
    as_it_was: Floats
    number: int
    pull: Pull = (None, ())


def _weighed_samples(
    whole: Model, shown: Colour, found: Mapping[int, _InColour], lone: Collection[int]
) -> list[WeighedSample]:
    """Return what became of each sample; `found` holds those that are in a colour."""
    weighed = []
    for i, piece in enumerate(whole.pieces):
        here = found.get(i, _InColour(0.0, whole.lab(whole.y[i]), 0))
        counts = here.weight if here.number == shown.number else 0.0
        off = float(de00(shown.lab, piece.lab))
        weighed.append(WeighedSample(piece, here.as_it_was, counts, off, here.number, i in lone, *here.pull))
    return weighed


def _pulls(model: Model, lab: Floats) -> list[Pull]:
    """Return what each sample moves a colour by, and which way, against the colour that the others alone give."""
    n = len(model.pieces)
    if n == 1:
        return [(None, ())]
    pulls: list[Pull] = []
    for i in range(n):
        rest = model.only([j for j in range(n) if j != i])
        without = rest.lab(paule_mandel(rest.y, rest.V, rest.B).mean)
        pulls.append((float(de00(without, lab)), tuple(difference_words(without, lab))))
    return pulls


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
) -> tuple[Colour, Floats, Floats, list[Pull]]:
    """Return a colour, what each of its samples counts for, their Lab with the shifts taken off, and their pulls."""
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
    readings_only = np.kron(model.readings, np.eye(3))
    by_readings = paule_mandel(y, np.asarray(readings_only, dtype=np.float64))
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
        "by_readings_alone": model.lab(by_readings.mean),
    }
    one_more = []
    for kind in catalogue.kinds if forecast else ():
        if kind.name != NO_KIND:
            more = with_one_more(model, _well_kept(kind.name, pieces, catalogue), catalogue, measured, found)
            one_more.append(OneMore(kind.name, more.u95, tolerance_for(more.u95, tuple(pieces), catalogue, use).value))
    colour = Colour(
        number, names, lab, model.covariance_lab(sure.covariance), sure.u95,
        float(np.sqrt(3 * by_readings.tau2)), float(np.sqrt(3 * found.tau2)), tolerance,
        combine_spectra(names, spectra, as_it_was, weights, lab, light, observer),
        estimates, shifts, tuple(one_more), off_white(lab, observer) if light == "D65" else None,
    )  # fmt: skip
    return colour, weights, as_it_was, _pulls(model, lab)


def _well_kept(kind_name: str, pieces: list[Piece], catalogue: EvidenceCatalogue) -> Piece:
    """Return one more sample of a kind, in the condition that hurts least, read three times.

    Where all are of photographs it is of one more, by the same camera.
    """
    kind = next(kind for kind in catalogue.kinds if kind.name == kind_name)
    effects = list(kind.effects)
    for condition in kind.conditions:
        case = next((case for case in ("yes", "after") if case in condition.effects), None)
        if case:
            effects.append(condition.effects[case])
    nearest = pieces[0]
    vehicle = "one more vehicle" if kind.other_vehicle else "this vehicle"
    read = tuple(piece for piece in pieces if not piece.seen.shared_var)
    reading_var, seen = nearest.reading_var, replace(nearest.seen, pictures=frozenset({"one more photograph"}))
    if read:
        reading_var, seen = single_reading_var(read) / 3, ALONE
    return Piece(
        "one more", kind, nearest.sample, nearest.lab, tuple(effects), reading_var, vehicle, "one more place", seen
    )  # fmt: skip
