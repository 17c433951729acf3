"""One file a step, oldest first."""
