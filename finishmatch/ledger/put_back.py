"""Where in a home a backup lies that is being put back."""

from __future__ import annotations

RESTORING = ".restoring"
READY = "ready.json"  # in it when what is put back is safe on the disk, and only has to take its place
