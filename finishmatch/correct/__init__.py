"""The tin that was sprayed: the verdict on its card, the strength of today's tins, and what to add."""
