"""One place where a file is written: beside, synced, renamed; a failed write never spoils what was there."""
