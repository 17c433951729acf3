"""Numbers as they are typed behind an option: 0,8 and 30% are understood, and a unit where the option has one."""

from __future__ import annotations

import math
from typing import Any

import click

from finishmatch.errors import InputError
from finishmatch.readings.plain_number import is_boundless, number_hint, understood_number
from finishmatch.readings.quantities import BUILD, WEIGHT, Dimension, carries_unit, quantity
from finishmatch.readings.volumes import Volume, volume_in
from finishmatch.understood import understood


class TypedNumber(click.types.FloatParamType):
    """A number; as a `share` also percent, of a `kind` also with a unit, which is brought to the option's own.

    With `volume` a volume serves in place of a weight, and is returned as one. `low` and `high` are its bounds, where
    the option has some.
    """

    def __init__(
        self,
        kind: Dimension | None = None,
        *,
        share: bool = False,
        volume: bool = False,
        low: float | None = None,
        high: float | None = None,
    ) -> None:
        self.kind, self.share, self.volume, self.low, self.high = kind, share, volume, low, high

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Return the number that is meant, or fail with how to type it."""
        number = self._number(value, param, ctx) if isinstance(value, str) else value
        if isinstance(number, Volume):
            return number
        if number is not None and not (
            (self.low is None or number >= self.low) and (self.high is None or number <= self.high)
        ):
            self.fail(f"{value} is not in the range {self.low:g}<=x<={self.high:g}.", param, ctx)
        return number

    def _number(self, text: str, param: click.Parameter | None, ctx: click.Context | None) -> float | Volume:
        where = f"`{param.name}`" if param is not None else repr(text[:40])
        try:
            value = understood_number(where, text, share=self.share)
        except ValueError:
            if is_boundless(text):
                raise _no_finite(where, text) from None
            if self.kind is not None and carries_unit(text):
                return self._measured(where, text, self.kind)
            self.fail(f"{text[:40]!r} is not a number; {number_hint(text)}", param, ctx)
        if not math.isfinite(value):
            raise _no_finite(where, text)
        return value

    def _measured(self, where: str, text: str, kind: Dimension) -> float | Volume:
        if self.volume and (volume := volume_in(where, text)) is not None:
            return volume
        value = quantity(where, text, kind)
        understood(where, f"{text.strip()[:20]!r} is read as {value:.6g}", "a unit")
        return value


def _no_finite(where: str, text: str) -> InputError:
    return InputError(where, f"{text.strip()[:40]!r} is not a finite number", "write a number")


NUMBER = TypedNumber()
SHARE = TypedNumber(share=True)
GRAMS = TypedNumber(WEIGHT)
AMOUNT = TypedNumber(WEIGHT, volume=True)
MICRONS = TypedNumber(BUILD)
