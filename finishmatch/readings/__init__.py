"""A measurement comes in: typed Lab, readings files, instruments' files, batch files, bank folders.

Everything spectral is brought onto the house grid here, once. A module is imported when a name of it is asked for, so
that a typed colour doesn't wait for the readers of files; the types of the names stand in `__init__.pyi`.
"""

from finishmatch.lazy import offered_later

_HOMES = {
    "Conversion": "convert_geometry",
    "Reading": "reading",
    "load_fit": "fit_file",
    "read_bank": "bank_folder",
    "read_batch": "batch_file",
    "read_likewise": "convert_geometry",
    "read_readings": "any_file",
    "resolve_reading": "resolve",
    "store_fit": "fit_file",
    "typed_lab": "resolve",
}

__all__ = list(_HOMES)
__getattr__ = offered_later(__name__, _HOMES)
