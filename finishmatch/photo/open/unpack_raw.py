"""A program of its own that unpacks a camera's raw file: what is hostile in it may end this process, and no other.

    python unpack_raw.py FILE

writes a line of JSON to standard output, then the values it tells of. It imports nothing of the program.
"""

from __future__ import annotations

import json
import sys
from typing import Any

import numpy as np
import rawpy

MOST_PIXELS = 60_000_000
MOST_BYTES = 1 << 30  # of memory
MOST_SECONDS = 9  # of the processor's time
MOSAIC, COLOURS, DEVELOPED = "mosaic", "colours", "developed"
ROWS = 256  # written at a time
_COLOURS = b"RGBG"


def bounded() -> None:
    """Bound the memory and the time of this process, where the system can."""
    try:
        import resource  # not on every system
    except ImportError:
        return
    for what, most in ((resource.RLIMIT_AS, MOST_BYTES), (resource.RLIMIT_CPU, MOST_SECONDS)):
        resource.setrlimit(what, (most, most))


def told_of(raw: Any) -> tuple[dict[str, Any], Any]:
    """Return what is told of an opened file, and its values.

    A mosaic is what the sensor counted, one number a place, with its pattern of colours. Colours are three numbers a
    place, in the file already. What has another pattern is developed by the library, linear and with nothing laid on.
    """
    sizes = raw.sizes
    pixels = [sizes.width, sizes.height]
    if sizes.raw_width * sizes.raw_height > MOST_PIXELS:
        return {"too_many": pixels}, None
    raw.unpack()
    told: dict[str, Any] = {
        "pixels": pixels,
        "margins": [sizes.top_margin, sizes.left_margin],
        "flip": sizes.flip,
        "white": raw.white_level,
        "balance": [float(one) for one in raw.camera_whitebalance[:3]],
    }
    black, pattern = raw.black_level_per_channel, raw.raw_pattern  # which begins in the covered rim
    if raw.raw_type == rawpy.RawType.Stack and raw.num_colors == 3:
        return {**told, "kind": COLOURS, "black": black[:3]}, raw.raw_image_visible[..., :3]
    if raw.color_desc == _COLOURS and pattern is not None and pattern.shape == (2, 2):
        here = np.roll(pattern, (-sizes.top_margin, -sizes.left_margin), (0, 1)).tolist()
        at = {"black": [[black[one] for one in row] for row in here], "pattern": here}
        return {**told, "kind": MOSAIC, **at}, raw.raw_image_visible
    return {**told, "kind": DEVELOPED}, raw.postprocess(
        rawpy.Params(
            demosaic_algorithm=rawpy.DemosaicAlgorithm.LINEAR,
            user_wb=[1.0, 1.0, 1.0, 1.0],
            output_color=rawpy.ColorSpace.raw,
            output_bps=16,
            user_flip=0,
            no_auto_bright=True,
            adjust_maximum_thr=0.0,
            gamma=(1, 1),
        )
    )


def _reason(error: Exception) -> str:
    why = error.args[0] if error.args else ""
    return (why.decode("ascii", "replace") if isinstance(why, bytes) else str(why)) or type(error).__name__


def main(path: str) -> None:
    """Write what a file holds, or why it can't be read, to standard output."""
    bounded()
    out = sys.stdout.buffer
    with rawpy.RawPy() as raw:
        try:
            raw.open_file(path)
            told, values = told_of(raw)
        except (rawpy.LibRawError, MemoryError, ValueError) as error:
            told, values = {"why": _reason(error)}, None
        if values is not None:
            told["shape"] = values.shape
        out.write(json.dumps(told).encode() + b"\n")
        for top in range(0, 0 if values is None else len(values), ROWS):
            out.write(np.ascontiguousarray(values[top : top + ROWS], np.uint16).data)
        out.flush()


if __name__ == "__main__":
    main(sys.argv[1])
