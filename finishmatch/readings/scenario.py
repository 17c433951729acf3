"""Where the bundled scenario's data lies: inside an installed package, or beside the sources of a checkout."""

from __future__ import annotations

from pathlib import Path

import finishmatch
from finishmatch.errors import InputError


def swatches_folder() -> Path:
    """Return the folder of the bundled, invented scenario.

    Raises
    ------
    InputError
        When it isn't there, as in a damaged installation.
    """
    package = Path(finishmatch.__file__).resolve().parent
    for folder in (package / "swatches", package.parent / "swatches"):
        if (folder / "evidence.csv").is_file():
            return folder
    raise InputError(str(package / "swatches"), "the bundled scenario isn't there", "install finishmatch again")
