"""What lies beside the chart and is no sample: the chart's own case, and the bench seen between things.

The limits are «common practice», set by rendered pictures.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from finishmatch.colour import Floats, de00
from finishmatch.photo.find.chart import BORDER, COLUMNS, ROWS, ChartPose, outline
from finishmatch.photo.find.regions import Region, inside, quad_of, whole_piece
from finishmatch.photo.find.spot import sample
from finishmatch.photo.reference import ReferenceFit

AS_THE_BENCH_DE00 = 3.0  # from bench to bench, grain and light left in it
BENCH_SPOTS = 3  # of those seen at the edge of the frame, that a piece must be like
AS_THE_FRAME_DE00 = 8.0  # from the chart's black rim to its case
BESIDE = (-0.6, 1.5)  # pitches between the chart and its case
ALONG, NO_LONGER = 0.7, 1.25  # of the chart's side, that its case takes up
SAME_SIZE = 0.12  # by how much the lid of a case differs from its chart
NEUTRAL_CHROMA = 6.0
SQUARE_WITHIN = 0.4  # pitches by which a case lies out of line with its chart
CASE, BENCH = "the chart's own case", "the bench"


@dataclass(frozen=True)
class Surroundings:
    """What surrounds the samples: CIELAB, shape (n, 3), of the bench at the frame's edge and of the chart's rim."""

    bench: Floats
    rim: Floats


def are_samples(fit: ReferenceFit, chart: ChartPose, found: Sequence[Region]) -> tuple[list[Region], list[str]]:
    """Return the pieces beside the chart that are samples, and what each of the others is: its case, or the bench.

    Parameters
    ----------
    fit : ReferenceFit
    chart : ChartPose
    found : sequence of Region
        Pieces that were found, drawn in as `pieces_beside` does.
    """
    around = _surroundings(fit, chart, found)
    kept, others = list[Region](), list[str]()
    for region in found:
        lab = _lab(fit, region.quad)
        if _is_case(chart, around, region, lab):
            others.append(CASE)
        elif (de00(around.bench, lab) < AS_THE_BENCH_DE00).sum() >= BENCH_SPOTS:
            others.append(BENCH)
        else:
            kept.append(region)
    return [Region(f"sample {i}", region.quad) for i, region in enumerate(kept, start=1)], others


def no_sample(others: Sequence[str], mark_it: str) -> str:
    """Return why there is no sample where all that was found are other things, with what to change."""
    seen = " and ".join(dict.fromkeys(others))
    return f"beside the chart there is only {seen}: lay painted samples of another colour beside it, or {mark_it}"


def _surroundings(fit: ReferenceFit, chart: ChartPose, found: Sequence[Region]) -> Surroundings:
    """Return the colours at the edge of the frame, where nothing was found, and of the rim of the chart."""
    width, height = fit.picture.size
    side = max(8.0, 0.04 * min(width, height))
    taken = [*(whole_piece(region.quad) for region in found), chart.to_px(outline(BORDER + 0.3))]
    bench = []
    for x in np.linspace(side, width - 2 * side, 6):
        for y in np.linspace(side, height - 2 * side, 5):
            at_edge = min(x, y) <= side or x >= width - 2 * side or y >= height - 2 * side
            quad = quad_of(x, y, side, side)
            if at_edge and not any(_overlap(quad, other) for other in taken):
                bench.append(_lab(fit, quad))
    inner, outer = 0.5 + 0.3 * BORDER, 0.5 + 0.8 * BORDER
    strips = (
        ((0.0, -outer), (COLUMNS - 1.0, -inner)),
        ((0.0, ROWS - 1 + inner), (COLUMNS - 1.0, ROWS - 1 + outer)),
        ((-outer, 0.0), (-inner, ROWS - 1.0)),
        ((COLUMNS - 1 + inner, 0.0), (COLUMNS - 1 + outer, ROWS - 1.0)),
    )
    rim = []
    for (left, top), (right, bottom) in strips:
        quad = chart.to_px(np.array([[left, top], [right, top], [right, bottom], [left, bottom]]))
        if inside(Region("rim", quad), fit.picture.size):
            rim.append(_lab(fit, quad))
    return Surroundings(np.array(bench).reshape(-1, 3), np.array(rim).reshape(-1, 3))


def _lab(fit: ReferenceFit, quad: Floats) -> Floats:
    spot = sample(fit.picture, quad, finer=False)
    return np.asarray(fit.correction.lab(spot.linear[None], spot.place[None])[0])


def _overlap(one: Floats, other: Floats) -> bool:
    """Whether the upright oblongs around two pieces meet."""
    low = np.maximum(one.min(axis=0), other.min(axis=0))
    return bool((low < np.minimum(one.max(axis=0), other.max(axis=0))).all())


def _is_case(chart: ChartPose, around: Surroundings, region: Region, lab: Floats) -> bool:
    """Whether a piece lies along a side of the chart, square with it, as its case does, and is black or of its size."""
    corners = chart.to_chart(whole_piece(region.quad))
    low, high = corners.min(axis=0), corners.max(axis=0)
    square = np.array([low, [high[0], low[1]], high, [low[0], high[1]]])
    if np.linalg.norm(corners[:, None] - square[None], axis=2).min(axis=1).max() > SQUARE_WITHIN:
        return False
    body_low, body_high = outline().min(axis=0), outline().max(axis=0)
    body = body_high - body_low
    for axis, along in ((0, 1), (1, 0)):
        gap = max(low[axis] - body_high[axis], body_low[axis] - high[axis])
        shared = min(high[along], body_high[along]) - max(low[along], body_low[along])
        long = high[along] - low[along]
        if not (BESIDE[0] <= gap <= BESIDE[1] and shared >= ALONG * body[along] and long <= NO_LONGER * body[along]):
            continue
        black = len(around.rim) > 0 and bool((de00(around.rim, lab) < AS_THE_FRAME_DE00).any())
        same_size = bool((np.abs((high - low) / body - 1) < SAME_SIZE).all())
        if black or (same_size and float(np.hypot(lab[1], lab[2])) < NEUTRAL_CHROMA):
            return True
    return False
