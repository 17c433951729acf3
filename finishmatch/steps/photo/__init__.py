"""Photographs: reading them, and the shop's card that makes them trustworthy.

What reads one is imported when a photograph is given, so that a typed difference doesn't wait for it.
"""

from finishmatch.lazy import offered_later

_HOMES = {"SeenRequest": "seen_in_photos", "read_seen": "seen_in_photos"}

__all__ = list(_HOMES)
__getattr__ = offered_later(__name__, _HOMES)
