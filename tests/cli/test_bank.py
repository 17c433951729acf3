"""`bank fit` and `bank show`: the fit is kept beside the bank, used while current, made anew when it isn't."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from pathlib import Path

import pytest

from finishmatch import optics
from finishmatch.optics.panel_set import panel_label
from finishmatch.readings import read_bank
from finishmatch.steps import bank as bank_step
from tests.conftest import Ran
from tests.helpers.door_files import MIX, write

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]


class Forgetful(dict[str, optics.BankFit]):
    """Fits that aren't kept from one command to the next, as where each is a process of its own."""

    def __setitem__(self, digest: str, fit: optics.BankFit) -> None:
        pass


@pytest.fixture
def bench(bench: Path) -> Path:
    """The bench before its bank was fitted."""
    (bench / "bank/fit.json").unlink()
    return bench


@pytest.fixture
def fits(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The banks that were fitted, in order."""
    fitted: list[str] = []
    fit_bank = optics.fit_bank

    def counting(bank: optics.Bank) -> optics.BankFit:
        fitted.append(bank.name)
        return fit_bank(bank)

    monkeypatch.setattr(bank_step, "fit_bank", counting)
    monkeypatch.setattr(bank_step, "_fits", Forgetful())
    return fitted


def test_a_bank_that_stays_as_it_is_is_fitted_once_a_process(bench: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    fitted: list[str] = []
    monkeypatch.setattr(bank_step, "_fits", {})
    fit_bank = optics.fit_bank
    monkeypatch.setattr(bank_step, "fit_bank", lambda bank: (fitted.append(bank.name), fit_bank(bank))[1])
    first, again = bank_step.open_bank(bench / "bank"), bank_step.open_bank(bench / "bank")
    assert first.fresh  # nothing was kept beside it
    assert again.fresh
    assert len(fitted) == 1
    tints = bench / "bank/tints.csv"
    tints.write_text(tints.read_text() + "\n")
    bank_step.open_bank(bench / "bank")
    assert len(fitted) == 2


def test_a_fit_tells_tints_surface_and_panels(cli: Cli, bench: Path) -> None:
    ran = cli("bank", "fit", "bank", "--json")
    assert (ran.status, ran.err) == (0, "")
    found = ran.json
    assert set(found) == {"tints", "surface", "per_um", "panels", "seen", "looked", "slips", "warnings"}
    assert set(found["tints"]) == {"white", "black", "soft black", "blue", "violet"}
    assert all(set(tint) == {"panels", "residual_de00"} for tint in found["tints"].values())
    assert found["tints"]["white"]["panels"] > found["tints"]["violet"]["panels"] > 1
    # Fresnel at normal incidence, index 1.5: ((n - 1) / (n + 1))² = 0.04
    assert found["surface"]["k1"] == pytest.approx(0.04, abs=1e-6)
    assert 0.4 <= found["surface"]["k2"] <= 0.65
    panels = read_bank(bench / "bank").panels
    labels = {panel_label(panel): panel.hides for panel in panels}
    assert {panel["panel"] for panel in found["panels"]} == set(labels)
    # the theory leaves more of a film over a ground than of one that hides
    assert all(0 <= p["residual_de00"] < (0.5 if labels[p["panel"]] else 2.0) for p in found["panels"])
    text = cli("bank", "fit", "bank", "--detail").out
    assert "surface: k1 0.0400 (from the binder's index), k2 0." in text
    assert "panels furthest from the fit: " in text
    assert "k2" not in cli("bank", "fit", "bank").out


def test_the_fit_is_kept_with_the_hash_of_what_it_was_made_from_and_used_again(
    cli: Cli, bench: Path, fits: list[str]
) -> None:
    first = cli("bank", "fit", "bank", "--json").out
    kept = bench / "bank" / "fit.json"
    assert json.loads(kept.read_text())["made_from_sha256"] == read_bank(bench / "bank").digest
    assert kept.stat().st_mode & 0o444 == 0o444  # the others of the shop may read it
    os.utime(kept, (1, 1))
    assert cli("bank", "fit", "bank", "--json").out == first
    cli("bank", "show", "bank")
    cli(*MIX)
    assert kept.stat().st_mtime == 1  # neither written nor made again
    assert fits == ["Lowmere bench tints"]
    assert [path.name for path in (bench / "bank").iterdir() if path.suffix not in (".csv", ".toml")] == ["fit.json"]


@pytest.mark.parametrize("file", ["bank.toml", "tints.csv", "panels.csv", "readings.csv", "grounds.csv"])
def test_one_byte_changed_makes_the_fit_anew(cli: Cli, bench: Path, fits: list[str], file: str) -> None:
    cli("bank", "fit", "bank")
    before = (bench / "bank" / "fit.json").read_bytes()
    with (bench / "bank" / file).open("a") as changed:
        changed.write("\n")
    assert cli("bank", "show", "bank").status == 0
    assert len(fits) == 2
    assert (bench / "bank" / "fit.json").read_bytes() != before
    cli("bank", "show", "bank")
    assert len(fits) == 2


@pytest.mark.parametrize("harm", ["cut short", "empty", "a list", "another number", "of another form"])
def test_a_damaged_fit_is_made_anew(cli: Cli, bench: Path, fits: list[str], harm: str) -> None:
    first = cli("bank", "show", "bank", "--json").out
    kept = bench / "bank" / "fit.json"
    text = kept.read_text()
    document = json.loads(text)
    document["tints"]["blue"]["K"][7] *= 1.5
    harmed = {
        "cut short": text[: len(text) // 2],
        "empty": "",
        "a list": "[]",
        "another number": json.dumps(document),
        "of another form": text.replace('"model": ', '"model": 9'),
    }[harm]
    write(kept, harmed)
    assert cli("bank", "show", "bank", "--json").out == first
    assert len(fits) == 2
    assert kept.read_text() == text


def test_a_bank_is_shown_with_its_tints(cli: Cli, bench: Path) -> None:
    found = cli("bank", "show", "bank", "--json").json
    assert (found["name"], found["geometry"]) == ("Lowmere bench tints", "di8")
    blue = found["tints"]["blue"]
    assert (blue["role"], blue["colour_index"], blue["stock_g"]) == ("tint", "PB15:1", 1000)
    assert (blue["density_kg_l"], blue["volume_solids"], blue["price_per_kg"]) == (1, 0.3, 58)
    assert blue["usable"] is True
    assert blue["letdown_lab"][0] > blue["masstone_lab"][0] + 10  # white lightens a blue
    assert "letdown_lab" not in found["tints"]["white"]
    text = cli("bank", "show", "bank").out
    assert "Lowmere bench tints, read di8" in text
    assert "soft black" in text
    assert "PBk11" in text


def test_a_clear_and_an_untold_tint_are_named_and_left_out_of_the_recipe(cli: Cli, bench: Path) -> None:
    tints = bench / "bank" / "tints.csv"
    write(tints, tints.read_text() + "clear,clear,,1,0.5,20,1000\n")
    panels = (bench / "bank" / "panels.csv").read_text().splitlines()
    mixed = {line.split(",")[0] for line in panels if line.split(",")[1] == "violet"}
    alone = {name for name in mixed if sum(line.split(",")[0] == name for line in panels) == 1}
    assert alone
    for file in ("panels.csv", "readings.csv"):
        lines = (bench / "bank" / file).read_text().splitlines()
        kept = [line for line in lines if line.split(",")[0] not in mixed - alone]
        write(bench / "bank" / file, "\n".join(kept) + "\n")
    found = cli("bank", "show", "bank", "--json").json
    assert found["tints"]["violet"]["usable"] is False
    assert any("clear: a clear has no colour in a film that hides" in note for note in found["warnings"])
    assert any("tint violet: no letdown or shading shows its strength" in note for note in found["warnings"])
    recipes = cli(*MIX, "--json").json["recipes"]
    assert not {"violet", "clear"} & {part["tint"] for recipe in recipes for part in recipe["parts"]}


def test_a_bank_without_thin_panels_says_what_it_cant_tell(cli: Cli, bench: Path) -> None:
    assert "no thin panels" not in cli("bank", "fit", "bank").out + cli(*MIX).out
    rows = (bench / "bank/readings.csv").read_text("utf-8").splitlines(keepends=True)
    header = next(row for row in rows if row.startswith("panel,"))
    ground = header.split(",").index("ground")
    kept = [row for row in rows if row == header or row.startswith("#") or not row.split(",")[ground]]
    write(bench / "bank/readings.csv", "".join(kept))
    names = {row.split(",")[0] for row in kept}
    panels = (bench / "bank/panels.csv").read_text("utf-8").splitlines(keepends=True)
    write(bench / "bank/panels.csv", "".join(row for row in panels if row[0] == "#" or row.split(",")[0] in names))
    said = "no thin panels: this bank can't tell from which build it hides"
    assert said in cli("bank", "fit", "bank").out
    assert said in cli(*MIX).out
