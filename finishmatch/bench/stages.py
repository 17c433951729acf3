"""The work on a job in its order, as the job's screen shows it: what is done, what is next, where each is done."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from finishmatch.steps.job.next_step import JobOpen
from finishmatch.steps.job.show import JobShown

SHOWN_OF_A_STAGE = 5  # the newest lines; the rest stand on the page of the record


@dataclass(frozen=True)
class Stage:
    """A stage of the work.

    Parameters
    ----------
    name : str
        In an address and an anchor.
    heading : str
    kinds : tuple of str
        The kinds of entry that belong to it, by the word of the trade.
    actions : tuple of (path, what)
        What can be done there, below "/job/J1/".
    """

    name: str
    heading: str
    kinds: tuple[str, ...]
    actions: tuple[tuple[str, str], ...]


STAGES = (
    Stage("evidence", "Evidence", ("reading",), (("evidence", "Enter evidence"), ("photo", "Read a photograph"))),
    Stage("target", "Target", ("target",), (("evidence", "Weigh evidence for a target"),)),
    Stage("recipe", "Recipe", ("recipe",), (("recipe", "Work out a recipe"), ("photo", "Try a new tin by a letdown"))),
    Stage("weigh", "Weigh-out", ("batch",), (("weigh", "Weigh out"),)),
    Stage("card", "Spray-out", ("spray-out", "strength"), (("card", "Enter a card"), ("photo", "Photograph a card"))),
    Stage(
        "verdict",
        "Verdict",
        ("verdict",),
        (("card", "Judge a card"), ("swatches", "See both side by side")),
    ),
    Stage("correction", "Correction", ("correction",), (("weigh", "Pour what is to be added"),)),
    Stage("film", "Film", ("film", "coat"), (("film", "Enter build readings"), ("film-map", "See the film map"))),
    Stage("defect", "Defects", ("defect",), (("defect", "Log a defect"),)),
    Stage("decision", "Decision", ("decision",), ()),
    Stage("note", "Plans and notes", ("plan", "note"), (("note", "Write a note"),)),
)

# where an open item is closed: by what it needs, the screen and what the button says
_CLOSED_AT = {
    "target": ("evidence", "evidence", "Enter the evidence"),
    "recipe": ("recipe", "recipe", "Work out a recipe"),
    "batch": ("weigh", "weigh", "Weigh out"),
    "spray-out": ("card", "card", "Enter the card"),
    "verdict": ("verdict", "card", "Judge the card"),
    "correction": ("verdict", "card", "Work out the correction"),
    "decision": ("defect", "defect/{number}", "Decide the rework"),
    "outcome": ("decision", "decision/{number}", "Say how it came out"),
}


@dataclass(frozen=True)
class Step:
    """What comes next: the stage it belongs to, where it is done, what the button says, and why it is open."""

    stage: str
    path: str
    label: str
    what: str


@dataclass(frozen=True)
class StageShown:
    """A stage of a job.

    Parameters
    ----------
    stage : Stage
    state : str
        "next", "open", "done" or "later".
    lines : tuple of StoryLine
        The newest, the newest last.
    more : int
        How many older ones there are.
    open : tuple of Step
    """

    stage: Stage
    state: str
    lines: tuple[object, ...]
    more: int
    open: tuple[Step, ...]


def step_of(ref: str, kind: str, number: int, needs: str, what: str) -> Step:
    """Return where an open item of a job is closed."""
    if needs.startswith("plan "):
        return Step("note", f"/job/{ref}/entry/{number}", "See the plan that says no", what)
    stage, path, label = _CLOSED_AT[needs]
    if (kind, needs) == ("correction", "batch"):
        label = "Pour what is to be added"
    if (kind, needs) == ("reading", "target"):
        label = "Weigh what was read"
    return Step(stage, f"/job/{ref}/{path.format(number=number)}", label, what)


def steps_open(one: JobOpen) -> tuple[Step, ...]:
    """Return what is open in a job, what comes first in front."""
    return tuple(step_of(one.job.ref, item.kind, item.number, item.needs, item.what) for item in one.open)


def stages_of(shown: JobShown, steps: Sequence[Step]) -> tuple[StageShown, ...]:
    """Return the stages of a job as it stands.

    Parameters
    ----------
    shown : JobShown
    steps : sequence of Step
        What is open, what comes first in front.
    """
    return tuple(_stage_shown(stage, shown, steps) for stage in STAGES)


def _stage_shown(stage: Stage, shown: JobShown, steps: Sequence[Step]) -> StageShown:
    lines = [line for line in shown.story.current if line.kind in stage.kinds]
    here = tuple(step for step in steps if step.stage == stage.name)
    state = "later" if not lines else "done"
    if here:
        state = "next" if here[0] == steps[0] else "open"
    return StageShown(stage, state, tuple(lines[-SHOWN_OF_A_STAGE:]), max(0, len(lines) - SHOWN_OF_A_STAGE), here)
