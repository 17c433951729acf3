"""The square codes (QR) in a photograph, read as text."""

from __future__ import annotations

from typing import Any

import numpy as np
import zxingcpp

from finishmatch.photo.open.picture import Picture

_SQUARE: Any = zxingcpp.BarcodeFormat.QRCode
# the longer side in pixels, one after the other: a code far off wants all of them, noise fewer
_SIDES = (1600, 2800, 900, 5000)


def read_square_codes(picture: Picture) -> list[str]:
    """Return the text of the square codes in a photograph, each once; empty where none can be read.

    References
    ----------
    ISO/IEC 18004.
    """
    whole = max(picture.size)
    tried: set[float] = set()
    for side in _SIDES:
        scale = min(1.0, side / whole) if side < whole else min(2.0, side / whole) if whole < 1200 else 1.0
        if scale in tried:
            continue
        tried.add(scale)
        image = np.ascontiguousarray(picture.small(scale))
        found = zxingcpp.read_barcodes(image, formats=_SQUARE)
        texts = [one.text for one in found if one.text]
        if texts:
            return list(dict.fromkeys(texts))
    return []
