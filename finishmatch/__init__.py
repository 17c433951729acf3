"""finishmatch: the colour and finish bench of a restoration painter."""

__version__ = "0.1.0"
