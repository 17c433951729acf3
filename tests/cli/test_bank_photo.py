"""Drawdowns in a photograph become panels of a bank, each with its doubt; a shop needs no instrument for it."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import pytest

from finishmatch.readings import read_bank
from tests.conftest import ROOT, Ran
from tests.helpers.door_files import write

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]
PHOTO = ROOT / "swatches/photo.jpg"
BOTH = ("--region", "blue 20/80=117,75,90,60", "--region", "blue 5/95=303,75,90,60")


def rows(bench: Path) -> list[dict[str, str]]:
    """The rows of the bank's seen.csv."""
    lines = [line for line in (bench / "bank/seen.csv").read_text("utf-8").splitlines() if line[:1] != "#"]
    return list(csv.DictReader(lines))


def test_what_is_written_is_what_the_photograph_reads_with_its_doubt_in_two_parts(cli: Cli, bench: Path) -> None:
    found = cli("bank", "photo", "bank", PHOTO, *BOTH, "--json").json
    read = cli("photo", "read", PHOTO, *BOTH, "--json").json["regions"]
    assert [panel["panel"] for panel in found["panels"]] == ["blue 20/80", "blue 5/95"]
    for panel, region, row in zip(found["panels"], read, rows(bench), strict=True):
        assert panel["lab"] == pytest.approx(region["lab"], abs=1e-6)
        assert [float(row[name]) for name in ("L", "a", "b")] == pytest.approx(region["lab"], abs=1e-3)
        assert (panel["u95"] ** 2 + panel["u95_shared"] ** 2) ** 0.5 == pytest.approx(region["u95"], abs=1e-6)
        assert 0 < panel["u95"] <= region["u95"]
        assert (row["picture"], row["panel"]) == ("photo.jpg", panel["panel"])
    assert found["unread"] == []


def test_the_bank_is_fitted_with_them(cli: Cli, bench: Path) -> None:
    ran = cli("bank", "photo", "bank", PHOTO, *BOTH)
    assert "every panel is read: finishmatch bank fit bank" in ran.out
    seen = [panel for panel in read_bank(bench / "bank").panels if panel.seen is not None]
    assert [panel.name for panel in seen] == ["blue 20/80", "blue 5/95"]
    assert cli("bank", "fit", "bank", "--json").json["seen"] == 2


def test_a_photograph_read_again_takes_its_own_place_and_leaves_the_others(cli: Cli, bench: Path) -> None:
    cli("bank", "photo", "bank", PHOTO, *BOTH)
    again = bench / "again.jpg"
    again.write_bytes(PHOTO.read_bytes())
    cli("bank", "photo", "bank", again, *BOTH)
    assert len(rows(bench)) == 4
    before = rows(bench)
    cli("bank", "photo", "bank", again, "--region", "blue 5/95=117,75,90,60")
    after = rows(bench)
    assert len(after) == 4
    assert [row for row in after if row["picture"] == "photo.jpg"] == [r for r in before if r["picture"] == "photo.jpg"]
    changed = next(row for row in after if (row["panel"], row["picture"]) == ("blue 5/95", "again.jpg"))
    assert changed["L"] == next(r["L"] for r in before if (r["panel"], r["picture"]) == ("blue 20/80", "again.jpg"))


def test_panels_that_nothing_tells_of_are_named(cli: Cli, bench: Path) -> None:
    (bench / "bank/readings.csv").unlink()
    ran = cli("bank", "photo", "bank", PHOTO, *BOTH)
    assert "no colour is known yet of: white masstone" in ran.out


@pytest.mark.parametrize(
    ("options", "told"),
    [
        ((), "--region: is missing; say where each panel lies"),
        (
            ("--region", "blue 5/59=1,1,50,50"),
            "--region blue 5/59: is no panel of panels.csv; did you mean 'blue 5/95'?",
        ),
        (("--region", "blue 5/95=1,1,50,50", "--region", "blue 5/95=9,9,50,50"), "is named twice"),
        (("--region", "blue 5/95=1,1,50000,50"), "--region blue 5/95"),
    ],
)
def test_what_is_wrong_is_one_line_and_nothing_is_written(
    refused: Callable[..., str], options: tuple[str, ...], told: str
) -> None:
    assert told in refused("bank", "photo", "bank", PHOTO, *options)


def test_a_table_of_ones_own_is_not_written_over(refused: Callable[..., str], cli: Cli, bench: Path) -> None:
    write(bench / "bank/seen.csv", "panel,L,a,b\nblue 5/95,60,-10,-20\n")
    assert "was not written by finishmatch" in refused("bank", "photo", "bank", PHOTO, *BOTH)
    assert cli("bank", "photo", "bank", PHOTO, *BOTH, "--replace").status == 0
    assert [row["picture"] for row in rows(bench)] == ["", "photo.jpg", "photo.jpg"]
