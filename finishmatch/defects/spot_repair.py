"""The ways to mend a defect that save the paint there is; every rule of the trade stands beside what it decides."""

from __future__ import annotations

import math

from finishmatch.defects.breakthrough import FilmLeft, film_left
from finishmatch.defects.case import Case, layers_um, mean_um
from finishmatch.defects.film import METAL
from finishmatch.defects.options import (
    LEAVE,
    LEVEL,
    MEASURE,
    POLISH,
    PRIMER,
    RECOAT,
    RUB,
    STRIP,
    WIPE_BEFORE_SANDING,
    Failure,
    Judgement,
    Option,
    Risk,
    cleaning,
    curing,
    forbidden_by_form,
    option,
    percent,
    risk_words,
    too_risky,
)
from finishmatch.defects.rating import size_rating
from finishmatch.defects.spread import Cut

AFTER_CUTTING = (RECOAT, STRIP, PRIMER)
AFTER_POLISH = (RUB, LEVEL, RECOAT, STRIP, PRIMER)
AFTER_LEAVING = (POLISH, *AFTER_POLISH)


def leave(case: Case) -> Option:
    """Judge leaving it as it is, if the owner agrees."""
    left = film_left(case.topcoat, case.depth) if case.bottom.depth else film_left(case.builds.part(0, 0), ())
    forbidden = forbidden_by_form(case, LEAVE)
    if not forbidden and case.at_primer:
        forbidden = f"it is open to the {METAL if case.at_metal else 'primer'}: damp gets in"
    elif not forbidden:
        forbidden = _too_plain_to_leave(case)
    judged = Judgement(
        of=case.top,
        keep_um=0.0,
        forbidden=forbidden,
        why="it is small and few, and no way to mend it is without risk",
        first=("show it to the owner in daylight, and write down that it stays",),
        if_it_fails="the owner is not content, and it is mended after all",
        failures=(),
        then_open=AFTER_LEAVING,
        when_wrong="the owner is not content",
    )
    return option(case, LEAVE, left, Risk(0.0, 0.0), judged)


def _too_plain_to_leave(case: Case) -> str:
    """Return why a defect can't be left, by the ratings of ISO 4628-1, or ""."""
    seen, limits = case.seen, case.figures
    if not seen.kind.by_size:
        if seen.rating is None:
            return "it is not rated, so nothing says that it is slight enough to leave"
        strong = seen.rating.degree > limits.leave_intensity
        return f"its intensity of {seen.rating.degree} is too plain to leave" if strong else ""
    size = seen.rating.size if seen.rating is not None and seen.rating.size is not None else None
    if size is None and seen.size_mm is not None:
        size = size_rating(seen.size_mm)
    few = seen.rating.degree <= limits.leave_quantity if seen.rating is not None else None
    if few is None and seen.count is not None:
        few = seen.count <= limits.leave_quantity
    if size is None or few is None:
        return "nothing says that it is small and few enough to leave"
    if size > limits.leave_size:
        return f"size class {size} of ISO 4628-1 is too plain to leave"
    return "" if few else "there are too many to leave"


def polish(case: Case) -> Option:
    """Judge polishing alone."""
    steps, passes = case.steps(POLISH), case.figures.polish_passes
    left = film_left(case.topcoat if case.bottom.depth else case.builds.part(0, 0), steps)
    risk = Risk.of(left, case.keep_um)
    reaches = _polish_reaches(case, steps, passes)
    forbidden = forbidden_by_form(case, POLISH)
    if not forbidden and case.at_primer:
        forbidden = f"it is open to the {METAL if case.at_metal else 'primer'}: polishing can't mend that"
    elif not forbidden and case.seen.kind.wavy:
        forbidden = "a polishing pad follows its waves: only sanding with a block levels them"
    elif not forbidden and reaches < case.figures.polish_least:
        takes = f"{passes * mean_um(steps):.0f} µm"
        forbidden = f"it lies deeper than the {takes} that polishing takes, gone through {passes} times"
    judged = Judgement(
        of=case.top,
        keep_um=case.keep_um,
        forbidden=forbidden,
        risky=too_risky(case, risk.anywhere, f"of breaking through the {case.top}"),
        why=f"polishing reaches its bottom with a chance of {percent(reaches)}, and takes {mean_um(steps):.0f} µm",
        first=(*((WIPE_BEFORE_SANDING,) if case.seen.contamination else ()), *curing(case)),
        if_it_fails="it is still seen: it is rubbed out",
        failures=_film_failures(case, left, risk.anywhere),
        then_open=AFTER_POLISH,
        comes_right=reaches,
    )
    return option(case, POLISH, left, risk, judged)


def _polish_reaches(case: Case, steps: tuple[Cut, ...], passes: int) -> float:
    """Return the chance that so many passes of polishing take more than the defect is deep."""
    if case.bottom.depth is None:
        return 0.0
    depth = case.bottom.depth
    spread = math.hypot(*(passes * step.sd_um for step in steps))
    spread = math.hypot(
        spread, depth.sd_um if isinstance(depth, Cut) else (depth.high_um - depth.low_um) / math.sqrt(12)
    )
    return 0.5 * math.erfc((depth.mean_um - passes * mean_um(steps)) / (spread * math.sqrt(2)))


def _film_failures(case: Case, left: FilmLeft, too_little: float, of: float = 1.0) -> tuple[Failure, ...]:
    """Return how the film may spoil a cut: broken through to what lies below, or too little of it left."""
    through = min(left.chance_anywhere(0.0), too_little)
    below = case.film.layers[case.film.top_start - 1].name if case.film.top_start else METAL
    at_ground = case.film.top_start - 1 <= case.film.primer_index
    # rubbed through to the primer it is never polished any more: it is painted again («common practice»)
    opened = _after_primer(case) if at_ground else (RECOAT, PRIMER)
    return (
        Failure(of * through, f"it breaks through to the {below}", opened),
        Failure(of * (too_little - through), f"too little {case.top} is left", AFTER_CUTTING),
    )


def _after_primer(case: Case) -> tuple[str, ...]:
    """Return what is open once the primer lies bare: never a polish; and where it is contaminated, never a recoat."""
    return (PRIMER,) if case.seen.contamination or case.film.primer_index < 0 else (RECOAT, STRIP, PRIMER)


def rub_out(case: Case) -> Option:
    """Judge cutting the defect out of the topcoat and polishing what is left."""
    through = case.bottom.depth is None  # the whole topcoat: nothing is left of it at the bottom
    cut = case.cut(RUB)
    left = film_left(case.builds.part(0, 0) if through else case.topcoat, (*case.depth, *cut))
    risk = Risk(1.0, 1.0) if through else Risk.of(left, case.keep_um)
    forbidden = forbidden_by_form(case, RUB)
    if not forbidden and case.at_primer:
        # a crater that reaches primer or substrate can't be polished out («common practice»)
        forbidden = f"it is open to the {METAL if case.at_metal else 'primer'}: polishing can't mend that"
    elif not forbidden and through:
        forbidden = f"it is open to the layer under the {case.top}: polishing can't mend that"
    why = f"it goes through all of the {case.top}, so a cut to its bottom leaves none"
    if not through:
        why = (
            f"it cuts {mean_um((*case.depth, *cut)):.0f} µm out of {layers_um(case, case.film.top_start):.0f} µm "
            f"of {case.top}, of which {case.keep_um:g} µm must stay"
        )
    fails = "it breaks through to the primer: polishing is over, and the panel starts again from primer"
    if case.top == "clear":
        fails = "it breaks through the clear: colour and clear must be sprayed again, or the panel starts from primer"
    judged = Judgement(
        of=case.top,
        keep_um=case.keep_um,
        forbidden=forbidden,
        risky=too_risky(case, risk.anywhere, f"of breaking through the {case.top}"),
        why=f"{why}: {risk_words(risk, case)}",
        first=(*((WIPE_BEFORE_SANDING,) if case.seen.contamination else ()), *curing(case), MEASURE),
        if_it_fails=fails,
        failures=_film_failures(case, left, risk.anywhere),
        then_open=AFTER_CUTTING,
    )
    return option(case, RUB, left, risk, judged)


def level(case: Case) -> Option:
    """Judge filling the pit with drops of the topcoat, cutting the fill flat and polishing."""
    limits, cut = case.figures, case.cut(LEVEL)
    left = film_left(case.topcoat, cut)
    risk, at_primer = Risk.of(left, case.keep_um), case.chance_at_primer
    forbidden = forbidden_by_form(case, LEVEL)
    if not forbidden and case.at_primer:
        forbidden = f"it is open to the {METAL if case.at_metal else 'primer'}: drops of {case.top} don't mend that"
    elif not forbidden and case.count > limits.level_count:
        forbidden = f"{case.count} pits are too many to fill one by one (up to {limits.level_count})"
    elif not forbidden and case.seen.size_mm is not None and case.seen.size_mm > limits.level_size_mm:
        forbidden = f"a fill of {case.seen.size_mm:g} mm shows (up to {limits.level_size_mm:g} mm)"
    risky = too_risky(case, at_primer, "that it is open to the primer") or too_risky(
        case, risk.anywhere, f"of breaking through the {case.top}"
    )
    why = (
        f"the pit is filled with {case.top}, so flattening cuts only {mean_um(cut):.0f} µm out of "
        f"{layers_um(case, case.film.top_start):.0f} µm, of which {case.keep_um:g} µm must stay: "
        f"{risk_words(risk, case)}"
    )
    touch_in = ("touch the colour in first",) if case.top == "clear" and case.bottom.bare is not None else ()
    fill = f"fill in drops of the same {case.top}, flashed off between, proud of the surface"
    judged = Judgement(
        of=case.top,
        keep_um=case.keep_um,
        forbidden=forbidden,
        risky=risky,
        why=why,
        first=(*cleaning(case), *touch_in, fill, *curing(case)),
        if_it_fails="the fill draws back, sinks or shows, or the cut breaks through: it is sanded and recoated",
        failures=(
            Failure(at_primer, "it proves open to the primer", _after_primer(case)),
            *_film_failures(case, left, risk.anywhere, 1 - at_primer),
        ),
        then_open=AFTER_CUTTING,
    )
    return option(case, LEVEL, left, risk, judged)
