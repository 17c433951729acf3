"""A bench scale on a serial line: what its lines say, and the number that follows the pan."""
