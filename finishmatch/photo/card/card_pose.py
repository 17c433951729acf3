"""Where the shop's card, or a sheet of numbered windows, lies in a picture.

- ``pose.windows`` are the quads of "standard", "spray-out" and "chart", or of "chart", "window 1", …, in pixels;
  ``pose.stripes``, ``pose.border`` and ``pose.patches`` are (name, quad) of everything printed in a known ink. A quad
  has shape (4, 2), x and y, from the card's top left clockwise. Pixels are counted as OpenCV does: (0, 0) is the middle
  of the first.
- ``pose.quad(box, inset_mm)`` draws any box of ``pose.layout`` in, to keep off its edges; the windows named above
  are drawn in by `WINDOW_INSET_MM`, what is printed by `PRINTED_INSET_MM`.
- The border and the white patch are bare paper. What the inks read is what the shop has registered
  (`finishmatch.photo.card.register`), under the same names as in ``pose.border`` and ``pose.patches``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from finishmatch.colour import Floats
from finishmatch.photo.card.layout import Box, CardLayout, Printed, card_layout
from finishmatch.photo.find.chart import through

WINDOW_INSET_MM = 2.0
PRINTED_INSET_MM = 1.5


@dataclass(frozen=True)
class CardPose:
    """Where the card lies in a picture.

    Parameters
    ----------
    homography : ndarray, shape (3, 3)
        From mm on the card to pixels.
    marks : tuple of int
        The numbers of the marks it was found by.
    residual_mm : float
        How far the corners of those marks lie from where the pose puts them, root mean square; a card that isn't flat
        shows here.
    doubt_mm : float
        How far the corners of the card may lie off, one standard deviation, by the number and places of those marks.
    layout : CardLayout
        Which card it is.
    """

    homography: Floats
    marks: tuple[int, ...]
    residual_mm: float
    doubt_mm: float
    layout: CardLayout = field(default_factory=card_layout)

    def to_px(self, points_mm: Floats) -> Floats:
        """Return the pixels, shape (n, 2), of points on the card, shape (n, 2), mm."""
        return through(self.homography, points_mm)

    def to_mm(self, points_px: Floats) -> Floats:
        """Return the places on the card, shape (n, 2), mm, of pixels, shape (n, 2)."""
        return through(np.asarray(np.linalg.inv(self.homography), float), points_px)

    def quad(self, box: Box, inset_mm: float = 0.0) -> Floats:
        """Return the corners of a box in pixels, shape (4, 2), drawn in by a margin."""
        return self.to_px(box.corners_mm(inset_mm))

    @property
    def outline(self) -> Floats:
        """The corners of the card in pixels, shape (4, 2)."""
        return self.quad(Box(0, 0, self.layout.width_mm, self.layout.height_mm))

    @property
    def px_per_mm(self) -> float:
        """The scale in the middle of the card: the root of pixels per mm²."""
        x, y = self.layout.width_mm / 2, self.layout.height_mm / 2
        side, down = np.diff(self.to_px(np.array([[x - 1, y], [x + 1, y], [x, y - 1], [x, y + 1]])), axis=0)[::2] / 2
        return float(np.sqrt(abs(side[0] * down[1] - side[1] * down[0])))

    @cached_property
    def windows(self) -> dict[str, Floats]:
        """The quads of the windows, by their names."""
        return {name: self.quad(box, WINDOW_INSET_MM) for name, box in self.layout.windows.items()}

    @cached_property
    def stripes(self) -> dict[str, tuple[tuple[str, Floats], ...]]:
        """(name, quad) of the white and black stripes under a window, from the left, by its name."""
        return {name: self._printed(stripes) for name, stripes in self.layout.stripes.items()}

    @cached_property
    def border(self) -> tuple[tuple[str, Floats], ...]:
        """(name, quad) of the border's white, grey and black cells."""
        return self._printed(self.layout.border)

    @cached_property
    def patches(self) -> tuple[tuple[str, Floats], ...]:
        """(name, quad) of the printed scale."""
        return self._printed(self.layout.patches)

    def _printed(self, fields: Sequence[Printed]) -> tuple[tuple[str, Floats], ...]:
        return tuple((printed.name, self.quad(printed.box, PRINTED_INSET_MM)) for printed in fields)
