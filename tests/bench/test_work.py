"""A whole job by forms alone, as a browser without scripts sends them: from the evidence to how the rework came out."""

from __future__ import annotations

import re
import shutil
from pathlib import Path
from typing import Any

import pytest

from finishmatch.cautions import TOXIC
from finishmatch.colour.told_within import told_within
from finishmatch.ledger import BatchEntry, CorrectionEntry, EntryView, open_ledger
from finishmatch.steps.corrected import CorrectRequest
from finishmatch.steps.judge import judge_card
from finishmatch.steps.photo.seen_in_photos import SeenRequest, read_seen
from tests.bench.conftest import Browser, Opened
from tests.cli.test_taught import lots
from tests.helpers.door_files import tell
from tests.helpers.photo_frames import standard_and_card

pytest_plugins = ["tests.helpers.door_fixtures"]


@pytest.fixture
def shop(opened: Opened, bench: Path) -> Browser:
    """The page with one job, and a small bank to mix from."""
    browser = opened(banks=(bench / "bank",))
    assert browser.post("/jobs/new", {"title": "Roof"}).status_code == 200
    return browser


def entries(kind: str) -> list[EntryView]:
    """The entries of J1 of a kind that stand."""
    with open_ledger() as ledger:
        return ledger.entries(ledger.find_job("J1"), kind=kind, current_only=True)


def _evidence(browser: Browser) -> Any:
    samples = {"name": ["tin", "bracket"], "kind": ["", ""], "vehicle": ["", ""]}
    return browser.post(
        "/job/J1/evidence", {**samples, "L": ["45,3", "45.1"], "a": ["-4.2", "-4.0"], "b": ["-17.9", "-17.7"]}
    )


def _mixed(browser: Browser) -> None:
    lab = {"L": "45.2", "a": "-4.1", "b": "-17.8"}
    answer = browser.post("/job/J1/recipe", {**lab, "bank": "0", "grams": "500", "max_tints": "3"})
    assert answer.status_code == 200, answer.text
    assert re.search(r"\b(1 recipe found; it comes|[2-9] recipes found; the first comes) to ΔE00", answer.text)
    assert re.search(r"its first card is expected at ΔE00 D65 \d\.\d to \d\.\d, 95 times in 100", answer.text)
    assert re.search(r"The first of them hides from \d+ µm dry: spray the card as thick", answer.text)


def test_of_a_recipe_a_little_outside_it_is_said_why_it_comes_first(opened: Opened, swatches: Path) -> None:
    shop = opened(banks=(swatches / "bank",))
    assert shop.post("/jobs/new", {"title": "Roof"}).status_code == 200
    lab = {"L": "60", "a": "12", "b": "12"}
    answer = shop.post("/job/J1/recipe", {**lab, "bank": "0", "grams": "30", "tolerance": "0.3"})
    text = " ".join(answer.text.split())
    assert "recipes found; the first comes to ΔE00 0.3" in text
    assert "That is a little outside the tolerance of 0.3, but its first card is expected nearer than those of" in text


def test_a_colour_typed_with_decimal_commas_is_mixed_for(opened: Opened, bench: Path) -> None:
    browser = opened(banks=(bench / "bank",))
    browser.post("/jobs/new", {"title": "Roof"})
    form = {"L": "45,1", "a": "-4,2", "b": "-17,5", "bank": "0", "grams": "200", "max_tints": "2"}
    answer = browser.post("/job/J1/recipe", form)
    assert answer.status_code == 200, answer.text
    (target,) = entries("target")
    assert target.entry.lab == pytest.approx([45.1, -4.2, -17.5])  # type: ignore[attr-defined]


def _form(text: str, action: str) -> dict[str, str]:
    """The hidden fields of a form of a page."""
    form = re.search(rf'<form method="post" action="{re.escape(action)}".*?</form>', text, re.DOTALL)
    assert form, action
    return dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', form[0]))


def test_evidence_is_looked_at_before_it_is_recorded(shop: Browser) -> None:
    answer = _evidence(shop)
    assert answer.status_code == 200
    assert answer.url.path == "/job/J1/evidence/weighed"
    assert "Known to ±" in answer.text
    assert not entries("target")
    fields = _form(answer.text, "/job/J1/evidence/weighed")
    recorded = shop.post("/job/J1/evidence/weighed", {**fields, "do": "record", "name": "Saltmarsh Blue"})
    assert recorded.status_code == 200, recorded.text
    (target,) = entries("target")
    assert target.entry.name == "Saltmarsh Blue"  # type: ignore[attr-defined]
    assert target.sources[0][0] == "evidence.csv"
    assert len(entries("reading")) == 2
    assert "Work out a recipe" in shop.text("/job/J1")


def test_of_one_sample_one_reading_is_recorded(browser: Browser) -> None:
    browser.post("/jobs/new", {"title": "Roof"})
    one = {"name": ["tin"], "kind": [""], "vehicle": [""], "L": ["45.3"], "a": ["-4.2"], "b": ["-17.9"]}
    fields = _form(browser.post("/job/J1/evidence", one).text, "/job/J1/evidence/weighed")
    said = browser.post("/job/J1/evidence/weighed", {**fields, "do": "record", "name": "blue"}).text
    assert "Recorded: 1 reading, and the target blue as #2" in said


def test_a_depth_that_something_else_stands_for_is_not_said_to_be_left_out(browser: Browser) -> None:
    browser.post("/jobs/new", {"title": "Roof"})
    assert 'How deep <span class="small">(this, or which layer lies bare)</span>' in browser.text("/job/J1/defect")


def test_a_kind_that_is_not_told_is_offered_once(shop: Browser) -> None:
    """«not known» stood beside «not told», for the same."""
    text = shop.text("/job/J1/evidence")
    select = text[text.index('<select id="kind0"') :].split("</select>")[0]
    offered = re.findall(r'<option value="([^"]*)"[^>]*>([^<]*)<', select)
    assert offered[0] == ("", "not told")
    assert sum(name.startswith("not ") for _, name in offered) == 1


def test_a_sample_is_left_out_only_with_a_reason(shop: Browser) -> None:
    fields = _form(_evidence(shop).text, "/job/J1/evidence/weighed")
    refused = shop.post("/job/J1/evidence/weighed", {**fields, "do": "record", "without": "bracket"})
    assert refused.status_code == 422
    assert "no reason is given" in refused.text
    taken = shop.post("/job/J1/evidence/weighed", {**fields, "do": "record", "without": "bracket", "why": "repainted"})
    assert taken.status_code == 200
    assert entries("target")[0].entry.left_out == (("bracket", "repainted"),)  # type: ignore[attr-defined]


def test_what_is_wrong_with_a_sample_is_said_and_the_rest_stays(shop: Browser) -> None:
    sent = {"name": ["tin"], "kind": [""], "vehicle": [""], "L": ["forty"], "a": ["1"], "b": ["2"]}
    answer = shop.post("/job/J1/evidence", sent)
    assert answer.status_code == 422
    assert "L of tin" in answer.text
    assert 'value="forty"' in answer.text
    assert shop.post("/job/J1/evidence", {"name": [""]}).status_code == 422
    for name in ("x.exe", "../../x.csv", "x.csv"):
        files = {"file": (name, b"MZ\x00\n<script>alert(1)</script>", "text/html")}
        answer = shop.post("/job/J1/evidence", {}, files=files)
        assert answer.status_code == 422, name
        assert "<script>alert" not in answer.text
    assert not entries("reading")


def test_a_file_of_evidence_is_weighed(shop: Browser) -> None:
    table = b"name,L,a,b\ntin,45.3,-4.2,-17.9\ndoor,47,-3,-12\n"
    answer = shop.post("/job/J1/evidence", {}, files={"file": ("my door.csv", table, "application/x-sh")})
    assert answer.status_code == 200
    assert "door" in answer.text


@pytest.mark.slow
def test_a_tin_is_weighed_out_part_by_part(shop: Browser) -> None:
    _mixed(shop)
    (recipe, *_) = entries("recipe")
    share = recipe.entry.first_share  # type: ignore[attr-defined]
    words = {0.5: "half", 0.75: "three quarters"}[share]
    assert f"at first pour {words} of it" in shop.text("/job/J1/recipe")
    plan = {tint: round(10 * share * grams) / 10 for tint, grams in recipe.entry.parts}  # type: ignore[attr-defined]
    for tint, grams in plan.items():
        page = shop.text("/job/J1/weigh")
        assert f"{grams:.1f} g: {words} of the recipe" in page
        assert f'id="tint">{tint}<' in page
        assert f'id="to-go">{grams:.1f}<' in page
        fields = _form(page, "/job/J1/weigh")
        assert shop.post("/job/J1/weigh", {**fields, "grams": ""}).status_code == 200
        (batch,) = entries("batch")
        assert batch.entry.parts[-1] == (tint, grams)  # type: ignore[attr-defined]
        assert batch.entry.recipe == recipe.number  # type: ignore[attr-defined]
    page = shop.text("/job/J1/weigh")
    assert f"{words.capitalize()} of every part of recipe #{recipe.number} is in the tin" in page
    stale = shop.post("/job/J1/weigh", {**fields, "grams": "1"})
    assert stale.status_code == 422
    assert "<strong>The tin</strong> was changed meanwhile: it is batch #" in stale.text
    undone = shop.post("/job/J1/weigh/undo", _form(page, "/job/J1/weigh/undo"))
    assert "is struck" in undone.text
    assert f'id="tint">{list(plan)[-1]}<' in undone.text
    shop.post("/job/J1/weigh", _form(undone.text, "/job/J1/weigh"))
    card = _form(shop.text("/job/J1/card"), "/job/J1/card")
    judged = shop.post("/job/J1/card", {**card, "do": "judge", "L": "45.9", "a": "-4.1", "b": "-17.2"})
    assert "The rest of the batch: " in judged.text
    assert "fills it up to 500.0 g" in judged.text


def test_what_the_tins_hold_is_named_and_cautioned_where_they_are_poured(opened: Opened, bench: Path) -> None:
    tell(bench, "white", "lead")
    shop = opened(banks=(bench / "bank",))
    assert shop.post("/jobs/new", {"title": "Roof"}).status_code == 200
    assert TOXIC not in shop.text("/job/J1/recipe")
    _mixed(shop)
    assert TOXIC in shop.text("/job/J1/recipe")
    page = shop.text("/job/J1/weigh")
    assert "White holds lead (by tints.csv)." in page
    assert TOXIC in page


def test_who_pours_all_of_a_recipe_at_once_enters_the_whole_weights(shop: Browser) -> None:
    _mixed(shop)
    (recipe, *_) = entries("recipe")
    for tint, grams in recipe.entry.parts:  # type: ignore[attr-defined]
        page = shop.text("/job/J1/weigh")
        assert f'id="tint">{tint}<' in page
        assert shop.post("/job/J1/weigh", {**_form(page, "/job/J1/weigh"), "grams": f"{grams:g}"}).status_code == 200
    page = shop.text("/job/J1/weigh")
    assert f"Every part of recipe #{recipe.number} is in the tin" in page
    assert "at first" not in page


@pytest.mark.slow
def test_too_much_is_answered_at_once_with_what_to_add(shop: Browser) -> None:
    _mixed(shop)
    page = shop.text("/job/J1/weigh")
    fields = _form(page, "/job/J1/weigh")
    slip = shop.post("/job/J1/weigh", {**fields, "grams": f"{10 * float(fields['as_planned']):.1f}"})
    assert slip.status_code == 422
    assert "is 10 times what is planned" in slip.text
    assert "I looked again" in slip.text
    assert not entries("batch")
    over = shop.post("/job/J1/weigh", {**fields, "grams": f"{1.03 * float(fields['as_planned']):.1f}"})
    assert over.status_code == 200
    text = over.text
    assert "Poured too much" in text
    if entries("correction"):
        (way,) = entries("correction")
        assert f"correction #{way.number}" in text
        assert "Still to pour" in text
        first = way.entry.additions[0]  # type: ignore[attr-defined]
        assert f'id="tint">{first[0]}<' in text


def test_the_same_pour_sent_twice_is_recorded_once(shop: Browser) -> None:
    _mixed(shop)
    state = shop.client.get("/api/job/J1/weigh").json()
    headers = {"x-bench-token": shop.token}
    part = {
        "plan": state["plan"]["number"],
        "tin": None,
        "tint": state["next"]["tint"],
        "grams": state["next"]["to_go"],
    }
    first = shop.client.post("/api/job/J1/weigh", json={**part, "key": "a" * 24}, headers=headers)
    again = shop.client.post("/api/job/J1/weigh", json={**part, "key": "a" * 24}, headers=headers)
    assert first.status_code == again.status_code == 200
    assert first.json()["recorded"] == again.json()["recorded"]
    assert again.json()["again"]
    assert len(entries("batch")) == 1
    other = shop.client.post("/api/job/J1/weigh", json={**part, "key": "b" * 24}, headers=headers)  # another device
    assert other.status_code == 409
    assert other.json()["moved"]
    chained = {**part, "key": "c" * 24, "after": "a" * 24, "tint": first.json()["now"]["next"]["tint"], "grams": 3.0}
    assert shop.client.post("/api/job/J1/weigh", json=chained, headers=headers).status_code == 200
    total = shop.client.get("/api/job/J1/weigh").json()["grams"]
    assert total == pytest.approx(part["grams"] + 3.0)


@pytest.mark.slow
def test_a_card_is_judged_and_answered(shop: Browser, bench: Path) -> None:
    _mixed(shop)
    for _ in range(3):
        page = shop.text("/job/J1/weigh")
        if 'action="/job/J1/weigh"' in page:
            shop.post("/job/J1/weigh", _form(page, "/job/J1/weigh"))
    seen = _form(shop.text("/job/J1/card"), "/job/J1/card")
    answer = shop.post("/job/J1/card", {**seen, "do": "judge", "L": "45.9", "a": "-4.1", "b": "-17.2", "coats": "2"})
    assert answer.status_code == 200, answer.text
    (verdict,) = entries("verdict")
    assert ("Outside" if verdict.entry.verdict == "outside" else "Inside") in answer.text  # type: ignore[attr-defined]
    assert f"ΔE00 D65 {verdict.entry.lights['D65']:.2f}" in answer.text  # type: ignore[attr-defined]
    assert entries("spray-out")[0].entry.coats == 2  # type: ignore[attr-defined]
    assert entries("correction")
    told = re.compile(
        r"The next card: expect ΔE00 D65 \d\.\d to \d\.\d.*; inside with a chance of (over |under )?[\d.]+ %"
    )
    assert told.search(answer.text)
    stale = shop.post("/job/J1/card", {**seen, "do": "record", "L": "45", "a": "-4", "b": "-17"})
    assert stale.status_code == 409
    assert "was recorded since this page was opened" in stale.text
    assert f"#{entries('spray-out')[0].number} spray-out" in stale.text
    assert 'value="45"' in stale.text
    fresh = _form(stale.text, "/job/J1/card")
    assert (
        shop.post("/job/J1/card", {**fresh, "do": "record", "L": "45.5", "a": "-4.1", "b": "-17.5"}).status_code == 200
    )
    assert len(entries("spray-out")) == 2
    sent = {"file": ("card.csv", (bench / "card1.csv").read_bytes(), "text/csv")}
    assert shop.post("/job/J1/card", {"do": "record"}, files=sent).status_code in (200, 422)


def test_a_card_is_judged_by_two_photographs_of_it_as_the_command_judges_it(
    shop: Browser, home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _mixed(shop)
    shop.post("/job/J1/weigh", _form(shop.text("/job/J1/weigh"), "/job/J1/weigh"))
    taken = [standard_and_card(tmp_path / f"{i}.jpg", seed=i) for i in (1, 2)]
    shown = [shop.post("/job/J1/photo", files={"photograph": (one.name, one.read_bytes())}).url.path for one in taken]
    wrong = shop.post(f"{shown[1]}/judge", {"standard": "sample 1", "trial": "sample 1"})
    assert wrong.status_code == 422
    assert "aren&#39;t two samples that can be compared" in wrong.text
    copied = shutil.copytree(home, tmp_path / "home")
    other = f"lit_{shown[0].rpartition('/')[2]}"
    fields = {"standard": "sample 1", "trial": "sample 2", other: "same", "anyway": "yes"}
    answer = shop.post(f"{shown[1]}/judge", {**fields, "coats": "3"})
    assert answer.url.path == "/job/J1/card", answer.text
    (card,) = (view.entry for view in entries("spray-out"))
    (verdict,) = (view.entry for view in entries("verdict"))
    assert f"ΔE00 D65 {verdict.lights['D65']:.2f}" in answer.text  # type: ignore[attr-defined]
    (seen,) = card.seen  # type: ignore[attr-defined]
    assert f"known to ±{told_within(seen['by_bank']['u95']):g}, by what its camera sees of the bank" in answer.text
    assert f" ±{told_within(seen['u95']):g}, as if a camera were an eye" in answer.text
    monkeypatch.setenv("FINISHMATCH_HOME", str(copied))
    both = read_seen(SeenRequest(seen=taken[::-1], called=("sample 1", "sample 2")))
    judge_card(both, CorrectRequest(coats=3, anyway=True), job="J1")
    (same,) = (view.entry for view in entries("spray-out"))
    assert card.coats == 3  # type: ignore[attr-defined]
    for name in ("difference", "u95", "pictures"):
        kept, told = (one.seen[0][name] for one in (card, same))  # type: ignore[attr-defined]
        assert kept == pytest.approx(told)
    assert card.seen[0]["pictures"] == 2  # type: ignore[attr-defined]
    assert "In one light a camera can&#39;t tell whether card and standard are of the same pigments" in answer.text


def test_a_photograph_under_a_lamp_joins_the_one_in_daylight_as_the_command_takes_it(
    shop: Browser, home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _mixed(shop)
    shop.post("/job/J1/weigh", _form(shop.text("/job/J1/weigh"), "/job/J1/weigh"))
    taken = [standard_and_card(tmp_path / f"{light}.jpg", seed=3, light=light) for light in ("A", "D65")]
    shown = [shop.post("/job/J1/photo", files={"photograph": (one.name, one.read_bytes())}).url.path for one in taken]
    other = f"lit_{shown[0].rpartition('/')[2]}"
    page = shop.text(shown[1])
    assert f'name="{other}"' in page
    assert '<option value="A">shows the same two under a tungsten or halogen lamp</option>' in page
    fields = {"standard": "sample 1", "trial": "sample 2", "anyway": "yes"}
    wrong = shop.post(f"{shown[1]}/judge", {**fields, other: "candle"})
    assert wrong.status_code == 422
    copied = shutil.copytree(home, tmp_path / "home")
    answer = shop.post(f"{shown[1]}/judge", {**fields, other: "A"})
    assert answer.url.path == "/job/J1/card", answer.text
    assert "of the same pigments" not in answer.text
    (card,) = (view.entry for view in entries("spray-out"))
    monkeypatch.setenv("FINISHMATCH_HOME", str(copied))
    told = read_seen(SeenRequest(seen=taken[1:], seen_under=[f"A={taken[0]}"], called=("sample 1", "sample 2")))
    judge_card(told, CorrectRequest(anyway=True), job="J1")
    (same,) = (view.entry for view in entries("spray-out"))
    for one, other_one in zip(card.seen, same.seen, strict=True):  # type: ignore[attr-defined]
        assert one["light"] == other_one["light"]
        assert one["alike_u95"] == pytest.approx(other_one["alike_u95"])
        assert one["difference"] == pytest.approx(other_one["difference"])


@pytest.mark.parametrize(
    ("typed", "builds", "said"),
    [
        ("62,5", (62.5,), "is read as 62.5"),
        ("62,5 60", (62.5, 60.0), "62.5, 60 µm"),
        ("62,58,60", (62.0, 58.0, 60.0), "62, 58, 60 µm"),
    ],
)
def test_a_comma_in_a_build_is_a_decimal_comma_and_what_was_read_is_said(
    typed: str, builds: tuple[float, ...], said: str, browser: Browser
) -> None:
    browser.post("/jobs/new", {"title": "Roof"})
    answer = browser.post("/job/J1/film", {"panel": "roof", "layer": "primer", "builds": typed})
    assert said in answer.text
    assert f"primer, {', '.join(f'{one:g}' for one in builds)} µm" in answer.text
    assert [view.entry.builds_um for view in entries("film-layer")] == [builds]  # type: ignore[attr-defined]


@pytest.mark.parametrize("typed", ["62,58", "62,58 60", "62,5,60", "98,104"])
def test_a_comma_that_may_stand_within_a_build_or_between_two_is_asked_on_the_page(
    typed: str, browser: Browser
) -> None:
    browser.post("/jobs/new", {"title": "Roof"})
    answer = browser.post("/job/J1/film", {"panel": "roof", "layer": "primer", "builds": typed})
    assert answer.status_code == 422
    assert "may be read in two ways" in answer.text
    assert entries("film-layer") == []


def test_film_defect_decision_and_outcome(shop: Browser) -> None:
    for layer, builds in (("primer", "62 58;60"), ("colour", "98,104,101"), ("clear", "41,5 44")):
        answer = shop.post("/job/J1/film", {"panel": "roof", "layer": layer, "builds": builds})
        assert answer.status_code == 200, answer.text
    builds = [view.entry.builds_um for view in entries("film-layer")]  # type: ignore[attr-defined]
    assert builds == [(62.0, 58.0, 60.0), (98.0, 104.0, 101.0), (41.5, 44.0)]
    refused = shop.post("/job/J1/film", {"panel": "roof", "layer": "clear", "builds": "60 x"})
    assert refused.status_code == 422
    logged = shop.post("/job/J1/defect", {"kind": "cratering", "panel": "roof", "count": "4", "reached": "primer"})
    assert logged.status_code == 200, logged.text
    number = entries("defect")[0].number
    assert logged.url.path == f"/job/J1/defect/{number}"
    assert "The ways to mend it" in logged.text
    assert not re.search(r"\b(0|100) %", logged.text)  # a chance is never said to be none or sure
    way = re.findall(r'name="choose" value="([^"]+)"', logged.text)[0]
    refused = shop.post(f"/job/J1/defect/{number}", {"choose": way, "why": ""})
    assert refused.status_code == 422
    assert shop.post(f"/job/J1/defect/{number}", {"choose": way, "why": "it is open"}).status_code == 200
    (decision,) = entries("decision")
    assert decision.entry.chosen == way  # type: ignore[attr-defined]
    done = shop.post(f"/job/J1/decision/{decision.number}", {"result": "right", "text": "no crater came back"})
    assert done.status_code == 200
    assert entries("decision")[0].entry.result == "right"  # type: ignore[attr-defined]
    assert shop.get(f"/job/J1/decision/{number}").status_code == 404
    assert "Nothing is open in this job" in shop.text("/job/J1")


def test_a_bank_is_chosen_from_the_list_and_never_by_a_path(shop: Browser) -> None:
    for bank in ("../bank", "/etc", "99", "-1"):
        answer = shop.post("/job/J1/recipe", {"L": "45", "a": "-4", "b": "-17", "bank": bank, "grams": "500"})
        assert answer.status_code == 422, bank
    assert not entries("recipe")


def test_a_part_by_a_letdown_is_told_step_by_step_on_the_card_and_on_the_scale(shop: Browser, home: Path) -> None:
    _mixed(shop)
    letdown = ("blue", 0.0, 1.0, 10.0, 4.1)
    with open_ledger(home) as ledger:
        job = ledger.find_job("J1")
        batch = ledger.record(job, BatchEntry((("white", 300.0), ("blue", 20.0))))
        parts = (("white", 2.0), ("blue", 0.41))
        ledger.record(job, CorrectionEntry(batch, parts, 0.01, True, {"D65": 0.1}, {}, letdowns=(letdown,)))
    told = (
        "Blue by a letdown: 1 g into a cup, filled up to 10 g with paint from the tin and stirred, 4.1 g of that back"
    )
    page = shop.text("/job/J1/weigh")
    assert 'id="tint">white<' in page
    assert '<p id="how" class="caution" hidden></p>' in page
    assert shop.post("/job/J1/weigh", {**_form(page, "/job/J1/weigh"), "grams": ""}).status_code == 200
    page = shop.text("/job/J1/weigh")
    assert 'id="to-go">0.41<' in page
    assert f'<p id="how" class="caution">{told}' in page
    assert shop.post("/job/J1/weigh", {**_form(page, "/job/J1/weigh"), "grams": ""}).status_code == 200
    assert entries("batch")[-1].entry.parts[-1] == ("blue", 0.41)  # type: ignore[attr-defined]


def test_a_strong_tint_of_a_recipe_goes_in_last_by_a_letdown(shop: Browser, bench: Path) -> None:
    lots(bench, "A", panels="A")
    lab = {"L": "45.2", "a": "-4.1", "b": "-17.8"}
    answer = shop.post("/job/J1/recipe", {**lab, "bank": "0", "grams": "150", "max_tints": "4"})
    assert "by a letdown, once the rest is in the tin" in answer.text
    recipe: Any = next(view for view in entries("recipe") if view.entry.let_down)  # type: ignore[attr-defined]
    weigh = f"/job/J1/weigh?plan={recipe.number}"
    for _ in range(len(recipe.entry.parts) - 1):
        page = shop.text(weigh)
        assert shop.post("/job/J1/weigh", {**_form(page, "/job/J1/weigh"), "grams": ""}).status_code == 200
    page = shop.text(weigh)
    assert f'id="tint">{recipe.entry.let_down[-1]}<' in page
    assert re.search(r'<p id="how" class="caution">[A-Z][a-z ]+ by a letdown: .* into a cup, filled up to ', page)
    assert shop.post("/job/J1/weigh", {**_form(page, "/job/J1/weigh"), "grams": ""}).status_code == 200
    assert "is in the tin" in shop.text(weigh)


def test_a_batch_that_was_enlarged_to_be_weighed_is_told_of(opened: Opened, swatches: Path) -> None:
    shop = opened(banks=(swatches / "bank",))
    assert shop.post("/jobs/new", {"title": "Roof"}).status_code == 200
    lab = {"L": "80", "a": "-1", "b": "2"}
    answer = shop.post("/job/J1/recipe", {**lab, "bank": "0", "grams": "90"})  # too little for a cup
    text = " ".join(answer.text.split())
    assert re.search(r"Recipe [123]: batch enlarged from 90 g to \d+\.\d g", text), text[:1500]
