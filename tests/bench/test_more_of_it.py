"""More of a paint that was right, on the bench page: another size of its batch, weighed out part by part."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from finishmatch.cli import run
from finishmatch.ledger import BatchEntry, RecipeEntry, VerdictEntry, open_ledger
from tests.bench.conftest import Browser, Opened

pytest_plugins = ["tests.helpers.door_fixtures"]
INSIDE, OUTSIDE = ("--tolerance", "1"), ("--tolerance", "0.5")


def _made(browser: Browser, bench: Path, *tolerance: str) -> Browser:
    """A job with a batch whose first card was judged within a tolerance."""
    assert browser.post("/jobs/new", {"title": "Roof"}).status_code == 200
    target, bank, batch, card = (str(bench / name) for name in ("target.csv", "bank", "batch1.csv", "card1.csv"))
    assert run(["mix", target, "--bank", bank, "--grams", "500", "--recipes", "1", "--job", "J1"]) == 0
    assert run(["job", "pour", "J1", batch]) == 0
    assert run(["judge", card, *tolerance, "--job", "J1"]) in (0, 1)
    return browser


@pytest.fixture
def right(opened: Opened, bench: Path) -> Browser:
    return _made(opened(banks=(bench / "bank",)), bench, *INSIDE)


def entries(kind: type) -> list[Any]:
    with open_ledger() as ledger:
        return [(view.number, view.entry) for view in ledger.entries(ledger.find_job("J1"), kind=kind)]


def _form(page: str, action: str) -> dict[str, str]:
    form = re.search(rf'<form method="post" action="{re.escape(action)}".*?</form>', page, re.DOTALL)
    assert form, action
    return dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', form[0]))


def test_what_was_right_is_weighed_out_again_in_another_size(right: Browser) -> None:
    ((number, batch),), ((_, verdict),) = entries(BatchEntry), entries(VerdictEntry)
    assert 'href="/job/J1/recipe#more">More of this paint<' in right.text("/job/J1/card")
    page = right.text("/job/J1/recipe")
    assert f"The card of batch #{number} came to ΔE00 D65 {verdict.lights['D65']:.2f}" in page
    answer = right.post("/job/J1/recipe/more", {**_form(page, "/job/J1/recipe/more"), "more_g": "250"})
    _, (made, recipe) = entries(RecipeEntry)
    assert answer.url.path == "/job/J1/weigh"
    assert answer.url.query == f"plan={made}".encode()
    assert recipe.again == number
    whole = sum(grams for _, grams in batch.parts)
    for tint, grams in recipe.parts:
        assert grams == pytest.approx(dict(batch.parts)[tint] * 250 / whole, abs=0.051)
    for tint, grams in recipe.parts:
        fields = _form(right.text(f"/job/J1/weigh?plan={made}"), "/job/J1/weigh")
        assert fields["tint"] == tint
        assert float(fields["as_planned"]) == grams
        assert right.post("/job/J1/weigh", {**fields, "grams": ""}).status_code == 200
    newest, poured = entries(BatchEntry)[-1]
    assert newest != number
    assert poured.recipe == made
    assert dict(poured.parts) == dict(recipe.parts)
    assert f"Every part of recipe #{made} is in the tin" in right.text("/job/J1/weigh")


def test_what_cant_be_weighed_is_said_at_its_field_and_nothing_is_recorded(right: Browser) -> None:
    fields = _form(right.text("/job/J1/recipe"), "/job/J1/recipe/more")
    for typed, said in (
        ({"more_g": ""}, "is empty"),
        ({"more_g": "0"}, "0 g is no batch"),
        ({"more_g": "10"}, "than a step of the scale"),
        ({"more_g": "200", "more_step": "0"}, "0 g is not the step of a scale"),
        ({"more_g": "200", "batch": "1"}, "and no batch"),
        ({"more_g": "200", "batch": "77"}, "isn&#39;t in J1"),
    ):
        answer = right.post("/job/J1/recipe/more", {**fields, **typed})
        assert answer.status_code == 422, typed
        assert said in answer.text
        assert '<details id="more" open>' in answer.text
        assert f'name="more_g" type="text" value="{typed["more_g"]}"' in answer.text
    assert len(entries(RecipeEntry)) == 1


def test_a_batch_whose_card_was_outside_is_not_offered(opened: Opened, bench: Path) -> None:
    browser = _made(opened(banks=(bench / "bank",)), bench, *OUTSIDE)
    ((number, _),) = entries(BatchEntry)
    page = browser.text("/job/J1/recipe")
    assert "/recipe/more" not in page
    assert "More of this paint" not in browser.text("/job/J1/card")
    token = _form(page, "/job/J1/recipe")
    answer = browser.post("/job/J1/recipe/more", {**token, "batch": str(number), "more_g": "200"})
    assert answer.status_code == 422
    assert "had a card outside" in answer.text
    assert len(entries(RecipeEntry)) == 1
