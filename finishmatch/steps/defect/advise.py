"""Advice on a defect: what it is, how deep it may be cut, what to do next; and what was decided."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from finishmatch.cautions import REWORK
from finishmatch.defects import (
    Advice,
    Evidence,
    FilmLayer,
    Option,
    ReworkFigures,
    SeenDefect,
    Timing,
    find_checks,
    find_kind,
    find_option,
    find_signs,
    find_step,
    make_film,
    percent,
)
from finishmatch.defects import advise as judge
from finishmatch.errors import InputError
from finishmatch.ledger import DecisionEntry
from finishmatch.steps.defect.calibrate import shop_rework_figures
from finishmatch.steps.defect.log import Place, check_spot
from finishmatch.steps.defect.logged import DefectCase, FoundSince, add_found, defect_of_job
from finishmatch.steps.record import record_to

MOST = 100_000.0  # days, or money for an hour


@dataclass(frozen=True)
class AdviseRequest:
    """What advice is wanted on.

    A defect of a job is named by `defect`, its number (None is the one without a decision); else it is described by
    `kind`, `layers`, `depth_um`, `reached`, `count`, `size_mm`, `at` and `over`, as in `LogRequest`. Of a defect of a
    job, what was missing of these is added to its entry. Signs, checks and the rest may be given in both cases.

    Parameters
    ----------
    layers : sequence of FilmLayer
        The film around it, from the metal up.
    depth_error_um : float or None
        The ± of the depth, 95 times in 100, µm.
    rim : bool
        Whether it has a raised rim around a bare middle.
    steps : sequence of str or None
        The steps of rubbing and polishing, once the bottom is reached; those of the figures when None.
    keep_um : float or None
        Topcoat that must stay, µm.
    max_risk : float or None
        The greatest chance of breaking through to advise, 0 to 1.
    age_days, cure_days, window_days : float or None
        The age of the finish, when it has cured, how long it may be recoated as it is.
    hour_cost : float or None
        What an hour of the shop costs.
    choose, why : str or None, str
        The option to record as the decision, and the reason.
    """

    kind: str | None = None
    defect: int | None = None
    layers: Sequence[FilmLayer] = ()
    depth_um: float | None = None
    depth_error_um: float | None = None
    reached: str | None = None
    count: int | None = None
    size_mm: float | None = None
    rim: bool = False
    at: Place | None = None
    over: Place | None = None
    steps: Sequence[str] | None = None
    signs: Sequence[str] = ()
    checks_done: Sequence[str] = ()
    keep_um: float | None = None
    max_risk: float | None = None
    age_days: float | None = None
    cure_days: float | None = None
    window_days: float | None = None
    hour_cost: float | None = None
    choose: str | None = None
    why: str = ""


@dataclass(frozen=True)
class Advised:
    """The advice on a defect in its film; the option chosen and the number of the decision, where one was recorded."""

    advice: Advice
    case: DefectCase
    chosen: str | None = None
    decision: int | None = None

    @property
    def against(self) -> str:
        """Why the option chosen is advised against, or ""."""
        return next((option.ruled_out for option in self.advice.options if option.name == self.chosen), "")

    def as_dict(self) -> dict[str, Any]:
        """Return its JSON form."""
        document = _advice_document(self.advice)
        if self.decision is not None:
            document["decision"] = self.decision
        if self.case.number is not None:
            document |= {"job": self.case.job, "defect": self.case.number}
        return {**document, "cautions": list(REWORK)}


def advise(request: AdviseRequest, *, job: str | None = None) -> Advised:
    """Decide how a defect is reworked, by the shop's own figures where it keeps any.

    Parameters
    ----------
    request : AdviseRequest
    job : str or None
        The job the defect and the film of its panel are taken from, and in which new signs and checks, and the
        decision, are recorded.

    Raises
    ------
    InputError
        A defect that can't be as described, no such job or defect, a film that has not been read; nothing is recorded.
    """
    option = _option_chosen(request, job)
    check_spot(request.at, request.over)
    evidence = Evidence(find_signs(request.signs), find_checks(request.checks_done))
    figures = _stepped(shop_rework_figures(), request.steps)
    figures, timing = _costed(figures, request)
    found = FoundSince(
        evidence=evidence,
        depth_um=request.depth_um,
        layer_reached=request.reached,
        count=request.count,
        size_mm=request.size_mm,
        at_mm=request.at,
        over_mm=request.over,
        layers=tuple(request.layers),
    )
    case = _described(request, evidence) if job is None else _of_job(request, found, job)
    if timing.age_days is None:
        timing = replace(timing, age_days=case.age_days)
    advice = judge(case.seen, case.film, figures, keep_um=request.keep_um, max_risk=request.max_risk, timing=timing)
    if case.broken_through:
        note = f"the work on it broke through, so it is taken as open to the {case.seen.layer_reached}"
        advice = replace(advice, warnings=(*advice.warnings, note))
    advice = replace(advice, warnings=(*advice.warnings, *case.film_doubts))
    if job is not None and case.number is not None and found != FoundSince():
        case = replace(case, number=add_found(job, case.number, found))
    decision = None
    if option is not None:
        options = [option_document(item) for item in advice.options]
        entry = DecisionEntry(defect=case.number, options=options, chosen=option, why=request.why.strip())
        (decision,) = record_to(job, [entry])
    return Advised(advice, case, option, decision)


def _option_chosen(request: AdviseRequest, job: str | None) -> str | None:
    """Return the full name of the option chosen (None when none is); it needs a reason and a job."""
    if request.choose is None:
        if request.why.strip():
            raise InputError("`why`", "a reason is given, but no option is chosen", "choose one: `choose` OPTION")
        return None
    name = find_option(request.choose)
    if job is None:
        raise InputError("`choose`", "a decision is recorded in a job", "name it, as in `job` J1")
    if not request.why.strip():
        raise InputError("`choose`", "no reason is given", "add one: `why` TEXT")
    return name


def _described(request: AdviseRequest, evidence: Evidence) -> DefectCase:
    """Return a defect as it was described, in the film that was given."""
    if request.defect is not None:
        raise InputError("`defect`", "a number needs its job", "name it too: `job` JOB")
    if request.kind is None:
        raise InputError("defect advise", "no defect is named", "type its kind, or take one from a job: `job` JOB")
    seen = SeenDefect(
        kind=find_kind(request.kind),
        count=request.count,
        size_mm=request.size_mm,
        depth_um=request.depth_um,
        pm_um=request.depth_error_um,
        layer_reached=request.reached,
        rim=request.rim,
        evidence=evidence,
        at_mm=request.at,
        over_mm=request.over,
    )
    if not request.layers:
        raise InputError("`layers`", "there are no build readings", "type them, as in `layers` primer=62,58,60")
    return DefectCase(seen, make_film(request.layers))


def _of_job(request: AdviseRequest, found: FoundSince, job: str) -> DefectCase:
    """Return a defect of a job, with what was found of it since."""
    if request.kind is not None:
        raise InputError("`kind`", "stands in the job already", "leave it out, or log the defect anew")
    return defect_of_job(job, request.defect, request.depth_error_um, request.rim, found)


def _stepped(figures: ReworkFigures, steps: Sequence[str] | None) -> ReworkFigures:
    """Return figures whose rubbing goes by some steps; None leaves it as it is."""
    if steps is None:
        return figures
    names = tuple(find_step(name) for name in steps)
    if not names:
        raise InputError("`steps`", "names no step", "write it as P1500,P2000,compound,polish")
    polishing = tuple(name for name in names if figures.steps[name].kind == "polish")
    return replace(figures, sequence={**figures.sequence, "rub": names, "level": names, "polish": polishing or names})


def _costed(figures: ReworkFigures, request: AdviseRequest) -> tuple[ReworkFigures, Timing]:
    """Return the figures at the shop's hourly cost, and the age, cure and recoat window of the finish."""
    for name in ("age_days", "cure_days", "window_days", "hour_cost"):
        value = getattr(request, name)
        if value is not None and not 0 <= value <= MOST:
            raise InputError(f"`{name}`", f"{value:g} is not possible", f"it lies between 0 and {MOST:g}")
    timing = Timing(
        request.age_days,
        figures.cure_days if request.cure_days is None else request.cure_days,
        figures.window_days if request.window_days is None else request.window_days,
    )
    hour_cost = figures.hour_cost if request.hour_cost is None else request.hour_cost
    return replace(figures, hour_cost=hour_cost), timing


def _advice_document(advice: Advice) -> dict[str, Any]:
    return {
        "kind": advice.seen.kind.name,
        "breakthrough": advice.breakthrough,
        "anywhere": advice.anywhere,
        "options": [option_document(option) for option in advice.options],
        "advice": advice.chosen.name,
        "reason": advice.reason,
        "then": advice.then,
        "causes": list(advice.causes),
        "ranked": [
            {
                "cause": ranked.cause.name,
                "chance": ranked.chance,
                "for": list(ranked.speaks_for),
                "against": list(ranked.speaks_against),
                "mend": ranked.cause.mend,
            }
            for ranked in advice.diagnosis.causes
        ],
        "checks": [
            {
                "check": worth.check.name,
                "bits": worth.bits,
                "minutes": worth.check.minutes,
                "cost": worth.check.cost,
                "do": worth.check.do,
            }
            for worth in advice.diagnosis.checks
        ],
        "contamination_suspected": advice.seen.contamination,
        "readings_needed": list(advice.readings_needed),
        "more_readings": advice.more_readings,
        "warnings": list(advice.warnings),
    }


def option_document(option: Option) -> dict[str, Any]:
    """Return the JSON form of one option, which is also how a decision keeps it."""
    left, record = option.left, option.record
    return {
        "option": option.name,
        "chance_of_success": option.chance_of_success,
        "breakthrough": option.breakthrough,
        "anywhere": option.anywhere,
        "film_left_of": left.of,
        "keep_um": left.keep_um,
        "film_left_um": {"mean": left.mean_um, "low": left.low_um, "high": left.high_um},
        "ruled_out": option.ruled_out,
        "hours": option.hours,
        "material": option.material,
        "wait_days": option.wait_days,
        "cost": option.cost,
        "expected_cost": option.expected_cost,
        "record": {"right": record.right, "failed": record.failed, "broke_through": record.broke_through},
        "chain": [
            {"chance": b.chance, "if": b.what, "then": b.then, "expected_cost": b.expected_cost} for b in option.chain
        ],
        "why": option.why,
        "first": list(option.first),
        "if_it_fails": option.if_it_fails,
    }


def chance_told(chance: float) -> str:
    """Return a chance in words that don't claim more than it says."""
    return percent(chance)
