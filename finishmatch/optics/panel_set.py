"""The panels of a bank as arrays: what is in each, what it lies on, what was read and how surely."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from finishmatch.colour import Floats
from finishmatch.errors import InputError
from finishmatch.near_names import listed
from finishmatch.optics.bank import Bank, Panel, Tint, volume_fractions
from finishmatch.optics.seen_panels import NO_SPECTRUM_SD, SeenRows, seen_rows
from finishmatch.optics.surface import ground_in_contact, specular_included

Bools = NDArray[np.bool_]

REPEATABILITY_SD = 0.0005  # of a reading that wasn't repeated («common practice» of bench instruments)
WEIGHING_SD_G = 0.03  # of a part weighed into a panel («common practice»)
# what the film model leaves: a share of the reflectance, one of what a film's reading differs by over black and over
# white, and a floor; measured in docs/accuracy.md
MODEL_SHARE = 0.003
MODEL_SHARE_SHOWN = 0.009
MODEL_FLOOR = 0.0003


@dataclass(frozen=True)
class PanelSet:
    """p panels of n tints.

    `build_um` of shape (p,) is infinite for panels that hide; `ground` of shape (p, 31) is in contact with the film.
    """

    tints: tuple[Tint, ...]
    names: tuple[str, ...]
    grams: Floats  # (p, n)
    fractions: Floats  # (p, n), dry volume
    build_um: Floats
    ground: Floats
    readings: Floats  # (p, 31)
    reading_sd: Floats  # (p, 31)
    mixture: NDArray[np.intp]  # (p,): readings of one mixture bear the same number
    seen: SeenRows | None = None  # of those whose colour alone is known

    @property
    def dry(self) -> Floats:
        """Dry volume per gram of each tint, shape (n,)."""
        return np.array([tint.dry_ml_per_g for tint in self.tints])

    @property
    def hiding(self) -> Bools:
        """Which panels hide, shape (p,)."""
        return np.isinf(self.build_um)

    @property
    def spectral(self) -> Bools:
        """Of which panels a spectrum was read, shape (p,)."""
        read = np.ones(len(self.names), dtype=bool)
        if self.seen is not None:
            read[self.seen.rows] = False
        return read

    @property
    def shared(self) -> int:
        """How many errors panels that were seen have in common."""
        return 0 if self.seen is None else self.seen.shared.shape[1]

    @property
    def anchor(self) -> int:
        """The tint whose S sets the scale where no build is known: the white, or else the one in most panels."""
        return _anchor(self.tints, self.fractions)

    def chosen(self, rows: Bools, tints: NDArray[np.intp]) -> PanelSet:
        """Return some of the panels, which hold no other tints than those chosen."""
        return PanelSet(
            tuple(self.tints[i] for i in tints),
            tuple(name for name, here in zip(self.names, rows, strict=True) if here),
            self.grams[np.ix_(rows, tints)],
            self.fractions[np.ix_(rows, tints)],
            self.build_um[rows],
            self.ground[rows],
            self.readings[rows],
            self.reading_sd[rows],
            self.mixture[rows],
            None if self.seen is None else self.seen.chosen(rows),
        )


def panel_set(bank: Bank) -> tuple[PanelSet, tuple[str, ...]]:
    """Return the panels of a bank that can be fitted, and what is left aside and why.

    Raises
    ------
    InputError
        When there is nothing to fit.
    """
    warnings = list(bank.warnings)
    thin = any(not panel.hides for panel in bank.panels)
    tints = [tint for tint in bank.tints if tint.role != "clear" or (thin and _stands(tint.name, bank.panels))]
    clears = [tint.name for tint in bank.tints if tint not in tints]
    if clears:
        warnings.append(f"{', '.join(clears)}: a clear has no colour in a film that hides; it is left out")
    if not bank.panels:
        raise InputError(f"bank {bank.name}", "has no panels", "add masstones and letdowns")
    # a tin that was bought and entered before its panels are drawn doesn't stop the work with the others
    unread = [tint for tint in tints if not _stands(tint.name, bank.panels)]
    if len(unread) == len(tints):
        raise InputError(
            f"bank {bank.name}", "no panel that was read holds any of its tints", "add masstones and letdowns"
        )
    tints = [tint for tint in tints if tint not in unread]
    warnings += _in_no_panel(unread)
    known = [tint.name for tint in tints]
    panels = [panel for panel in bank.panels if any(name in known and g > 0 for name, g in panel.grams)]
    grams = _weighed(panels, known)
    read = np.stack([panel.reflectance for panel in panels])
    grounds = dict(bank.grounds)
    specular = specular_included(bank.geometry)
    contact = {name: ground_in_contact(r, bank.binder_index, specular) for name, r in grounds.items()}
    size = read.shape[1]
    fractions = volume_fractions(grams, np.array([tint.dry_ml_per_g for tint in tints]))
    return (
        PanelSet(
            tints=tuple(tints),
            names=tuple(panel_label(panel) for panel in panels),
            grams=grams,
            fractions=fractions,
            build_um=np.array([np.inf if panel.build_um is None else panel.build_um for panel in panels]),
            ground=np.stack([np.zeros(size) if panel.ground is None else contact[panel.ground] for panel in panels]),
            readings=read,
            reading_sd=_reading_sd(panels, read),
            mixture=_mixtures(panels),
            seen=seen_rows(panels, _coloured_by(fractions, _anchor(tints, fractions))),
        ),
        tuple(warnings),
    )


def _weighed(panels: Sequence[Panel], tints: Sequence[str]) -> Floats:
    """Return the grams of some tints in each panel, shape (p, n)."""
    column = {name: i for i, name in enumerate(tints)}
    grams = np.zeros((len(panels), len(tints)))
    for row, panel in zip(grams, panels, strict=True):
        for tint, weighed in panel.grams:
            if tint in column:
                row[column[tint]] += weighed
    return grams


def _anchor(tints: Sequence[Tint], fractions: Floats) -> int:
    for i, tint in enumerate(tints):
        if tint.role == "white":
            return i
    return int((fractions > 0).sum(axis=0).argmax())


def _coloured_by(fractions: Floats, anchor: int) -> Floats:
    """Return how much of each panel's colour is of each tint, shape (p, n): the anchor's where it stands alone."""
    others = fractions.copy()
    others[:, anchor] = 0.0
    whole = others.sum(axis=1, keepdims=True)
    alone = np.eye(fractions.shape[1])[anchor]
    return np.where(whole > 0, others / np.where(whole > 0, whole, 1.0), alone)


def _in_no_panel(unread: Sequence[Tint]) -> list[str]:
    """Return notes of the tints that no panel holds: one of all that need the same panel."""
    alike: dict[str, list[str]] = {}
    for tint in unread:
        alike.setdefault(_first_panel(tint), []).append(tint.name)
    said = []
    for first, names in alike.items():
        many = len(names) > 1
        what = "are in no panel that was read, so they" if many else "is in no panel that was read, so it"
        said.append(f"tint{'s' * many} {listed(names)}: {what} can't be mixed with; add {first}")
    return said


def _first_panel(tint: Tint) -> str:
    """Return the panel that makes a tint without any one to mix with."""
    return "its masstone" if tint.role == "white" else "a letdown with white (bank plan names the most telling)"


def panel_label(panel: Panel) -> str:
    """Return how a panel is named: with its ground and build when it is read over several."""
    if panel.ground is None:
        return panel.name
    return f"{panel.name} over {panel.ground}, {panel.build_um:g} µm"


def _mixtures(panels: list[Panel]) -> NDArray[np.intp]:
    numbers: dict[object, int] = {}
    keys = [(panel.name, tuple(sorted(panel.grams))) for panel in panels]
    return np.array([numbers.setdefault(key, len(numbers)) for key in keys], dtype=np.intp)


def _stands(name: str, panels: tuple[Panel, ...]) -> bool:
    return any(tint == name and grams > 0 for panel in panels for tint, grams in panel.grams)


def _reading_sd(panels: list[Panel], read: Floats) -> Floats:
    """Return the standard deviation of each mean reading, from the pooled scatter of repeats where there are any."""
    squares, freedom = 0.0, 0
    for panel, mean in zip(panels, read, strict=True):
        if len(panel.repeats) > 1:
            squares += float(((panel.repeats - mean) ** 2).mean(axis=1).sum())
            freedom += len(panel.repeats) - 1
    single = np.sqrt(squares / freedom) if freedom >= 3 else REPEATABILITY_SD
    each = [single / np.sqrt(len(panel.repeats)) if panel.seen is None else NO_SPECTRUM_SD for panel in panels]
    return np.repeat(np.array(each)[:, None], read.shape[1], axis=1)


def strength_known(panels: PanelSet) -> tuple[tuple[str, ...], list[str]]:
    """Return the tints whose strength the panels show, and those whose they don't.

    It is known from panels that mix a tint with others whose strength is known (the anchor's is), or from a film of
    known build.
    """
    names = [tint.name for tint in panels.tints]
    mixed = panels.fractions > 0
    linked = {panels.anchor}
    linked |= {int(i) for i in np.flatnonzero(mixed[~panels.hiding].any(axis=0))}
    grown = True
    while grown:
        reach = {int(i) for i in np.flatnonzero(mixed[mixed[:, sorted(linked)].any(axis=1)].any(axis=0))}
        grown = not reach <= linked
        linked |= reach
    return (
        tuple(name for i, name in enumerate(names) if i in linked),
        [name for i, name in enumerate(names) if i not in linked],
    )


def tints_untold(bank: Bank) -> tuple[str, ...]:
    """Return the tints with a colour whose strength no panel of a bank shows: those that were never drawn down, too."""
    try:
        known = strength_known(panel_set(bank)[0])[0]
    except InputError:  # there is nothing to fit
        known = ()
    return tuple(tint.name for tint in bank.tints if tint.role != "clear" and tint.name not in known)
