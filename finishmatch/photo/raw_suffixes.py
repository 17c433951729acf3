"""How the raw files of cameras end."""

from __future__ import annotations

RAW_SUFFIXES = {".dng", ".nef", ".nrw", ".cr2", ".cr3", ".arw", ".orf", ".rw2", ".raf", ".pef", ".srw", ".x3f"}
