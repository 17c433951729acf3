"""A card that was photographed by itself: its doubt and the target's stand beside what is said of their difference."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from finishmatch.evidence import doubt_of_two
from finishmatch.readings.reading import TargetFacts
from tests.conftest import ROOT

Cli = Callable[..., Any]
BANK = ROOT / "swatches/bank"
HEAD = "name,geometry,L,a,b,light,observer,u95,u95_own,picture"
PIECE = "piece,45/0,38.336,-5.825,-18.500,D65,10,2.5,0.5,{}"
CARD = "card,45/0,39.9,-5.2,-17.5,D65,10,2.7,0.45,{}"
# Vt + Vc - 2 S, where S is 0.8 of the lesser of what is shared, 2.5² - 0.5²
APART = (2.5**2 + 2.7**2 - 2 * 0.8 * (2.5**2 - 0.5**2)) ** 0.5
TOGETHER = (0.5**2 + 0.45**2) ** 0.5


def written(name: str, *rows: str) -> str:
    """A file of readings as `photo read` saves them, and its name."""
    Path(name).write_text("\n".join([HEAD, *rows]) + "\n", "utf-8")
    return name


@pytest.fixture
def apart(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[str, str]:
    """A piece and a card, each by its own photograph."""
    monkeypatch.chdir(tmp_path)
    return written("piece.csv", PIECE.format("piece.jpg")), written("card.csv", CARD.format("card.jpg"))


@pytest.fixture
def job(cli: Cli, apart: tuple[str, str]) -> Cli:
    """A tin of half a recipe for the piece."""
    cli("job", "new", "Tarnbeck Six")
    cli("job", "use", "J1")
    mixed = cli("mix", apart[0], "--bank", BANK, "--grams", 300, "--recipes", 1, "--json").json
    half = mixed["recipes"][0]["first_pour"]["parts"]
    assert cli("job", "pour", *(f"{part['tint']}={part['grams']:g}" for part in half)).status == 0
    return cli


def test_what_two_photographs_share_is_not_in_their_difference() -> None:
    piece, card = (
        TargetFacts(u95=2.5, u95_own=0.5, pictures=("a",)),
        TargetFacts(u95=2.7, u95_own=0.45, pictures=("b",)),
    )
    assert doubt_of_two(piece, card, 0.8).u95 == pytest.approx(APART, abs=1e-4)
    beside = TargetFacts(u95=2.7, u95_own=0.45, pictures=("a",))
    assert doubt_of_two(piece, beside, 0.8).u95 == pytest.approx(TOGETHER, abs=1e-4)
    unnamed = TargetFacts(u95=2.7)
    assert doubt_of_two(piece, unnamed, 0.8).u95 == pytest.approx((2.5**2 + 2.7**2) ** 0.5, abs=1e-4)
    assert doubt_of_two(None, card, 0.8).u95 == pytest.approx(2.7, abs=1e-4)


def test_compare_tells_the_doubt_of_both(cli: Cli, apart: tuple[str, str]) -> None:
    ran = cli("compare", *apart, "--tolerance", 2)
    assert "ΔE00 1.55 ±1.99 " in ran.out
    said = " ".join(ran.out.split())
    assert "within the tolerance is the likelier only: the difference is known to ±1.99, as far as separate" in said
    assert "one photograph of the two together would tell about ±0.64" in said
    found = cli("compare", *apart, "--tolerance", 2, "--json").json
    assert (found["u95"], found["sure"]) == (pytest.approx(APART, abs=1e-3), False)
    both = written("both.csv", PIECE.format("both.jpg"), CARD.format("both.jpg"))
    found = cli("compare", f"{both}@piece", f"{both}@card", "--tolerance", 3, "--json").json
    assert (found["u95"], found["sure"]) == (pytest.approx(TOGETHER, abs=1e-3), True)
    typed = cli("compare", "38.3,-5.8,-18.5", "39.9,-5.2,-17.5", "--json").json
    assert (typed["u95"], typed["sure"]) == (None, True)


def test_a_card_is_judged_by_what_its_photograph_and_the_targets_tell(job: Cli) -> None:
    ran = job("judge", "card.csv")
    assert ran.status == 0
    said = " ".join(ran.out.split())
    # as the bank's instrument would have read both, the gloss makes less of difference and doubt
    assert "the card is inside what a photograph of each can tell, ±1.82: lighter, dirtier" in said
    assert "known to ±1.82 (by a photograph of each)" in said
    assert "nearer would see: one photograph of the two together: about ±0.58" in said
    assert "before anything is added, photograph the card beside what it is to match" in said
    assert "by a photograph of each" in " ".join(job("job", "show").out.split())
    (correction,) = (one for one in job("job", "show", "--json").json["entries"] if one["kind"] == "correction")
    assert correction["entry"]["reachable"]


def test_the_record_keeps_what_both_are_known_to_and_the_card_counts_once(job: Cli) -> None:
    first = job("judge", "card.csv", "--json").json
    again = job("judge", "card.csv", "--json").json
    assert (len(first["recorded"]), len(again["recorded"])) == (4, 2)  # no second card, nothing learnt twice
    assert job("judge", "--json").json["difference"] == pytest.approx(first["difference"])
    entries = job("job", "show", "--json").json["entries"]
    target = next(one["entry"] for one in entries if one["kind"] == "target")
    assert target["pictures"] == ["piece.jpg"]
    (card,) = (one["entry"] for one in entries if one["kind"] == "spray-out")
    (seen,) = card["seen"]
    assert seen["own_colour"]["pictures"] == ["card.jpg"]
    verdict = next(one["entry"] for one in entries if one["kind"] == "verdict")
    assert verdict["u95"] == pytest.approx(seen["u95"]) == pytest.approx(first["u95"])


def test_such_a_card_teaches_the_tins_less_than_one_that_is_known(job: Cli) -> None:
    def shown() -> float:
        """What the last card shows of the white by itself: the precision of the logarithm of its strength."""
        strengths = [one for one in job("job", "show", "--json").json["entries"] if one["kind"] == "strength"]
        last = strengths[-1]["entry"]
        white = last["tints"].index("white")
        return float(last["card_precision"][white][white])

    job("judge", "card.csv")
    by_its_photograph = shown()
    own = Path("card.csv").read_text("utf-8")
    Path("card.csv").write_text(own.replace(",2.7,0.45,card.jpg", ",0.3,0.1,card.jpg"), "utf-8")
    job("job", "strike", 5, "--why", "photographed better")
    job("judge", "card.csv")
    assert shown() > 3 * by_its_photograph


def test_it_is_not_recorded_as_a_reading_without_doubt(job: Cli) -> None:
    ran = job("job", "spray", "card.csv")
    assert ran.status == 2
    assert "is known only by its own photograph" in ran.err
    assert "finishmatch judge" in ran.err


def test_photographs_that_tell_nothing_of_a_tin_are_refused(job: Cli) -> None:
    written("dim.csv", CARD.format("card.jpg").replace("2.7,0.45", "9,0.5"))
    ran = job("judge", "dim.csv")
    assert ran.status == 2
    assert "photograph the card beside what it is to match" in ran.err


def test_a_target_by_its_photograph_is_told_of_beside_a_card_that_was_read(job: Cli) -> None:
    ran = job("judge", "44.5,-4.6,-15.6", "--json")
    assert ran.json["u95"] == pytest.approx(2.27, abs=0.02)
    assert any("is known to ΔE00 2.3 only" in one for one in ran.json["correction"]["warnings"])
