"""A shop with no instrument, from an empty folder, by commands alone: what a phone photographs, and how near it comes.

Six tints nobody has read; eight panels drawn as `bank plan` asks, photographed in the windows of the printed sheet;
then two colours, each known only by a photograph of the piece: mixed, sprayed, judged beside the piece in one
photograph, corrected, twice. Of the second the tins are tried first, each by a letdown beside its panel, and each card
is photographed under a tungsten and an LED lamp as well. Paints, lots, weights, cards and photographs are the booth's.
What counts is the true difference of each card from its piece, D65.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from booth.card_scenes import Lamp, Pose, bundled_print, card_jpeg, card_photograph, drawn_card
from booth.photo_booth import Shot
from booth.virtual_booth import specular_reflectance
from booth.workshop import Conditions, Workshop
from finishmatch.cli import run
from finishmatch.colour import de00, reflectance_to_lab
from finishmatch.correct.letdowns import Letdown
from finishmatch.photo.card.layout import CardLayout, card_layout, sheet_layout, window_name

Floats = NDArray[np.float64]
Command = Callable[..., Any]
SEED, TINTS, PANELS = 4, 6, 8
BATCH_G, CORRECTIONS = 300, 2
SHOP = Conditions(amount=0.01, lot=0.05, card=0.01)
# ΔE00: the most of the first card, and after one and two corrections; of eighteen colours in six such shops the first
# card was off by 1.1 in the median and 2.4 at most, after one correction by 0.27 and 1.4, after two by 0.30 and 1.5
MOST = (2.0, 1.5, 1.2)


@dataclass
class Phone:
    """What it photographs lies on the sheet or the card, a chart with it, before a window."""

    folder: Path
    taken: int = 0

    def photograph(self, paints: dict[str, Floats], layout: CardLayout, light: str = "D65") -> Path:
        """Return a photograph of paints in their windows under a light, by their reflectance with the gloss."""
        self.taken += 1
        r = np.random.default_rng([SEED, self.taken])
        seen = {window: spectrum - specular_reflectance() for window, spectrum in paints.items()}
        drawn = drawn_card(bundled_print(), seen, "one", light, chart=True, layout=layout)
        lies = Pose(r.uniform(0.6, 0.66), r.uniform(-8, 8), r.uniform(0, 15), r.uniform(0, 360))
        lamp = Lamp(r.uniform(0.4, 0.9), r.uniform(1.2, 1.8), r.uniform(0, 360))
        shot = Shot(width=900, height=1150, noise=0.006, exposure=0.78, encoding="Display P3", seed=self.taken)
        path = self.folder / f"photo {self.taken}.jpg"
        path.write_bytes(card_jpeg(card_photograph(drawn, lies, lamp, shot), "Display P3"))
        return path


class Painter:
    """Who weighs, pours and sprays what the commands say."""

    def __init__(self, command: Command, folder: Path) -> None:
        self.command, self.phone = command, Phone(folder)
        self.shop = Workshop(SHOP, SEED, TINTS)
        self.r = np.random.default_rng([SEED, 5])
        self.names = [spec.name for spec in self.shop.specs]
        self.panels: dict[str, Floats] = {}
        self.tried: list[tuple[float, float, float]] = []

    def grams(self, parts: list[dict[str, Any]]) -> Floats:
        """Return grams in the order of the tints."""
        return np.array([sum(part["grams"] for part in parts if part["tint"] == name) for name in self.names])

    def write_tins(self) -> None:
        """Write what stands on the tins."""
        Path("shop").mkdir()
        Path("shop/bank.toml").write_text('name = "by phone"\ngeometry = "45/0"\nbinder_index = 1.5\n', "utf-8")
        lines = ["tint,role,colour_index,density_kg_l,volume_solids,price_per_kg,stock_g"]
        for tin in self.shop.specs:
            facts = f"{tin.density_kg_l:.3f},{tin.volume_solids:.3f},{tin.price_per_kg:.1f}"
            lines.append(f"{tin.name},{tin.role},,{facts},5000")
        Path("shop/tints.csv").write_text("\n".join(lines) + "\n", "utf-8")

    def draw_panels(self) -> None:
        """Draw what is planned down in the windows of the sheet, photograph it and read it into the bank."""
        panels = self.command("bank", "plan", "shop", "--panels", PANELS, "--json")["panels"]
        lines = [f"{one['panel']},{part['tint']},{part['grams']}" for one in panels for part in one["parts"]]
        Path("shop/panels.csv").write_text("\n".join(["panel,tint,grams", *lines]) + "\n", "utf-8")
        self.command("photo", "card", "--panels", PANELS, "--out", "sheet.pdf", "--json")
        drawn, named = {}, list[str]()
        for number, one in enumerate(panels, start=1):
            weighed = self.grams(one["parts"]) * np.exp(SHOP.amount * self.r.standard_normal(TINTS))
            drawn[window_name(number)] = self.panels[one["panel"]] = self.shop.spray(weighed, np.ones(TINTS))
            named += ["--panel", f"{number}={one['panel']}"]
        photo = self.phone.photograph(drawn, sheet_layout(PANELS))
        read = self.command("bank", "photo", "shop", photo, *named, "--json")
        assert [one["window"] for one in read["panels"]] == list(range(1, PANELS + 1))
        assert read["unread"] == []
        assert self.command("bank", "fit", "shop", "--json")["seen"] == PANELS

    def colour(self) -> Floats:
        """Return the reflectance of a piece that was painted with two of the tints in white."""
        grams = np.zeros(TINTS)
        grams[self.r.choice(np.arange(1, TINTS), 2, replace=False)] = np.exp(self.r.uniform(0, np.log(12), 2))
        grams[0] = 100 - grams.sum()
        return self.shop.spray(grams, np.ones(TINTS))

    def try_tin(self, asked: dict[str, Any], strengths: Floats, job: str) -> None:
        """Draw a letdown of a tin, photograph it beside its panel, and keep how strong it is and is found to be."""
        weighed = self.grams(asked["parts"]) * np.exp(SHOP.amount * self.r.standard_normal(TINTS))
        both = {"standard": self.panels[asked["panel"]], "spray-out": self.shop.spray(weighed, strengths, self.r)}
        photo = self.phone.photograph(both, card_layout())
        found = self.command("job", "tin", job, asked["panel"], "--seen", photo, "--json")["strengths"][asked["tint"]]
        true = strengths[self.names.index(asked["tint"])] / strengths[0]
        self.tried.append((float(np.log(true)), float(np.log(found["factor"])), found["sd"]))

    def match(
        self, piece: Floats, tries: bool = False, lamps: Sequence[str] = ()
    ) -> tuple[list[float], tuple[float, float]]:
        """Return the true ΔE00 of each card from the piece, and the range that was stated of the first.

        `tries` is whether the tins that `mix` asks to try are tried; `lamps` are lights that each card is photographed
        under besides daylight.
        """
        self.command("photo", "read", self.phone.photograph({"standard": piece}, card_layout()), "--save", "piece.csv",
                     "--replace", "--json")  # fmt: skip
        job = self.command("job", "new", f"piece {self.phone.taken}", "--json")["job"]["ref"]
        found = self.command("mix", "piece.csv", "--bank", "shop", "--grams", BATCH_G, "--job", job, "--json")
        strengths = self.shop.lots(self.r)
        while tries and found["tins_to_try"]:
            for asked in found["tins_to_try"]:
                self.try_tin(asked, strengths, job)
            found = self.command("mix", "--job", job, "--json")
        recipe = found["recipes"][0]
        stated = recipe["intervals_itself"]["D65"]
        first = recipe["first_pour"] or recipe
        tin, shown = self.shop.pour(self.grams(first["parts"]), self.r)
        poured = [f"{name}={grams:.1f}" for name, grams in zip(self.names, shown, strict=True) if grams > 0]
        self.command("job", "pour", job, *poured, "--json")
        off = []
        for card_number in range(CORRECTIONS + 1):
            card = self.shop.spray(tin, strengths, self.r)
            seen = reflectance_to_lab(np.stack([piece, card]) - specular_reflectance())
            off.append(float(de00(*seen)))
            if card_number == CORRECTIONS:
                break
            both, seen_by = {"standard": piece, "spray-out": card}, list[object]()
            for light in ("D65", *lamps):
                photo = self.phone.photograph(both, card_layout(), light)
                seen_by += ["--seen", photo] if light == "D65" else ["--seen-under", f"{light}={photo}"]
            judged = self.command("judge", *seen_by, "--job", job, "--json")
            told = judged["correction"]["seen"]["differences"]
            assert all(one["across_lights"] == bool(lamps) for one in told)
            added = self.grams(judged["correction"]["additions"])
            if added.any():
                letdowns = [Letdown(**one) for one in judged["correction"]["letdowns"]]
                tin, shown = self.shop.add(tin, shown, added, letdowns, self.r)
                _, _, correction, *_ = judged["recorded"]
                self.command("job", "pour", job, "--as", correction, "--json")
        return off, (stated["low"], stated["high"])


@pytest.fixture
def command(capsys: pytest.CaptureFixture[str]) -> Command:
    """Run a command and return the object that it prints."""

    def call(*arguments: object) -> Any:
        capsys.readouterr()
        status = run([str(argument) for argument in arguments])
        said = capsys.readouterr()
        assert status in (0, 1), said.err
        return json.loads(said.out)

    return call


@pytest.mark.slow
def test_a_whole_trial_by_commands_alone(
    command: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("FINISHMATCH_HOME", str(tmp_path / "home"))
    painter = Painter(command, tmp_path)
    painter.write_tins()
    painter.draw_panels()
    cards, ranges = [], []
    for tries, lamps in ((False, ()), (True, ("A", "LED-B3"))):
        off, stated = painter.match(painter.colour(), tries, lamps)
        cards.append(off)
        ranges.append(stated)
    with capsys.disabled():
        print(f"\nfirst card, after one correction, after two: {np.round(cards, 2).tolist()}; stated {ranges}")
        print("tins that were tried, true, found and SD of the logarithm:", np.round(painter.tried, 3).tolist())
    assert (np.max(cards, axis=0) <= MOST).all()
    # nearer than the range is no harm: it counts more doubt than these shops have
    assert all(off[0] <= high for off, (_, high) in zip(cards, ranges, strict=True))
    assert max(high for _, high in ranges) < 8
    assert np.mean(cards, axis=0)[2] < 0.8
    assert len(painter.tried) >= 2
    assert all(abs(found - true) < min(3 * sd, 0.2) for true, found, sd in painter.tried)
    assert ranges[1][1] < ranges[0][1]
