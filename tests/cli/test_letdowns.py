"""A correction by a letdown, from the answer to the tin; and the earlier cards of a tin that count in the next."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from finishmatch.cli.correct.shown import show_correction
from finishmatch.correct.correction import Correction
from finishmatch.errors import InputError
from finishmatch.ledger import BatchEntry, CorrectionEntry, describe_entry, open_ledger
from finishmatch.ledger.entries import SprayOutEntry
from finishmatch.mix.letdowns import Letdown
from finishmatch.mix.weighing import Scale
from finishmatch.steps.bank import open_bank
from finishmatch.steps.cards_of_tin import earlier_cards
from finishmatch.steps.correction_forms import correction_entry, letdowns_document
from finishmatch.steps.record import entries_in
from tests.conftest import Ran
from tests.helpers.kept_ledger import put_ledger

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]
LETDOWNS = (Letdown("soft black", 0.0, 1.0, 10.0, 1.3), Letdown("blue", 2.4, 1.5, 15.0, 9.7))
FOUND = Correction(
    reachable=True,
    additions=(("blue", 3.41), ("white", 2.1), ("soft black", 0.13)),
    growth=0.011,
    before={"D65": 0.4},
    lights={"D65": 0.1},
    strengths={},
    why="the spray-out is lighter",
    letdowns=LETDOWNS,
    chance=0.6,
    intervals={"D65": (0.0, 0.4)},
)
POURED = (("white", 443.6), ("blue", 27.5), ("soft black", 24.4))


def test_each_step_of_the_cup_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    show_correction(FOUND, 500.0)
    told = capsys.readouterr().out
    for words in (
        "soft black by a letdown, once the rest is in the tin and stirred:",
        "weigh 1 g of it into an empty cup",
        "fill up with paint from the tin to ten times what the scale shows (10 g); stir",
        "pour 1.3 g of that back into the tin and stir: as good as 0.13 g straight",
        "pour 2.4 g of it straight and stir; what is more is tenfold less below",
    ):
        assert words in told
    document = letdowns_document(FOUND.letdowns)
    assert document[0] == {"tint": "soft black", "straight_g": 0.0, "tint_g": 1.0, "filled_g": 10.0, "back_g": 1.3}


def test_it_is_kept_and_poured_in_hundredths(cli: Cli, home: Path, tmp_path: Path) -> None:
    put_ledger(home, ["job new Roof"])
    with open_ledger(home) as ledger:
        job = ledger.find_job("J1")
        batch = ledger.record(job, BatchEntry(POURED))
        number = ledger.record(job, correction_entry(FOUND, batch))
    (view,) = [v for v in cli("job", "show", "J1", "--json").json["entries"] if v["kind"] == "correction"]
    assert view["entry"]["letdowns"][1]["back_g"] == 9.7
    told = describe_entry(correction_entry(FOUND, 1))
    assert "soft black 0.13 g" in told
    assert "blue 3.41 g" in told
    assert "blue by a letdown: 2.4 g straight, then 1.5 g into a cup, filled up to 15 g" in told
    ran = cli("job", "pour", "J1", "--to", "last", "--recipe", number, "white=2.1", "blue=3.41", "--check", "--json")
    lines = {line["tint"]: line for line in ran.json["stands"]["lines"]}
    assert lines["soft black"]["to_go"] == pytest.approx(0.13)  # less than a slip of a pour, and still to go
    assert lines["blue"]["to_go"] == 0
    told = cli("job", "pour", "J1", "--to", "last", "--recipe", number, "white=2.1", "blue=3.41", "--check").out
    assert "0.13 to go" in told
    assert "soft black by a letdown: 1 g into a cup, filled up to 10 g" in " ".join(told.split())
    assert cli("job", "pour", "J1", "--set-aside", "half").status == 0
    told = cli("job", "pour", "J1", "--to", "last", "--recipe", number, "white=1.1", "blue=1.7", "--check").out
    told = " ".join(told.split())
    assert f"soft black: correction #{number} has it poured by a letdown of the whole tin; for the part that" in told
    assert "into a cup" not in told
    bundle = tmp_path / "J1.zip"
    assert cli("export", "J1", "--out", bundle).status == 0


@pytest.mark.parametrize("wrong", [("blue", 1.0, 2.0), ("blue", 0.0, 1.0, 10.0, -1.0), (3, 0.0, 1.0, 10.0, 1.0)])
def test_what_is_no_letdown_is_refused(wrong: tuple[object, ...]) -> None:
    with pytest.raises(InputError, match="a tint and four weights"):
        CorrectionEntry(None, (), 0.0, True, {}, {}, letdowns=(wrong,))  # type: ignore[arg-type]


def test_the_cards_of_a_tin_before_what_was_added_are_found(bench: Path, home: Path) -> None:
    put_ledger(home, ["job new Roof"])
    fitted = open_bank(bench / "bank")
    grey = [0.4] * 31
    more = (*POURED[:1], ("blue", 29.0), POURED[2])
    half = tuple((tint, grams / 2) for tint, grams in POURED)
    with open_ledger(home) as ledger:
        job = ledger.find_job("J1")
        other = ledger.record(job, BatchEntry((("white", 100.0),)))
        first = ledger.record(job, BatchEntry(POURED))
        aside = ledger.record(job, BatchEntry(half, continues=first, share=0.5))
        last = ledger.record(job, BatchEntry(tuple((t, g / 2) for t, g in more), continues=aside))
        lab, cards = [67.0, 0.0, 0.0], [(other, grey, None), (first, grey, None), (first, None, None)]
        for batch, reflectance, build in (*cards, (first, grey, 40.0), (last, [0.41] * 31, None)):
            ledger.record(job, SprayOutEntry(batch, lab, reflectance, build_um=build, geometry=fitted.bank.geometry))
    views, scale = entries_in("J1"), Scale()
    now = tuple((tint, grams / 2) for tint, grams in more)
    kept = [view.entry for view in views if isinstance(view.entry, SprayOutEntry)]
    found = earlier_cards(fitted, views, now, scale, but=replace(kept[-1], coats=3))  # that reading, kept twice
    assert [card.batch for card in found] == [half]  # of the tin itself, hiding, with a spectrum, in its size
    assert len(earlier_cards(fitted, views, now, scale)) == 2  # another card of the tin as it is counts too
    assert earlier_cards(fitted, views, (("white", 400.0),), scale) == ()  # another tin than the last
