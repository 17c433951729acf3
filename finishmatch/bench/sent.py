"""What a device has sent already: the same again, after an answer that was lost, is recorded only once."""

from __future__ import annotations

import json
from pathlib import Path
from threading import Lock
from typing import Any

from finishmatch.files import write_file

FILE = "bench-sent.json"
MOST_KEPT = 500


class Sent:
    """The keys that devices gave to what they sent, each with the number of the entry it became.

    Parameters
    ----------
    home : Path
        The folder of the ledger, where they outlast the server.
    """

    def __init__(self, home: Path) -> None:
        self._file = home / FILE
        self._lock = Lock()
        self._kept: dict[str, int] | None = None

    def number(self, job: str, key: str) -> int | None:
        """Return the entry that something sent to a job became; None where it wasn't recorded yet."""
        with self._lock:
            return self._read().get(f"{job} {key}")

    def keep(self, job: str, key: str, number: int) -> None:
        """Remember which entry something became."""
        with self._lock:
            kept = self._read()
            kept[f"{job} {key}"] = number
            for old in list(kept)[: max(0, len(kept) - MOST_KEPT)]:
                del kept[old]
            write_file(self._file, json.dumps(kept) + "\n", private=True, make_folder=True)

    def _read(self) -> dict[str, int]:
        if self._kept is None:
            try:
                found: Any = json.loads(self._file.read_text("utf-8"))
                self._kept = {str(key): int(number) for key, number in found.items()}
            except (OSError, ValueError, AttributeError, TypeError):
                self._kept = {}
        return self._kept
