"""The story of a job is told in order, and what is open is what the painter has begun and not closed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest

from finishmatch.cli.job.next_command import next_command
from finishmatch.ledger import BatchEntry, CorrectionEntry, Entry, EntryView, JobView, RecipeEntry, Story, job_story
from finishmatch.ledger.pouring import batches_of_tin, recipe_poured
from finishmatch.steps.cards_of_tin import sprayed_before
from tests.helpers.ledger_samples import (
    DEFECT,
    FILM,
    NOTE,
    OUTSIDE,
    PARTS,
    READING,
    RECIPE,
    TARGET,
    WITHIN,
    correction,
    decision,
    spray_out,
)

JOB = JobView(1, "Roof", "Tarnbeck Six", "Saltmarsh Blue", "", "2026-03-01T08:00:00Z")
BATCH = BatchEntry(PARTS)
Written = Entry | tuple[Entry, int]  # an entry, or an entry and the number it replaces


def _views(written: Sequence[Written]) -> list[EntryView]:
    replaced = {item[1]: i for i, item in enumerate(written, 1) if isinstance(item, tuple)}
    place: dict[int, int] = {}
    views = []
    for number, item in enumerate(written, 1):
        entry, supersedes = item if isinstance(item, tuple) else (item, None)
        place[number] = number if supersedes is None else place[supersedes]
        views.append(
            EntryView(
                number=number,
                kind=entry.KIND,
                made_at="2026-03-01T09:00:00Z",
                entry=entry,
                supersedes=supersedes,
                superseded_by=replaced.get(number),
                reason="" if supersedes is None else f"reason {number}",
                sources=(("a.csv", "0" * 64),),
                place=place[number],
            )
        )
    return views


def _story(*written: Written) -> Story:
    return job_story(JOB, _views(written))


def _open(*written: Written) -> list[str]:
    return [item.what for item in _story(*written).open]


CHAIN = (TARGET, RECIPE, BATCH, spray_out(3), OUTSIDE, correction(3), BatchEntry((*PARTS, ("blue", 6.2))), spray_out(7))


@pytest.mark.parametrize(
    ("steps", "what"),
    [
        (1, "target #1 has no recipe yet"),
        (2, "recipe #2 is not poured yet"),
        (3, "batch #3 is not sprayed yet"),
        (4, "spray-out #4 is not judged yet"),
        (5, "verdict #5 is outside, and no correction is worked out"),
        (6, "correction #6 is not poured yet"),
        (7, "batch #7 is not sprayed yet"),
        (8, "spray-out #8 is not judged yet"),
    ],
)
def test_each_step_of_the_work_opens_exactly_the_next(steps: int, what: str) -> None:
    assert _open(*CHAIN[:steps]) == [what]


def test_a_job_whose_last_spray_out_is_within_has_nothing_open() -> None:
    assert _open(*CHAIN, WITHIN) == []
    assert _open() == []
    assert _open(READING, NOTE, FILM) == []


def test_what_was_read_waits_to_be_weighed_until_a_target_or_other_work_stands() -> None:
    assert _open(NOTE, READING) == ["reading #2 is not weighed for a target yet"]
    assert _open(READING, READING) == ["readings #1, #2 are not weighed for a target yet"]
    assert _open(READING, TARGET) == ["target #2 has no recipe yet"]
    assert _open(READING, DEFECT) == ["defect #2 (crater on the roof) has no decision yet"]


def test_a_defect_waits_for_its_decision_and_a_decision_for_its_outcome() -> None:
    assert _open(DEFECT) == ["defect #1 (crater on the roof) has no decision yet"]
    assert _open(DEFECT, DEFECT, decision(2)) == [
        "defect #1 (crater on the roof) has no decision yet",
        "decision #3 (back to primer) has no outcome yet",
    ]
    assert _open(DEFECT, decision(1, "no crater came back")) == []
    assert _open(DEFECT, decision(None, "no crater came back")) == []
    assert _open(DEFECT, decision(1), (decision(1, "no crater came back"), 2)) == []


def test_a_fact_replaced_after_it_was_judged_is_open_again() -> None:
    judged = (*CHAIN, WITHIN)
    assert _open(*judged, (spray_out(7), 8)) == ["spray-out #10 is not judged yet"]
    assert _open(TARGET, RECIPE, (TARGET, 1)) == ["target #3 has no recipe yet", "recipe #2 is not poured yet"]
    assert _open(DEFECT, decision(1, "done"), (DEFECT, 1)) == [
        "defect #3 (crater on the roof) was logged anew after decision #2: decide again"
    ]


def test_mending_a_slip_in_the_record_does_not_undo_the_work_done_since() -> None:
    judged = (*CHAIN, WITHIN)
    assert _open(*judged, (BatchEntry(PARTS[:2]), 3)) == []
    assert _open(*judged, (BatchEntry(PARTS), 7)) == []


def test_a_correction_that_cant_reach_asks_for_a_fresh_mix() -> None:
    chain = (*CHAIN[:5], correction(3, reachable=False))
    assert _open(*chain) == ["correction #6 found that adding can't bring it there: mix afresh"]
    assert _open(*chain, RECIPE) == ["recipe #7 is not poured yet"]
    nothing_to_add = CorrectionEntry(3, (), 0.0, True, {"D65": 0.2}, {})
    assert _open(*CHAIN[:5], nothing_to_add) == []


def test_evidence_compared_before_there_was_a_target_leaves_nothing_to_correct() -> None:
    assert _open(READING, READING, OUTSIDE, *CHAIN[:1]) == ["target #4 has no recipe yet"]


def test_every_open_item_names_the_entry_and_a_command_with_the_job() -> None:
    for steps in range(1, len(CHAIN) + 1):
        (item,) = _story(*CHAIN[:steps]).open
        assert item.number == steps
        assert item.kind == CHAIN[steps - 1].KIND
        command = next_command(JOB, item)
        assert command.startswith("finishmatch ")
        assert "J1" in command


def test_a_replaced_entry_is_struck_and_followed_by_what_replaced_it() -> None:
    story = _story(NOTE, FILM, (NOTE, 1))
    assert [(line.number, line.struck, line.remark) for line in story.lines] == [
        (1, True, "replaced by #3: reason 3"),
        (3, False, "replaces #1: reason 3"),
        (2, False, ""),
    ]
    assert [line.number for line in story.current] == [3, 2]
    assert story.lines[0].files == ("a.csv",)


def test_the_story_speaks_a_painters_words() -> None:
    lines = _story(READING, *CHAIN[:6], FILM, DEFECT, decision(9, "none came back"), correction(3, False)).lines
    assert [(line.kind, line.text) for line in lines] == [
        (
            "reading",
            "tin (leftover tin): L* 38.2 a* -4.1 b* -20.3 (D65, 10°), known to ±0.80; 3 readings, spread 0.12 ΔE00",
        ),
        (
            "target",
            "Saltmarsh Blue: L* 38.2 a* -4.1 b* -20.3 (D65, 10°), tolerance 0.5 ΔE00, known to ±0.40; "
            "rests on leftover tin, door shut; sun visor left out: faded",
        ),
        (
            "recipe",
            "500.0 g from Lowmere bank: white 300.0 g, blue 187.5 g, black 12.5 g; predicted ΔE00 D65 0.10, A 0.30",
        ),
        ("batch", "poured 500.0 g: white 300.0 g, blue 187.5 g, black 12.5 g"),
        (
            "spray-out",
            "card 1, sprayed batch #3, over grey primer, 2 coats, 45 µm, cut and polished: "
            "L* 39.4 a* -3.2 b* -19.9 (D65, 10°)",
        ),
        (
            "verdict",
            "outside 0.5: card 1 against Saltmarsh Blue, ΔE00 1.42 (lighter, redder); D65 1.42, A 1.50",
        ),
        (
            "correction",
            "add to batch #3 blue 6.2 g; adds 1.2 % to the tin; then predicted ΔE00 D65 0.20; blue is weak today",
        ),
        ("film", "roof, layer 1 from the metal, primer: 62 left, 58 right µm (mean 60.0 of 2)"),
        (
            "defect",
            "12 × crater, on the roof, left rear, 0.8 mm across, 40 µm deep, open to the primer, rated 3(S4), "
            "seen on colour coat; exposed to: air line 2 2024-05-01, gun HVLP 1; signs: rim, no speck; "
            "checks: water break: breaks",
        ),
        (
            "decision",
            "back to primer for defect #9 (of 2 options), because it is open to the primer; outcome: none came back",
        ),
        ("correction", "adding can't bring it there; blue is weak today"),
    ]


def test_a_batch_is_linked_to_the_recipe_it_follows_by_share_of_weight() -> None:
    other = RecipeEntry(**{**vars(RECIPE), "parts": (("white", 100.0), ("red", 400.0)), "rank": 2})
    recipes = _views([RECIPE, other])
    half = tuple((tint, grams / 2) for tint, grams in PARTS)
    twice_poured = (("white", 150.0), *PARTS[1:], ("white", 150.0))
    assert recipe_poured(half, recipes) == recipe_poured(twice_poured, recipes) == 1
    assert recipe_poured((("red", 390.0), ("white", 110.0)), recipes) == 2
    assert recipe_poured((("white", 100.0),), recipes) is None
    # with a tint too many it may have been added later; with one missing it was not poured by that recipe
    assert recipe_poured((("red", 398.0), ("white", 100.0), ("black", 2.0)), recipes) == 2
    little = RecipeEntry(**{**vars(RECIPE), "parts": (("white", 100.0), ("red", 398.0), ("black", 2.0)), "rank": 3})
    assert recipe_poured((("red", 400.0), ("white", 100.0)), _views([little])) is None
    assert recipe_poured(PARTS, []) is None


def test_a_tin_is_followed_back_through_what_was_added_and_what_was_replaced() -> None:
    more = BatchEntry((*PARTS, ("blue", 6.2)), continues=1)
    views = _views((BATCH, spray_out(1), more, (replace(more, parts=PARTS), 3), BatchEntry(PARTS, continues=3), BATCH))
    assert [view.number for view in batches_of_tin(views[4], views)] == [5, 3, 1]
    assert list(batches_of_tin(None, views)) == []
    assert [sprayed_before(views, number) for number in (5, 4, 1, 6, None)] == [2, 2, 2, None, None]
