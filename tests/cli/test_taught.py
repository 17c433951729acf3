"""Every recorded spray-out shows the strength of its tins: `job spray` by itself, and a named lot in every job."""

from __future__ import annotations

import shlex
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from finishmatch.ledger import StrengthEntry, open_ledger
from finishmatch.optics.strength import PRIOR_SD, StrengthEvidence, StrengthPrior
from tests.conftest import Ran
from tests.helpers.door_files import CORRECT, MIX, put, small_bank, snapshot, write
from tests.helpers.kept_ledger import put_ledger

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]
Used = dict[str, dict[str, float]]
POUR = ("job", "pour", "J1", "batch1.csv")
SPRAY = ("job", "spray", "J1", "card1.csv")
BANK = ("--bank", "bank")
# cards of other tins are panels of the bank too, and move what a card says of its own by less than a tenth of its doubt
WITH_OTHER_CARDS = 6e-3


def used(cli: Cli, *line: object, job: str | None = "J1") -> Used:
    """The strengths that a command starts from."""
    named = () if job is None else ("--job", job)
    found: Used = cli(*(line or MIX), *named, "--json").json["strengths_used"]
    return found


def strengths(cli: Cli, job: str = "J1") -> list[Any]:
    """The strengths entered in a job."""
    entries = cli("job", "show", job, "--json", "--history").json["entries"]
    return [entry for entry in entries if entry["kind"] == "strength"]


def near(other: Used, within: float = 1e-4) -> dict[str, Any]:
    """The same strengths."""
    return {tint: {name: pytest.approx(value, abs=within) for name, value in of.items()} for tint, of in other.items()}


def lots(bench: Path, lot: str = "A", bank: str = "bank", panels: str = "", **of: str) -> None:
    """Write lots into tints.csv, and those the panels were drawn from; a blank in a name is _ here."""
    path = bench / bank / "tints.csv"
    head, *rows = [line.split(",")[:7] for line in path.read_text().splitlines() if line[:1] != "#"]
    named = [[*row, of.get(row[0].replace(" ", "_"), lot), panels] for row in rows]
    write(path, "\n".join(",".join(cells) for cells in [[*head, "lot", "panels_lot"], *named]) + "\n")


def card(bench: Path, number: int, factor: float) -> Path:
    """A card as much lighter or darker than the first."""
    head, *rows = [line for line in (bench / "card1.csv").read_text().splitlines() if line[:1] != "#"]
    values = [[f"{float(value) * factor:.6f}" for value in row.split(",")[1:]] for row in rows]
    text = [head, *(",".join([f"card {number}", *cells]) for cells in values)]
    return write(bench / f"card{number}.csv", "\n".join(text) + "\n")


@pytest.fixture
def poured(bench: Path, home: Path) -> Path:
    """A job whose recipe was asked for and poured: its bank is known from that."""
    put_ledger(home, ["job new Roof", shlex.join([*MIX, "--job", "J1"]), shlex.join(POUR)])
    return bench


@pytest.mark.slow
def test_a_spray_out_teaches_what_its_correction_would(cli: Cli, poured: Path) -> None:
    out = cli(*SPRAY).out
    assert "strength of its tins, used by the next recipe: soft black -" in out
    (kept,) = strengths(cli)
    by_spray = used(cli)
    assert set(by_spray) == {"white", "blue", "soft black", "violet"}
    told = cli(*MIX, "--job", "J1").out
    assert f"strengths of today's tins from spray-out #{kept['entry']['spray_out']} are used: soft black -" in told
    # judged again by its correction it isn't counted twice: neither put to itself, nor entered anew
    assert used(cli, *CORRECT) == {}
    assert strengths(cli) == [kept]
    assert used(cli) == by_spray
    cli("job", "new", "The same by correct alone")
    cli(*CORRECT, "--job", "J2")
    assert used(cli, job="J2") == near(by_spray)


def test_a_bank_that_isnt_known_is_asked_for_in_one_line_and_the_next_recipe_catches_up(cli: Cli, bench: Path) -> None:
    cli("job", "new", "Roof")
    cli(*POUR)
    ran = cli(*SPRAY)
    assert ran.status == 0
    assert (
        "  no strength of the tins was estimated: no bank is known to this job; name it once with --bank FOLDER\n"
        in ran.out
    )
    document = cli(*SPRAY, "--json").json
    assert document["learnt"] is None
    assert document["why_not_learnt"].startswith("no bank is known")
    assert strengths(cli) == []
    later = used(cli)
    assert later["soft black"]["factor"] < 0.95
    (caught_up,) = strengths(cli)  # the same reading recorded twice tells once
    assert used(cli) == near(later)
    assert strengths(cli) == [caught_up]


def test_the_bank_is_named_once_at_the_pour_or_at_the_card(cli: Cli, bench: Path) -> None:
    cli("job", "new", "Roof")
    assert "strength of its tins" not in cli(*POUR, *BANK).out
    assert "strength of its tins" in cli(*SPRAY).out
    cli("job", "new", "Bonnet")
    cli(*put(POUR, "J1", "J2"))
    document = cli(*put(SPRAY, "J1", "J2"), *BANK, "--json").json
    assert document["learnt"]["bank"] == "Lowmere bench tints"
    assert document["learnt"]["strengths"] == near(used(cli, job="J2"))
    assert document["why_not_learnt"] is None
    write(bench / "other.csv", "tint,grams\nwhite,100\nochre,3\n")
    assert "the bank has no tint 'ochre'" in cli("job", "pour", "J1", "other.csv", *BANK).error


def test_a_bank_named_wrongly_is_refused_and_one_remembered_wrongly_only_told(
    cli: Cli, poured: Path, refused: Callable[..., str]
) -> None:
    assert "nowhere: there is no such bank folder" in refused(*SPRAY, "--bank", "nowhere")
    small_bank(poured / "bank", poured / "few", ("white", "black", "blue"))
    # the batch's tints aren't of that bank
    assert "tint 'soft black': its optics aren't known" in refused(*SPRAY, "--bank", "few")
    shutil.move(poured / "bank", poured / "moved")
    ran = cli(*SPRAY)
    assert ran.status == 0
    assert "recorded spray-out" in ran.out
    assert "no strength of the tins was estimated: " in ran.out
    assert "there is no such bank folder" in ran.out
    assert "strength of its tins" in cli(*SPRAY, "--bank", "moved").out


def test_a_card_of_an_unknown_batch_teaches_nothing_and_says_so(cli: Cli, bench: Path) -> None:
    cli("job", "new", "Roof")
    out = cli(*SPRAY, *BANK).out
    assert "no strength of the tins was estimated: it isn't known what was in the tin; record it first" in out
    assert used(cli) == {}


def test_a_card_that_can_hardly_be_of_its_batch_is_told(cli: Cli, poured: Path) -> None:
    out = cli("job", "spray", "J1", "65,-5,-16", "--anyway").out
    assert "white, blue, soft black, violet: today's strength is far from the bank's; check the weights poured" in out


def test_how_far_tins_differ_is_learnt_from_the_whole_record(cli: Cli, poured: Path) -> None:
    def spread(*options: object) -> float:
        return float(cli(*MIX, *options, "--json").json["lot_spread"])

    assert spread("--job", "J1") == PRIOR_SD
    for number, factor in ((2, 0.999), (3, 1.001)):
        card(poured, number, factor)
        cli("job", "spray", "J1", f"card{number}.csv")
    assert spread("--job", "J1") == PRIOR_SD  # two spray-outs tell little of other tins
    last = cli("job", "spray", "J1", "card1.csv", "--json").json["recorded"]["number"]
    learnt = spread("--job", "J1")
    assert 0.02 <= learnt < PRIOR_SD  # these tins are near the bank's
    cli("job", "new", "Another car")
    assert spread("--job", "J2") == learnt  # of tins of this shop, whatever the job
    assert used(cli, job="J2") == {}
    assert spread("--job", "J1", "--fresh-tins") == learnt  # tins just opened are of this shop too
    assert cli("job", "strike", "J1", last, "--why", "another card").status == 0
    assert spread("--job", "J1") == PRIOR_SD


def test_a_tin_that_the_panels_were_drawn_from_is_as_strong_as_the_bank_has_it(cli: Cli, bench: Path) -> None:
    unsaid = cli(*MIX, "--json").json
    assert cli(*MIX).out.count("if the panels were drawn from the very tins you pour from, say so in tints.csv") == 1
    lots(bench, panels="A")
    ran = cli(*MIX)
    assert "  poured from the tins that the panels were drawn from\n" in ran.out
    assert "say so in tints.csv" not in ran.out
    said = cli(*MIX, "--json").json
    assert set(said["tins_of_panels"]) == set(said["strengths_used"])
    assert {of["factor"] for of in said["strengths_used"].values()} == {1.0}
    assert max(of["sd"] for of in said["strengths_used"].values()) < 0.3 * PRIOR_SD

    def far(found: Any, light: str = "D65") -> float:
        return float(found["recipes"][0]["intervals"][light]["high"])

    assert far(said) < 0.4 * far(unsaid)
    predicted = cli("predict", "batch1.csv", *BANK, "--json").json
    assert predicted["strengths_used"] == said["strengths_used"]
    lots(bench, panels="A", blue="B")  # a new tin of blue
    assert "drawn from, all but blue\n" in cli(*MIX).out
    some = cli(*MIX, "--json").json
    assert "blue" not in some["strengths_used"]
    assert far(said) < far(some)


def test_a_card_tells_of_the_panels_own_tins_too(cli: Cli, bench: Path) -> None:
    lots(bench, panels="A")
    cli("job", "new", "Roof")
    cli(*MIX, "--job", "J1")
    cli(*POUR)
    before = used(cli)
    cli(*SPRAY)
    after = used(cli)
    assert set(after) == set(before)
    assert after["soft black"]["sd"] < before["soft black"]["sd"]
    assert after["soft black"]["factor"] != 1.0
    untried = set(before) - {"white", "blue", "soft black", "violet"}
    assert all(after[tint] == before[tint] for tint in untried)
    told = cli(*MIX, "--job", "J1").out
    assert "strengths of today's tins from spray-out #" in told
    line = next(line for line in told.splitlines() if "strengths of today's" in line)
    told_of = {part.rsplit(" ", 4)[0] for part in line.split(" are used: ")[1].split(", ")}
    assert told_of == {"white", "blue", "soft black", "violet"}
    (kept,) = strengths(cli)
    assert set(kept["entry"]["tints"]) == told_of  # what no card was of, no card showed


def test_new_tins_with_the_lot_of_the_panels_are_refused(cli: Cli, bench: Path) -> None:
    lots(bench, lot="B", panels="A", blue="A")
    for line in (MIX, CORRECT, ("predict", "batch1.csv", *BANK)):
        ran = cli(*line, "--fresh-tins")
        assert ran.status == 2
        assert ran.err == (
            "finishmatch: --fresh-tins: blue: by tints.csv these are the tins that the panels were drawn from; "
            "write the lots of the new tins there\n"
        )
    lots(bench, lot="B", panels="A")
    assert cli(*MIX, "--fresh-tins").status == 0


def test_a_lab_reading_teaches_no_more_than_a_spectrum(cli: Cli, poured: Path) -> None:
    assert "strength of its tins" in cli("job", "spray", "J1", "45.5,-5.2,-16.6").out
    by_lab = used(cli)
    cli("job", "new", "By a spectrum")
    cli(*put(POUR, "J1", "J2"), *BANK)
    cli(*put(SPRAY, "J1", "J2"))
    by_spectrum = used(cli, job="J2")
    for tint in ("blue", "soft black"):
        assert by_lab[tint]["sd"] > 0.95 * by_spectrum[tint]["sd"]
        assert abs(by_lab[tint]["factor"] - by_spectrum[tint]["factor"]) < 2 * by_lab[tint]["sd"]


def test_a_reading_that_was_replaced_no_longer_teaches(cli: Cli, poured: Path) -> None:
    wrong = write(poured / "wrong.csv", "name,L,a,b\nwrong,47,-6,-19\n")
    number = cli("job", "spray", "J1", wrong, "--json").json["recorded"]["number"]
    before = used(cli)
    assert cli(*SPRAY, "--replaces", number, "--why", "another card").status == 0
    mended = used(cli)
    assert mended != near(before, 0.01)
    cli("job", "new", "As it should have been")
    cli(*put(POUR, "J1", "J2"), *BANK)
    cli(*put(SPRAY, "J1", "J2"))
    assert mended == near(used(cli, job="J2"))
    # told of the same card again with its build: it counts once, as it was told last
    number = strengths(cli)[-1]["entry"]["spray_out"]
    assert cli(*SPRAY, "--coats", 3, "--replaces", number, "--why", "three coats").status == 0
    assert used(cli) == near(mended)


@pytest.mark.slow
def test_a_named_lot_is_the_same_tin_in_the_next_job(cli: Cli, poured: Path) -> None:
    lots(poured, "")
    cli(*SPRAY)
    cli("job", "new", "Bonnet")
    assert used(cli, job="J2") == {}  # unnamed tins stay within their job
    cli("job", "new", "Wing")
    lots(poured, "A", violet="")
    cli(*put(POUR, "J1", "J3"))
    card = cli(*put(SPRAY, "J1", "J3"), *BANK, "--json").json
    known = used(cli, job="J2")
    learnt = {tint: of for tint, of in card["learnt"]["strengths"].items() if tint != "violet"}
    assert known == near(learnt, WITH_OTHER_CARDS)
    document = cli(*MIX, "--job", "J2", "--json").json
    number = card["recorded"]["number"]
    assert document["strengths_from"] == [{"job": "J3", "spray_out": number}]
    assert f"strengths of today's tins from spray-out #{number} of J3 are used: " in cli(*MIX, "--job", "J2").out
    # the recipe asked for without a job knows the lot as well
    assert used(cli, job=None) == known
    assert used(cli, *MIX, "--fresh-tins", job=None) == {}
    assert used(cli, job=None) == known
    lots(poured, "B")
    assert used(cli, job="J2") == {}


def test_the_next_job_says_that_tins_without_a_lot_arent_known_to_it(cli: Cli, poured: Path) -> None:
    cli(*SPRAY)
    cli("job", "new", "Bonnet")

    def said(job: str) -> list[str]:
        return [note for note in cli(*MIX, "--job", job, "--json").json["warnings"] if "no lot in tints.csv" in note]

    (note,) = said("J2")
    assert note.startswith("how strong cards of J1 showed their tins isn't used here (")
    assert said("J1") == []
    lots(poured, "A")
    cli("job", "new", "Wing")
    cli(*put(POUR, "J1", "J3"))
    cli(*put(SPRAY, "J1", "J3"), *BANK)
    assert said("J2") == []  # the tins that J3 sprayed bear a lot, and are known by it


@pytest.mark.slow
def test_what_two_jobs_tell_of_a_lot_is_put_together_once(cli: Cli, poured: Path) -> None:
    lots(poured, "A")
    rows = (poured / "card1.csv").read_text().splitlines()
    head, *body = [line for line in rows if line[:1] != "#"]
    shifted = [
        ",".join([line.split(",")[0], *(f"{float(v) * 0.99:.6f}" for v in line.split(",")[1:])]) for line in body
    ]
    write(poured / "card2.csv", "\n".join([head, *shifted]) + "\n")
    cli(*SPRAY)
    one = used(cli)
    cli("job", "new", "Bonnet")
    cli(*put(POUR, "J1", "J2"), *BANK)
    cli("job", "spray", "J2", "card2.csv")
    both = used(cli, job="J2")
    assert used(cli) == near(both)  # either job knows both cards
    assert all(both[tint]["sd"] < one[tint]["sd"] for tint in ("blue", "soft black"))
    cli("job", "new", "Both in one job")
    lots(poured, "")
    cli(*put(POUR, "J1", "J3"), *BANK)
    cli(*put(SPRAY, "J1", "J3"))
    cli("job", "spray", "J3", "card2.csv")
    assert used(cli, job="J3") == near(both, WITH_OTHER_CARDS)


@pytest.mark.slow
def test_the_card_of_another_job_judged_here_is_not_put_to_itself(cli: Cli, poured: Path) -> None:
    lots(poured, "A")
    cli(*SPRAY)
    known = used(cli)
    cli("job", "new", "Bonnet")
    assert used(cli, *CORRECT, job=None) == {}
    assert used(cli, *CORRECT, job="J2") == {}
    assert used(cli, job="J2") == near(known)
    assert used(cli) == near(known)


def test_another_bank_s_lot_of_the_same_name_is_another_tin(cli: Cli, poured: Path) -> None:
    lots(poured, "A")
    cli(*SPRAY)
    shutil.copytree(poured / "bank", poured / "other")
    text = (poured / "other/bank.toml").read_text()
    write(poured / "other/bank.toml", text.replace("Lowmere bench tints", "Another bench"))
    other = put(MIX, "bank", "other")
    assert used(cli, *other, job=None) == {}
    assert used(cli, *other) == {}  # nor is what was sprayed of one bank put to another
    assert len(strengths(cli)) == 1
    # and a lot tells of its own tint only
    lots(poured, "B", blue="A")
    assert set(used(cli)) == {"blue"}


@pytest.mark.slow
def test_new_tins_of_an_old_lot_s_name_forget_the_lot_in_every_other_job(cli: Cli, poured: Path) -> None:
    lots(poured, "A")
    cli(*SPRAY)
    known = used(cli)
    cli("job", "new", "Bonnet")
    assert cli(*MIX, "--job", "J2", "--fresh-tins", "--json").json["strengths_used"] == {}
    assert used(cli, job="J2") == {}
    assert used(cli, job=None) == {}
    assert used(cli) == near(known)  # the job in which these tins were sprayed still means them


@pytest.mark.slow
def test_new_tins_opened_at_a_correction_leave_out_the_cards_before_it(cli: Cli, poured: Path) -> None:
    cli(*SPRAY)
    alone = used(cli)
    rows = (poured / "card1.csv").read_text().splitlines()
    head, *body = [line for line in rows if line[:1] != "#"]
    shifted = [
        ",".join([line.split(",")[0], *(f"{float(v) * 0.97:.6f}" for v in line.split(",")[1:])]) for line in body
    ]
    write(poured / "card2.csv", "\n".join([head, *shifted]) + "\n")
    second = put(CORRECT, "card1.csv", "card2.csv")
    assert used(cli, *second, "--fresh-tins") == {}
    now = used(cli)
    assert now != near(alone, 0.01)
    cli("job", "new", "The second card alone")
    cli(*second, "--job", "J2")
    assert now == near(used(cli, job="J2"), WITH_OTHER_CARDS)


def test_a_ledger_that_cant_be_used_is_no_hindrance_to_a_recipe_without_a_job(
    cli: Cli, poured: Path, home: Path
) -> None:
    lots(poured, "A")
    cli(*SPRAY)
    assert used(cli, job=None) != {}
    write(home / "ledger.db", "tint,grams\n")
    for extra in home.glob("ledger.db-*"):
        extra.unlink()
    before = snapshot(home)
    document = cli(*MIX, "--json").json
    assert document["strengths_used"] == {}
    assert any("what the record knows of these lots is not used: " in warning for warning in document["warnings"])
    assert snapshot(home) == before


def test_strengths_of_an_older_form_count_with_those_told_since(cli: Cli, poured: Path, home: Path) -> None:
    """What a card alone told wasn't kept once: it is the difference to the strength it started from."""
    card(poured, 2, 0.99)
    card(poured, 3, 1.01)
    for i in (1, 2, 3):
        cli("job", "spray", "J1", f"card{i}.csv")
    cli("job", "new", "Written by an older program")
    with open_ledger(home) as ledger:
        old, new = ledger.find_job("J1"), ledger.find_job("J2")
        number: dict[int, int] = {}
        told = StrengthPrior.default((), 0.05)  # as that program took tins nothing was sprayed of
        for view in ledger.entries(old):
            entry = view.entry
            if view.kind in ("batch", "spray-out", "strength") and len(number) < 5:
                mended = {name: number[getattr(entry, name)] for name in entry.REFERS if getattr(entry, name) in number}
                if view.kind == "batch":
                    mended = {"recipe": None}
                if isinstance(entry, StrengthEntry):
                    told = told.given(
                        StrengthEvidence(entry.tints, np.array(entry.card_precision), np.array(entry.card_information))
                    )
                    known = told.chosen(entry.tints)
                    mended |= {"card_precision": None, "card_information": None}
                    mended |= {"log_mean": known.log_mean.tolist(), "log_covariance": known.log_covariance.tolist()}
                number[view.number] = ledger.record(new, replace(entry, **mended))
    assert len(strengths(cli, "J2")) == 2
    assert "strength of its tins" in cli("job", "spray", "J2", "card3.csv", *BANK).out
    assert used(cli, job="J2") == near(used(cli, job="J1"), 1e-3)
