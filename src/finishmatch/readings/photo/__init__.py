"""Photographs: the shop's card and the charts in them, and what colours they hold."""
