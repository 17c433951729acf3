"""The ways to mend a defect: what each is, and how one is put together from its risk, its work and its failures."""

from __future__ import annotations

from dataclasses import dataclass

from finishmatch.defects.breakthrough import FilmLeft
from finishmatch.defects.case import Case
from finishmatch.defects.rework_figures import Record

LEAVE, POLISH, RUB, LEVEL, RECOAT, STRIP, PRIMER = "leave", "polish", "rub", "level", "recoat", "strip", "primer"
METAL_AGAIN = "metal"  # what is left when even fresh paint on the primer fails
NAMES = {
    LEAVE: "leave as it is",
    POLISH: "polish only",
    RUB: "rub out and polish",
    LEVEL: "level with fill, then flat and polish",
    RECOAT: "sand and recoat the colour",
    STRIP: "strip the spot and build it up again",
    PRIMER: "back to primer and paint again",
}
METAL_NAME = "back to metal and paint again"
# what can be thought of for each form of defect (kinds.toml), the gentlest first («common practice»)
THINKABLE = {
    "pit": (LEAVE, POLISH, RUB, LEVEL, RECOAT, STRIP, PRIMER),
    "proud": (LEAVE, RUB, RECOAT, PRIMER),
    "surface": (LEAVE, POLISH, RUB, RECOAT, PRIMER),
    "colour": (LEAVE, RECOAT, PRIMER),
    "hold": (STRIP, PRIMER),
}
UNBROKEN = {
    LEAVE: "the film has broken or lost its hold: it will spread",
    POLISH: "polishing doesn't level what stands up",
    RUB: "what is wrong lies in the colour itself, not on it",
    LEVEL: "there is no hole to fill",
    STRIP: "it isn't confined to one spot",
}
IN_COLOUR = "what is wrong lies in the colour itself, not on it"
BROKEN = "the film has broken or lost its hold, and nothing on top of it will stand"
# contamination goes before any fresh paint («common practice»)
DECONTAMINATE = (
    "remove the contamination first, in the defect and well around it (fresh wipes, wax and grease remover, one way, "
    "wiped off wet), and find where it came from: fresh paint over it fails the same way"
)
# what is sanded into the paint can't be wiped off it any more («common practice»)
WIPE_BEFORE_SANDING = "wipe with wax and grease remover before any sanding, so that nothing is sanded in"
MEASURE = "read the film beside the defect again between grits"
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
class Failure:
    """One way in which it may fail: its chance, in words, and the options (keys) that are then still open."""

    chance: float
    what: str
    leads_to: tuple[str, ...]


@dataclass(frozen=True)
class Branch:
    """One way in which it may fail, what is done then, and what that is expected to cost."""

    chance: float
    what: str
    then: str
    expected_cost: float


@dataclass(frozen=True)
class Option:
    """One way to mend it.

    breakthrough is the chance, at one spot, that less film is left than must stay; anywhere is that of all the spots.
    ruled_out says why it can't be advised, and is "" when it can; forbidden says that a rule of the trade, and not a
    risk, says so. cost is that of its own work in the shop's money; expected_cost adds what follows when it fails, and
    is None where it is forbidden. record is how it came out in the shop.
    """

    key: str
    name: str
    chance_of_success: float
    breakthrough: float
    anywhere: float
    left: Left
    ruled_out: str
    forbidden: bool
    why: str
    first: tuple[str, ...]
    if_it_fails: str
    hours: float
    material: float
    wait_days: float
    cost: float
    record: Record
    failures: tuple[Failure, ...]
    expected_cost: float | None = None
    chain: tuple[Branch, ...] = ()


@dataclass(frozen=True)
class Risk:
    """The chance that less film is left than must stay: at one spot, and anywhere among all."""

    one: float
    anywhere: float

    @classmethod
    def of(cls, left: FilmLeft, keep_um: float) -> Risk:
        """Return the risk of a film left."""
        return cls(left.chance_below(keep_um), left.chance_anywhere(keep_um))


@dataclass(frozen=True)
class Judgement:
    """What is said of one way to mend it, before its work and its cost are reckoned.

    Parameters
    ----------
    of, keep_um : str, float
        Which film is left, and how much of it must stay, µm.
    why : str
    first : tuple of str
        What goes before it.
    if_it_fails : str
    failures : tuple of Failure
        What spoils it, whatever the hand: the film, what it lies on.
    then_open : tuple of str
        What is still open when only the work doesn't come right.
    forbidden, risky : str
        Why a rule of the trade, or its risk, rules it out, or "".
    comes_right : float
        The chance that such a defect can be reached by it at all.
    when_wrong : str
        What is said when only the work doesn't come right.
    """

    of: str
    keep_um: float
    why: str
    first: tuple[str, ...]
    if_it_fails: str
    failures: tuple[Failure, ...]
    then_open: tuple[str, ...]
    forbidden: str = ""
    risky: str = ""
    comes_right: float = 1.0
    when_wrong: str = "it doesn't come right"


def option(case: Case, key: str, left: FilmLeft, risk: Risk, judged: Judgement) -> Option:
    """Return the option of a key: what is said of it, with its chance of success, its work and its cost."""
    spared = max(0.0, 1 - sum(failure.chance for failure in judged.failures))
    success = spared * judged.comes_right * case.success(key)
    other = Failure(spared - success, judged.when_wrong, judged.then_open)
    work, figures = case.figures.work[key], case.figures
    hours = work.hours + work.spot_minutes * (case.seen.count or 1) / 60
    wait = work.wait_days + (case.cure_wait_days if work.cured else 0.0)
    return Option(
        key=key,
        name=NAMES[key],
        chance_of_success=0.0 if judged.forbidden else success,
        breakthrough=risk.one,
        anywhere=risk.anywhere,
        left=Left(judged.of, judged.keep_um, left.mean_um, left.quantile_um(LOW), left.quantile_um(HIGH)),
        ruled_out=judged.forbidden or judged.risky,
        forbidden=bool(judged.forbidden),
        why=judged.why,
        first=judged.first,
        if_it_fails=judged.if_it_fails,
        hours=hours,
        material=work.material,
        wait_days=wait,
        cost=hours * figures.hour_cost + work.material + wait * figures.day_cost,
        record=case.record(key),
        failures=(*judged.failures, other),
    )


def percent(chance: float) -> str:
    """Return a chance in words that don't claim more than it says."""
    if chance < 0.001:
        return "under 0.1 %"
    if chance > 0.999:
        return "over 99.9 %"
    return f"{100 * chance:.1f} %" if chance < 0.1 or chance > 0.9 else f"{100 * chance:.0f} %"


def cleaning(case: Case) -> tuple[str, ...]:
    """Return what goes before any fresh paint where contamination is suspected."""
    return (DECONTAMINATE,) if case.seen.contamination else ()


def curing(case: Case) -> tuple[str, ...]:
    """Return what is said of the cure before the finish is cut."""
    timing = case.timing
    if timing.age_days is None:
        return ("let the finish cure through, as its data sheet says, before it is cut",)
    if case.cure_wait_days > 0:
        return (f"let it cure {_days(f'{case.cure_wait_days:.3g}')} more (of {timing.cure_days:g}) before it is cut",)
    return ()


def _days(number: str) -> str:
    return f"{number} {'day' if number == '1' else 'days'}"


def recoating(case: Case) -> tuple[str, ...]:
    """Return what is said of the recoat window."""
    timing = case.timing
    if timing.age_days is None:
        return ("keep to the recoat window of the data sheet; past it, sand for a key",)
    if timing.age_days <= timing.window_days:
        return ("it is within its recoat window; sanding it now tears it: let it cure, then sand for a key",)
    if case.cure_wait_days > 0:
        window = _days(f"{timing.window_days:g}")
        return (f"its recoat window ({window}) is past and it has not cured: paint now may lift it",)
    return ("its recoat window is past: sand for a key",)


def risk_words(risk: Risk, case: Case) -> str:
    """Return the chance of breaking through in words."""
    count = case.count
    words = f"the chance of breaking through is {percent(risk.one)}"
    where = f"among the {count}" if case.seen.kind.form != "surface" else f"among {count} patches of it"
    return f"{words} at one spot, {percent(risk.anywhere)} somewhere {where}" if count > 1 else words


def forbidden_by_form(case: Case, key: str) -> str:
    """Return why an option can't be thought of for this form of defect, or ""."""
    form = case.seen.kind.form
    if key in THINKABLE[form]:
        return ""
    if form == "hold":
        return UNBROKEN[LEAVE] if key == LEAVE else BROKEN
    return IN_COLOUR if form == "colour" and key != STRIP else UNBROKEN[key]


def too_risky(case: Case, chance: float, of_what: str) -> str:
    """Return why a risk is too great to be advised, or ""."""
    if chance <= case.max_risk:
        return ""
    limit = f"{100 * case.max_risk:g} %"
    nearly = chance < case.max_risk + 0.0005  # 5.0 % is not more than 5 %
    shown = f"{100 * chance:.2f} %" if nearly else percent(chance)
    return f"the chance {of_what} is {shown}, more than the {limit} that is acceptable"
