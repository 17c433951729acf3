"""What can be entered in a job: one frozen dataclass a kind, of plain values.

Sequences and arrays are taken and kept as tuples. Lengths are in mm, builds and depths in µm, weights in g,
reflectance as 31 factors on the house grid, differences in ΔE00.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any, ClassVar

from finishmatch.errors import InputError
from finishmatch.ledger.clean_values import check_new, clean_line, clean_value

BANDS = 31
SURFACES = ("as sprayed", "cut and polished")
VERDICTS = ("within", "outside")
ANY_KIND = ""  # in `REFERS`: the entry referred to may be of any kind
RESULTS = ("right", "failed", "broke through")

Parts = Sequence[tuple[str, float]]


class Nth(int):
    """Stands for the number of the entry at this index of the same `record_all`, counted from 0."""


@dataclass(frozen=True)
class Entry:
    """What the kinds share: values are cleaned, and what makes no sense is refused, when an entry is made."""

    KIND: ClassVar[str] = ""
    REFERS: ClassVar[Mapping[str, str]] = {}  # field: the kind of the entry whose number it holds
    AT_LEAST: ClassVar[Mapping[str, float]] = {}  # field: the smallest value that makes sense
    RESTS_ON: ClassVar[tuple[str, ...]] = ()  # fields of `REFERS`: it falls when that entry is struck
    ONE_OF: ClassVar[Mapping[str, tuple[str, ...]]] = {}
    NOT_BLANK: ClassVar[tuple[str, ...]] = ()
    LINES: ClassVar[tuple[str, ...]] = ()  # fields whose text may have several lines

    def __post_init__(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            where = f"{self.KIND}, {field.name.replace('_', ' ')}"
            if not isinstance(value, Nth):
                value = clean_value(where, value)
            object.__setattr__(self, field.name, value)
            self._check(where, field.name, value)

    def check_new(self) -> None:
        """See that its texts hold what can be seen, and its names are one line each; one that is kept may hold more."""
        for field in fields(self):
            where = f"{self.KIND}, {field.name.replace('_', ' ')}"
            check_new(where, getattr(self, field.name), lines=field.name in self.LINES)

    def _check(self, where: str, name: str, value: Any) -> None:
        if name == "lab":
            _need_numbers(where, value, 3)
        elif name == "reflectance" and value is not None:
            _need_numbers(where, value, BANDS)
        elif name == "covariance" and value is not None:
            _need_numbers(where, value, 6)
        elif name in ("parts", "additions", "exposures", "checks", "left_out", "weights", "from_lots"):
            _need_pairs(where, value, float if name in ("parts", "additions", "weights") else str)
        elif name == "letdowns":
            _need_letdowns(where, value)
        elif name in ("lights", "strengths", "figures"):
            _need_numbers(where, tuple(value.values()) if isinstance(value, dict) else None)
        elif name in self.AT_LEAST and value is not None and not isinstance(value, Nth):
            numbers = value if isinstance(value, tuple) else (value,)
            _need_numbers(where, numbers)
            if any(number < self.AT_LEAST[name] for number in numbers):
                raise InputError(where, f"is {min(numbers):g}", f"it is at least {self.AT_LEAST[name]:g}")
        elif name in self.NOT_BLANK and not str(value or "").strip():
            raise InputError(where, "is empty", "say what it is")
        elif name in self.ONE_OF and value not in self.ONE_OF[name]:
            raise InputError(where, f"'{value}' is not known", f"use one of: {', '.join(self.ONE_OF[name])}")


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _need_numbers(where: str, value: Any, count: int | None = None) -> None:
    if not isinstance(value, tuple) or not all(map(_is_number, value)):
        raise InputError(where, "must be numbers")
    if count is not None and len(value) != count:
        raise InputError(where, f"must be {count} numbers, not {len(value)}")


def _need_square(where: str, value: Any, count: int) -> None:
    if not isinstance(value, tuple) or len(value) != count:
        raise InputError(where, f"must be {count} rows")
    for row in value:
        _need_numbers(where, row, count)


def _need_pairs(where: str, value: Any, second: type) -> None:
    if not isinstance(value, tuple):
        raise InputError(where, "must be a list of pairs")
    for pair in value:
        fits = isinstance(pair, tuple) and len(pair) == 2 and isinstance(pair[0], str)
        if not fits or not (isinstance(pair[1], str) if second is str else _is_number(pair[1])):
            raise InputError(where, "must be pairs of a name and " + ("a value" if second is str else "grams"))
        if second is float and pair[1] < 0:
            raise InputError(where, f"{pair[0]} weighs {pair[1]:g} g", "a weight is not negative")


def _need_letdowns(where: str, value: Any) -> None:
    if not isinstance(value, tuple) or not all(isinstance(one, tuple) and len(one) == 5 for one in value):
        raise InputError(where, "must be a list of a tint and four weights each")
    for tint, *grams in value:
        if not isinstance(tint, str) or not all(_is_number(weight) and weight >= 0 for weight in grams):
            raise InputError(where, "must be a tint and four weights, none negative")


@dataclass(frozen=True)
class ReadingEntry(Entry):
    """A colour that was read: a sample, a survivor, a leftover tin.

    `u95_own` is the part of its u95 that it doesn't share with the other samples of its photographs, `camera_saw` what
    cameras saw of it besides.
    """

    KIND: ClassVar[str] = "reading"
    AT_LEAST: ClassVar[Mapping[str, float]] = {"repeats": 1, "spread_de00": 0, "u95": 0, "u95_own": 0}
    NOT_BLANK: ClassVar[tuple[str, ...]] = ("name",)

    role: str
    name: str
    lab: Sequence[float]
    light: str
    observer: int
    geometry: str = ""
    reflectance: Sequence[float] | None = None
    repeats: int = 1
    spread_de00: float | None = None
    u95: float | None = None
    u95_own: float | None = None
    camera_saw: Sequence[Mapping[str, Any]] = ()


@dataclass(frozen=True)
class TargetEntry(Entry):
    """The colour to be matched, how near, and what it rests on; `left_out` has samples left out, each with why.

    weights are pairs of a sample and its share in the colour, 0 where set aside; doubts say what to bear in mind.
    `pictures` are the photographs that one which was photographed was read from, `u95_own` the part of its u95 that it
    doesn't share with other samples of these. `camera_saw` is what cameras saw besides, of each sample it rests on;
    `geometry` how it was read, or would have been by its bank's instrument; "" where that isn't known.
    """

    KIND: ClassVar[str] = "target"
    AT_LEAST: ClassVar[Mapping[str, float]] = {"tolerance": 0, "u95": 0, "u95_own": 0}
    NOT_BLANK: ClassVar[tuple[str, ...]] = ("name",)

    name: str
    lab: Sequence[float]
    light: str
    observer: int
    reflectance: Sequence[float] | None = None
    tolerance: float = 1.0
    u95: float | None = None
    evidence: Sequence[str] = ()
    covariance: Sequence[float] | None = None  # of L*, a*, b*: LL, La, Lb, aa, ab, bb
    left_out: Sequence[tuple[str, str]] = ()
    weights: Sequence[tuple[str, float]] = ()
    doubts: Sequence[str] = ()
    u95_own: float | None = None
    pictures: Sequence[str] = ()
    camera_saw: Sequence[Mapping[str, Any]] = ()
    geometry: str = ""

    @property
    def says_tolerance(self) -> bool:
        """Whether the tolerance was given or weighed: what an entry leaves at its default it doesn't say.

        One that evidence was weighed for, here or for the file it is from, always says it.
        """
        weighed = bool(self.weights) or (self.u95 is not None and not self.evidence)
        return self.tolerance > 0 and (weighed or self.tolerance != TargetEntry.tolerance)


@dataclass(frozen=True)
class RecipeEntry(Entry):
    """A recipe in grams and what it promises; rank 1 is the best of its list.

    `first_share` is how much of it is best poured before its first card; None is all of it. `without` has the tints it
    was to do without. `asked_g` is what it was to weigh, where it may weigh more so that its smallest part can be
    weighed. `again` is the batch that it is once more: it promises what the card of that showed, and its colour.
    `let_down` has the tints that are best poured by a letdown on a scale of the step `scale_step_g`, grams.
    """

    KIND: ClassVar[str] = "recipe"
    REFERS: ClassVar[Mapping[str, str]] = {"again": "batch"}
    AT_LEAST: ClassVar[Mapping[str, float]] = {"grams": 0, "rank": 1, "first_share": 0, "asked_g": 0, "scale_step_g": 0}

    bank: str
    bank_digest: str
    grams: float
    parts: Parts
    lights: Mapping[str, float]
    metamerism: float | None
    cost: float | None
    sensitivity_de00_p95: float | None
    rank: int
    lab: Sequence[float]
    light: str = "D65"
    observer: int = 10
    reflectance: Sequence[float] | None = None
    first_share: float | None = None
    without: Sequence[str] = ()
    asked_g: float | None = None
    again: int | None = None
    let_down: Sequence[str] = ()
    scale_step_g: float | None = None


@dataclass(frozen=True)
class BatchEntry(Entry):
    """What is in the tin: every part in the order poured, additions included.

    `continues` is the batch that this tin was before, `share` how much of that is in it (the rest is set aside), `bank`
    the name of the bank it was poured from ("" while that isn't known), `tin_l` what the tin holds.
    `from_lots` has (tint, lot) of what was poured with this entry, where the bank's table names the lot that was open.
    `aside_for` is what the part that is set aside is meant for.
    """

    KIND: ClassVar[str] = "batch"
    REFERS: ClassVar[Mapping[str, str]] = {"recipe": "recipe", "continues": "batch"}
    AT_LEAST: ClassVar[Mapping[str, float]] = {"share": 0, "tin_l": 0}

    parts: Parts
    recipe: int | None = None
    continues: int | None = None
    share: float = 1.0
    bank: str = ""
    tin_l: float | None = None
    from_lots: Sequence[tuple[str, str]] = ()
    aside_for: str = ""


@dataclass(frozen=True)
class SprayOutEntry(Entry):
    """A card or panel sprayed from a batch, and its reading.

    `seen` is how it differs from its standard in each light, where that is what was seen and its own colour wasn't
    read: `lab` is then that of the standard and the first difference together.
    """

    KIND: ClassVar[str] = "spray-out"
    REFERS: ClassVar[Mapping[str, str]] = {"batch": "batch"}
    AT_LEAST: ClassVar[Mapping[str, float]] = {"coats": 0, "build_um": 0, "repeats": 1, "spread_de00": 0}
    ONE_OF: ClassVar[Mapping[str, tuple[str, ...]]] = {"surface": SURFACES}

    batch: int | None
    lab: Sequence[float]
    reflectance: Sequence[float] | None = None
    ground: str = ""
    coats: int | None = None
    build_um: float | None = None
    surface: str = SURFACES[0]
    name: str = ""
    light: str = "D65"
    observer: int = 10
    geometry: str = ""
    repeats: int = 1
    spread_de00: float | None = None
    seen: Sequence[Mapping[str, Any]] = ()


@dataclass(frozen=True)
class VerdictEntry(Entry):
    """A trial judged against a standard; `u95` is the ΔE00 that their difference is known within, where it is said."""

    KIND: ClassVar[str] = "verdict"
    REFERS: ClassVar[Mapping[str, str]] = {"spray_out": "spray-out"}
    RESTS_ON: ClassVar[tuple[str, ...]] = ("spray_out",)
    AT_LEAST: ClassVar[Mapping[str, float]] = {"de00": 0, "de76": 0, "tolerance": 0, "u95": 0}
    ONE_OF: ClassVar[Mapping[str, tuple[str, ...]]] = {"verdict": VERDICTS}

    standard: str
    trial: str
    de00: float
    de76: float
    lights: Mapping[str, float]
    metamerism: float | None
    words: Sequence[str]
    tolerance: float
    verdict: str
    spray_out: int | None = None
    u95: float | None = None


@dataclass(frozen=True)
class CorrectionEntry(Entry):
    """What to add to a batch, or why adding can't reach; growth is a fraction of the batch.

    `fills_to` is what was wanted, g, where the additions are the rest of a batch of which a part was poured: growth is
    what goes beyond that. `letdowns` has those of the additions that are poured by one: tint, grams poured straight,
    in the cup, in the cup when it is filled up with paint from the tin, and of that back into it.
    """

    KIND: ClassVar[str] = "correction"
    REFERS: ClassVar[Mapping[str, str]] = {"batch": "batch", "spray_out": "spray-out"}
    RESTS_ON: ClassVar[tuple[str, ...]] = ("batch", "spray_out")
    AT_LEAST: ClassVar[Mapping[str, float]] = {"fills_to": 0}

    batch: int | None
    additions: Parts
    growth: float
    reachable: bool
    lights: Mapping[str, float]
    strengths: Mapping[str, float]
    why: str = ""
    spray_out: int | None = None
    letdowns: Sequence[tuple[str, float, float, float, float]] = ()
    fills_to: float | None = None


@dataclass(frozen=True)
class StrengthEntry(Entry):
    """How strong the tins of a bank are after a spray-out: mean and covariance of the logarithm, 0 is as characterised.

    `starts_from` is the last strength of these tins before it; None is the bank alone. Without tints it says that new
    tins were opened. A lot of "" is the tin in use. card_precision and card_information are what the card shows by
    itself, whatever was believed before: the precision of the logarithms, and that times the logarithms; None in
    entries of an older form. `letdown` is what a tin was tried by, in place of a spray-out: the panel of the bank it
    was drawn as, its parts, and how it was seen or read. `foretold` is how far the card came from what was foretold of
    its batch (`de00`), within what it was said to lie (`within`), how far it was to be expected to come, root mean
    square (`expected`), all ΔE00 in D65 at 10°, whether its tin had been sprayed before (`again`), and whether it was
    foretold by that card (`by_card`; false where it isn't there).
    """

    KIND: ClassVar[str] = "strength"
    REFERS: ClassVar[Mapping[str, str]] = {"spray_out": "spray-out", "starts_from": "strength"}
    RESTS_ON: ClassVar[tuple[str, ...]] = ("spray_out",)
    NOT_BLANK: ClassVar[tuple[str, ...]] = ("bank",)

    bank: str
    spray_out: int | None
    tints: Sequence[str]
    lots: Sequence[str]
    log_mean: Sequence[float]
    log_covariance: Sequence[Sequence[float]]
    starts_from: int | None = None
    card_precision: Sequence[Sequence[float]] | None = None
    card_information: Sequence[float] | None = None
    letdown: Mapping[str, Any] | None = None
    foretold: Mapping[str, Any] | None = None

    def __post_init__(self) -> None:
        super().__post_init__()
        n = len(self.tints)
        if len(self.lots) != n:
            raise InputError("strength, lots", f"{len(self.lots)} lots for {n} tints", "name one for each")
        _need_numbers("strength, log mean", self.log_mean, n)
        _need_square("strength, log covariance", self.log_covariance, n)
        if self.card_precision is not None:
            _need_square("strength, card precision", self.card_precision, n)
            _need_numbers("strength, card information", self.card_information, n)
        if any(self.log_covariance[i][i] < 0 for i in range(n)):
            raise InputError("strength, log covariance", "a variance is below 0")
        if self.letdown is not None:
            if not isinstance(self.letdown.get("panel"), str):
                raise InputError("strength, letdown", "names no panel", "say which it was drawn as")
            _need_numbers("strength, letdown lab", tuple(self.letdown.get("lab") or ()), 3)
            _need_pairs("strength, letdown", parts_weighed(self.letdown), float)
        if self.foretold is not None:
            told: tuple[Any, ...] = tuple(self.foretold.get(name) for name in ("de00", "within", "expected"))
            _need_numbers("strength, foretold", told)
            kinds = self.foretold.get("again"), self.foretold.get("by_card", False), self.foretold.get("beside", False)
            if min(told) < 0 or told[-1] == 0 or not all(isinstance(kind, bool) for kind in kinds):
                raise InputError("strength, foretold", "is no difference from what was foretold")


def parts_weighed(letdown: Mapping[str, Any]) -> Parts:
    """Return what was weighed into a letdown that a tin was tried by."""
    return tuple((part.get("tint"), part.get("grams")) for part in letdown.get("parts", ()))


@dataclass(frozen=True)
class FilmLayerEntry(Entry):
    """One layer of a panel's film with its build readings; position 1 lies on the metal."""

    KIND: ClassVar[str] = "film-layer"
    AT_LEAST: ClassVar[Mapping[str, float]] = {"position": 1, "builds_um": 0}
    NOT_BLANK: ClassVar[tuple[str, ...]] = ("panel", "layer")

    panel: str
    position: int
    layer: str
    builds_um: Sequence[float]
    places: Sequence[str] = ()

    def __post_init__(self) -> None:
        super().__post_init__()
        if not self.builds_um:
            raise InputError("film-layer, builds um", "there is no build reading", "give at least one, in µm")
        if self.places and len(self.places) != len(self.builds_um):
            raise InputError(
                "film-layer, places",
                f"{len(self.places)} places for {len(self.builds_um)} readings",
                "name each or none",
            )


def _tidy_exposures(where: str, exposures: Sequence[tuple[str, str]]) -> tuple[tuple[str, str], ...]:
    tidy = tuple((clean_line(where, kind).casefold(), clean_line(where, value)) for kind, value in exposures)
    if any(not kind for kind, _ in tidy):
        raise InputError(where, "an exposure has no kind", "name it, for example air line=2")
    return tidy


@dataclass(frozen=True)
class CoatEntry(Entry):
    """A coat sprayed on a panel, and what it met: pairs such as ("air line", "2"); `sprayed_on` is YYYY-MM-DD."""

    KIND: ClassVar[str] = "coat"
    NOT_BLANK: ClassVar[tuple[str, ...]] = ("panel", "sprayed_on")

    panel: str
    sprayed_on: str
    exposures: Sequence[tuple[str, str]]
    layer: str = ""

    def __post_init__(self) -> None:
        super().__post_init__()
        object.__setattr__(self, "exposures", _tidy_exposures("coat, exposures", self.exposures))


@dataclass(frozen=True)
class DefectEntry(Entry):
    """A defect as it was seen, and what the panel was exposed to: pairs such as ("air line", "2").

    seen are signs in words, checks pairs of a check and its outcome, rating is that of ISO 4628-1. met_on has the day
    of each exposure ("" where unknown) or is empty. at_mm is its place (x, y), over_mm the width and height
    it is spread over; empty when not measured.
    """

    KIND: ClassVar[str] = "defect"
    AT_LEAST: ClassVar[Mapping[str, float]] = {"count": 0, "size_mm": 0, "depth_um": 0, "over_mm": 0}
    NOT_BLANK: ClassVar[tuple[str, ...]] = ("kind", "panel")

    kind: str
    panel: str
    place: str = ""
    count: int | None = None
    size_mm: float | None = None
    depth_um: float | None = None
    layer_reached: str | None = None
    seen_on: str = ""
    exposures: Sequence[tuple[str, str]] = ()
    met_on: Sequence[str] = ()
    seen: Sequence[str] = ()
    checks: Sequence[tuple[str, str]] = ()
    rating: str = ""
    at_mm: Sequence[float] = ()
    over_mm: Sequence[float] = ()

    def __post_init__(self) -> None:
        super().__post_init__()
        where = "defect, exposures"
        if self.met_on and len(self.met_on) != len(self.exposures):
            raise InputError(where, f"{len(self.met_on)} days for {len(self.exposures)}", "date each or none")
        object.__setattr__(self, "exposures", _tidy_exposures(where, self.exposures))


@dataclass(frozen=True)
class DecisionEntry(Entry):
    """What was decided about a defect, out of which options, why, and how it came out ("" while unknown).

    result is how the work came out, one of `RESULTS`; "" while unknown.
    """

    KIND: ClassVar[str] = "decision"
    REFERS: ClassVar[Mapping[str, str]] = {"defect": "defect"}
    RESTS_ON: ClassVar[tuple[str, ...]] = ("defect",)
    ONE_OF: ClassVar[Mapping[str, tuple[str, ...]]] = {"result": ("", *RESULTS)}
    NOT_BLANK: ClassVar[tuple[str, ...]] = ("chosen",)
    LINES: ClassVar[tuple[str, ...]] = ("why", "outcome")

    defect: int | None
    options: Sequence[Mapping[str, Any]]
    chosen: str
    why: str = ""
    outcome: str = ""
    result: str = ""


@dataclass(frozen=True)
class PlanEntry(Entry):
    """What was planned: the verb, whether the answer was yes or no, the answer in words, its figures, notes."""

    KIND: ClassVar[str] = "plan"
    ONE_OF: ClassVar[Mapping[str, tuple[str, ...]]] = {"verdict": ("yes", "no")}
    NOT_BLANK: ClassVar[tuple[str, ...]] = ("about", "answer")

    about: str
    verdict: str
    answer: str
    figures: Mapping[str, float]
    notes: Sequence[str] = ()


@dataclass(frozen=True)
class NoteEntry(Entry):
    """Anything else worth remembering."""

    KIND: ClassVar[str] = "note"
    NOT_BLANK: ClassVar[tuple[str, ...]] = ("text",)
    LINES: ClassVar[tuple[str, ...]] = ("text",)

    text: str


@dataclass(frozen=True)
class StrikeEntry(Entry):
    """An entry was struck, whatever its kind: it stays in the history and counts no more; `struck` is its number."""

    KIND: ClassVar[str] = "strike"
    REFERS: ClassVar[Mapping[str, str]] = {"struck": ANY_KIND}
    NOT_BLANK: ClassVar[tuple[str, ...]] = ("why",)

    struck: int
    why: str


ENTRY_KINDS: dict[str, type[Entry]] = {
    entry.KIND: entry
    for entry in (
        ReadingEntry,
        TargetEntry,
        RecipeEntry,
        BatchEntry,
        SprayOutEntry,
        VerdictEntry,
        CorrectionEntry,
        StrengthEntry,
        FilmLayerEntry,
        CoatEntry,
        DefectEntry,
        DecisionEntry,
        PlanEntry,
        NoteEntry,
        StrikeEntry,
    )
}
