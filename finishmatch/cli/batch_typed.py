"""A batch as it is typed in a command line: a file, or TINT=GRAMS of its parts."""

from __future__ import annotations

import os
from collections.abc import Sequence

from finishmatch.errors import InputError
from finishmatch.readings.batch_file import typed_amount
from finishmatch.steps.matching import PartsLike


def batch_of(texts: Sequence[str]) -> PartsLike:
    """Return the file that was named, or the parts that were typed."""
    if len(texts) == 1 and ("=" not in texts[0] or os.path.exists(texts[0])):
        return texts[0]
    files = [text for text in texts if "=" not in text]
    apart = next((text for text in texts if text.startswith("=") or text.endswith("=")), None)
    if apart is not None and len(texts) > 1:
        raise InputError(f"{apart[:60]!r}", "has a blank beside it", 'write black=9.8 or "soft black=2"')
    if files:
        raise InputError(f"{files[0][:60]!r}", "stands among other parts", "give one batch file, or TINT=GRAMS of all")
    return tuple(typed_amount(text) for text in texts)
