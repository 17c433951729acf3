"""The four ways to mend a defect, each with its risk; every rule of the trade stands beside what it decides."""

from __future__ import annotations

from dataclasses import dataclass

from finishmatch.defects.breakthrough import FilmLeft, film_left
from finishmatch.defects.case import Case, layers_um, mean_um
from finishmatch.defects.film import METAL

RUB, LEVEL, RECOAT, PRIMER = "rub", "level", "recoat", "primer"
NAMES = {
    RUB: "rub out and polish",
    LEVEL: "level with fill, then flat and polish",
    RECOAT: "sand and recoat the colour",
    PRIMER: "back to primer and paint again",
}
# what can be thought of for each form of defect (kinds.toml), the gentlest first («common practice»)
THINKABLE = {
    "pit": (RUB, LEVEL, RECOAT, PRIMER),
    "proud": (RUB, RECOAT, PRIMER),
    "surface": (RUB, RECOAT, PRIMER),
    "colour": (RECOAT, PRIMER),
    "hold": (PRIMER,),
}
FORM_FORBIDS = {
    "proud": "there is no hole to fill",
    "surface": "there is no hole to fill",
    "colour": "what is wrong lies in the colour itself, not on it",
    "hold": "the film has broken or lost its hold, and nothing on top of it will stand",
}
# contamination goes before any fresh paint («common practice»)
DECONTAMINATE = (
    "remove the contamination first, in the defect and well around it (fresh wipes, wax and grease remover, one way, "
    "wiped off wet), and find where it came from: fresh paint over it fails the same way"
)
# what is sanded into the paint can't be wiped off it any more («common practice»)
WIPE_BEFORE_SANDING = "wipe with wax and grease remover before any sanding, so that nothing is sanded in"
CURE = "let the finish cure through, as its data sheet says, before it is cut"
MEASURE = "read the film beside the defect again between grits"
RECOAT_WINDOW = "keep to the recoat window of the data sheet; past it, sand for a key"
LOW, HIGH = 0.1, 0.9  # ends of the 80 % interval


@dataclass(frozen=True)
class Left:
    """Film left, in µm: the mean and the ends of the 80 % interval, which film it is, and how much must stay."""

    of: str
    keep_um: float
    mean_um: float
    low_um: float
    high_um: float


@dataclass(frozen=True)
class Option:
    """One way to mend it.

    breakthrough is the chance, at one spot, that less film is left than must stay; anywhere is that of all the spots.
    ruled_out says why it can't be advised, and is "" when it can.
    """

    key: str
    name: str
    chance_of_success: float
    breakthrough: float
    anywhere: float
    left: Left
    ruled_out: str
    why: str
    first: tuple[str, ...]
    if_it_fails: str


@dataclass(frozen=True)
class Risk:
    """The chance that less film is left than must stay: at one spot, and anywhere among all."""

    one: float
    anywhere: float

    @classmethod
    def of(cls, left: FilmLeft, keep_um: float) -> Risk:
        """Return the risk of a film left."""
        return cls(left.chance_below(keep_um), left.chance_anywhere(keep_um))


def rub_out(case: Case) -> Option:
    """Judge cutting the defect out of the topcoat and polishing what is left."""
    through = case.bottom.depth is None  # the whole topcoat: nothing is left of it at the bottom
    cut = case.cut(RUB)
    left = film_left(case.builds.part(0, 0) if through else case.topcoat, (*case.depth, *cut))
    risk = Risk(1.0, 1.0) if through else Risk.of(left, case.keep_um)
    forbidden = _forbidden_by_form(case, RUB)
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
    return _option(
        case,
        RUB,
        left,
        risk,
        of=case.top,
        keep_um=case.keep_um,
        forbidden=forbidden,
        risky=_too_risky(case, risk.anywhere, f"of breaking through the {case.top}"),
        why=f"{why}: {_risk_words(risk, case.count)}",
        first=(*((WIPE_BEFORE_SANDING,) if case.seen.contamination else ()), CURE, MEASURE),
        if_it_fails=fails,
    )


def level(case: Case) -> Option:
    """Judge filling the pit with drops of the topcoat, cutting the fill flat and polishing."""
    limits, cut = case.practice, case.cut(LEVEL)
    left = film_left(case.topcoat, cut)
    risk, at_primer = Risk.of(left, case.keep_um), case.chance_at_primer
    forbidden = _forbidden_by_form(case, LEVEL)
    if not forbidden and case.at_primer:
        forbidden = f"it is open to the {METAL if case.at_metal else 'primer'}: drops of {case.top} don't mend that"
    elif not forbidden and case.count > limits.level_count:
        forbidden = f"{case.count} pits are too many to fill one by one (up to {limits.level_count})"
    elif not forbidden and case.seen.size_mm is not None and case.seen.size_mm > limits.level_size_mm:
        forbidden = f"a fill of {case.seen.size_mm:g} mm shows (up to {limits.level_size_mm:g} mm)"
    risky = _too_risky(case, at_primer, "that it is open to the primer") or _too_risky(
        case, risk.anywhere, f"of breaking through the {case.top}"
    )
    why = (
        f"the pit is filled with {case.top}, so flattening cuts only {mean_um(cut):.0f} µm out of "
        f"{layers_um(case, case.film.top_start):.0f} µm, of which {case.keep_um:g} µm must stay: "
        f"{_risk_words(risk, case.count)}"
    )
    touch_in = ("touch the colour in first",) if case.top == "clear" and case.bottom.bare is not None else ()
    fill = f"fill in drops of the same {case.top}, flashed off between, proud of the surface"
    return _option(
        case,
        LEVEL,
        left,
        risk,
        of=case.top,
        keep_um=case.keep_um,
        forbidden=forbidden,
        risky=risky,
        why=why,
        first=(*_cleaning(case), *touch_in, fill, CURE),
        if_it_fails="the fill draws back, sinks or shows, or the cut breaks through: it is sanded and recoated",
        spoilt=1 - (1 - risk.anywhere) * (1 - at_primer),
    )


def recoat(case: Case) -> Option:
    """Judge sanding the defect away and spraying the topcoat again over what stays."""
    bare, keep_um = case.bottom.bare, case.practice.keep_um["primer"]
    under = case.builds if bare is None else case.builds.part(0, bare + 1)
    left = film_left(under, (*case.depth, *case.cut(RECOAT)))
    risk = Risk.of(left, keep_um)
    forbidden = _forbidden_by_form(case, RECOAT)
    if not forbidden and case.at_metal:
        forbidden = "it is open to the metal, which must be primed first"
    elif not forbidden and case.at_primer and case.seen.contamination:
        # wiping doesn't clean a primer that has soaked it up, and the next coat craters again («common practice»)
        forbidden = "the contamination lies on the primer itself, so the next coat would fail where this one did"
    coats = "colour and clear" if case.top == "clear" else "colour"
    why = (
        f"sanding to its bottom leaves about {left.mean_um:.0f} µm above the metal, of which {keep_um:g} µm of primer "
        f"must stay: {_risk_words(risk, case.count)}"
    )
    at_primer = case.chance_at_primer if case.seen.contamination else 0.0
    sand = f"sand to the bottom of the defect and feather it, then spray {coats} again"
    return _option(
        case,
        RECOAT,
        left,
        risk,
        of="film above the metal",
        keep_um=keep_um,
        forbidden=forbidden,
        risky=_too_risky(case, at_primer, "that the contamination lies on the primer itself")
        or _too_risky(case, risk.anywhere, "of breaking through the primer"),
        why=why,
        first=(*_cleaning(case), CURE, sand, RECOAT_WINDOW),
        if_it_fails="the defect comes back or the primer is cut through: the panel goes back to primer",
        spoilt=1 - (1 - risk.anywhere) * (1 - at_primer),
    )


def back_to_primer(case: Case) -> Option:
    """Judge taking all paint off down to the primer, or to the metal where the defect is open to it."""
    left = film_left(case.builds.part(0, 0 if case.at_metal else case.film.primer_index + 1), case.steps(PRIMER))
    why = "everything above the primer comes off, and with it the defect and what caused it"
    strip = "strip to sound primer; where it is cut through, to bright metal, and prime that the same day"
    if case.at_metal:
        why = "it is open to the metal: that is cleaned bright and primed, and the panel is painted again"
        strip = "strip to sound primer, and the spot to bright metal; prime that the same day"
    return _option(
        case,
        PRIMER,
        left,
        Risk.of(left, case.practice.keep_um["primer"]),
        of="primer",
        keep_um=case.practice.keep_um["primer"],
        forbidden="",
        risky="",
        why=why,
        first=(*_cleaning(case), strip, RECOAT_WINDOW),
        if_it_fails="the defect comes back: the primer itself is at fault, and the panel goes back to metal",
        spoilt=0.0,  # cutting through here costs a coat of primer, not the job
    )


def _option(
    case: Case,
    key: str,
    left: FilmLeft,
    risk: Risk,
    *,
    of: str,
    keep_um: float,
    forbidden: str,
    risky: str,
    why: str,
    first: tuple[str, ...],
    if_it_fails: str,
    spoilt: float | None = None,
) -> Option:
    """Put an option together; `spoilt` is the chance that the film spoils it, that of breaking through if not given."""
    success = case.success(key) * (1 - (risk.anywhere if spoilt is None else spoilt))
    return Option(
        key=key,
        name=NAMES[key],
        chance_of_success=0.0 if forbidden else success,
        breakthrough=risk.one,
        anywhere=risk.anywhere,
        left=Left(of, keep_um, left.mean_um, left.quantile_um(LOW), left.quantile_um(HIGH)),
        ruled_out=forbidden or risky,
        why=why,
        first=first,
        if_it_fails=if_it_fails,
    )


def percent(chance: float) -> str:
    """Return a chance in words that don't claim more than it tells."""
    if chance < 0.001:
        return "under 0.1 %"
    if chance > 0.999:
        return "over 99.9 %"
    return f"{100 * chance:.1f} %" if chance < 0.1 or chance > 0.9 else f"{100 * chance:.0f} %"


def _cleaning(case: Case) -> tuple[str, ...]:
    return (DECONTAMINATE,) if case.seen.contamination else ()


def _risk_words(risk: Risk, count: int) -> str:
    words = f"the chance of breaking through is {percent(risk.one)}"
    return f"{words} at one spot, {percent(risk.anywhere)} somewhere among the {count}" if count > 1 else words


def _forbidden_by_form(case: Case, key: str) -> str:
    form = case.seen.kind.form
    return "" if key in THINKABLE[form] else FORM_FORBIDS[form]


def _too_risky(case: Case, chance: float, of_what: str) -> str:
    if chance <= case.max_risk:
        return ""
    limit = f"{100 * case.max_risk:g} %"
    told = f"{100 * chance:.2f} %" if chance < case.max_risk + 0.0005 else percent(chance)  # 5.0 % is not more than 5 %
    return f"the chance {of_what} is {told}, more than the {limit} that is answered for"
