"""One entry in a painter's words, on one line."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from finishmatch.colour.told_within import told_within
from finishmatch.ledger.entries import (
    BatchEntry,
    CoatEntry,
    CorrectionEntry,
    DecisionEntry,
    DefectEntry,
    Entry,
    FilmLayerEntry,
    NoteEntry,
    PlanEntry,
    ReadingEntry,
    RecipeEntry,
    SprayOutEntry,
    StrengthEntry,
    StrikeEntry,
    TargetEntry,
    VerdictEntry,
    parts_weighed,
)

KIND_WORDS = {"spray-out": "spray-out", "film-layer": "film"}  # where the word on the page isn't the kind itself


def kind_word(kind: str) -> str:
    """Return the word of the trade for a kind of entry."""
    return KIND_WORDS.get(kind, kind)


def kinds_counted(kind: str, count: int) -> str:
    """Return how many entries of a kind there are: "1 batch", "2 batches"."""
    word = kind_word(kind)
    ending = "" if count == 1 else "es" if word.endswith("ch") else "s"
    return f"{count} {word}{ending}"


def describe_entry(entry: Entry) -> str:
    """Return what an entry says, on one line, in a painter's words."""
    describe: Callable[[Any], str] = _DESCRIBED_BY[type(entry)]
    return " ".join(describe(entry).split())


def describe_parts(parts: Sequence[tuple[str, float]]) -> str:
    """Return "white 300.0 g, blue 12.5 g" in the order given."""
    return ", ".join(f"{tint} {_grams(grams)}" for tint, grams in parts)


def letdown_words(tint: str, straight_g: float, tint_g: float, filled_g: float, back_g: float) -> str:
    """Return how a part is poured by a letdown, in a painter's words."""
    straight = f"{straight_g:g} g straight, then " if straight_g else ""
    cup = f"{tint_g:g} g into a cup, filled up to {filled_g:g} g with paint from the tin and stirred"
    return f"{tint} by a letdown: {straight}{cup}, {back_g:g} g of that back into the tin"


def weight_words(grams: float) -> str:
    """Return a weight in grams to a tenth, or to a hundredth where it is drops, as a letdown brings them."""
    drops = 0 < grams < 1 or (grams < 10 and round(grams, 1) != round(grams, 2))
    return f"{grams:.2f}" if drops else f"{grams:.1f}"


def _grams(grams: float) -> str:
    return f"{weight_words(grams)} g"


def _lab(entry: Any) -> str:
    lightness, red, yellow = entry.lab
    return f"L* {lightness:.1f} a* {red:.1f} b* {yellow:.1f} ({entry.light}, {entry.observer}°)"


def _lights(lights: Mapping[str, float]) -> str:
    return ", ".join(f"{light} {value:.2f}" for light, value in lights.items())


def _repeats(entry: Any) -> str:
    if entry.repeats == 1:
        return ""
    spread = "" if entry.spread_de00 is None else f", spread {entry.spread_de00:.2f} ΔE00"
    return f"; {entry.repeats} readings{spread}"


def _reading(entry: ReadingEntry) -> str:
    role = f" ({entry.role})" if entry.role else ""
    known = "" if entry.u95 is None else f", known to ±{entry.u95:.2f}"
    return f"{entry.name}{role}: {_lab(entry)}{known}{_repeats(entry)}"


def _target(entry: TargetEntry) -> str:
    known = "" if entry.u95 is None else f", known to ±{entry.u95:.2f}"
    rests = f"; rests on {', '.join(entry.evidence)}" if entry.evidence else ""
    kept = "" if entry.reflectance else "; no spectrum, so other lights can't be promised"
    left = "".join(f"; {sample} left out" + (f": {why}" if why else "") for sample, why in entry.left_out)
    near = f", tolerance {entry.tolerance:g} ΔE00" if entry.says_tolerance else ""
    return f"{entry.name}: {_lab(entry)}{near}{known}{rests}{left}{kept}"


def _recipe(entry: RecipeEntry) -> str:
    predicted = f"; predicted ΔE00 {_lights(entry.lights)}" if entry.lights else ""
    first = "" if entry.first_share is None else f"; at first {share_words(entry.first_share)} of it"
    first += f"; {' and '.join(entry.let_down)} by a letdown" if entry.let_down else ""
    asked = "" if entry.asked_g is None else f" ({_grams(entry.asked_g)} was asked for)"
    if entry.again is not None:
        asked, predicted = f" as batch #{entry.again} was", f"; its card came to ΔE00 {_lights(entry.lights)}"
    return f"{_grams(entry.grams)}{asked} from {entry.bank}: {describe_parts(entry.parts)}{first}{predicted}"


def share_words(share: float) -> str:
    """Return a share of a batch as a painter says it: "half", "three quarters", "60 %"."""
    return {0.5: "half", 0.75: "three quarters"}.get(share, f"{100 * share:.3g} %")


def _batch(entry: BatchEntry) -> str:
    by = "" if entry.recipe is None else f" by recipe #{entry.recipe}"
    total = sum(grams for _, grams in entry.parts)
    tin = "" if entry.tin_l is None else f" in a tin of {entry.tin_l:g} L"
    if entry.continues is not None and entry.share < 1:
        meant = f" for {entry.aside_for}" if entry.aside_for else ""
        aside = f"{100 * (1 - entry.share):.3g} % of batch #{entry.continues} is set aside{meant}"
        return f"{aside}: {_grams(total)} in the tin{tin}: {describe_parts(entry.parts)}"
    more = "" if entry.continues is None else f", batch #{entry.continues} with what was added"
    return f"poured {_grams(total)}{tin}{by}{more}: {describe_parts(entry.parts)}"


def _spray_out(entry: SprayOutEntry) -> str:
    parts = [
        "sprayed" if entry.batch is None else f"sprayed batch #{entry.batch}",
        f"over {entry.ground}" if entry.ground else "",
        "" if entry.coats is None else _count(entry.coats, "coat"),
        "" if entry.build_um is None else f"{entry.build_um:g} µm",
        entry.surface,
    ]
    name = f"{entry.name}, " if entry.name else ""
    read = _seen(entry.seen) if entry.seen else f"{_lab(entry)}{_repeats(entry)}"
    return f"{name}{', '.join(part for part in parts if part)}: {read}"


def _seen(seen: Sequence[Mapping[str, Any]]) -> str:
    told = []
    for one in seen:
        by = _count(one["pictures"], "photograph") if one.get("pictures") else "as told"
        by = "by a photograph of each" if one.get("own_colour") else by
        known = f"{one['light']}, {one['observer']}°, {by}) known to ±{told_within(one['u95']):g}"
        more = _by_bank(one["by_bank"]) if one.get("by_bank") else ""
        told.append(f"{_axes(one['difference'])} ({known}{more}")
    return f"beside its standard {'; '.join(told)}"


def _by_bank(by: Mapping[str, Any]) -> str:
    known = f"{_axes(by['difference'])} ±{told_within(by['u95']):g}"
    return f", and by what its camera sees of the bank's tints {known}"


def _axes(difference: Sequence[float]) -> str:
    lightness, red, yellow = difference
    return f"ΔL* {lightness:+.1f} Δa* {red:+.1f} Δb* {yellow:+.1f}"


def _verdict(entry: VerdictEntry) -> str:
    words = ", ".join(entry.words) if entry.words else "no difference the eye would name"
    others = f"; {_lights(entry.lights)}" if len(entry.lights) > 1 else ""
    pair = f"{entry.trial} against {entry.standard}"
    return f"{entry.verdict} {entry.tolerance:g}: {pair}, ΔE00 {entry.de00:.2f} ({words}){others}"


def _correction(entry: CorrectionEntry) -> str:
    to = "" if entry.batch is None else f" to batch #{entry.batch}"
    why = f"; {entry.why}" if entry.why else ""
    if not entry.reachable:
        return f"adding can't bring it there{why}"
    if not entry.additions:
        return f"nothing to add{to}{why}"
    predicted = f"; then predicted ΔE00 {_lights(entry.lights)}" if entry.lights else ""
    by = "".join(f"; {letdown_words(*one)}" for one in entry.letdowns)
    return (
        f"add{to} {describe_parts(entry.additions)}{by}; {growth_words(entry.growth, entry.fills_to)}{predicted}{why}"
    )


def growth_words(growth: float, fills_to: float | None) -> str:
    """Return what an addition does to the weight of a tin: "adds 1.6 % to the tin", "fills it up to 500 g"."""
    if fills_to is None:
        return f"adds {100 * growth:.1f} % to the tin"
    beyond = f" and {100 * growth:.1f} % beyond" if growth else ""
    return f"fills it up to {_grams(fills_to)}{beyond}"


def _strength(entry: StrengthEntry) -> str:
    if not entry.tints:
        return f"new tins of {entry.bank} are open: what spray-outs showed of the old ones is left out"
    by = "" if entry.spray_out is None else f" by spray-out #{entry.spray_out}"
    if entry.letdown is not None:
        weighed = describe_parts(parts_weighed(entry.letdown))
        by = f" by a letdown of {weighed}, drawn as the panel {entry.letdown['panel']}"
    before = "" if entry.starts_from is None else f", after #{entry.starts_from}"
    tins = (f"{tint} of lot {lot}" if lot else tint for tint, lot in zip(entry.tints, entry.lots, strict=True))
    sd = [math.sqrt(row[i]) for i, row in enumerate(entry.log_covariance)]
    told = "" if entry.foretold is None else f"; {foretold_words(entry.foretold)}"
    return f"tins of {entry.bank}{by}{before}: {describe_strengths(tuple(tins), entry.log_mean, sd)}{told}"


def foretold_words(foretold: Mapping[str, Any]) -> str:
    """Return "ΔE00 0.31 from what was foretold (0 to 0.8 was)", of a card (D65, 10°); of one beside its piece alike."""
    if foretold.get("beside"):
        return f"ΔE00 {foretold['de00']:.2f} from its piece (0 to {foretold['within']:.1f} was foretold)"
    return f"ΔE00 {foretold['de00']:.2f} from what was foretold (0 to {foretold['within']:.1f} was)"


def describe_strengths(tins: Sequence[str], log_mean: Sequence[float], log_sd: Sequence[float]) -> str:
    """Return "blue +8 % ± 1.5, white -1 % ± 2.0, black 0 % ± 4.9", the furthest from the bank's first."""
    # of two that were shown by one card the one is as far off as the other: in their order on every machine
    order = sorted(range(len(tins)), key=lambda i: -round(abs(log_mean[i]), 4))
    percent = [round(100 * math.expm1(log)) for log in log_mean]
    return ", ".join(f"{tins[i]} {f'{percent[i]:+d}' if percent[i] else '0'} % ± {100 * log_sd[i]:.1f}" for i in order)


def _film_layer(entry: FilmLayerEntry) -> str:
    places = entry.places or [""] * len(entry.builds_um)
    builds = ", ".join(f"{build:g} {place}".strip() for build, place in zip(entry.builds_um, places, strict=True))
    mean = sum(entry.builds_um) / len(entry.builds_um)
    of_all = f" (mean {mean:.1f} of {len(entry.builds_um)})" if len(entry.builds_um) > 1 else ""
    return f"{entry.panel}, layer {entry.position} from the metal, {entry.layer}: {builds} µm{of_all}"


def _coat(entry: CoatEntry) -> str:
    layer = f"{entry.layer} on" if entry.layer else "on"
    met = describe_exposures(entry.exposures)
    return f"{layer} the {entry.panel}, sprayed on {entry.sprayed_on}" + (f"; met: {met}" if met else "")


def describe_exposures(exposures: Sequence[tuple[str, str]]) -> str:
    """Return "air line 2, gun HVLP 1"."""
    return ", ".join(f"{kind} {value}" for kind, value in exposures)


def _defect(entry: DefectEntry) -> str:
    parts = [
        f"{entry.count} × {entry.kind}" if entry.count else entry.kind,
        f"on the {entry.panel}",
        entry.place,
        "" if entry.size_mm is None else f"{entry.size_mm:g} mm across",
        "" if entry.depth_um is None else f"{entry.depth_um:g} µm deep",
        f"open to the {entry.layer_reached}" if entry.layer_reached else "",
        f"rated {entry.rating}" if entry.rating else "",
        f"seen on {entry.seen_on}" if entry.seen_on else "",
    ]
    days = entry.met_on or [""] * len(entry.exposures)
    met = ", ".join(f"{kind} {value} {day}".strip() for (kind, value), day in zip(entry.exposures, days, strict=True))
    checks = ", ".join(f"{check}: {outcome}" for check, outcome in entry.checks)
    tails = (("exposed to", met), ("signs", ", ".join(entry.seen)), ("checks", checks))
    return ", ".join(part for part in parts if part) + "".join(f"; {what}: {text}" for what, text in tails if text)


def _decision(entry: DecisionEntry) -> str:
    about = "" if entry.defect is None else f" for defect #{entry.defect}"
    others = _count(len(entry.options), "option")
    of = f" (of {others})" if len(entry.options) > 1 else ""
    why = f", because {entry.why}" if entry.why else ""
    outcome = f"; outcome: {entry.outcome}" if entry.outcome else ""
    result = f" ({entry.result})" if entry.result else ""
    return f"{entry.chosen}{about}{of}{why}{outcome}{result}"


def _plan(entry: PlanEntry) -> str:
    no = "" if entry.verdict == "yes" else "no: "
    return f"{entry.about}: {no}{entry.answer}"


def _note(entry: NoteEntry) -> str:
    return entry.text


def _strike(entry: StrikeEntry) -> str:
    return f"#{entry.struck} is struck: {entry.why}"


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


_DESCRIBED_BY: dict[type[Entry], Callable[[Any], str]] = {
    ReadingEntry: _reading,
    TargetEntry: _target,
    RecipeEntry: _recipe,
    BatchEntry: _batch,
    SprayOutEntry: _spray_out,
    VerdictEntry: _verdict,
    CorrectionEntry: _correction,
    StrengthEntry: _strength,
    FilmLayerEntry: _film_layer,
    CoatEntry: _coat,
    DefectEntry: _defect,
    DecisionEntry: _decision,
    PlanEntry: _plan,
    NoteEntry: _note,
    StrikeEntry: _strike,
}
