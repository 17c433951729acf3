"""The cells of the card's fiducial marks, for whoever draws them."""

from __future__ import annotations

import cv2

MARK_CELLS = 6  # four by four, and a black rim of one


def mark_cells(number: int) -> tuple[tuple[bool, ...], ...]:
    """Return the cells of a mark of OpenCV's dictionary DICT_4X4_50, row by row, the black rim too; True is white."""
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    drawn = cv2.aruco.generateImageMarker(dictionary, number, MARK_CELLS)
    return tuple(tuple(bool(value) for value in row > 127) for row in drawn)
