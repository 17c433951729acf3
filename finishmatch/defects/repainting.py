"""The ways to mend a defect by fresh paint; every rule of the trade stands beside what it decides."""

from __future__ import annotations

from finishmatch.defects.breakthrough import film_left
from finishmatch.defects.case import Case
from finishmatch.defects.film import METAL
from finishmatch.defects.options import (
    METAL_AGAIN,
    PRIMER,
    RECOAT,
    STRIP,
    Failure,
    Judgement,
    Option,
    Risk,
    cleaning,
    curing,
    forbidden_by_form,
    option,
    recoating,
    risk_words,
    too_risky,
)

RECOATING_PRIMER = ("keep to the recoat window of the primer's data sheet; past it, sand for a key",)


def recoat(case: Case) -> Option:
    """Judge sanding the defect away and spraying the topcoat again over what stays."""
    bare, keep_um = case.bottom.bare, case.figures.keep_um["primer"]
    under = case.builds if bare is None else case.builds.part(0, bare + 1)
    left = film_left(under, (*case.depth, *case.cut(RECOAT)))
    risk = Risk.of(left, keep_um)
    forbidden = forbidden_by_form(case, RECOAT)
    if not forbidden and case.at_metal:
        forbidden = "it is open to the metal, which must be primed first"
    elif not forbidden and case.at_primer and case.seen.contamination:
        # wiping doesn't clean a primer that has soaked it up, and the next coat craters again («common practice»)
        forbidden = "the contamination lies on the primer itself, so the next coat would fail where this one did"
    coats = "colour and clear" if case.top == "clear" else "colour"
    why = (
        f"sanding to its bottom leaves about {left.mean_um:.0f} µm above the metal, of which {keep_um:g} µm of primer "
        f"must stay: {risk_words(risk, case)}"
    )
    at_primer = case.chance_at_primer if case.seen.contamination else 0.0
    sand = f"sand to the bottom of the defect and feather it, then spray {coats} again"
    judged = Judgement(
        of="film above the metal",
        keep_um=keep_um,
        forbidden=forbidden,
        risky=too_risky(case, at_primer, "that the contamination lies on the primer itself")
        or too_risky(case, risk.anywhere, "of breaking through the primer"),
        why=why,
        first=(*cleaning(case), *curing(case), sand, *recoating(case)),
        if_it_fails="the defect comes back or the primer is cut through: the panel goes back to primer",
        failures=(
            Failure(at_primer, "the contamination proves to lie on the primer", (PRIMER,)),
            Failure(risk.anywhere * (1 - at_primer), "the primer is cut through", (STRIP, PRIMER)),
        ),
        then_open=(PRIMER,),
    )
    return option(case, RECOAT, left, risk, judged)


def strip_spot(case: Case) -> Option:
    """Judge taking the spot alone down to a sound ground, and building it up again."""
    limits, seen = case.figures, case.seen
    left = film_left(case.builds.part(0, 0 if case.at_metal else case.film.primer_index + 1), case.steps(STRIP))
    forbidden = forbidden_by_form(case, STRIP)
    if not forbidden and seen.contamination and seen.kind.form != "hold":
        # it lies well beyond what shows («common practice»)
        forbidden = "contamination lies wider than what shows of it: the edge of the spot would fail"
    elif not forbidden and case.count > limits.strip_count:
        forbidden = f"{case.count} spots are too many to strip one by one (up to {limits.strip_count})"
    elif not forbidden and seen.size_mm is None:
        forbidden = "nothing says how wide it is"
    elif not forbidden and seen.size_mm is not None and seen.size_mm > limits.strip_size_mm:
        forbidden = f"{seen.size_mm:g} mm is too wide for a spot (up to {limits.strip_size_mm:g} mm)"
    ground = f"bright {METAL}" if case.at_metal else "sound primer"
    judged = Judgement(
        of="primer",
        keep_um=limits.keep_um["primer"],
        forbidden=forbidden,
        why=f"the spot is taken down to {ground} and feathered, and only the spot is painted and blended in",
        first=(
            *cleaning(case),
            *curing(case),
            f"strip the spot to {ground}, feather each layer by a hand's breadth, prime what is bare the same day",
            *recoating(case),
        ),
        if_it_fails="the blend shows or its edge lifts: the panel goes back to primer",
        failures=(),
        then_open=(PRIMER,),
    )
    return option(case, STRIP, left, Risk(0.0, 0.0), judged)


def back_to_primer(case: Case) -> Option:
    """Judge taking all paint off down to the primer, or to the metal where the defect is open to it."""
    left = film_left(case.builds.part(0, 0 if case.at_metal else case.film.primer_index + 1), case.steps(PRIMER))
    why = "everything above the primer comes off, and with it the defect and what caused it"
    strip = "strip to sound primer; where it is cut through, to bright metal, and prime that the same day"
    if case.at_metal:
        why = "it is open to the metal: that is cleaned bright and primed, and the panel is painted again"
        strip = "strip to sound primer, and the spot to bright metal; prime that the same day"
    judged = Judgement(
        of="primer",
        keep_um=case.figures.keep_um["primer"],
        why=why,
        first=(*cleaning(case), strip, *RECOATING_PRIMER),
        if_it_fails="the defect comes back: the primer itself is at fault, and the panel goes back to metal",
        failures=(),  # cutting through here costs a coat of primer, not the job
        then_open=(METAL_AGAIN,),
    )
    return option(case, PRIMER, left, Risk.of(left, case.figures.keep_um["primer"]), judged)
