"""Which build readings of a panel are of the film that is there now, where the panel was painted again."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from finishmatch.defects.options import NAMES, PRIMER, RECOAT
from finishmatch.ledger import DecisionEntry, DefectEntry, EntryView, FilmLayerEntry

_REMADE = (NAMES[PRIMER], NAMES[RECOAT])  # what is rubbed out, levelled or stripped at a spot leaves the film around it


def film_now(views: Iterable[EntryView], panel: str) -> list[EntryView]:
    """Return the entries without readings of a layer of a panel that was reworked and has been read anew since.

    Parameters
    ----------
    views : iterable of EntryView
        Those of the job that stand.
    panel : str
    """
    given = list(views)
    remade = _last_rework(given, panel)
    if remade is None:
        return given
    anew = {_key(view) for view in _readings(given, panel) if view.place > remade.place}
    gone = {view.number for view in _readings(given, panel) if view.place < remade.place and _key(view) in anew}
    return [view for view in given if view.number not in gone]


def read_before_rework(views: Sequence[EntryView], panel: str) -> tuple[str, ...]:
    """Return a warning where layers of a panel that was reworked were only read before; parameters as `film_now`."""
    remade = _last_rework(views, panel)
    if remade is None:
        return ()
    readings = _readings(film_now(views, panel), panel)
    old = dict.fromkeys(_key(view)[1] for view in readings if view.place < remade.place)
    if not old:
        return ()
    assert isinstance(remade.entry, DecisionEntry)
    return (
        f"{', '.join(old)} of the {panel}: read before decision #{remade.number} ({remade.entry.chosen}) was carried "
        "out, so this is told of a film that isn't there any more: read it anew (finishmatch job film)",
    )


def _readings(views: Iterable[EntryView], panel: str) -> list[EntryView]:
    return [
        view
        for view in views
        if isinstance(view.entry, FilmLayerEntry) and view.entry.panel.casefold() == panel.casefold()
    ]


def _key(view: EntryView) -> tuple[int, str]:
    assert isinstance(view.entry, FilmLayerEntry)
    return view.entry.position, view.entry.layer.casefold()


def _last_rework(views: Sequence[EntryView], panel: str) -> EntryView | None:
    """Return the last decision by which a panel was painted again, and whose outcome is known; None without one."""
    of_panel = {
        number
        for view in views
        if isinstance(view.entry, DefectEntry) and view.entry.panel.casefold() == panel.casefold()
        for number in (view.number, view.place)  # it may have been entered again since
    }
    found = [
        view
        for view in views
        if isinstance(view.entry, DecisionEntry)
        and view.entry.outcome
        and view.entry.chosen in _REMADE
        and view.entry.defect in of_panel
    ]
    return max(found, key=lambda view: view.place, default=None)
