"""The verbs of the plan as a program calls them: plain values in, one result out, the same that the command prints."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import FrozenInstanceError
from pathlib import Path
from typing import Any

import pytest

from finishmatch.cli.common import emit_json
from finishmatch.dossier.plan_page import render_plan
from finishmatch.errors import InputError
from finishmatch.ledger import PlanEntry, open_ledger
from finishmatch.readings.product_sheet import Component, Product
from finishmatch.steps.plan.air import AirRequest, minute_of_day, plan_air
from finishmatch.steps.plan.angles import AnglesRequest, plan_angles
from finishmatch.steps.plan.hiding import HidingRequest, plan_hiding
from finishmatch.steps.plan.law import LawRequest, known_rule_sets, plan_law
from finishmatch.steps.plan.page import WholePlan, plan_page
from finishmatch.steps.plan.quantity import QuantityRequest, plan_quantity
from finishmatch.steps.plan.sheen import SheenRequest, plan_sheen
from finishmatch.steps.plan.units import Units, clock_time, duration

Cli = Callable[..., Any]


@pytest.fixture
def sheets(swatches: Path) -> Path:
    """The bundled data sheets."""
    return swatches / "plan"


@pytest.fixture
def job() -> str:
    """A job to record in."""
    with open_ledger() as ledger:
        return ledger.new_job("Tarnbeck Six").ref


def printed(found: Any, capsys: pytest.CaptureFixture[str]) -> Any:
    """Return a result as a command prints it."""
    capsys.readouterr()
    emit_json(found.as_dict())
    return json.loads(capsys.readouterr().out)


def test_a_command_prints_what_its_step_returns(cli: Cli, sheets: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet, ladder, flake = sheets / "single-stage.toml", sheets / "ladder.csv", sheets / "metallic.csv"
    standard, trial = f"{flake}@standard", f"{flake}@card 1"
    hidden = HidingRequest(contrast=0.93, at_um=20, colour="40,-2,-30")
    for arguments, found in (
        (
            ("quantity", "--panel", "bonnet", "--panel", "front wing=2", "--product", sheet),
            plan_quantity(QuantityRequest(panels=(("bonnet", 1), ("front wing", 2)), product=sheet)),
        ),
        (("hiding", "--contrast", "0.93", "--at", "20um", "--colour", "40,-2,-30"), plan_hiding(hidden)),
        (
            ("sheen", ladder, "--sheen", "satin", "--weight", "500g"),
            plan_sheen(SheenRequest(ladder, None, "satin", 500)),
        ),
        (("law", sheet, "--rules", "district"), plan_law(LawRequest("district", (sheet,)))),
        (("law",), known_rule_sets()),
        (
            ("air", sheet, "--temperature", "22C", "--humidity", "55%", "--start", "09:15", "--coats", "3"),
            plan_air(AirRequest(22, 0.55, products=(sheet,), coats=3, start_minute=555)),
        ),
        (("angles", standard, trial), plan_angles(AnglesRequest(standard, trial))),
        (("page", sheets / "plan.toml"), plan_page(sheets / "plan.toml")),
    ):
        assert cli("plan", *arguments, "--json").json == printed(found, capsys)


def test_a_paint_needs_no_file() -> None:
    paint = Product("own blue", "single-stage", components=(Component("paint", 4, 1.1), Component("hardener", 1, 1.0)))
    found = plan_quantity(
        QuantityRequest(area_m2=2, product=paint, build_um=50, volume_solids=0.5, transfer=1, waste=0)
    )
    assert found.quantity.mixed_l == pytest.approx(0.2)
    assert found.quantity.grams == pytest.approx(160 * 1.1 + 40 * 1.0)
    assert found.sources == ()
    assert plan_law(LawRequest("district", kind="clear", voc_g_l=200)).yes


def test_a_result_can_not_be_changed() -> None:
    found = plan_air(AirRequest(22, 0.55))
    with pytest.raises(FrozenInstanceError):
        found.yes = False  # type: ignore[misc]


def test_what_is_found_is_recorded_only_in_a_job(job: str) -> None:
    request = AirRequest(22, 0.9)
    assert plan_air(request).recorded == ()
    found = plan_air(request, job=job)
    assert found.recorded == (1,)
    with open_ledger(create=False) as ledger:
        (kept,) = ledger.entries(ledger.find_job(job))
    assert kept.entry == PlanEntry("air", "no", found.answer, dict(found.figures), list(found.notes))


def test_a_page_that_can_not_be_written_is_not_recorded(job: str, sheets: Path) -> None:
    def full(_plan: WholePlan) -> None:
        raise InputError("plan.html", "can't be written: the disk is full")

    with pytest.raises(InputError, match="the disk is full"):
        plan_page(sheets / "plan.toml", job=job, draw=full)
    with open_ledger(create=False) as ledger:
        assert ledger.entries(ledger.find_job(job)) == []
    whole = plan_page(sheets / "plan.toml", job=job)
    assert whole.recorded == (1, 2, 3, 4, 5)
    assert "Tarnbeck Six, bonnet and front wings" in render_plan(whole, "metric")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('[booth]\ntemperature = "20 C"\nhumidity = "50 %"\nsurface = "150 C"\n', r"bad\.toml, \[booth\] surface: 150"),
        ('[panels]\nrof = 1\n[[step]]\nproduct = "clear.toml"\n', r"bad\.toml, \[panels\]: the table of panels has no"),
        ('[sheen]\nladder = "ladder.csv"\ngloss = 99\n', r"bad\.toml, \[sheen\] gloss: 99 lies outside"),
        ("[hiding]\ncontrast = 0.9\n", "give bank and batch, or contrast and at"),
        ('area = "2 m2"\n[[step]]\nproduct = "bare.toml"\n', r"bare\.toml, build: the dry build of a coat isn't known"),
    ],
)
def test_what_is_wrong_in_a_plan_file_is_named_as_it_stands_there(text: str, message: str, sheets: Path) -> None:
    (sheets / "bare.toml").write_text('name = "bare"\nkind = "clear"\n', "utf-8")
    (sheets / "bad.toml").write_text('title = "x"\n' + text, "utf-8")
    with pytest.raises(InputError, match=message) as caught:
        plan_page(sheets / "bad.toml")
    assert "`" not in str(caught.value)


def test_units_are_those_asked_for() -> None:
    both, metric, us = (Units(shown) for shown in ("both", "metric", "us"))
    assert both.build(25.4) == "25 µm (1.0 mils)"
    assert (metric.volume(1.5), us.volume(0.1)) == ("1.50 L", "3.4 US fl oz")
    assert [duration(minutes) for minutes in (0, 0.2, 61, 60 * 26)] == ["0 min", "1 min", "1 h 1 min", "1 day 2 h"]
    assert clock_time(minute_of_day("start", "23:30"), 45) == "00:15 +1 d"
