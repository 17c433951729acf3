"""A volume in place of a weight, as 2L of a tint: it is weighed where the density is known."""

from __future__ import annotations

from dataclasses import dataclass

from finishmatch.errors import InputError
from finishmatch.readings.quantities import VOLUME, carries_unit, quantity
from finishmatch.understood import understood


@dataclass(frozen=True)
class Volume:
    """What was given by volume, as it was written and in litres: a weight once its density is known."""

    text: str
    litres: float

    def grams(self, where: str, of: str, density_kg_l: float | None) -> float:
        """Return its weight, and say what density it rests on.

        Parameters
        ----------
        where : str
            For the message.
        of : str
            What it is of.
        density_kg_l : float or None
            None where it isn't known: then the volume is refused.

        Raises
        ------
        InputError
        """
        if density_kg_l is None:
            raise InputError(where, f"{self.text} is a volume, and the density isn't known here", "give grams")
        grams = 1000 * self.litres * density_kg_l
        understood(where, f"{self.text} of {of[:40]} is read as {grams:.6g} g, at the bank's {density_kg_l:g} kg/L", of)
        return grams


def volume_in(where: str, text: str) -> Volume | None:
    """Return the volume that a text such as "2L" is; None when its unit is of no volume."""
    unit = text.strip().lstrip("+-−.,0123456789 ").casefold().replace(".", "")
    if not carries_unit(text) or unit not in VOLUME.units:
        return None
    return Volume(text.strip(), quantity(where, text, VOLUME, least=0))
