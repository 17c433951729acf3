"""What is struck stays in the history and counts no more; a strike can be struck itself, and nothing else can."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from finishmatch.defects.shop_record import ShopRecord
from finishmatch.errors import InputError
from finishmatch.ledger import (
    BatchEntry,
    CoatEntry,
    DecisionEntry,
    DefectEntry,
    Entry,
    JobView,
    Ledger,
    NoteEntry,
    Nth,
    SprayOutEntry,
    StrengthEntry,
    StrikeEntry,
    VerdictEntry,
    cards_without_strength,
    coat_numbered,
    open_ledger,
    recorded_outcomes,
    strength_standing,
    strengths_counted,
)
from finishmatch.ledger.pouring import off_the_shelf
from finishmatch.ledger.shop import read_shop
from finishmatch.steps.spray_outs_counted import tins_as_shown
from tests.helpers.ledger_samples import BLUE, OUTSIDE, correction, every_kind

Bench = tuple[Ledger, JobView]


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    """A ledger with a job."""
    with open_ledger(tmp_path) as ledger:
        yield ledger, ledger.new_job("Roof")


def _strike(bench: Bench, number: int, why: str = "entered twice") -> int:
    return bench[0].record(bench[1], StrikeEntry(number, why))


def _standing(bench: Bench) -> list[int]:
    return [view.number for view in bench[0].entries(bench[1], current_only=True)]


def _card(batch: int | None) -> SprayOutEntry:
    return SprayOutEntry(batch, BLUE, name="card 1")


def _strength(card: int, mean: float = 0.1) -> StrengthEntry:
    return StrengthEntry("Lowmere bank", card, ("blue",), ("",), (mean,), ((0.001,),), None, ((1000.0,),), (100.0,))


@pytest.mark.parametrize("index", range(len(every_kind())))
def test_an_entry_of_any_kind_can_be_struck_and_restored(bench: Bench, index: int) -> None:
    ledger, job = bench
    numbers = ledger.record_all(job, every_kind())
    strike = _strike(bench, numbers[index])
    assert numbers[index] not in _standing(bench)
    view = next(view for view in ledger.entries(job) if view.number == numbers[index])
    assert (view.struck_by, view.stands) == (strike, False)
    _strike(bench, strike, "it was right")
    assert _standing(bench) == numbers


def test_only_what_counts_can_be_struck_and_a_restored_entry_only_by_itself(bench: Bench) -> None:
    ledger, job = bench
    first = ledger.record(job, NoteEntry("half dried"))
    later = ledger.record(job, NoteEntry("dried through"), supersedes=first, reason="looked again")
    with pytest.raises(InputError, match=f"#{first}: was replaced by #{later} and doesn't count; strike #{later}"):
        _strike(bench, first)
    strike = _strike(bench, later)
    with pytest.raises(InputError, match=f"was struck already .* strike the strike, #{strike}"):
        _strike(bench, later)
    restoring = _strike(bench, strike, "it was right")
    with pytest.raises(InputError, match=r"restored what .* had struck; strike that entry again"):
        _strike(bench, restoring)
    with pytest.raises(InputError, match="was struck already"):
        _strike(bench, strike)
    with pytest.raises(InputError, match="there is no such entry"):
        _strike(bench, 99)
    other = ledger.record(ledger.new_job("Wing"), NoteEntry("of another job"))
    with pytest.raises(InputError, match="belongs to job J2"):
        _strike(bench, other)
    _strike(bench, later)
    assert _standing(bench) == [first]


def test_what_a_struck_entry_had_replaced_stands_again_and_can_be_replaced_anew(bench: Bench) -> None:
    ledger, job = bench
    first = ledger.record(job, NoteEntry("half dried"))
    wrong = ledger.record(job, NoteEntry("of another tin"), supersedes=first, reason="looked again")
    _strike(bench, wrong, "that was the other tin")
    assert _standing(bench) == [first]
    right = ledger.record(job, NoteEntry("dried through"), supersedes=first, reason="cut it open")
    assert _standing(bench) == [right]
    views = {view.number: view for view in ledger.entries(job)}
    assert (views[first].superseded_by, views[right].supersedes, views[right].place) == (right, first, first)
    with pytest.raises(InputError, match="was struck"):
        ledger.record(job, NoteEntry("x"), supersedes=wrong, reason="x")
    with pytest.raises(InputError, match=f"has already been replaced by #{right}"):
        ledger.record(job, NoteEntry("x"), supersedes=first, reason="x")


def test_what_rests_on_a_struck_entry_falls_with_it_and_comes_back_with_it(bench: Bench) -> None:
    ledger, job = bench
    judged = VerdictEntry(**{**vars(OUTSIDE), "spray_out": Nth(1)})
    facts: list[Entry] = [BatchEntry((("blue", 10.0),)), _card(Nth(0)), judged, correction(Nth(0))]
    batch, card, verdict, to_add = ledger.record_all(job, facts)
    strength = ledger.record(job, _strength(card))
    strike = _strike(bench, card)
    assert _standing(bench) == [batch, to_add]
    assert {view.number: view.fell_with for view in ledger.entries(job)}[verdict] == card
    assert strength_standing(ledger.entries(job), "Lowmere bank") is None
    _strike(bench, strike)
    assert _standing(bench) == [batch, card, verdict, to_add, strength]
    _strike(bench, batch)
    assert _standing(bench) == [card, verdict, strength]
    assert strengths_counted(ledger.entries(job), "Lowmere bank") == []  # it isn't known what the card was of
    assert cards_without_strength(ledger.entries(job), "Lowmere bank") == []
    assert [item.number for item in ledger.story(job).open] == [verdict]


def test_a_struck_opening_of_new_tins_brings_back_what_was_known_of_the_old(bench: Bench) -> None:
    ledger, job = bench
    (batch, card) = ledger.record_all(job, [BatchEntry((("blue", 10.0),)), _card(Nth(0))])
    strength = ledger.record(job, _strength(card))
    opened = ledger.record(job, StrengthEntry("Lowmere bank", None, (), (), (), ()))
    again = ledger.record(job, SprayOutEntry(batch, (40.0, -4.0, -20.0)))
    since = StrengthEntry(**{**vars(_strength(again)), "starts_from": opened})
    newer = ledger.record(job, since)
    views = ledger.entries(job)
    assert [view.number for view in strengths_counted(views, "Lowmere bank")] == [newer]
    _strike(bench, opened, "no new tins")
    counted = strengths_counted(ledger.entries(job), "Lowmere bank")
    assert [view.number for view in counted] == [strength, newer]


def test_a_strength_that_goes_on_from_a_struck_card_says_so_and_is_told_without_it(bench: Bench) -> None:
    ledger, job = bench
    batch, wrong = ledger.record_all(job, [BatchEntry((("blue", 10.0),)), _card(Nth(0))])
    first = ledger.record(job, _strength(wrong))
    right = ledger.record(job, SprayOutEntry(batch, (40.0, -4.0, -20.0)))
    # a precision of 400 before all cards, 1000 by the wrong one, 500 by the right one
    both = StrengthEntry(
        "Lowmere bank", right, ("blue",), ("",), (80 / 1900,), ((1 / 1900,),), first, ((500.0,),), (-20.0,)
    )
    newer = ledger.record(job, both)

    def told() -> tuple[float, float, str]:
        shown = tins_as_shown(ledger.entries(job))
        assert shown is not None
        remark = next(line.remark for line in ledger.story(job).lines if line.number == newer)
        return float(shown.log_mean[0]), float(shown.log_covariance[0, 0]), remark

    assert told() == (pytest.approx(80 / 1900), pytest.approx(1 / 1900), "")
    strike = _strike(bench, wrong, "a card of another tin")
    assert told() == (pytest.approx(-20 / 900), pytest.approx(1 / 900), f"rests on #{first} too, which counts no more")
    _strike(bench, strike, "it was right")
    assert told() == (pytest.approx(80 / 1900), pytest.approx(1 / 1900), "")
    _strike(bench, right, "this one was wrong")
    shown = tins_as_shown(ledger.entries(job))
    assert shown is not None
    assert float(shown.log_mean[0]) == pytest.approx(0.1)


def test_of_a_struck_card_of_another_tin_as_well_nothing_is_told(bench: Bench) -> None:
    ledger, job = bench
    batch, wrong = ledger.record_all(job, [BatchEntry((("blue", 10.0),)), _card(Nth(0))])
    first = ledger.record(job, StrengthEntry(**{**vars(_strength(wrong)), "lots": ("L 1",)}))
    right = ledger.record(job, SprayOutEntry(batch, (40.0, -4.0, -20.0)))
    ledger.record(job, StrengthEntry(**{**vars(_strength(right)), "lots": ("L 2",), "starts_from": first}))
    assert tins_as_shown(ledger.entries(job)) is not None
    _strike(bench, wrong)
    assert tins_as_shown(ledger.entries(job)) is None


def test_a_tin_that_goes_on_from_a_struck_batch_was_poured_whole(bench: Bench) -> None:
    ledger, job = bench
    first = ledger.record(job, BatchEntry((("white", 300.0),)))
    second = ledger.record(job, BatchEntry((("white", 310.0),), continues=first))
    view = ledger.entries(job, kind=BatchEntry)[1]
    assert off_the_shelf(view, ledger.entries(job, kind=BatchEntry)) == {"white": 10.0}
    _strike(bench, first)
    views = ledger.entries(job, kind=BatchEntry)
    assert [view.number for view in ledger.entries(job, current_only=True, kind=BatchEntry)] == [second]
    assert off_the_shelf(views[1], views) == {"white": 310.0}


def _shop(ledger: Ledger) -> ShopRecord:
    return read_shop(ledger)


def test_the_shops_record_counts_no_struck_coat_defect_or_outcome(bench: Bench) -> None:
    ledger, job = bench
    met = (("air line", "2"),)
    coat = ledger.record(job, CoatEntry("roof", "2024-05-01", met))
    other = ledger.record(job, CoatEntry("wing", "2024-05-01", met))
    defect = ledger.record(job, DefectEntry("crater", "roof", seen_on="2024-05-02"))
    decided = DecisionEntry(defect, (), "back to primer", "", "came right", "right")
    ledger.record(job, decided)
    assert (list(_shop(ledger).bad), len(recorded_outcomes(ledger))) == ([True, False], 1)
    strike = _strike(bench, defect)
    assert (list(_shop(ledger).bad), recorded_outcomes(ledger)) == ([False, False], [])
    _strike(bench, strike)
    _strike(bench, other)
    assert list(_shop(ledger).bad) == [True]
    with pytest.raises(InputError, match="no such coat"):
        coat_numbered(ledger, other)
    later = ledger.record(job, CoatEntry("roof", "2024-05-03", met), supersedes=coat, reason="another day")
    assert list(_shop(ledger).bad) == [False, True]  # seen the day before the coat: on its own
    _strike(bench, later)
    assert list(_shop(ledger).bad) == [True]


def test_the_story_shows_a_strike_only_in_the_history(bench: Bench) -> None:
    ledger, job = bench
    note = ledger.record(job, NoteEntry("half dried"))
    strike = _strike(bench, note)
    story = ledger.story(job)
    assert story.current == ()
    assert [(line.number, line.struck, line.remark) for line in story.lines] == [
        (note, True, f"struck by #{strike}: entered twice"),
        (strike, False, ""),
    ]
    assert story.lines[1].text == f"#{note} is struck: entered twice"


def test_what_was_struck_is_recorded_anew_when_it_is_said_again(bench: Bench) -> None:
    ledger, job = bench
    batch = BatchEntry((("white", 300.0),))
    (first,) = ledger.record_found(job, [batch])
    assert ledger.record_found(job, [batch]) == [first]
    _strike(bench, first)
    assert ledger.record_found(job, [batch]) != [first]
    with pytest.raises(InputError, match=f"#{first}: was struck"):
        ledger.record(job, _card(first))
