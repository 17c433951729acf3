"""Twenty jobs of one shop by commands alone, every colour from a photograph: what its first cards come to by then.

As `test_phone_jobs`, but nothing of what the phone is off by is assumed: panels, pieces, letdowns and cards are
rendered, photographed and read. Eight tints nobody has read, two panels of each drawn from the tins on the shelf; one
tin in ten is used up with each job and another opened. More shops: `python -m benchmarks.test_phone_record rough
601,602 A A,LED-B3`, the lamps of cards and those of panels and pieces; `calm`; `others`, a rough shop whose pieces are
of other pigments; with `pieces` first recipes by what the camera saw of panels and pieces are held against those by its
colours alone.
"""

from __future__ import annotations

import contextlib
import csv
import os
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from benchmarks.phone_painter import UNSEEN, Floats, Matched, Painter, RefusedError, command, without_panels
from booth.virtual_booth import specular_reflectance
from booth.workshop import CALM, ROUGH, Conditions, Workshop
from finishmatch.colour import de00, de00_metric, reflectance_to_lab
from finishmatch.photo.card.layout import card_layout

TINTS, JOBS, NEW_TIN = 8, 20, 0.1
LETDOWNS, WEAKER = (40.0, 5.0), 0.4  # per cent of a tint in the white; by how much where the file can't hold the colour
WINDOWS = 8
SEED, OTHER = 601, 50
OFTEN = 2
BOTH, PANELS, COLOURS = "what was seen of both", "what was seen of the panels", "colours"


class Shop(Painter):
    """A shop whose tins stay open from job to job."""

    def __init__(
        self, folder: Path, conditions: Conditions, seed: int, under: Sequence[str] = (), others: bool = False
    ) -> None:
        super().__init__(folder, conditions, seed, TINTS, 0.3, under)
        self.maker = Workshop(CALM, seed + OTHER, TINTS, 0.3) if others else self.shop
        self.lot, self.strengths = np.zeros(TINTS, dtype=int), np.ones(TINTS)
        self._write_lots()

    def _write_lots(self) -> None:
        self.write_tins([f"tin {lot}" for lot in self.lot], "tin 0")

    def draw(self) -> None:
        """Draw the white and two letdowns of each tint; what the file can't hold is drawn weaker."""
        white = self.names[0]
        wanted = [(name, share) for share in LETDOWNS for name in self.names[1:]]
        todo = [(white, 100.0), *wanted]
        while todo:
            now, todo = todo[:WINDOWS], todo[WINDOWS:]
            sheet = {f"{name} {share:.3g}": (name, share) for name, share in now}
            unread = self.draw_sheet(
                [
                    {
                        "panel": panel,
                        "parts": [
                            {"tint": tint, "grams": grams}
                            for tint, grams in ((name, share), (white, 100 - share))
                            if grams
                        ],
                    }
                    for panel, (name, share) in sheet.items()
                ]
            )
            without_panels(unread)
            todo += [(sheet[panel][0], sheet[panel][1] * WEAKER) for panel in unread]
        command("bank", "fit", "shop", "--json")

    def piece(self) -> Floats:
        """Return the reflectance of a piece painted with two or three tints in white: the shop's, or others'."""
        grams = np.zeros(TINTS)
        used = self.r.choice(np.arange(1, TINTS), int(self.r.integers(2, 4)), replace=False)
        grams[used] = np.exp(self.r.uniform(np.log(0.5), np.log(12), used.size))
        grams[0] = 100 - grams.sum()
        return self.maker.spray(grams, np.ones(TINTS))

    def read_piece(self, piece: Floats) -> None:
        """Photograph a piece and have its colour read."""
        seen = self._in_lights({"standard": piece}, card_layout())
        command("photo", "read", *seen, "--save", "piece.csv", "--replace", "--json")

    def missed(self, piece: Floats) -> float:
        """Return by how much the first recipe for a piece that was read misses it, ΔE00 (D65)."""
        parts = command("mix", "piece.csv", "--bank", "shop", "--grams", 300, "--json")["recipes"][0]["parts"]
        card = self.shop.spray(self.grams(parts), np.ones(TINTS))
        return float(de00(*reflectance_to_lab(np.stack([piece, card]) - specular_reflectance())))

    def open_new_tins(self) -> None:
        """Open another tin of each tint that is used up."""
        empty = self.r.uniform(size=TINTS) < NEW_TIN
        self.strengths = np.where(empty, self.shop.lots(self.r), self.strengths)
        self.lot = self.lot + empty
        self._write_lots()


def jobs_of(shop: Shop, count: int, lamps: Sequence[str] = ()) -> list[Matched | None]:
    """Return some jobs of a shop, in order; new tins are tried. None is a colour that this phone can't be used for."""
    shop.draw()
    jobs: list[Matched | None] = []
    for number in range(count):
        if number:
            shop.open_new_tins()
        try:
            jobs.append(shop.match(shop.piece(), shop.strengths, tries=True, lamps=lamps))
        except RefusedError as refused:
            if not any(why in str(refused) for why in UNSEEN):
                raise
            jobs.append(None)
    return jobs


def told(name: str, tried: Sequence[Matched | None]) -> str:
    """Return what came of jobs, in a line."""
    jobs = [job for job in tried if job is not None]
    off = np.array([job.off for job in jobs])
    each = ", ".join(f"{np.median(card):.2f} ({np.percentile(card, 90):.2f})" for card in off.T)
    first = np.mean([low <= job.off[0] <= high for job in jobs for low, high in [job.stated]])
    judged = [(card[0], pair) for job in jobs for card, pair in zip(job.told, job.pairs[:-1], strict=True)]
    alone = [(card["photographs_alone"] or card, pair) for card, pair in judged]
    return (
        f"{name}, {len(jobs)} jobs: first card, after one correction, after two {each}; range of the first holds "
        f"{first:.2f}; a difference is told {_told(judged)}; by the photographs alone {_told(alone)}"
    )


def _told(judged: Sequence[tuple[dict[str, Any], Floats]]) -> str:
    """Return how far differences lie from the true ones, in ΔE00, by their length too, and how often as stated."""
    away, longer = [], []
    for card, (piece, shown) in judged:
        away.append(float(np.linalg.norm(de00_metric(piece) @ (np.array(card["difference"]) - (shown - piece)))))
        longer.append(abs(card["de00"] - float(de00(piece, shown))))
    held = np.mean([off <= card["u95"] for off, (card, _) in zip(away, judged, strict=True)])
    by_length = f"{np.median(longer):.2f} ({np.percentile(longer, 90):.2f}) by its length"
    return f"{np.median(away):.2f} off ({np.percentile(away, 90):.2f}), {by_length}, as stated {held:.2f}"


@pytest.mark.slow
def test_the_first_jobs_of_a_rough_shop_come_near(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("FINISHMATCH_HOME", str(tmp_path / "home"))
    shop = Shop(tmp_path, ROUGH, SEED + 1, ("A",))
    jobs = jobs_of(shop, OFTEN, ("A",))
    with capsys.disabled():
        print("\n", told("rough", jobs))
    off = np.array([job.off for job in jobs if job is not None])
    assert len(off) == OFTEN
    assert np.median(off, axis=0)[0] <= 1.5
    assert (off[:, 0] <= 3.0).all()
    assert np.median(off, axis=0)[1] <= 0.6
    assert (off[:, 1:] <= 1.0).all()


def test_what_the_camera_saw_of_panels_and_pieces_brings_first_recipes_nearer(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("FINISHMATCH_HOME", str(tmp_path / "home"))
    found = first_recipes([SEED + 1], ("A",), 2)
    sizes = {
        how: float(np.sqrt(np.mean([off**2 for (_, its), one in found.items() if its == how for off in one])))
        for how in (BOTH, PANELS, COLOURS)
    }
    print("\nfirst recipes miss by " + ", ".join(f"{size:.2f} by {how}" for how, size in sizes.items()))
    assert sizes[BOTH] < 0.8 * sizes[COLOURS]
    assert sizes[BOTH] < 0.95 * sizes[PANELS]


def first_recipes(seeds: Sequence[int], under: Sequence[str], count: int) -> dict[tuple[str, str], list[float]]:
    """Return by how much first recipes miss pieces of a shop's own pigments and of others, ΔE00 (D65).

    Every tin is as the panels', and all is weighed as it is asked for. Each piece is mixed by what the camera saw of it
    and the panels, by its colour and what was seen of the panels, and by colours alone.
    """
    off: dict[tuple[str, str], list[float]] = {}
    for seed in seeds:
        with tempfile.TemporaryDirectory() as folder:
            os.chdir(folder)
            os.environ["FINISHMATCH_HOME"] = str(Path(folder) / "home")
            shop, r = Shop(Path(folder), CALM, seed, under), np.random.default_rng([seed, 9])
            shop.draw()
            looks = Path("shop/looks.json")
            kept = looks.read_bytes()
            for kind, maker in (("its own", shop.shop), ("others", Workshop(CALM, seed + OTHER, TINTS, 0.3))):
                for _ in range(count):
                    grams = np.zeros(TINTS)
                    used = r.choice(np.arange(1, TINTS), int(r.integers(2, 4)), replace=False)
                    grams[used] = np.exp(r.uniform(np.log(0.5), np.log(12), used.size))
                    grams[0] = 100 - grams.sum()
                    piece = maker.spray(grams, np.ones(TINTS))
                    looks.write_bytes(kept)
                    with contextlib.suppress(RefusedError):  # a piece that can't be read is none for either
                        shop.read_piece(piece)
                        missed = [shop.missed(piece)]
                        by_colour_alone(Path("piece.csv"))
                        missed.append(shop.missed(piece))
                        looks.unlink()
                        missed.append(shop.missed(piece))
                        for how, one in zip((BOTH, PANELS, COLOURS), missed, strict=True):
                            off.setdefault((kind, how), []).append(one)
            os.chdir("/")
    return off


def by_colour_alone(read: Path) -> None:
    """Take what the camera saw out of a file that was read of photographs."""
    lines = read.read_text("utf-8").splitlines()
    remarks = [line for line in lines if line.startswith("#")]
    head, *rows = csv.reader(line for line in lines if not line.startswith("#"))
    at = head.index("camera_saw")
    kept = [",".join(row[:at] + row[at + 1 :]) for row in (head, *rows)]
    read.write_text("\n".join([*remarks, *kept]) + "\n", "utf-8")


def main() -> None:
    """Measure shops of twenty jobs: how they work, their seeds, the lamps of cards, and those of panels and pieces."""
    kind, seeds, *lights = sys.argv[1:]
    if kind == "pieces":
        seen_under = [one for one in ",".join(lights).split(",") if one]
        for what, off in first_recipes([int(seed) for seed in seeds.split(",")], seen_under, 10).items():
            size = f"{np.median(off):.2f} ({np.quantile(off, 0.9):.2f}), {np.sqrt(np.square(off).mean()):.2f}"
            print(f"{len(off)} pieces of {what[0]}, by {what[1]}: first recipe off by {size} RMS", flush=True)
        return
    lamps, under = ([one for one in text.split(",") if one] for text in [*lights, "", ""][:2])
    shops = [int(seed) for seed in seeds.split(",")]
    every = []
    for seed in shops:
        with tempfile.TemporaryDirectory() as folder:
            os.chdir(folder)
            os.environ["FINISHMATCH_HOME"] = str(Path(folder) / "home")
            shop = Shop(Path(folder), CALM if kind == "calm" else ROUGH, seed, under, kind == "others")
            every.append(jobs_of(shop, JOBS, lamps))
            os.chdir("/")
        print(told(f"{kind}, shop {seed}", every[-1]), flush=True)
    print(told(f"{kind}, all", [job for jobs in every for job in jobs]))
    for first in range(0, JOBS, 5):
        print(told(f"  jobs {first + 1} to {first + 5}", [job for jobs in every for job in jobs[first : first + 5]]))


if __name__ == "__main__":
    main()
