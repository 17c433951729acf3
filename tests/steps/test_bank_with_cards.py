"""The bank as of today is the bank and the record: undone when a card is struck or replaced, the same for a library."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

import finishmatch as fm
from finishmatch.colour import Floats
from finishmatch.ledger import BatchEntry, open_ledger
from finishmatch.optics import predicted_reflectance
from finishmatch.readings import Reading
from finishmatch.steps.bank import FittedBank, keep_fit, open_bank
from finishmatch.steps.job.spray import Sprayed, SprayRequest, spray
from finishmatch.steps.job.strike import strike
from finishmatch.steps.show_bank import show_bank
from tests.conftest import ROOT
from tests.helpers.door_files import small_bank

BATCH = (("white", 400.0), ("black", 40.0), ("blue", 60.0))


@pytest.fixture(scope="module")
def bank(tmp_path_factory: pytest.TempPathFactory) -> FittedBank:
    """A small bank with its fit."""
    folder = tmp_path_factory.mktemp("cards") / "bank"
    fitted = open_bank(small_bank(ROOT / "swatches" / "bank", folder, ("white", "black", "blue")))
    keep_fit(fitted)
    return open_bank(folder)


def _job(parts: tuple[tuple[str, float], ...] | None = BATCH) -> str:
    with open_ledger() as ledger:
        job = ledger.new_job("Roof")
        if parts is not None:
            ledger.record(job, BatchEntry(parts))
    return job.ref


def _card(bank: FittedBank, factor: float = 1.15, bent: float = 0.02) -> Reading:
    """A card of a blue that is stronger, and off in tone."""
    optics = bank.usable_optics
    grams = np.array([dict(BATCH).get(name, 0.0) for name in optics.names])
    strengths = np.where(np.array(optics.names) == "blue", factor, 1.0)
    read: Floats = predicted_reflectance(optics.strengthened(strengths), grams)
    return Reading("card", (read * (1 + bent * np.linspace(-1, 1, 31)))[None])


def _sprayed(bank: FittedBank, job: str, **how: object) -> Sprayed:
    assert bank.folder is not None
    return spray(job, how.pop("card", _card(bank)), SprayRequest(bank=bank.folder, **how))  # type: ignore[arg-type]


def test_a_card_moves_what_is_predicted_towards_it_in_shape_as_well_as_strength(bank: FittedBank) -> None:
    job = _job()
    before = fm.predict(bank, BATCH, job=job).reflectance
    off_tone = _card(bank, bent=0.06)
    told = _sprayed(bank, job, card=off_tone).as_dict()
    after = fm.predict(bank, BATCH, job=job)
    read = off_tone.repeats[0]
    left, moved = np.abs(after.reflectance - read), after.reflectance - before
    assert left.mean() < 0.5 * np.abs(before - read).mean()
    assert np.corrcoef(moved, read - before)[0, 1] > 0.9
    assert after.as_dict()["bank_today"] == told["bank_today"]
    assert told["bank_today"]["cards"] == 1
    used = after.as_dict()["strengths_used"]
    assert used == {name: pytest.approx(of, abs=1e-9) for name, of in told["learnt"]["strengths"].items()}


@pytest.mark.parametrize("way", ["struck", "replaced"])
def test_a_card_that_no_longer_stands_leaves_the_bank_as_it_was(bank: FittedBank, way: str) -> None:
    job = _job()
    before = fm.predict(bank, BATCH, job=job)
    number = _sprayed(bank, job).recorded.entries[0].number
    if way == "struck":
        strike(job, number, "the wrong card")
        after = fm.predict(bank, BATCH, job=job)
        np.testing.assert_array_equal(after.reflectance, before.reflectance)
        assert after.u95 == before.u95
        assert after.fitted.optics is after.fitted.fit.optics
        return
    right = _card(bank, 1.0, 0.0)
    _sprayed(bank, job, card=right, supersedes=number, why="read anew")
    after = fm.predict(bank, BATCH, job=job)
    alone = _job()
    _sprayed(bank, alone, card=right)
    assert after.as_dict()["bank_today"]["cards"] == 1
    np.testing.assert_allclose(after.reflectance, before.reflectance, atol=1e-3)


def test_another_job_is_predicted_by_the_bank_as_the_record_has_it(bank: FittedBank) -> None:
    _sprayed(bank, _job())
    other = fm.predict(bank, BATCH)
    assert other.as_dict()["bank_today"]["cards"] == 1
    assert other.as_dict()["strengths_used"] == {}
    assert bank.folder is not None
    assert show_bank(bank.folder).as_dict()["bank_today"]["cards"] == 1


def test_a_library_user_gets_what_a_bank_in_memory_and_one_in_a_folder_have_alike(bank: FittedBank) -> None:
    job = _job()
    _sprayed(bank, job)
    in_memory = fm.fit_bank(bank.bank)
    np.testing.assert_allclose(
        fm.predict(in_memory, BATCH, job=job).reflectance, fm.predict(bank, BATCH, job=job).reflectance, atol=1e-6
    )


def test_what_is_kept_beside_the_ledger_is_used_and_not_believed_when_it_was_changed(
    bank: FittedBank, home: Path
) -> None:
    job = _job()
    _sprayed(bank, job)
    right = fm.predict(bank, BATCH, job=job).reflectance
    (kept,) = (home / "bank-today").glob("*.json")
    was = kept.stat().st_mtime_ns
    fm.predict(bank, BATCH, job=job)
    assert kept.stat().st_mtime_ns == was
    document = json.loads(kept.read_text())
    document["K"] = [[2 * value for value in row] for row in document["K"]]
    kept.write_text(json.dumps(document))
    np.testing.assert_allclose(fm.predict(bank, BATCH, job=job).reflectance, right, atol=1e-9)
    assert kept.stat().st_mtime_ns != was


def test_a_card_with_no_batch_teaches_nothing_and_says_so(bank: FittedBank) -> None:
    job = _job(None)
    told = _sprayed(bank, job)
    assert told.learnt.strengths is None
    assert told.learnt.why_not is not None
    assert "what was in the tin" in told.learnt.why_not
    assert fm.predict(bank, BATCH, job=job).as_dict()["bank_today"]["cards"] == 0


def test_a_tin_beyond_a_factor_of_four_is_left_aside_and_the_warning_names_its_card(bank: FittedBank) -> None:
    job = _job()
    told = _sprayed(bank, job, card=_card(bank, 9.0, 0.0), anyway=True)
    number = told.recorded.entries[0].number
    assert told.as_dict()["bank_today"]["left_aside"] == [number]
    (warning,) = (text for text in told.recorded.warnings if "left aside" in text)
    assert f"#{number}" in warning
    assert "strike it" in warning


def test_a_card_known_as_lab_alone_still_shows_strength(bank: FittedBank) -> None:
    job = _job()
    lab = _card(bank, 1.15, 0.0).lab_in("D65", 10)
    told = _sprayed(bank, job, card=tuple(float(value) for value in lab)).as_dict()
    assert told["bank_today"]["cards"] == 0
    strengths = {name: of["factor"] for name, of in told["learnt"]["strengths"].items()}
    assert strengths["blue"] / strengths["white"] > 1.05
