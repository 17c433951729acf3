"""A painter with a phone and no instrument, who does what the commands say: weighs, draws down, sprays, photographs.

Paints, lots, weights, cards and photographs are the booth's. Every colour that a command is told comes from a rendered
photograph: noise, a lamp to one side, the camera's own matrix, its tone curve, more colour and contrast than there is,
Display P3, JPEG.
"""

from __future__ import annotations

import contextlib
import io
import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from booth.card_scenes import Lamp, Pose, bundled_print, card_jpeg, card_photograph, drawn_card
from booth.phone_look import PhoneLook
from booth.photo_booth import Shot
from booth.virtual_booth import specular_reflectance
from booth.workshop import Conditions, Workshop
from finishmatch.cli import run
from finishmatch.colour import de00, reflectance_to_lab
from finishmatch.mix.letdowns import Letdown
from finishmatch.photo.card.layout import CardLayout, card_layout, sheet_layout, window_name

Floats = NDArray[np.float64]
BATCH_G, CORRECTIONS = 300, 2
TONE, LOOK = 0.2, PhoneLook(saturation=1.1, contrast=0.1)  # of the phone
TOO_WIDE = "so any card would pass"
LESS = 0.4  # of a tint is weighed into a letdown that the file can't hold
UNSEEN = (TOO_WIDE, "its colour lies outside the file's")


class RefusedError(AssertionError):
    """A command refused what it was told, and why."""


def command(*arguments: object) -> Any:
    """Run a command in this process and return the object that it prints.

    Raises
    ------
    RefusedError
    """
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        status = run([str(argument) for argument in arguments])
    if status not in (0, 1):
        raise RefusedError(err.getvalue())
    return json.loads(out.getvalue())


@dataclass
class Phone:
    """What it photographs lies on the sheet or the card, a chart with it, before a window."""

    folder: Path
    seed: int
    taken: int = 0

    def photograph(self, paints: dict[str, Floats], layout: CardLayout, light: str = "D65") -> Path:
        """Return a photograph of paints in their windows under a light, by their reflectance with the gloss."""
        self.taken += 1
        r = np.random.default_rng([self.seed, self.taken])
        seen = {window: spectrum - specular_reflectance() for window, spectrum in paints.items()}
        drawn = drawn_card(bundled_print(), seen, "one", light, chart=True, layout=layout)
        lies = Pose(r.uniform(0.6, 0.66), r.uniform(-8, 8), r.uniform(0, 15), r.uniform(0, 360))
        lamp = Lamp(r.uniform(0.4, 0.9), r.uniform(1.2, 1.8), r.uniform(0, 360))
        shot = Shot(width=900, height=1150, noise=0.006, exposure=0.78, encoding="Display P3", seed=self.taken)
        shot = replace(shot, tone=TONE, look=LOOK)
        path = self.folder / f"photo {self.taken}.jpg"
        path.write_bytes(card_jpeg(card_photograph(drawn, lies, lamp, shot), "Display P3"))
        return path


@dataclass(frozen=True)
class Matched:
    """What came of one colour: true ΔE00 (D65) of each card from the piece, and what was stated.

    Parameters
    ----------
    off : list of float
        Of the first card, and after each correction.
    stated : (float, float)
        The range of the first card.
    told : list of list of dict
        How each card that was judged differs as it is told, in each light, D65 first.
    pairs : list of ndarray, shape (2, 3)
        CIELAB (D65) of the piece and of each card.
    """

    off: list[float]
    stated: tuple[float, float]
    told: list[list[dict[str, Any]]]
    pairs: list[Floats]


class Painter:
    """Who weighs, pours and sprays what the commands say.

    Parameters
    ----------
    folder : Path
        Where the photographs lie; the bank is in the working directory.
    conditions : Conditions
    seed : int
    tints : int
        The white among them.
    anisotropy : float
        How far the pigments scatter forward.
    under : sequence of str
        Lights that panels and pieces are photographed under besides daylight.
    """

    def __init__(
        self,
        folder: Path,
        conditions: Conditions,
        seed: int,
        tints: int,
        anisotropy: float = 0.0,
        under: Sequence[str] = (),
    ) -> None:
        self.phone, self.conditions = Phone(folder, seed), conditions
        self.shop = Workshop(conditions, seed, tints, anisotropy)
        self.r = np.random.default_rng([seed, 5])
        self.names = [spec.name for spec in self.shop.specs]
        self.panels: dict[str, Floats] = {}
        self.parts: dict[str, list[dict[str, Any]]] = {}
        self.under = tuple(under)
        self.tried: list[tuple[float, float, float]] = []
        self.unseen: set[tuple[str, str]] = set()

    def grams(self, parts: list[dict[str, Any]]) -> Floats:
        """Return grams in the order of the tints."""
        return np.array([sum(part["grams"] for part in parts if part["tint"] == name) for name in self.names])

    def write_tins(self, lots: Sequence[str] = (), of_panels: str = "") -> None:
        """Write what stands on the tins: with their lots, where those are told, and that of which the panels are."""
        Path("shop").mkdir(exist_ok=True)
        Path("shop/bank.toml").write_text('name = "by phone"\ngeometry = "45/0"\nbinder_index = 1.5\n', "utf-8")
        lines = ["tint,role,colour_index,density_kg_l,volume_solids,price_per_kg,stock_g,lot,panels_lot"]
        for tin, lot in zip(self.shop.specs, lots or [""] * len(self.names), strict=True):
            facts = f"{tin.density_kg_l:.3f},{tin.volume_solids:.3f},{tin.price_per_kg:.1f}"
            lines.append(f"{tin.name},{tin.role},,{facts},50000,{lot},{of_panels}")
        Path("shop/tints.csv").write_text("\n".join(lines) + "\n", "utf-8")

    def weighed(self, parts: list[dict[str, Any]]) -> Floats:
        """Return what is really weighed of what was meant, grams."""
        return self.grams(parts) * np.exp(self.conditions.amount * self.r.standard_normal(len(self.names)))

    def draw_sheet(self, panels: Sequence[dict[str, Any]]) -> list[str]:
        """Draw panels down in the windows of a sheet, photograph it and read it; return those that weren't read."""
        write_panels(panels)
        drawn, named = {}, list[str]()
        for number, one in enumerate(panels, start=1):
            drawn[window_name(number)] = self.shop.spray(self.weighed(one["parts"]), np.ones(len(self.names)))
            self.panels[one["panel"]], self.parts[one["panel"]] = drawn[window_name(number)], one["parts"]
            named += ["--panel", f"{number}={one['panel']}"]
        photos = self._in_lights(drawn, sheet_layout(len(panels)))
        found = command("bank", "photo", "shop", *photos, *named, "--replace", "--json")
        read = {one["panel"] for one in found["panels"]}
        return [one["panel"] for one in panels if one["panel"] not in read]

    def try_tin(self, asked: dict[str, Any], strengths: Floats, job: str) -> None:
        """Draw a letdown of a tin, photograph it beside its panel, and keep how strong it is and is found to be.

        A letdown that the file can't hold is drawn as a weaker panel, where the program names one, or with less of the
        tint, once; a tin of a colour that the phone can't tell apart from its panel's closely enough isn't tried again.
        """
        letdown = self.shop.spray(self.weighed(asked["parts"]), strengths, self.r)
        weighed = [f"{part['tint']}={part['grams']:g}" for part in asked["parts"]] if asked.get("less") else []
        said = [word for one in weighed for word in ("--weighed", one)]
        both = {"standard": self.panels[asked["panel"]], "spray-out": letdown}
        photo = self.phone.photograph(both, card_layout())
        try:
            told = command("job", "tin", job, asked["panel"], "--seen", photo, *said, "--json")
        except RefusedError as refused:
            if not any(why in str(refused) for why in UNSEEN):
                raise
            weaker = next((name for name in self.panels if f"draw it as the panel {name}," in str(refused)), None)
            if weaker is not None:
                self.try_tin({**asked, "panel": weaker, "parts": self.parts[weaker]}, strengths, job)
            elif "(--weighed)" in str(refused) and not weighed:
                less = [
                    {**part, "grams": part["grams"] * (LESS if part["tint"] == asked["tint"] else 1)}
                    for part in asked["parts"]
                ]
                self.try_tin({**asked, "parts": less, "less": True}, strengths, job)
            else:
                self.unseen.add((asked["tint"], asked["lot"]))
            return
        found = told["strengths"][asked["tint"]]
        true = strengths[self.names.index(asked["tint"])] / strengths[0]
        self.tried.append((float(np.log(true)), float(np.log(found["factor"])), found["sd"]))

    def match(self, piece: Floats, strengths: Floats, tries: bool = False, lamps: Sequence[str] = ()) -> Matched:
        """Mix a colour that a photograph of the piece tells, spray, judge each card beside the piece, correct.

        Parameters
        ----------
        piece : ndarray, shape (31,)
        strengths : ndarray, shape (tints,)
            Of the tins that are open; 1 is as the panels'.
        tries : bool
            Whether the tins that `mix` asks to try are tried.
        lamps : sequence of str
            Lights that each card is photographed under besides daylight.
        """
        seen = self._in_lights({"standard": piece}, card_layout())
        command("photo", "read", *seen, "--save", "piece.csv", "--replace", "--json")
        job = command("job", "new", f"piece {self.phone.taken}", "--json")["job"]["ref"]
        found = command("mix", "piece.csv", "--bank", "shop", "--grams", BATCH_G, "--job", job, "--json")
        while tries and (to_try := self._to_try(found)):
            for asked in to_try:
                self.try_tin(asked, strengths, job)
            found = command("mix", "--job", job, "--json")
        recipe = found["recipes"][0]
        stated, first = recipe["intervals_itself"]["D65"], recipe["first_pour"] or recipe
        tin, shown = self.shop.fill(self.grams(first["parts"]), letdowns_in(first), self.r)
        tin, shown = self._put_right(job, tin, shown, self._pour(job, self._said(shown)))
        pairs, told = list[Floats](), list[list[dict[str, Any]]]()
        for card_number in range(CORRECTIONS + 1):
            card = self.shop.spray(tin, strengths, self.r)
            pairs.append(reflectance_to_lab(np.stack([piece, card]) - specular_reflectance()))
            if card_number == CORRECTIONS:
                break
            judged = self._judged(piece, card, lamps, job)
            told.append(judged["correction"]["seen"]["differences"])
            added = self.grams(judged["correction"]["additions"])
            if added.any():
                tin, shown = self.shop.add(tin, shown, added, letdowns_in(judged["correction"]), self.r)
                _, _, correction, *_ = judged["recorded"]
                command("job", "pour", job, "--as", correction, "--json")
        return Matched([float(de00(*pair)) for pair in pairs], (stated["low"], stated["high"]), told, pairs)

    def _said(self, shown: Floats) -> list[str]:
        """Return what the scale showed as `job pour` is told it."""
        return [f"{name}={grams:.2f}" for name, grams in zip(self.names, shown, strict=True) if grams > 0]

    @staticmethod
    def _pour(job: str, poured: Sequence[str]) -> Any:
        """Say what was poured; a tint of which the scale showed nothing is asked about, and was poured as asked."""
        try:
            return command("job", "pour", job, *poured, "--json")
        except RefusedError as refused:
            if "--anyway" not in str(refused):
                raise
        return command("job", "pour", job, *poured, "--anyway", "--json")

    def _put_right(self, job: str, tin: Floats, shown: Floats, found: Any) -> tuple[Floats, Floats]:
        """Pour what `job pour` says is still to go, and the way back from what was poured too much."""
        stands = found["stands"] or {"lines": [], "way_back": None}
        back = (stands["way_back"] or {"additions": []})["additions"]
        to_go = [{"tint": line["tint"], "grams": line["to_go"]} for line in stands["lines"] if line["to_go"] > 0]
        added = self.grams([*to_go, *back])
        if not added.any():
            return tin, shown
        tin, after = self.shop.add(tin, shown, added, [], self.r)
        self._pour(job, self._said(after - shown))
        return tin, after

    def _to_try(self, found: dict[str, Any]) -> list[dict[str, Any]]:
        """Return the tins that `mix` asks to try, but those whose colour this phone can't tell."""
        return [one for one in found["tins_to_try"] if (one["tint"], one["lot"]) not in self.unseen]

    def _in_lights(self, paints: dict[str, Floats], layout: CardLayout) -> list[object]:
        """Photograph paints in daylight and under lamps; return what the commands that read colours are told."""
        said: list[object] = [self.phone.photograph(paints, layout)]
        for light in self.under:
            said += ["--under", f"{light}={self.phone.photograph(paints, layout, light)}"]
        return said

    def _judged(self, piece: Floats, card: Floats, lamps: Sequence[str], job: str) -> Any:
        """Return the verdict on a card; photographs that are asked for again are taken anew, once."""
        try:
            return command("judge", *self._seen(piece, card, lamps), "--job", job, "--json")
        except RefusedError as refused:
            if not any(asked in str(refused) for asked in ("photograph it again", TOO_WIDE)):
                raise
        return command("judge", *self._seen(piece, card, lamps), "--job", job, "--json")

    def _seen(self, piece: Floats, card: Floats, lamps: Sequence[str]) -> list[object]:
        """Photograph a card beside the piece in daylight and under lamps; return what `judge` is told."""
        both, said = {"standard": piece, "spray-out": card}, list[object]()
        for light in ("D65", *lamps):
            photo = self.phone.photograph(both, card_layout(), light)
            said += ["--seen", photo] if light == "D65" else ["--seen-under", f"{light}={photo}"]
        return said


def letdowns_in(poured: dict[str, Any]) -> list[Letdown]:
    """Return how parts of a recipe or correction are poured by letdowns."""
    return [Letdown(**one) for one in poured["letdowns"]]


def write_panels(panels: Sequence[dict[str, Any]]) -> None:
    """Write what was weighed into panels, beside those that are written."""
    file = Path("shop/panels.csv")
    before = file.read_text("utf-8").splitlines() if file.exists() else ["panel,tint,grams"]
    lines = [f"{one['panel']},{part['tint']},{part['grams']:g}" for one in panels for part in one["parts"]]
    file.write_text("\n".join([*before, *lines]) + "\n", "utf-8")


def without_panels(names: Sequence[str]) -> None:
    """Take panels that can't be read out of what was weighed."""
    file = Path("shop/panels.csv")
    lines = file.read_text("utf-8").splitlines()
    file.write_text("\n".join(line for line in lines if line.split(",")[0] not in names) + "\n", "utf-8")
