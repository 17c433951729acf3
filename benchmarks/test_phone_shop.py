"""A shop with no instrument, from an empty folder, by commands alone: what a phone photographs, and how near it comes.

Six tints nobody has read; eight panels drawn as `bank plan` asks, photographed in the windows of the printed sheet;
then two colours, each known only by a photograph of the piece: mixed, sprayed, judged beside the piece in one
photograph, corrected, twice. Of the second the tins are tried first, each by a letdown beside its panel, and each card
is photographed under a tungsten and an LED lamp as well. Paints, lots, weights, cards and photographs are the booth's.
What counts is the true difference of each card from its piece, D65. More shops, three colours each, no tins tried:
`python -m benchmarks.test_phone_shop 100,101 A`, the lamps of cards.
"""

from __future__ import annotations

import contextlib
import os
import sys
import tempfile
from pathlib import Path

import numpy as np
import pytest

from benchmarks.phone_painter import Floats, Painter, RefusedError, command, without_panels
from benchmarks.test_phone_record import told
from booth.workshop import Conditions

SEED, TINTS, PANELS = 5, 6, 8  # of 4 the colour in daylight alone stays 2.5 off, which no such photograph shows
SHOP = Conditions(amount=0.01, lot=0.05, card=0.01)
# ΔE00: the most of the first card, and after one and two corrections; of eighteen colours in six such shops the first
# card was off by 1.1 in the median and 2.4 at most, after one correction by 0.27 and 1.4, after two by 0.30 and 1.5
MOST = (2.0, 1.5, 1.2)


COLOURS = 3


def _begun(folder: Path, seed: int) -> Painter:
    """Return the painter of a shop whose bank is fitted by eight photographed panels."""
    painter = Painter(folder, SHOP, seed, TINTS)
    painter.write_tins()
    panels = command("bank", "plan", "shop", "--panels", PANELS, "--json")["panels"]
    command("photo", "card", "--panels", PANELS, "--out", "sheet.pdf", "--json")
    unread = painter.draw_sheet(panels)
    assert len(unread) <= 1  # a phone that adds colour cuts off the most vivid
    without_panels(unread)
    assert command("bank", "fit", "shop", "--json")["seen"] == PANELS - len(unread)
    return painter


def _colour(painter: Painter) -> Floats:
    """Return the reflectance of a piece that was painted with two of the tints in white."""
    grams = np.zeros(TINTS)
    grams[painter.r.choice(np.arange(1, TINTS), 2, replace=False)] = np.exp(painter.r.uniform(0, np.log(12), 2))
    grams[0] = 100 - grams.sum()
    return painter.shop.spray(grams, np.ones(TINTS))


@pytest.mark.slow
def test_a_whole_trial_by_commands_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("FINISHMATCH_HOME", str(tmp_path / "home"))
    painter = _begun(tmp_path, SEED)
    jobs = []
    for tries, lamps in ((False, ()), (True, ("A", "LED-B3"))):
        jobs.append(painter.match(_colour(painter), painter.shop.lots(painter.r), tries, lamps))
        assert all(one["across_lights"] == bool(lamps) for card in jobs[-1].told for one in card)
    cards, ranges = [job.off for job in jobs], [job.stated for job in jobs]
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


def main() -> None:
    """Measure three colours in each of some shops; a colour that the phone's file can't hold is none."""
    seeds, *lamps = sys.argv[1:]
    jobs = []
    for seed in map(int, seeds.split(",")):
        with tempfile.TemporaryDirectory() as folder:
            os.chdir(folder)
            os.environ["FINISHMATCH_HOME"] = str(Path(folder) / "home")
            with contextlib.suppress(AssertionError):  # a panel whose colour the file can't hold
                painter = _begun(Path(folder), seed)
                for _ in range(COLOURS):
                    with contextlib.suppress(RefusedError):
                        jobs.append(painter.match(_colour(painter), painter.shop.lots(painter.r), lamps=lamps))
            os.chdir("/")
    print(told("a shop from an empty folder", jobs))


if __name__ == "__main__":
    main()
