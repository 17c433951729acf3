"""The steps from a colour to a tin: one frozen result each, the JSON of the command, with and without a job."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import FrozenInstanceError
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from finishmatch.cli.common import _plain
from finishmatch.errors import InputError
from finishmatch.ledger import BatchEntry, open_ledger
from finishmatch.readings import typed_lab
from finishmatch.steps.bank import FittedBank, film_of, open_bank
from finishmatch.steps.compare import CompareRequest, compare
from finishmatch.steps.correct import correct
from finishmatch.steps.corrected import CorrectRequest
from finishmatch.steps.evidence_kinds import evidence_kinds
from finishmatch.steps.job.spray import SprayRequest, spray
from finishmatch.steps.mix import Mixed, MixRequest, mix
from finishmatch.steps.predict import PredictRequest, predict
from finishmatch.steps.progress import quiet
from finishmatch.steps.show_bank import fit_bank, show_bank
from finishmatch.steps.todays_tins import todays_tins
from finishmatch.steps.weigh_evidence import WeighRequest, weigh_evidence
from tests.conftest import ROOT, Ran
from tests.helpers.same_numbers import same_json

Cli = Callable[..., Ran]
SWATCHES = ROOT / "swatches"
BANK, TIN, CARD = SWATCHES / "bank", f"{SWATCHES / 'evidence.csv'}@tin", SWATCHES / "card1.csv"
BATCH = (("white", 444.2), ("blue", 28.7), ("soft black", 25.4), ("violet", 1.6))


@pytest.fixture(scope="module")
def fitted() -> FittedBank:
    """The bundled bank."""
    return open_bank(BANK)


@pytest.fixture
def job(home: Path) -> str:
    """A job in a ledger of its own."""
    with open_ledger(home) as ledger:
        return ledger.new_job("Roof").ref


def kinds(home: Path, job: str) -> list[str]:
    """The kinds of the entries of a job, in order."""
    with open_ledger(home) as ledger:
        return [view.kind for view in ledger.entries(ledger.find_job(job))]


def test_only_usable_tints_are_mixed_with(fitted: FittedBank) -> None:
    assert set(fitted.usable_optics.names) == set(fitted.fit.usable)
    assert open_bank(fitted) is fitted


def test_a_film_over_a_ground_needs_both_by_the_names_of_the_parameters(fitted: FittedBank) -> None:
    with pytest.raises(InputError, match="`build_um`: a film over a ground needs `ground` and `build_um`"):
        film_of(fitted, "grey primer")


def test_a_result_is_frozen_and_what_the_command_prints(cli: Cli, fitted: FittedBank) -> None:
    mixed = mix(TIN, fitted, 500, MixRequest(max_tints=3))
    same_json(_plain(mixed.as_dict()), cli("mix", TIN, "--bank", BANK, "--grams", 500, "--max-tints", 3, "--json").json)
    with pytest.raises(FrozenInstanceError):
        mixed.warnings = ()  # type: ignore[misc]
    corrected = correct(TIN, fitted, BATCH, CARD)
    files = ("--batch", SWATCHES / "batch1.csv", "--sprayed", CARD)
    same_json(_plain(corrected.as_dict()), cli("correct", TIN, "--bank", BANK, *files, "--json").json)
    compared = compare((50, 0, 0), typed_lab("51,0,0"), CompareRequest(lights="D65"))
    ran = cli("compare", "50,0,0", "51,0,0", "--light", "D65", "--json")
    same_json(_plain(compared.as_dict()), ran.json)


def test_a_bank_and_the_kinds_of_evidence_are_what_the_commands_print(cli: Cli) -> None:
    same_json(_plain(show_bank(BANK).as_dict()), cli("bank", "show", BANK, "--json").json)
    same_json(_plain(fit_bank(BANK).as_dict()), cli("bank", "fit", BANK, "--json").json)
    same_json(_plain(evidence_kinds().as_dict()), cli("evidence", "kinds", "--json").json)


def test_what_a_step_found_is_recorded_when_a_job_is_named(fitted: FittedBank, home: Path, job: str) -> None:
    mixed = mix(TIN, fitted, 500, MixRequest(max_tints=4, recipes=2), job=job)
    assert kinds(home, job) == ["reading", "target", "recipe", "recipe"]
    assert mixed.recorded == (1, 2, 3, 4)
    corrected = correct(TIN, fitted, BATCH, CARD, job=job)
    assert kinds(home, job)[4:] == ["batch", "spray-out", "verdict", "correction", "strength"]
    assert corrected.recorded == (5, 6, 7, 8, 9)
    assert todays_tins(job, fitted).prior is not None
    compare(TIN, CARD, job=job)
    assert kinds(home, job)[-2:] == ["reading", "verdict"]  # the target's reading stands in the job already


def test_nothing_is_recorded_when_what_a_face_does_first_fails(fitted: FittedBank, home: Path, job: str) -> None:
    def fail(_mixed: Mixed) -> None:
        raise InputError("picture.png", "can't be written")

    with pytest.raises(InputError, match=r"picture\.png"):
        mix(TIN, fitted, 500, MixRequest(max_tints=2), job=job, before_recording=fail)
    assert kinds(home, job) == []


def test_a_spray_out_shows_the_strength_of_its_tins(fitted: FittedBank, home: Path, job: str) -> None:
    sprayed = spray(job, str(CARD), SprayRequest(bank=BANK))
    assert sprayed.learnt.strengths is None
    assert "isn't known what was in the tin" in sprayed.as_dict()["why_not_learnt"]
    with open_ledger(home) as ledger:
        ledger.record(ledger.find_job(job), BatchEntry(parts=list(BATCH)))
    again = spray(job, str(SWATCHES / "card2.csv"))
    assert again.learnt.fitted is not None
    assert set(again.as_dict()["learnt"]["strengths"]) == {tint for tint, _ in BATCH}


def test_wrong_values_name_the_parameter(fitted: FittedBank) -> None:
    for request, named in (
        ({"recipes": 0}, "`recipes`"),
        ({"coat_um": 0.0}, "`coat_um`"),
        ({"unseen_de00": 11.0}, "`unseen_de00`"),
    ):
        with pytest.raises(InputError) as error:
            MixRequest(**request)  # type: ignore[arg-type]
        assert error.value.where == named
    with pytest.raises(InputError, match="`scale_step`"):
        mix(TIN, fitted, 500, MixRequest(scale_step=-1))
    with pytest.raises(InputError, match="did you mean blue"):
        correct(TIN, fitted, {"bleu": 10.0}, CARD, CorrectRequest())
    with pytest.raises(InputError, match="`batch`: nothing was poured"):
        predict(fitted, {"white": 0.0})


def test_a_prediction_is_as_unsure_as_bank_tins_scale_and_reading_make_it(fitted: FittedBank) -> None:
    fine, coarse = (predict(fitted, BATCH, PredictRequest(scale_step=step)).u95 for step in (0.01, 5.0))
    assert 0.3 < fine < coarse
    over = predict(fitted, BATCH, PredictRequest(ground=fitted.bank.grounds[0][0], build_um=10.0))
    assert not np.allclose(over.lab, predict(fitted, BATCH).lab, atol=0.5)


def test_weighed_evidence_is_saved_as_a_target_that_mix_knows(
    fitted: FittedBank, home: Path, job: str, tmp_path: Path
) -> None:
    saved = tmp_path / "weighed.csv"
    weighed = weigh_evidence(SWATCHES / "survivors.csv", WeighRequest(save=saved), job=job)
    assert weighed.picked is not None
    assert kinds(home, job)[-1] == "target"
    mixed = mix(str(saved), fitted, 500, MixRequest(max_tints=2))
    assert mixed.match.tolerance == pytest.approx(weighed.picked.tolerance.value, abs=0.01)


def test_progress_is_said_by_the_face_or_not_at_all(fitted: FittedBank) -> None:
    said: list[str] = []

    def listening(text: str) -> Any:
        said.append(text)
        return quiet(text)

    mix(TIN, fitted, 500, MixRequest(max_tints=1), progress=listening)
    assert said == [f"searching the recipes of {len(fitted.fit.usable)} tints"]
