"""Without an instrument: the card beside its standard is enough to judge and correct by."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from finishmatch.cli.seen_options import is_picture
from finishmatch.readings import Reading
from finishmatch.steps.photo import seen_in_photos
from finishmatch.steps.photo.seen_in_photos import SeenRequest, read_seen
from finishmatch.steps.seen import refuse_other_piece
from tests.conftest import ROOT
from tests.helpers.photo_frames import frame, write_jpeg

Cli = Callable[..., Any]
SWATCHES = ROOT / "swatches"
TIN = ("--bank", SWATCHES / "bank", "--batch", SWATCHES / "batch1.csv")
TARGET = SWATCHES / "target.csv"
PLACES = ("--region", "standard=96,92,174,131", "--region", "spray-out=984,60,181,131")
OFF = "0.32,-0.12,-1.43"  # of the first card, as an instrument read both


def another_of(path: Path) -> None:
    """Write another photograph of the two: held a little elsewhere."""
    with Image.open(SWATCHES / "photo.jpg") as picture:
        moved = Image.fromarray(np.roll(np.asarray(picture), (2, 3), (0, 1)))
        moved.save(path, quality=92, icc_profile=picture.info.get("icc_profile"))


def test_a_difference_serves_in_place_of_a_reading(cli: Cli) -> None:
    found = cli("correct", TARGET, *TIN, f"--difference={OFF}", "--u95", 0.3, "--json").json
    assert found["reachable"]
    assert found["before"] == {"D65": pytest.approx(0.87, abs=0.02)}
    assert found["strengths"]["soft black"] < 1
    assert found["growth"] < 0.02
    seen = found["seen"]
    assert seen["known_within"] == 0.3
    assert not seen["as_near_as_can_be_told"]
    assert seen["differences"][0]["difference"] == [0.32, -0.12, -1.43]
    assert cli("correct", TARGET, *TIN, "--sprayed", SWATCHES / "card1.csv", "--json").json["seen"] is None


def test_it_stops_where_nothing_more_can_be_told(cli: Cli) -> None:
    ran = cli("correct", TARGET, *TIN, "--difference=0.1,-0.1,-0.3")
    assert ran.status == 0
    assert "as near as this can tell: ±0.5; add nothing" in ran.out
    assert "nearer would see: an instrument that reads both: about ±0.2\n" in ran.out  # no more by the same phone
    assert "±0.5 is taken, as one photograph tells it" in " ".join(ran.out.split())


@pytest.mark.parametrize(("u95", "told"), [(0.861, "±0.87"), (0.5, "±0.5"), (1.234, "±1.24")])
def test_what_a_difference_is_known_within_is_one_number_wherever_it_is_told(cli: Cli, u95: float, told: str) -> None:
    cli("job", "new", "Tarnbeck Six")
    cli("job", "use", "J1")
    cli("mix", TARGET, "--bank", SWATCHES / "bank", "--grams", 500, "--max-tints", 3)
    cli("job", "pour", SWATCHES / "batch1.csv")
    ran = cli("judge", "--difference=0.83,-0.3,-1.22", "--u95", u95)
    line = next(line for line in ran.out.splitlines() if "beside its standard" in line)
    assert f"known to {told} (as told)" in line
    assert f"what can be told, {told}" in " ".join(ran.out.split()) or u95 == 0.5
    assert f"known to {told}" in " ".join(cli("job", "show").out.split())
    near = cli("correct", TARGET, *TIN, "--difference=0.1,-0.1,-0.1", "--u95", u95).out
    assert f"as near as this can tell: {told}; add nothing" in near


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (["--difference", "0.3,x,1"], "is not three numbers"),
        (["--difference", "45,-5,-15"], "is no difference of a card from its standard"),
        (["--difference", OFF, "--u95", "0"], "is not how well a difference is known"),
        (["--u95", "0.5"], "none is given"),
        (["--difference", OFF, "--sprayed", "1,2,3"], "beside a reading of the card"),
    ],
)
def test_what_cant_be_a_difference_is_refused(cli: Cli, given: list[str], said: str) -> None:
    ran = cli("correct", TARGET, *TIN, *given)
    assert ran.status == 2
    assert said in ran.err


def test_a_job_keeps_what_was_seen_and_judges_it_again(cli: Cli) -> None:
    cli("job", "new", "Tarnbeck Six")
    cli("job", "use", "J1")
    assert cli("mix", TARGET, "--bank", SWATCHES / "bank", "--grams", 500, "--max-tints", 3).status == 0
    assert cli("job", "pour", SWATCHES / "batch1.csv").status == 0
    ran = cli("judge", f"--difference={OFF}", "--u95", 0.3, "--json")
    assert ran.status == 1
    card = next(one for one in cli("job", "show", "--json").json["entries"] if one["kind"] == "spray-out")
    assert card["entry"]["seen"][0]["difference"] == [0.32, -0.12, -1.43]
    shown = " ".join(cli("job", "show").out.split())
    assert "beside its standard ΔL* +0.3 Δa* -0.1 Δb* -1.4 (D65, 10°, as told) known to ±0.3" in shown
    again = cli("judge", "--json").json
    assert again["correction"]["additions"] == ran.json["correction"]["additions"]
    assert cli("judge", "--difference=0.1,0.0,0.2").status == 0
    assert cli("job", "pour", SWATCHES / "batch2.csv").status == 0
    assert cli("next", "--json").json["next"] == "finishmatch judge --difference dL,da,db"
    shown = cli("mix", "--grams", 200, "--max-tints", 3, "--json").json
    assert shown["bank_today"]["cards"] == 2  # seen, and panels now
    assert cli("judge", "--difference=0.1,0.0,0.2").status == 0  # two cards may be told alike


def test_a_photograph_of_the_card_beside_its_standard_serves(cli: Cli) -> None:
    found = cli("correct", TARGET, *TIN, "--seen", SWATCHES / "photo.jpg", *PLACES, "--json").json
    seen = found["seen"]["differences"][0]
    assert seen["photographs"] == 1
    assert found["before"]["D65"] == pytest.approx(0.87, abs=seen["u95"])  # as the instrument read the two
    assert 0.2 < seen["u95"] < 1.2
    assert found["growth"] < 0.02


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (["--seen", SWATCHES / "photo.jpg"], "say where they lie with --region standard=x,y,w,h"),
        (["--seen", SWATCHES / "photo.jpg", "--seen", SWATCHES / "photo.jpg"], "one photograph is named twice"),
        (["--seen-under", SWATCHES / "photo.jpg"], "is not LIGHT=PHOTO"),
        (["--seen", SWATCHES / "photo.jpg", "--region", "card=1,1,9,9"], "is neither the standard nor the spray-out"),
        (["--seen", SWATCHES / "photo.jpg", "--difference", OFF], "is given beside --seen"),
        (["--region", "standard=1,1,9,9"], "is of a photograph"),
    ],
)
def test_a_photograph_that_cant_serve_is_refused(cli: Cli, given: list[Any], said: str) -> None:
    ran = cli("correct", TARGET, *TIN, *given)
    assert ran.status == 2
    assert said in ran.err


def test_a_photograph_of_an_earlier_card_is_known_again_also_among_others(cli: Cli, tmp_path: Path) -> None:
    second = tmp_path / "second.jpg"
    second.write_bytes((SWATCHES / "photo.jpg").read_bytes())
    copied = cli("correct", TARGET, *TIN, "--seen", SWATCHES / "photo.jpg", "--seen", second, *PLACES)
    assert copied.status == 2
    assert "is named twice, once as a copy of it" in copied.err
    another_of(second)
    cli("job", "new", "Tarnbeck Six")
    cli("job", "use", "J1")
    assert cli("mix", TARGET, "--bank", SWATCHES / "bank", "--grams", 500, "--max-tints", 3).status == 0
    assert cli("job", "pour", SWATCHES / "batch1.csv").status == 0
    assert cli("judge", SWATCHES / "photo.jpg", *PLACES).status == 1
    both = ["judge", "--seen", SWATCHES / "photo.jpg", "--seen", second, *PLACES]
    assert cli(*both).status == 1
    assert cli("mix", "--grams", 200, "--max-tints", 3, "--json").json["bank_today"]["cards"] == 1
    assert cli("job", "pour", SWATCHES / "batch2.csv").status == 0
    again = cli("judge", second, *PLACES)
    assert again.status == 2
    assert "a photograph of spray-out" in again.err
    assert "is recorded as the card of batch" in again.err


def test_one_photograph_is_of_one_light(cli: Cli, tmp_path: Path) -> None:
    told, photo = tmp_path / "told.png", SWATCHES / "photo.jpg"
    with Image.open(photo) as picture:
        for name in ("photo.png", "told.png"):  # one more of the same pixels says when it was taken
            exif = picture.getexif()
            exif.update({0x0132: "2024:05:02 10:15:00"} if name == "told.png" else {})
            picture.save(tmp_path / name, exif=exif, icc_profile=picture.info.get("icc_profile"))
    for one, again, how in (
        (photo, photo, ""),
        (tmp_path / "photo.png", told, ", once as a copy of it"),
    ):
        ran = cli("correct", TARGET, *TIN, "--seen", one, "--seen-under", f"A={again}", *PLACES)
        assert ran.status == 2
        assert f"--seen-under: one photograph is given for D65 and for A{how}; photograph the two" in ran.err
    ran = cli("correct", TARGET, *TIN, "--seen", tmp_path / "photo.png", "--seen", told, *PLACES)
    assert "one photograph is named twice, once as a copy of it" in ran.err


def test_a_photograph_that_the_job_has_in_daylight_is_not_taken_for_one_under_a_lamp(cli: Cli, tmp_path: Path) -> None:
    photo, other = SWATCHES / "photo.jpg", tmp_path / "other.jpg"
    another_of(other)
    cli("job", "new", "Tarnbeck Six")
    cli("job", "use", "J1")
    assert cli("mix", TARGET, "--bank", SWATCHES / "bank", "--grams", 500, "--max-tints", 2).status in (0, 1)
    assert cli("job", "pour", SWATCHES / "batch1.csv").status == 0
    assert cli("judge", photo, *PLACES).status == 1
    assert cli("judge", photo, *PLACES, "--light", "D50,A").status == 1  # daylight as well
    before = len(cli("job", "show", "--json").json["entries"])
    under = ("judge", "--seen", other, "--seen-under", f"A={photo}", *PLACES)
    ran = cli(*under)
    assert (ran.status, len(cli("job", "show", "--json").json["entries"])) == (2, before)
    assert "is recorded for D65 and given for A now; photograph the two under that lamp; with --anyway" in ran.err
    assert "is recorded for D65 and given for A now; it is taken as it is" in " ".join(
        cli(*under, "--anyway").out.split()
    )


def test_a_photograph_of_another_jobs_card_is_taken_and_told(cli: Cli) -> None:
    told = {}
    for job, title in (("J1", "Tarnbeck Six"), ("J2", "Wing")):
        cli("job", "new", title)
        cli("job", "use", job)
        cli("mix", TARGET, "--bank", SWATCHES / "bank", "--grams", 500, "--max-tints", 2, "--recipes", 1)
        cli("job", "pour", SWATCHES / "batch1.csv")
        ran = cli("judge", SWATCHES / "photo.jpg", *PLACES, "--json")
        assert ran.status == 1
        told[job] = [one for one in ran.json["correction"]["warnings"] if "a photograph of spray-out" in one]
    card = next(one for one in cli("job", "show", "J1", "--json").json["entries"] if one["kind"] == "spray-out")
    said = f"a photograph of spray-out #{card['number']} of J1 Tarnbeck Six is given as a card of this job too"
    assert told == {"J1": [], "J2": [f"{said}; it is taken as it is"]}
    cli("job", "strike", "J1", card["number"], "--why", "not of this job")
    again = cli("judge", SWATCHES / "photo.jpg", *PLACES).out
    assert "a photograph of spray-out" not in again


def test_a_photograph_of_a_letdown_is_known_as_a_card_and_the_other_way_round(cli: Cli) -> None:
    panel = ("blue 20/80", "--bank", SWATCHES / "bank", "--seen", SWATCHES / "photo.jpg", *PLACES, "--anyway")

    def named(found: list[str]) -> list[str]:
        return [one.partition(" is given")[0] + "|" + one.partition("is given as ")[2] for one in found
                if "a photograph of" in one]  # fmt: skip

    for title in ("Roof", "Wing"):
        cli("job", "new", title)
    first = cli("job", "tin", "J1", *panel, "--json").json
    strength = first["recorded"]["number"]
    assert named(first["warnings"]) == []
    letdown = f"a photograph of the letdown of strength #{strength}"
    other = cli("job", "tin", "J2", *panel, "--json").json
    told = named(other["warnings"])
    assert told == [f"{letdown} of J1 Roof|a letdown of this job too; it is taken as it is"]
    cli("job", "strike", "J2", other["recorded"]["number"], "--why", "not of this job")
    cards = {}
    for job in ("J1", "J2"):
        ran = cli("correct", TARGET, *TIN, "--seen", SWATCHES / "photo.jpg", *PLACES, "--job", job, "--json")
        cards[job] = named(ran.json["warnings"])
    assert cards["J1"] == [f"{letdown}|a card now; it is taken as it is"]
    assert len(cards["J2"]) == 1  # the last it is known by, the card of the other job
    again = named(cli("job", "tin", "J2", *panel, "--json").json["warnings"])
    assert len(again) == 1
    assert again[0].endswith("|a letdown now; it is taken as it is")


@pytest.mark.parametrize(
    ("wide_px", "left", "why"),
    [
        (1, 0.6, "a shadow lies over a part of the chart"),
        (500, 0.45, "so any card would pass; photograph the two anew"),  # so soft that it looks like uneven light
    ],
)
def test_a_photograph_with_half_of_it_in_shadow_passes_no_card(
    cli: Cli, tmp_path: Path, wide_px: float, left: float, why: str
) -> None:
    with Image.open(SWATCHES / "photo.jpg") as picture:
        seen, profile = np.asarray(picture, dtype=float), picture.info.get("icc_profile")
    across = (np.arange(seen.shape[1]) - seen.shape[1] / 2) / (wide_px / 6)
    seen *= (left + (1 - left) / (1 + np.exp(-np.clip(across, -50, 50))))[None, :, None]
    Image.fromarray(seen.astype("u1")).save(tmp_path / "shadow.jpg", quality=92, icc_profile=profile)
    ran = cli("correct", TARGET, *TIN, "--seen", tmp_path / "shadow.jpg", *PLACES)
    assert ran.status == 2
    assert why in ran.err


def test_a_copy_that_tells_little_is_told_of(cli: Cli, tmp_path: Path) -> None:
    """Half as wide and much compressed, as a messenger sends it: the card passes, and why is said."""
    with Image.open(SWATCHES / "photo.jpg") as picture:
        picture.resize((640, 480)).save(tmp_path / "sent.jpg", quality=30)
    places = ("--region", "standard=48,46,87,65", "--region", "spray-out=492,30,90,65")
    sent = cli("correct", TARGET, *TIN, "--seen", tmp_path / "sent.jpg", *places, "--json").json
    (one,) = sent["seen"]["differences"]
    assert 2.5 < one["photographs_alone"]["u95"] < 5
    assert one["u95"] > 2
    assert [said for said in sent["warnings"] if "sent.jpg: the difference is told to ΔE00" in said]
    own = cli("correct", TARGET, *TIN, "--seen", SWATCHES / "photo.jpg", *PLACES, "--json").json
    assert not [said for said in own["warnings"] if "the difference is told to ΔE00" in said]


@pytest.mark.parametrize("suffix", ["webp", "gif", "bmp"])
def test_a_picture_that_is_no_photograph_is_not_taken_for_a_table(cli: Cli, tmp_path: Path, suffix: str) -> None:
    Image.new("RGB", (40, 30)).save(tmp_path / f"card.{suffix}")
    cli("job", "new", "Tarnbeck Six")
    ran = cli("judge", tmp_path / f"card.{suffix}", "--job", "J1")
    assert ran.status == 2
    assert "is not a photograph that can be read; give JPEG, PNG, TIFF, HEIC or DNG" in ran.err
    assert is_picture("IMG_0001.NEF")


def test_a_photograph_of_another_piece_is_refused_and_exchanged_windows_are_asked_about(cli: Cli) -> None:
    photo = ("--seen", SWATCHES / "photo.jpg", *PLACES)
    other = cli("correct", "60,30,20", *TIN, *photo)
    assert other.status == 2
    assert "from the target, typed: it is another piece" in other.err
    taken = cli("correct", "60,30,20", *TIN, *photo, "--anyway")
    assert "it is another piece; it is taken as it is" in " ".join(taken.out.split())
    seen = read_seen(SeenRequest(seen=[SWATCHES / "photo.jpg"], region=PLACES[1::2]))
    assert seen.pair is not None
    standard, card = seen.pair

    far = replace(card, repeats=standard.repeats + 4 * (card.repeats - standard.repeats))

    def asked(target: Reading) -> str:
        return " ".join(refuse_other_piece(replace(seen, pair=(standard, far)), target, 1.5, anyway=False))

    assert asked(standard) == ""
    assert "are the two exchanged?" in asked(far)


@pytest.mark.parametrize(("off", "told"), [(0.5, False), (4.0, True)])
def test_a_standard_that_is_further_off_than_both_are_known_to_is_told(off: float, told: bool) -> None:
    seen = read_seen(SeenRequest(seen=[SWATCHES / "photo.jpg"], region=PLACES[1::2]))
    assert seen.pair is not None
    standard, card = seen.pair
    assert standard.target is not None
    known = replace(standard.target, u95=0.8)
    other = replace(standard, name="the wing", repeats=standard.repeats + np.array([off, 0.0, 0.0]), target=known)
    beside = replace(card, repeats=card.repeats - np.array([9.0, 0.0, 0.0]))  # so that nothing looks exchanged
    pair = (replace(standard, target=known), beside)
    (said,) = refuse_other_piece(replace(seen, pair=pair), other, 1.5, anyway=False) or ("",)
    assert ("more than the two are known to (±1.6 together): is it the piece to be matched?" in said) is told
    assert ("from the target, the wing" in said) is told


@pytest.mark.parametrize(("geometry", "asked"), [("45/0", True), ("de8", True), ("di8", False), ("", False)])
def test_a_letdown_exchanged_with_its_panel_is_asked_about_where_the_gloss_is_known_to_be_left_out(
    geometry: str, asked: bool
) -> None:
    """A stronger letdown is as much darker as its gloss would make a reading lighter; a bank without it has none."""
    seen = read_seen(SeenRequest(seen=[SWATCHES / "photo.jpg"], region=PLACES[1::2]))
    assert seen.pair is not None
    panel, letdown = np.array([[52.25, -3.48, -50.29]]), np.array([[48.14, -0.79, -54.38]])
    standard, card = (replace(one, repeats=lab) for one, lab in zip(seen.pair, (letdown, panel + 0.5), strict=True))
    made = Reading("blue 10/90", panel, "D65", 10, geometry)
    said = " ".join(
        refuse_other_piece(replace(seen, pair=(standard, card)), made, 1.5, False, "the panel", "the letdown")
    )
    assert ("the letdown lies nearer the panel" in said) is asked
    assert ("are the two exchanged? Then what is found by it is wrong: strike the letdown" in said) is asked


def test_one_of_the_two_alone_is_told_to_be_photographed_beside_the_other(cli: Cli) -> None:
    alone = cli("correct", TARGET, *TIN, "--seen", SWATCHES / "photo.jpg", *PLACES[:2])
    assert alone.status == 2
    assert "photograph the two in one picture, side by side; where both are in it, say where they lie" in alone.err


def test_a_photograph_that_told_a_reading_is_known_again(cli: Cli) -> None:
    """It was taken before the tin was poured, so that it can't show its card; read again it is no second reading."""

    def named(found: list[str]) -> list[str]:
        return [one for one in found if "reading #" in one]

    photo, place = SWATCHES / "photo.jpg", ("--region", "standard=96,92,174,131")
    for job, title in (("J1", "Tarnbeck Six"), ("J2", "Wing")):
        cli("job", "new", title)
        cli("job", "use", job)
        cli("mix", TARGET, "--bank", SWATCHES / "bank", "--grams", 500, "--max-tints", 2, "--recipes", 1)
        if job == "J1":
            first = cli("photo", "read", photo, *place, "--job", "J1", "--json").json
            assert named(first["warnings"]) == []
            reading = cli("job", "show", "J1", "--json").json["entries"][-1]["number"]
            same = cli("photo", "read", photo, *place, "--job", "J1", "--json").json
            assert named(same["warnings"]) == []  # the very reading stands there: nothing is recorded again
            under = cli("photo", "read", photo, *place, "--light", "A", "--job", "J1", "--json").json
            assert named(under["warnings"]) == [
                f"reading #{reading} (standard) is of the same photograph, for D65, 10°; this one is for A, 10°: the "
                "two are one reading; strike the one you don't need and say why: finishmatch job strike J1 NUMBER"
            ]
            cli("job", "strike", "J1", reading + 1, "--why", "the same picture")
        cli("job", "pour", SWATCHES / "batch1.csv")
        batch = cli("job", "show", job, "--json").json["entries"][-1]["number"]
        judged = cli("judge", photo, *PLACES, "--json").json["correction"]["warnings"]
        of = "" if job == "J1" else " of J1 Tarnbeck Six"
        assert named(judged) == [
            f"a photograph of reading #{reading} (standard){of} is given as a card of batch #{batch}, which was poured "
            "after that; it is taken as it is"
        ]
    panel = ("blue 20/80", "--bank", SWATCHES / "bank", "--seen", photo, *PLACES, "--anyway")
    tried = cli("job", "tin", "J2", *panel, "--json").json["warnings"]
    assert named(tried) == [
        f"a photograph of reading #{reading} (standard) of J1 Tarnbeck Six is given as a letdown now; it is taken as "
        "it is"
    ]


def test_a_photograph_of_card_and_standard_that_told_a_reading_is_one_of_the_card(cli: Cli) -> None:
    cli("job", "new", "Tarnbeck Six")
    cli("job", "use", "J1")
    cli("mix", TARGET, "--bank", SWATCHES / "bank", "--grams", 500, "--max-tints", 2, "--recipes", 1)
    cli("job", "pour", SWATCHES / "batch1.csv")
    cli("photo", "read", SWATCHES / "photo.jpg", "--region", "standard=96,92,174,131", "--job", "J1")
    assert "of reading #" not in cli("judge", SWATCHES / "photo.jpg", *PLACES).out


def test_two_that_are_far_apart_are_asked_about_as_the_wrong_piece(
    cli: Cli, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown = frame()
    photo = write_jpeg(shown, tmp_path / "photo.jpg")
    places = (f"--region={name}={','.join(map(str, shown.regions[piece]))}"
              for name, piece in (("standard", "cream"), ("spray-out", "blue")))  # fmt: skip
    monkeypatch.setattr(seen_in_photos, "MOST_U95", 3.0)  # a small or noisy picture comes to more than 5
    said = cli("correct", TARGET, *TIN, "--seen", photo, *places).error
    assert "photo.jpg: shows two colours that are ΔE00 " in said
    assert "too far to tell how far; is it the right piece, or panel, that lies beside it" in said
