"""Which panels to draw for a bank in the time there is, the most telling first."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from finishmatch.errors import InputError
from finishmatch.optics.panel_plan import PanelPlan, plan_panels
from finishmatch.readings import read_bank
from finishmatch.steps.hazards import parts_document
from finishmatch.steps.progress import Progress, quiet

USUAL, MOST = 8, 60  # panels: an afternoon's, and more than a day's
WORTH_DE00 = 0.1  # by so much all panels must lower what mixtures are off by: less nobody sees («common practice»)
_AGAIN = re.compile(r" \(\d+\)$")


@dataclass(frozen=True)
class BankPlan:
    """The panels to draw, of the bank of a name."""

    name: str
    plan: PanelPlan

    @property
    def worth_drawing(self) -> bool:
        """Whether the panels tell anything that would be seen."""
        return self.plan.doubt_de00 - self.plan.panels[-1].doubt_de00 >= WORTH_DE00

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object."""
        plan = self.plan
        return {
            "name": self.name,
            "doubt_de00": plan.doubt_de00,
            "panels": [
                {"panel": panel.name, "parts": parts_document(panel.parts), "doubt_de00": panel.doubt_de00}
                for panel in plan.panels
            ],
            "worth_drawing": self.worth_drawing,
            "fitted": list(plan.fitted),
            "kinds": dict(plan.kinds),
            "by_instrument": plan.by_instrument,
        }


def plan_bank(folder: str | Path, panels: int = USUAL, *, progress: Progress = quiet) -> BankPlan:
    """Return which panels to draw next for a bank, which may be one of tints.csv alone.

    Parameters
    ----------
    folder : str or Path
    panels : int
        How many there is time for.
    progress : Progress

    Raises
    ------
    InputError
        A bank that can't be read or fitted, or a number of panels that nobody draws.
    """
    if not 1 <= panels <= MOST:
        raise InputError("`panels`", f"{panels} panels can't be planned", f"give a number from 1 to {MOST}")
    bank = read_bank(Path(folder), begun=True)
    with progress(f"weighing panels of {bank.name}"):
        plan = plan_panels(bank, panels)
    taken = {panel.name for panel in bank.panels}
    named = []
    for panel in plan.panels:  # one that was drawn before is drawn again, and is another panel
        base, times, name = _AGAIN.sub("", panel.name), 1, panel.name
        while name in taken:
            times += 1
            name = f"{base} ({times})"
        taken.add(name)
        named.append(replace(panel, name=name))
    return BankPlan(bank.name, replace(plan, panels=tuple(named)))
