"""Two colours side by side on the bench page: the same numbers as `compare`, the light, what a screen can't show."""

from __future__ import annotations

import re

import numpy as np
import pytest

from finishmatch.bench.charts import Dot, ab_plane, spectra
from finishmatch.colour.display import lab_to_srgb, lost_on_screen
from finishmatch.correct.correct_seen import verdict_seen
from finishmatch.ledger import Entry, NoteEntry, ReadingEntry, SprayOutEntry, TargetEntry, VerdictEntry, open_ledger
from finishmatch.readings import Reading
from finishmatch.steps.compare import CompareRequest, compare
from finishmatch.steps.side_by_side import side_by_side
from tests.bench.conftest import Browser

BLUE = np.linspace(0.25, 0.08, 31)
WARMER = BLUE + np.linspace(0, 0.03, 31)


def _job(browser: Browser, *entries: Entry) -> None:
    browser.post("/jobs/new", {"title": "Roof"})
    with open_ledger() as ledger:
        ledger.record_all(ledger.find_job("J1"), list(entries))


def _target(name: str = "blue", tolerance: float = 0.8) -> TargetEntry:
    lab = Reading(name, BLUE[None]).lab_in("D65", 10).tolist()
    return TargetEntry(name=name, lab=lab, light="D65", observer=10, reflectance=BLUE, tolerance=tolerance)


def _reading(name: str, values: np.ndarray, light: str = "D65") -> ReadingEntry:
    spectrum = len(values) == 31
    lab = Reading(name, values[None]).lab_in(light, 10) if spectrum else values
    return ReadingEntry(
        role="trial", name=name, lab=lab, light=light, observer=10, reflectance=values if spectrum else None
    )


def test_the_difference_is_that_of_compare_in_the_light_that_was_chosen(browser: Browser) -> None:
    _job(browser, _target(), _reading("door", WARMER))
    found = side_by_side("J1", light="A")
    assert found.standard is not None
    assert found.trial is not None
    assert (found.standard.of.number, found.trial.of.number) == (1, 2)
    request = CompareRequest(0.8, lights=("A", "D65", "F11"))
    same = compare(Reading("blue", BLUE[None]), Reading("door", WARMER[None]), request)
    assert found.compared is not None
    assert found.compared.as_dict() == same.as_dict()
    page = browser.text("/job/J1/swatches?light=A")
    assert f"ΔE00 {same.verdict.de00:.2f} in A" in page
    assert ", ".join(same.verdict.words) in page
    assert found.standard.screen in page
    assert "outside what a screen shows" not in page
    assert "What a screen can't show" in page
    assert page.count("<svg") == 4  # the band on top, the two colours, the plane, the spectra


def test_of_lab_alone_its_own_light_is_shown_and_no_other(browser: Browser) -> None:
    _job(browser, _target(), _reading("chip", np.array([60.0, 4.0, -8.0])))
    found = side_by_side("J1", light="A")
    assert found.lights == ("D65",)
    page = browser.text("/job/J1/swatches?light=A")
    assert "no other light can be shown" in page
    assert "light=F11" not in page


def test_lab_of_two_lights_is_shown_and_not_compared(browser: Browser) -> None:
    one, two = _reading("one", np.array([60.0, 4.0, -8.0])), _reading("two", np.array([60.0, 4.0, -8.0]), "A")
    _job(browser, one, two)
    found = side_by_side("J1", standard=1, trial=2)
    assert found.compared is None
    assert "different conditions" in found.why_not
    assert "They can't be compared" in browser.text("/job/J1/swatches?standard=1&trial=2")


def test_a_colour_that_isnt_there_is_said_and_the_usual_ones_are_shown(browser: Browser) -> None:
    _job(browser, _target(), NoteEntry("a note"))
    answer = browser.get("/job/J1/swatches?standard=2")
    assert answer.status_code == 422
    assert "is not a colour that can be chosen" in answer.text
    assert browser.get("/job/J1/swatches?standard=..%2F1").status_code == 422
    assert browser.get("/job/J1/swatches?light=moon").status_code == 422


def test_a_job_without_colours_says_so(browser: Browser) -> None:
    _job(browser, NoteEntry("a note"))
    assert "No colour is recorded in this job yet" in browser.text("/job/J1/swatches")


def test_names_are_escaped_in_the_page_and_in_its_plots(browser: Browser) -> None:
    nasty = "<script>alert(1)</script>\"'"
    _job(browser, _target(nasty), _reading(nasty, WARMER))
    page = browser.text("/job/J1/swatches")
    assert "<script>alert" not in page
    svg = ab_plane('x"', [Dot(nasty, (50, 1, 2), "#112233")]) + spectra(
        "x", [Dot(nasty, (50, 1, 2), "#1", (400,), (1,))]
    )
    assert "<script" not in svg


@pytest.mark.parametrize(("lab", "inside"), [((50, 0, 0), True), ((100, 0, 0), True), ((50, 90, -90), False)])
def test_what_a_screen_loses_is_nothing_inside_its_gamut(lab: tuple[float, ...], inside: bool) -> None:
    lost = lost_on_screen(np.array(lab, float))
    assert (lost == 0) == inside
    assert inside or set(lab_to_srgb(np.array(lab, float))) & {0.0, 255.0}


def test_the_plane_shows_all_its_colours_inside_the_frame() -> None:
    for other in ((50.0, 1.0, 30.0), (50.0, 40.0, 2.0), (50.0, 1.001, 2.0)):
        text = ab_plane("p", [Dot("a", (50.0, 1.0, 2.0), "#123456"), Dot("b", other, "#654321")], 1.0)
        circle = re.search(r'<circle cx="([\d.]+)" cy="([\d.]+)" r="9"', text)
        square = re.search(r'<rect x="([\d.]+)" y="([\d.]+)" width="16"', text)
        assert circle
        assert square
        for x, y in (circle.groups(), square.groups()):
            assert 52 <= float(x) <= 346
            assert 18 <= float(y) <= 274


def test_a_card_that_was_judged_is_held_against_the_tolerance_of_its_verdict(browser: Browser) -> None:
    card = SprayOutEntry(None, Reading("card", WARMER[None]).lab_in("D65", 10).tolist(), reflectance=WARMER)
    verdict = VerdictEntry("blue", "card", 1.0, 1.0, {"D65": 1.0}, None, (), 0.35, "outside", spray_out=2)
    _job(browser, _target(), card, verdict)
    found = side_by_side("J1")
    assert found.compared is not None
    assert found.compared.verdict.tolerance == 0.35
    assert "the tolerance of 0.35" in browser.text("/job/J1/swatches")


def test_a_card_that_was_only_seen_is_judged_as_judge_does_by_what_was_seen(browser: Browser) -> None:
    lab = np.add(_target().lab, [1.5, 0.0, 0.4])  # as the photograph had the card, its own standard being off too
    seen = {"light": "D65", "observer": 10, "difference": [0.3, 0.0, 0.4], "u95": 0.7, "pictures": 1}
    _job(browser, _target(tolerance=1.0), SprayOutEntry(None, lab.tolist(), seen=[seen]))
    found, page = side_by_side("J1"), browser.text("/job/J1/swatches")
    assert found.compared is not None
    assert found.trial is not None
    own = verdict_seen(found.trial.of.reading, 0.5)  # the usual tolerance of `judge`
    assert (found.compared.verdict.lights, found.compared.verdict.words) == (own.lights, own.words)
    assert found.compared.verdict.tolerance == own.tolerance
    assert (own.tolerance, own.within) == (0.7, True)
    assert "Inside what can be told, ±0.7" in page
    assert found.standard is not None
    np.testing.assert_allclose(found.trial.lab - found.standard.lab, [0.3, 0.0, 0.4], atol=1e-9)


def test_a_card_nobody_judged_goes_by_the_usual_tolerance_of_judge(browser: Browser) -> None:
    card = SprayOutEntry(None, Reading("card", WARMER[None]).lab_in("D65", 10).tolist(), reflectance=WARMER)
    _job(browser, _target(tolerance=1.0), card)
    assert "the tolerance of 0.5" in browser.text("/job/J1/swatches")
