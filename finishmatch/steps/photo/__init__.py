"""Photographs: reading them, and the shop's card that makes them trustworthy."""
