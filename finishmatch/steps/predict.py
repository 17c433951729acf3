"""What a batch will look like and how certain that is, what if something is added, and the way back by adding only."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from finishmatch.colour import WAVELENGTHS_NM, Floats, de00, difference_words, reflectance_to_lab
from finishmatch.errors import InputError
from finishmatch.mix.expected_difference import within_95
from finishmatch.mix.foretold import BorneOut, borne_out
from finishmatch.mix.weighing import Scale
from finishmatch.optics import Tint, predicted_reflectance
from finishmatch.steps.bank import FittedBank, coloured_grams, film_of, keep_fit, open_bank
from finishmatch.steps.by_its_card import ByItsCard, OfJob, TinMeant, tin_meant
from finishmatch.steps.colour_inputs import conversions_document, light_list
from finishmatch.steps.correction_forms import letdowns_document
from finishmatch.steps.from_job import FromJob, from_job, given_or
from finishmatch.steps.hazards import cautions_for, harmful, hazards_document, parts_document
from finishmatch.steps.matching import BankLike, MatchRequest, Parts, PartsLike, parts_of, scale_of, typed_parts
from finishmatch.steps.progress import Progress, quiet
from finishmatch.steps.record import check_job, entries_in
from finishmatch.steps.shelf import shelf_today
from finishmatch.steps.todays_tins import TodaysTins, tins_asked_for
from finishmatch.steps.way_back import (
    Goal,
    HeldAgainst,
    Unsprayed,
    WayBackRequest,
    goal_of,
    held_against,
    predicted_colour,
)

# what a difference of so much is to the eye («common practice», as compare has it)
_TO_THE_EYE = (
    (0.5, "near enough for a panel beside a panel"),
    (1.0, "which passes where a moulding separates the two"),
    (2.0, "which the eye sees side by side: spray a card before the panel"),
    (np.inf, "which is seen at a glance: spray a card before anything else"),
)

PartsTyped = Mapping[str, float] | Iterable[tuple[str, float]]


@dataclass(frozen=True, kw_only=True)
class PredictRequest(WayBackRequest):
    """How a batch is looked at and what is done to it; see `WayBackRequest` for what it is held against.

    Parameters
    ----------
    ground, build_um : str, float or None
        A ground of the bank and the dry build in µm of the film over it; None: the film hides.
    scale_step, smallest : float, float or None
        Step of the scale it is poured on and smallest part worth weighing, grams; None is three steps.
    fresh_tins : bool
        New tins were opened: what earlier spray-outs showed is left out.
    add : grams by tint
        What is added to the batch.
    pour : grams by tint
        What parts of the batch really weigh, where they were meant to be something else.
    """

    ground: str | None = None
    build_um: float | None = None
    scale_step: float = 0.1
    smallest: float | None = None
    fresh_tins: bool = False
    add: PartsTyped = ()
    pour: PartsTyped = ()


@dataclass(frozen=True)
class Change:
    """What was done to a batch as it is seen: ΔE00 in each light, and words, of the batch now minus as written."""

    lights: dict[str, float]
    words: tuple[str, ...]


@dataclass(frozen=True)
class Predicted:
    """What a batch will look like.

    Parameters
    ----------
    reflectance : ndarray, shape (31,)
        On the house grid.
    lights : dict of str to ndarray, shape (3,)
        CIELAB in each light, the reference first.
    u95 : float
        The ΔE00 (D65, 10°) within which a card of that batch lies 95 times in 100, by bank, strength of the tins,
        weighing and reading, and by how far the record's cards came from what was foretold of them.
    by_record : BorneOut
        How many cards these are, and how many times as far off they came as was to be expected.
    parts : tuple of (tint, grams)
        As the batch now is.
    tins : TodaysTins
    fitted : FittedBank
    change : Change or None
        Where something was added, or poured otherwise than written.
    against : HeldAgainst or None
        How it differs from what it is held against, and the way back.
    by_card : ByItsCard or None
        The card of the tin that it goes by; None where it goes by the bank.
    taken : FromJob or None
        What wasn't given, and was taken from the job.
    warnings : tuple of str
    """

    reflectance: Floats
    lights: dict[str, Floats]
    u95: float
    by_record: BorneOut
    parts: Parts
    tins: TodaysTins
    fitted: FittedBank
    change: Change | None = None
    against: HeldAgainst | None = None
    by_card: ByItsCard | None = None
    taken: FromJob | None = None
    warnings: tuple[str, ...] = ()

    @property
    def lab(self) -> Floats:
        """CIELAB in the reference light, shape (3,)."""
        return next(iter(self.lights.values()))

    @property
    def grams(self) -> float:
        """What the batch weighs."""
        return sum(grams for _, grams in self.parts)

    @property
    def u95_words(self) -> str:
        """What `u95` is to the eye; of a tin whose card was only seen beside its standard, what it is of."""
        if self.by_card is not None and not self.by_card.tells_colour:
            return "as far as the bank tells its colour; its card tells nearer how it differs from its standard"
        return next(words for most, words in _TO_THE_EYE if self.u95 <= most)

    @property
    def reachable(self) -> bool:
        """Whether adding brings the batch back within the growth limit; so it is where it is held against nothing."""
        return self.against is None or self.against.way_back.reachable

    @property
    def harmful(self) -> tuple[Tint, ...]:
        """The tints to be added that hold what harms."""
        return harmful(self._to_be_added(), self.fitted.bank.tints)

    @property
    def cautions(self) -> tuple[str, ...]:
        """The cautions that bear on what is in the batch and on what is added."""
        poured = [tint for tint, grams in self.parts if grams > 0]
        return cautions_for([*poured, *self._to_be_added()], self.fitted.bank.tints)

    def _to_be_added(self) -> list[str]:
        return [] if self.against is None else [tint for tint, _ in self.against.way_back.additions]

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object of a prediction."""
        against = self.against
        return {
            "predicted": {"wavelengths": WAVELENGTHS_NM, "reflectance": self.reflectance, "lab": self.lab},
            "u95": self.u95,
            "u95_words": self.u95_words,
            "u95_by_record": {"cards": self.by_record.cards, "times": self.by_record.times},
            "lights": self.lights,
            "by_card": None if self.by_card is None else self.by_card.as_dict(),
            "parts": parts_document(self.parts),
            "grams": self.grams,
            "change": None if self.change is None else {"lights": self.change.lights, "words": list(self.change.words)},
            "against": None if against is None else against.as_dict(),
            "way_back": None if against is None else _way_back_document(against),
            "hazards": hazards_document(self.harmful),
            "warnings": list(self.warnings),
            "cautions": list(self.cautions),
            **self.tins.as_dict(),
            **({} if self.taken is None else {"from_job": self.taken.as_dict()}),
            "converted": conversions_document(() if against is None else against.conversions),
        }


def _way_back_document(against: HeldAgainst) -> dict[str, Any]:
    """Return the way back in its JSON form, with how it is poured."""
    found = against.way_back
    return {**against.way_back_as_dict(), "letdowns": letdowns_document(found.letdowns), "fills_to": found.fills_to}


def predict(
    bank: BankLike | None,
    batch: PartsLike | None,
    request: PredictRequest = PredictRequest(),
    *,
    job: str | None = None,
    progress: Progress = quiet,
) -> Predicted:
    """Return what a batch will look like, by the strengths of today's tins that the record knows.

    Parameters
    ----------
    bank, batch : BankLike or None, PartsLike or None
        None each where it is the job's.
    request : PredictRequest
    job : str or None
        Whose spray-outs show the strength of the tins, and whose target the batch is held against where no other is
        given; nothing is recorded in it.
    progress : Progress

    Raises
    ------
    InputError
        A tint that the bank doesn't know well enough, a batch without colour, a target that can't be used.
    """
    scale = scale_of(request.scale_step, request.smallest)
    check_job(job)
    taken = from_job("predict", job, {"bank": bank, "batch": batch})
    goal = goal_of(request, job)
    fitted = open_bank(given_or(bank, taken and taken.bank), progress)
    known = fitted.bank.densities
    written, _ = parts_of(given_or(batch, taken and taken.parts), known)
    parts = _as_it_is(written, request, known)
    before, in_tin = _tin_meant(job, taken, parts, fitted, goal, request), None if taken is None else taken.in_tin
    tins = tins_asked_for(job, fitted, request.fresh_tins, before.doubted, in_tin)
    fitted = tins.of_today(fitted)
    film, by = film_of(fitted, request.ground, request.build_um).optics, before.by
    tin = by.tin if by is not None and by.tells_colour else None
    unsprayed = Unsprayed(fitted, film, tins.prior, parts, shelf_today(fitted.bank), before.without, tin)
    reflectance, lights, u95 = _seen(unsprayed, scale, request, None if tin is None else by)
    record = borne_out(tins.foretold, before.sprayed, tin is not None)
    against = None
    if goal.standard is not None or request.meant is not None or request.pour:
        with progress("looking for the way back"):
            against = _held_against(unsprayed, by, goal, written, scale, request)
    said = () if against is None else (*(() if against.within else before.left), *against.warnings)
    return Predicted(
        reflectance=reflectance,
        lights=lights,
        u95=u95 * record.times,
        by_record=record,
        parts=parts,
        tins=tins,
        fitted=fitted,
        change=_change(unsprayed, written, request) if parts != written else None,
        against=against,
        by_card=by,
        taken=taken,
        warnings=tuple(dict.fromkeys((*before.read, *said, *tins.warnings, *fitted.fit.warnings, *keep_fit(fitted)))),
    )


def _tin_meant(
    job: str | None, taken: FromJob | None, parts: Parts, fitted: FittedBank, goal: Goal, request: PredictRequest
) -> TinMeant:
    """Return what the record knows of the tin that is meant; nothing of a batch that was typed."""
    if job is None or taken is None or taken.batch is None:
        return TinMeant()
    of = OfJob(job, taken, entries_in(job), parts)
    wishes = MatchRequest(**{one.name: getattr(request, one.name) for one in fields(MatchRequest)})
    other_film = request.ground is not None or request.build_um is not None
    return tin_meant(of, fitted, wishes, goal, asked=request.target is not None, other_film=other_film)


def _seen(
    batch: Unsprayed, scale: Scale, request: PredictRequest, by: ByItsCard | None
) -> tuple[Floats, dict[str, Floats], float]:
    """Return the reflectance of a batch, shape (31,), its CIELAB in each light, and its u95 with one reading's noise.

    `by` is its card, where that tells its colour.
    """
    lights, observer = light_list(request.lights), request.observer
    if by is not None:
        card = by.next_card
        return card.reflectance, {light: card.lab_in(light, observer) for light in lights}, by.u95
    coloured = coloured_grams(batch.parts, batch.fitted)
    own, covariance = batch.film.chosen(list(coloured)), None
    if batch.prior is not None:
        own, covariance = batch.prior.strengthened(own), batch.prior.chosen(own.names).log_covariance
    grams = np.array(list(coloured.values()))
    reflectance = predicted_reflectance(own, grams)
    labs = {light: reflectance_to_lab(reflectance, light, observer) for light in lights}
    return reflectance, labs, within_95(own, grams, scale.step_g, covariance)


def _held_against(
    batch: Unsprayed, by: ByItsCard | None, goal: Goal, written: Parts, scale: Scale, request: PredictRequest
) -> HeldAgainst:
    """Return how a batch differs from what it is held against, by its card where there is one."""
    if goal.standard is not None and by is not None:
        return by.held_against_target(request)
    meant = written if request.meant is None else parts_of(request.meant, batch.fitted.bank.densities)[0]
    return held_against(batch, goal, meant, scale, request)


def _change(batch: Unsprayed, written: Parts, request: PredictRequest) -> Change:
    """Return what was done to a batch as it is seen: the batch as it now is against the batch as written."""
    before, after = predicted_colour(replace(batch, parts=written)), predicted_colour(batch)
    lights = light_list(request.lights)
    pairs = [
        (reflectance_to_lab(before, light, request.observer), reflectance_to_lab(after, light, request.observer))
        for light in lights
    ]
    differences = {light: float(de00(was, now)) for light, (was, now) in zip(lights, pairs, strict=True)}
    return Change(differences, tuple(difference_words(*pairs[0])))


def _as_it_is(written: Parts, request: PredictRequest, known: Collection[str]) -> Parts:
    """Return a batch with what parts of it really weigh, and what is added to it."""
    pours = typed_parts(request.pour, known, "`pour`")
    for tint, _ in pours:
        times = [name for name, _ in written].count(tint)
        if times != 1:
            holds = ", ".join(dict.fromkeys(name for name, _ in written))
            what = f"the batch holds no {tint}" if times == 0 else f"the batch holds {tint} {times} times"
            mend = f"it holds {holds}; with `add` another is added" if times == 0 else "write its whole weight once"
            raise InputError("`pour`", what, mend)
    really = dict(pours)
    if len(really) < len(pours):
        raise InputError("`pour`", "names a tint twice", "give what each part weighs in all")
    parts = tuple((tint, really.get(tint, grams)) for tint, grams in written)
    return parts_of((*parts, *typed_parts(request.add, known, "`add`")), known)[0]
