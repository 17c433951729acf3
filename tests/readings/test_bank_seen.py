"""seen.csv of a bank: panels known by their colour alone, beside spectra or without any; what is wrong is one line."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from finishmatch.colour import de00, reflectance_to_lab
from finishmatch.optics.panel_set import panel_set
from finishmatch.optics.seen_panels import seen_labs
from finishmatch.optics.surface import usual_surface
from finishmatch.readings import read_bank
from tests.conftest import Ran
from tests.helpers.door_files import write

pytest_plugins = ["tests.helpers.door_fixtures"]
HEAD = "panel,L,a,b,u95,picture,u95_shared\n"


def seen_instead(bench: Path, every: bool) -> int:
    """Put the colours of half the panels that hide, or of all, into seen.csv, and take their spectra out."""
    folder = bench / "bank"
    bank = read_bank(folder)
    surface = usual_surface(bank.binder_index, bank.geometry)
    hiding = [panel for panel in bank.panels if panel.hides]
    chosen = {panel.name: seen_labs(panel.reflectance, surface) for panel in (hiding if every else hiding[::2])}
    rows = [f"{name},{max(lab[0], 0):.3f},{lab[1]:.3f},{lab[2]:.3f},1,one,1\n" for name, lab in chosen.items()]
    write(folder / "seen.csv", HEAD + "".join(rows))
    left = [line for line in (folder / "readings.csv").read_text().splitlines() if line.split(",")[0] not in chosen]
    write(folder / "readings.csv", "\n".join(left) + "\n")
    if every:
        (folder / "readings.csv").unlink()
        thin = {panel.name for panel in bank.panels if not panel.hides} - set(chosen)
        mixed = [line for line in (folder / "panels.csv").read_text().splitlines() if line.split(",")[0] not in thin]
        write(folder / "panels.csv", "\n".join(mixed) + "\n")
    return len(chosen)


@pytest.mark.slow
@pytest.mark.parametrize("every", [False, True])
def test_a_bank_is_fitted_kept_and_mixed_from(cli: Callable[..., Ran], bench: Path, every: bool) -> None:
    before = {tint: 100 * grams for tint, grams in first_recipe(cli).items()}
    count = seen_instead(bench, every)
    ran = cli("bank", "fit", "bank")
    assert f"{count} of them by their colour alone" in ran.out
    assert cli("bank", "fit", "bank", "--json").json["seen"] == count
    assert (bench / "bank/fit.json").exists()
    found = cli("mix", "target.csv", "--bank", "bank", "--grams", "500", "--json").json["recipes"][0]
    assert found["intervals"]["D65"]["high"] < 8
    assert set(first_recipe(cli)) & set(before)


def first_recipe(cli: Callable[..., Ran]) -> dict[str, float]:
    """The parts of the first recipe."""
    recipe = cli("mix", "target.csv", "--bank", "bank", "--grams", "500", "--json").json["recipes"][0]
    return {part["tint"]: part["grams"] for part in recipe["parts"]}


@pytest.mark.slow
@pytest.mark.parametrize("every", [False, True])
def test_a_card_teaches_such_a_bank_and_is_corrected_by_it(cli: Callable[..., Ran], bench: Path, every: bool) -> None:
    """What the colours left open isn't laid to the tins: a card tells nearly what it tells a bank of spectra."""
    by_spectra = corrected(cli)
    seen_instead(bench, every)
    for _ in range(2):  # with the fit as it was made, and as it is kept
        found = corrected(cli)
        for strengths in (found["strengths"], found["learnt"]):
            assert all(0.8 < factor < 1.25 for factor in strengths.values()), strengths
        assert added(found) < 2 * added(by_spectra)
        assert max(found["lights"].values()) < 0.3
        assert found["before"] == pytest.approx(by_spectra["before"], abs=0.01)


def added(found: Any) -> float:
    """How much is to be added, grams."""
    return float(sum(part["grams"] for part in found["additions"]))


def corrected(cli: Callable[..., Ran]) -> Any:
    """What is to be added after a card, and what its spray-out taught, in a job of its own."""
    job = cli("job", "new", "Roof", "--another", "--json").json["job"]["ref"]
    assert cli("mix", "target.csv", "--bank", "bank", "--grams", "500", "--job", job).status == 0
    assert cli("job", "pour", job, "batch1.csv").status == 0
    learnt = cli("job", "spray", job, "card1.csv", "--json").json["learnt"]["strengths"]
    found = cli("correct", "--job", job, "--json").json
    return found | {"learnt": {tint: of["factor"] for tint, of in learnt.items()}}


def test_what_stands_for_a_spectrum_has_the_colour_and_the_doubt_is_as_written(bench: Path) -> None:
    seen_instead(bench, every=False)
    bank = read_bank(bench / "bank")
    surface = usual_surface(bank.binder_index, bank.geometry)
    one = next(panel for panel in bank.panels if panel.seen is not None and 20 < panel.seen.lab[0] < 80)
    assert one.seen is not None
    assert de00(seen_labs(one.reflectance, surface), one.seen.lab) < 0.01
    r = np.random.default_rng(4)
    assert one.seen.of_camera is not None
    assert one.seen.of_tint is not None
    whole = one.seen.covariance + one.seen.shared + one.seen.of_camera + one.seen.of_tint
    draws = r.multivariate_normal(one.seen.lab, whole, 4000)
    assert np.mean(de00(one.seen.lab, draws) <= 2**0.5) == pytest.approx(0.95, abs=0.015)  # u95 and u95_shared, 1 each
    assert np.linalg.norm(one.seen.covariance) < 0.25 * np.linalg.norm(whole)  # by itself it is off by little


def test_its_content_is_part_of_what_a_fit_rests_on(bench: Path) -> None:
    seen_instead(bench, every=False)
    before = read_bank(bench / "bank").digest
    path = bench / "bank/seen.csv"
    write(path, path.read_text().replace(",one,1\n", ",one,2\n", 1))
    assert read_bank(bench / "bank").digest != before


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("nobody,50,0,0,1,,", "line 2, column 'panel': there is no panel 'nobody' in panels.csv"),
        ("white masstone,500,0,0,1,,", "line 2, column 'L': 500 is too large"),
        ("white masstone,90,x,0,1,,", "line 2, column 'a': 'x' is not a number"),
        ("white masstone,90,0,0,0,,", "line 2, column 'u95': is 0, and no colour is known so surely"),
        ("white masstone,90,0,0,1,,2", "line 2, column 'u95_shared': is given, but no picture is named"),
    ],
)
def test_what_is_wrong_is_told(refused: Callable[..., str], bench: Path, line: str, told: str) -> None:
    write(bench / "bank/seen.csv", HEAD + line + "\n")
    assert told in refused("bank", "fit", "bank")


def test_a_column_that_is_not_known_is_told(refused: Callable[..., str], bench: Path) -> None:
    write(bench / "bank/seen.csv", "panel,L,a,b,h\nwhite masstone,90,0,0,1\n")
    assert "the column 'h' is not known here" in refused("bank", "fit", "bank")


def test_panels_that_nobody_has_read_yet_are_left_out_and_named(cli: Callable[..., Ran], bench: Path) -> None:
    rows = "white masstone,95,0,2,1,,\nblue masstone,25,5,-17,1,,\nblue 20/80,45,-8,-35,1,,\n"
    write(bench / "bank/seen.csv", HEAD + rows)
    (bench / "bank/readings.csv").unlink()
    (bench / "bank/grounds.csv").unlink()
    said = cli("bank", "fit", bench / "bank").out
    assert "3 panels of 2 tints fitted, 3 of them by their colour alone" in said
    assert "of panels.csv are read nowhere, and left out" in said
    assert said.count("in no panel that was read, so they can't be mixed with") == 1


def test_repeats_of_one_panel_by_spectrum_and_by_colour_share_its_weights(bench: Path) -> None:
    bank = read_bank(bench / "bank")
    lab = reflectance_to_lab(bank.panels[0].reflectance)
    write(bench / "bank/seen.csv", HEAD + f"{bank.panels[0].name},{lab[0]:.2f},{lab[1]:.2f},{lab[2]:.2f},1,,\n")
    panels, _ = panel_set(read_bank(bench / "bank"))
    both = [i for i, name in enumerate(panels.names) if name == bank.panels[0].name]
    assert [bool(panels.spectral[i]) for i in both] == [True, False]
    assert len(set(panels.mixture[both])) == 1


def read_and_seen(bench: Path, gloss: float, many: int = 4) -> None:
    """Of some panels whose spectra stand in the bank, write what a phone sees of them, read with so much more gloss."""
    folder = bench / "bank"
    bank = read_bank(folder)
    surface = usual_surface(bank.binder_index, bank.geometry)
    hiding = [panel for panel in bank.panels if panel.hides][:many]
    labs = {panel.name: seen_labs(panel.reflectance - gloss, surface) for panel in hiding}
    rows = [f"{name},{max(lab[0], 0):.3f},{lab[1]:.3f},{lab[2]:.3f},2,one,1\n" for name, lab in labs.items()]
    write(folder / "seen.csv", HEAD + "".join(rows))


def test_panels_that_were_read_too_are_not_known_by_their_colour_alone(cli: Callable[..., Ran], bench: Path) -> None:
    read_and_seen(bench, 0.0)
    found = cli("bank", "fit", "bank", "--json").json
    assert found["seen"] == 0
    assert not any("gloss" in note for note in found["warnings"])
    assert "colour alone" not in cli("bank", "fit", "bank").out


def test_spectra_read_with_the_gloss_in_a_bank_without_are_told_by_what_was_seen(bench: Path) -> None:
    read_and_seen(bench, 0.0)
    assert not any("gloss" in note for note in read_bank(bench / "bank").warnings)
    head = bench / "bank/bank.toml"
    write(head, head.read_text().replace('"di8"', '"45/0"'))
    (note,) = [note for note in read_bank(bench / "bank").warnings if "gloss" in note]
    assert "read with the gloss they would be" in note
    assert 'write geometry = "di8" in bank.toml' in note


def test_and_the_other_way_round(bench: Path) -> None:
    read_and_seen(bench, -0.04)
    (note,) = [note for note in read_bank(bench / "bank").warnings if "gloss" in note]
    assert 'write geometry = "de8" or "45/0" in bank.toml' in note
