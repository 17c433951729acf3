"""In the virtual booth: a recipe after a mere spray-out comes nearer, in its own job and, of a lot, in the next."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from booth.bank_writer import (
    GROUNDS,
    Noise,
    drawdown_panels,
    letdown_panels,
    mixture_fractions,
    write_bank,
)
from booth.banks import tint_specs
from booth.virtual_booth import film_reflectance
from finishmatch.colour import de00, reflectance_to_lab
from tests.conftest import Ran
from tests.helpers.door_files import spectra_csv, write

Cli = Callable[..., Ran]
SPECS = tint_specs(31, 6)
NAMES = [spec.name for spec in SPECS]
STRENGTHS = np.exp(np.random.default_rng(4).normal(0, 0.07, len(SPECS)))
AS_THE_BANK = np.ones(len(SPECS))
WANTED = ({0: 60, 3: 30, 4: 10}, {0: 40, 3: 45, 4: 15}, {0: 75, 3: 12, 4: 13})


def sprayed(parts: dict[str, float], strengths: np.ndarray, **film: Any) -> np.ndarray:
    """What is read of a film of these grams from tins of these strengths."""
    pigments = [spec.pigment.strengthened(float(s)) for spec, s in zip(SPECS, strengths, strict=True)]
    return film_reflectance(mixture_fractions(SPECS, parts), pigments, **film)


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a bank of the booth, and cards of three colours as the bank's tins would give them."""
    folder = tmp_path_factory.mktemp("shop")
    panels = letdown_panels(SPECS) + drawdown_panels(SPECS, NAMES)
    write_bank(folder / "bank", SPECS, panels, noise=Noise(0.0005, 0.05), seed=3)
    for i, wanted in enumerate(WANTED):
        colour = sprayed({NAMES[j]: float(grams) for j, grams in wanted.items()}, AS_THE_BANK)
        write(folder / f"colour{i}.csv", spectra_csv([(f"colour {i}", colour)]))
    return folder


def lots(shop: Path, lot: str) -> None:
    """Name the lot of every tin."""
    head, *rows = [line for line in (shop / "bank/tints.csv").read_text().splitlines() if line[:1] != "#"]
    rows = [",".join(row.split(",")[:7]) for row in rows]
    write(shop / "bank/tints.csv", "\n".join([head.removesuffix(",lot") + ",lot", *(f"{row},{lot}" for row in rows)]))


def off(cli: Cli, number: int, *job: str) -> float:
    """How far the first card of a colour is off, when the recipe asked for is poured from today's tins."""
    ran = cli("mix", f"colour{number}.csv", "--bank", "bank", "--grams", 500, "--max-tints", 3, *job, "--json")
    parts = {part["tint"]: part["grams"] for part in ran.json["recipes"][0]["parts"]}
    card = sprayed(parts, STRENGTHS)
    wanted = sprayed({NAMES[j]: float(grams) for j, grams in WANTED[number].items()}, AS_THE_BANK)
    return float(de00(reflectance_to_lab(wanted), reflectance_to_lab(card)))


def pour_and_spray(cli: Cli, shop: Path, job: str, *options: object, **film: Any) -> dict[str, dict[str, float]]:
    """The first colour is poured and sprayed; the strength of its tins."""
    parts = {NAMES[j]: 5.0 * grams for j, grams in WANTED[0].items()}
    write(shop / "batch.csv", "tint,grams\n" + "".join(f"{tint},{grams}\n" for tint, grams in parts.items()))
    card = sprayed(parts, STRENGTHS, **film) + np.random.default_rng(8).normal(0, 0.0005, 31)
    write(shop / "card.csv", spectra_csv([("card", card)]))
    assert cli("job", "pour", job, "batch.csv", "--bank", "bank").status == 0
    learnt: dict[str, dict[str, float]] = cli("job", "spray", job, "card.csv", *options, "--json").json["learnt"]
    return learnt["strengths"]


def test_a_recipe_after_a_mere_spray_out_comes_nearer_and_of_a_lot_in_the_next_job_too(
    cli: Cli, shop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(shop)
    lots(shop, "L1")
    before = np.array([off(cli, i) for i in (1, 2)])
    cli("job", "new", "Roof")
    pour_and_spray(cli, shop, "J1")
    after = np.array([off(cli, i, "--job", "J1") for i in (1, 2)])
    cli("job", "new", "Another car")
    next_job = np.array([off(cli, i, "--job", "J2") for i in (1, 2)])
    print(f"\nfirst cards: not knowing the tins {before}, after a card {after}, in the next job {next_job}")
    assert (before > 0.6).all()  # or there would be nothing to gain
    assert (after < 0.35 * before).all()
    assert next_job == pytest.approx(after, abs=0.02)
    lots(shop, "L2")
    assert off(cli, 1, "--job", "J2") == pytest.approx(before[0], abs=0.02)


@pytest.mark.parametrize(
    ("ground", "named"), [("black", "black"), ("white", "white"), ("white", "grey primer")], ids=str
)
def test_a_thin_film_tells_the_tins_and_not_its_ground(
    cli: Cli, shop: Path, monkeypatch: pytest.MonkeyPatch, ground: str, named: str
) -> None:
    """8 µm that don't hide: taken as they are, over a ground the bank knows or over one it doesn't."""
    monkeypatch.chdir(shop)
    lots(shop, "")
    cli("job", "new", "Roof")
    hidden = pour_and_spray(cli, shop, "J1", build_um=8.0, ground=GROUNDS[ground])
    cli("job", "new", "Bonnet")
    told = ("--build-um", 8, "--ground", named)
    known = pour_and_spray(cli, shop, "J2", *told, build_um=8.0, ground=GROUNDS[ground])
    truth = {name: float(STRENGTHS[NAMES.index(name)]) for name in known}
    out = {name: (np.log(known[name]["factor"] / truth[name])) / known[name]["sd"] for name in known}
    right, wrong = (
        np.ptp([np.log(found[name]["factor"] / truth[name]) for name in known]) for found in (known, hidden)
    )
    print(f"\n{ground}, told {named}: {out}; against each other off by {right:.3f}, taken to hide {wrong:.3f}")
    assert max(map(abs, out.values())) < 3
    assert wrong > 1.5 * right  # or the film needn't be known
