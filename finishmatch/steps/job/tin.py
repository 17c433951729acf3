"""A newly opened tin is tried: a letdown of it, drawn as a panel of the bank was, tells how strong it is.

That is tinting strength against the tin the panels were drawn from (ISO 787-24; ASTM D4838; both from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from finishmatch.colour import de00, reflectance_to_lab
from finishmatch.correct.called_as import LETDOWN
from finishmatch.errors import InputError
from finishmatch.ledger import EntryView, SprayOutEntry, StrengthEntry, bank_of_job, open_ledger, same_letdown
from finishmatch.near_names import as_known, did_you_mean, listed
from finishmatch.optics import Panel, Tint, predicted_reflectance
from finishmatch.optics.strength import STRONGEST, Strengths
from finishmatch.readings import Reading
from finishmatch.steps.bank import FittedBank, bank_meant, keep_fit
from finishmatch.steps.bank_kept import remember_mixed_from
from finishmatch.steps.blunders import refuse_blunder
from finishmatch.steps.by_own_photograph import surely_read
from finishmatch.steps.colour_inputs import ReadingLike, check_gloss, viewing_of
from finishmatch.steps.entries import sources_of, spray_out_entry
from finishmatch.steps.hazards import cautions_for, harmful
from finishmatch.steps.job.letdown_seen import as_made, by_what_was_seen, of_any_tins
from finishmatch.steps.job.letdown_weighed import weighed_into
from finishmatch.steps.matching import Parts, PartsLike, scale_of
from finishmatch.steps.photographs_known import said_of_others, said_of_readings
from finishmatch.steps.progress import Progress, quiet
from finishmatch.steps.record import RecordedOne, record_one
from finishmatch.steps.seen import SeenCard, refuse_other_piece
from finishmatch.steps.spray_out_strengths import Poured, TinsShown, sprayed_card, strength_entry, tins_shown
from finishmatch.steps.spray_outs_counted import strength_entry_of
from finishmatch.steps.todays_tins import TodaysTins, tins_in

VIEWING = "D65", 10
MOST_LEFT = 2.0  # ΔE00 between a letdown and what any strength of its tins would make of it («common practice»)


@dataclass(frozen=True, kw_only=True)
class TinRequest:
    """How a letdown was drawn.

    Parameters
    ----------
    weighed : PartsLike or None
        What was weighed into it, of the tints of the panel; None: as in the panel.
    bank : Path, str or None
        The bank of the panel; None: the one the job was mixed from.
    scale_step : float
        Of the scale it was weighed on, grams.
    gloss : float or None
        Of its film at 60°, gloss units, for a reading of another geometry than the bank's.
    anyway : bool
        Take a letdown that can't be of these tins as it is.
    """

    weighed: PartsLike | None = None
    bank: Path | str | None = None
    scale_step: float = 0.1
    gloss: float | None = None
    anyway: bool = False


@dataclass(frozen=True)
class TriedTin:
    """A letdown as it was recorded, and what it shows of its tins.

    Parameters
    ----------
    recorded : RecordedOne
    panel : Panel
        The panel it was drawn as.
    parts : tuple of (tint, grams)
        What was weighed into the letdown.
    lots : dict of str to str
        Of each of its tints.
    against : str
        The tint the others were let down in.
    strengths : dict of str to (factor, sd)
        Of each other tint against that one, by all that is known now: 1 is as characterised, and the SD of the
        logarithm.
    tints : tuple of Tint
        Of the bank.
    """

    recorded: RecordedOne
    panel: Panel
    parts: Parts
    lots: dict[str, str]
    against: str
    strengths: dict[str, tuple[float, float]]
    tints: tuple[Tint, ...]

    @property
    def harmful(self) -> tuple[Tint, ...]:
        """The tints of the letdown that hold what harms."""
        return harmful((tint for tint, _ in self.parts), self.tints)

    @property
    def cautions(self) -> tuple[str, ...]:
        """The cautions that bear on what is weighed and drawn down."""
        return cautions_for((tint for tint, _ in self.parts), self.tints)

    @property
    def words(self) -> tuple[str, ...]:
        """How strong each tin is against what it was let down in, a line for each."""
        lines = []
        for tint, (factor, sd) in self.strengths.items():
            lot = f" of lot {self.lots[tint]}" if self.lots[tint] else ""
            low, high = (100 * factor * math.exp(k * 1.96 * sd) for k in (-1, 1))
            lines.append(
                f"{tint}{lot}: tinting strength {100 * factor:.0f} % of the panels' tin, 95 in 100 within {low:.0f} to "
                f"{high:.0f} %, against the {self.against}"
            )
        return tuple(lines)

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object of a tin that was tried."""
        of_each = {name: {"factor": factor, "sd": sd} for name, (factor, sd) in self.strengths.items()}
        return {**self.recorded.as_dict(), "against": self.against, "strengths": of_each}


def try_tin(
    job: str,
    panel: str,
    letdown: ReadingLike | SeenCard,
    request: TinRequest = TinRequest(),
    *,
    progress: Progress = quiet,
) -> TriedTin:
    """Record what a letdown shows of how strong a newly opened tin is.

    Parameters
    ----------
    job : str
    panel : str
        Of the bank: the letdown is drawn as it was.
    letdown : ReadingLike or SeenCard
        As it was read, or as it differs from the panel beside it.
    request : TinRequest
    progress : Progress

    Raises
    ------
    InputError
        A panel, weights or a bank that can't be used, a letdown that no strength of these tins explains, one that is
        recorded already; nothing is recorded then.
    """
    check_gloss(request.gloss)
    scale = scale_of(request.scale_step)
    with open_ledger(create=False) as ledger:
        found = ledger.find_job(job)
        fitted = bank_meant(request.bank, bank_of_job(ledger, found), progress)
        drawn = _panel_named(fitted, panel)
        parts, as_meant = weighed_into(fitted.bank, drawn, request.weighed)
        reading = _as_read(fitted, drawn, letdown)
        own = spray_out_entry(reading, None)
        untold = _untold(fitted, drawn, parts, own)
        _refuse_again(untold, ledger.entries(found))
        tins = tins_in(ledger, found, fitted, with_cards=False, letdown=untold)
        poured = Poured(parts, scale, tins.shown_before(parts))
        shown, doubted = _shown(fitted, drawn, letdown, poured, request)
        sources = letdown.sources if isinstance(letdown, SeenCard) else sources_of(reading)
        doubted += said_of_others(own, job, letdown=True) + said_of_readings(sources if own.seen else (), job)
        kept = replace(strength_entry(fitted.bank.name, shown, tins.lots, None, tins.number), letdown=untold.letdown)
        coloured = fitted.bank.coloured(drawn)
        warned = dict.fromkeys((*as_meant, *doubted, *reading.warnings, *shown.warnings, *_of_tins(tins, coloured)))
        recorded = record_one(ledger, found, kept, sources=sources, warnings=tuple(warned))
        if fitted.folder is not None:
            remember_mixed_from(ledger, found, fitted.bank, fitted.folder)
        after = tins_in(ledger, found, fitted, with_cards=False)
    keep_fit(fitted)
    lots = {tint: tins.lots[tint] for tint, _ in parts}
    against, strengths = _against_the_rest(coloured, after)
    return TriedTin(recorded, drawn, parts, lots, against, strengths, fitted.bank.tints)


def _panel_named(fitted: FittedBank, name: str) -> Panel:
    """Return the panel of a bank that is meant."""
    by_name = {panel.name: panel for panel in sorted(fitted.bank.panels, key=lambda panel: panel.hides)}
    meant = as_known("`panel`", name.strip(), tuple(by_name))
    if meant not in by_name:
        mend = did_you_mean(meant, by_name, f"it has {listed(tuple(by_name))}")
        raise InputError(f"`panel` {name!r}", f"is no panel of {fitted.bank.name}", mend)
    panel = by_name[meant]
    usable = set(fitted.usable_optics.names)
    coloured = [tint for tint, _ in fitted.bank.coloured(panel)]
    if len(coloured) < 2:
        mend = "name one that holds the tint and what it is let down in, as a white"
        raise InputError(f"`panel` {panel.name}", "is of one tint alone, which shows no strength", mend)
    unknown = [tint for tint in coloured if tint not in usable]
    if unknown:
        raise InputError(f"`panel` {panel.name}", f"the optics of {unknown[0]} aren't known", "name another panel")
    return panel


def _as_read(fitted: FittedBank, panel: Panel, letdown: ReadingLike | SeenCard) -> Reading:
    """Return the reading of a letdown; of one seen beside its panel it rests on what the bank makes of the panel."""
    if not isinstance(letdown, SeenCard):
        return surely_read(letdown, VIEWING, "letdown", "photograph it beside that panel (`seen`)")
    return letdown.beside(as_made(fitted, panel), VIEWING, viewing_of(fitted.bank, None, *VIEWING))


def _shown(
    fitted: FittedBank, panel: Panel, letdown: ReadingLike | SeenCard, poured: Poured, request: TinRequest
) -> tuple[TinsShown, tuple[str, ...]]:
    """Return what a letdown shows of its tins, and what is doubted of it; one that can't be of them is refused."""
    reading = _as_read(fitted, panel, letdown)
    entry = replace(spray_out_entry(reading, None), ground=panel.ground or "", build_um=panel.build_um)
    beside = tuple(panel.grams) if isinstance(letdown, SeenCard) else ()
    told = by_what_was_seen(fitted, panel, reading, poured) if beside else reading
    shown = tins_shown(fitted, told, entry, poured, request.gloss, beside)
    if not beside:
        card = sprayed_card(fitted, reading, entry, poured, request.gloss)
        named = f"the letdown ({reading.name})"
        return shown, refuse_blunder(card, poured.parts, named, request.anyway, called=LETDOWN)
    made, index = replace(as_made(fitted, panel), geometry=fitted.bank.geometry), fitted.bank.binder_index
    another = refuse_other_piece(letdown, made, index, request.anyway, "the panel", "the letdown")
    return shown, (*another, *_refuse_unexplained(fitted, panel, reading, poured, request.anyway))


def _untold(fitted: FittedBank, panel: Panel, parts: Parts, own: SprayOutEntry) -> StrengthEntry:
    """Return a letdown as it is kept, but for what it tells: of which panel, what was weighed, how it was seen."""
    names = ("name", "lab", "light", "observer", "geometry", "reflectance", "seen")
    weighed = [{"tint": tint, "grams": grams} for tint, grams in parts]
    letdown = {"panel": panel.name, "parts": weighed, **{name: getattr(own, name) for name in names}}
    lots = [fitted.bank.tint(tint).lot for tint, _ in parts]
    nothing = np.zeros((len(parts), len(parts))).tolist()
    return StrengthEntry(fitted.bank.name, None, [t for t, _ in parts], lots, nothing[0], nothing, letdown=letdown)


def _refuse_again(own: StrengthEntry, views: list[EntryView]) -> None:
    """Refuse a letdown that is recorded already: it would count twice."""
    for view in views:
        if view.kind == "strength" and view.stands and same_letdown(strength_entry_of(view), own):
            mend = "draw and read another, or strike that entry first"
            raise InputError("the letdown", f"is recorded already, as #{view.number}", mend)


def _refuse_unexplained(
    fitted: FittedBank, panel: Panel, reading: Reading, poured: Poured, anyway: bool
) -> tuple[str, ...]:
    """See that some strength of its tins makes a letdown what it is; return a warning where none does.

    Whatever was known of the tins, since a new one may be told of under the lot of another.
    """
    found = of_any_tins(fitted, panel, reading, poured)
    factors, one = found.strengths.factors, reading.seen[0]
    made = predicted_reflectance(found.optics.strengthened(factors), found.grams)
    left = float(de00(reading.lab_in(one.light, one.observer), reflectance_to_lab(made, one.light, one.observer)))
    if left <= max(MOST_LEFT, 2 * one.u95) and not _too_strong(found.strengths):
        return ()
    tints = " and ".join(found.optics.names)
    what = f"no strength of {tints} makes it differ so: ΔE00 {left:.1f} is left"
    if left <= max(MOST_LEFT, 2 * one.u95):
        what = f"one of {tints} would be {factors.max() / factors.min():.1f} times as strong against the other"
    if anyway:
        return (f"{what}; it is taken as it is",)
    mend = f"see that the panel beside it is {panel.name}, and what was weighed"
    raise InputError("the letdown", what, f"{mend}; with `anyway` it is taken as it is")


def _too_strong(found: Strengths) -> bool:
    """Return whether one of two tins would surely be too many times as strong against the other."""
    strong, weak = int(found.factors.argmax()), int(found.factors.argmin())
    own, shared = np.diag(found.covariance), found.covariance[strong, weak]
    sd = math.sqrt(max(own[strong] + own[weak] - 2 * shared, 0.0))
    return math.log(found.factors[strong] / found.factors[weak]) - 1.96 * sd > math.log(STRONGEST)


def _of_tins(tins: TodaysTins, panel: Parts) -> tuple[str, ...]:
    """Return what is to be said of the tins: those without a lot, and those that were in a card before."""
    without = [tint for tint, _ in panel if not tins.lots[tint]]
    let_down_in = _let_down_in(panel)
    before = [
        tint for tint, _ in panel if tint != let_down_in and any({tint, let_down_in} <= one for one in tins.together)
    ]
    said = []
    if without:
        said.append(
            f"{', '.join(without)}: no lot in tints.csv, so what is found counts in this job alone; any mark will do, "
            "as the day it was opened"
        )
    if before:
        said.append(
            f"{', '.join(before)} was in a card or letdown before, and both count: a newly opened tin needs a lot of "
            "its own in tints.csv"
        )
    return tuple(said)


def _let_down_in(panel: Parts) -> str:
    return max(panel, key=lambda part: part[1])[0]


def _against_the_rest(panel: Parts, after: TodaysTins) -> tuple[str, dict[str, tuple[float, float]]]:
    """Return what the tints of a panel are let down in, and how strong each other one is against it."""
    names = [tint for tint, _ in panel]
    against = _let_down_in(panel)
    assert after.prior is not None
    known = after.prior.chosen(names)
    at = names.index(against)
    found = {}
    for i, name in enumerate(names):
        if i != at:
            log = float(known.log_mean[i] - known.log_mean[at])
            covariance = known.log_covariance
            sd = float(np.sqrt(max(covariance[i, i] + covariance[at, at] - 2 * covariance[i, at], 0.0)))
            found[name] = (float(np.exp(log)), sd)
    return against, found
