"""What a painter types, turned into readings, lights, a scale and a bank with its fit."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from finishmatch.colour import light_name
from finishmatch.readings import Reading, resolve_reading

if TYPE_CHECKING:
    from finishmatch.match.weighing import Scale
    from finishmatch.optics import Bank, BankFit

Command = TypeVar("Command", bound=Callable[..., Any])


@dataclass(frozen=True)
class FittedBank:
    """A bank with its current fit and what was noticed on the way."""

    bank: Bank
    fit: BankFit
    warnings: tuple[str, ...] = ()


def light_list(lights: Sequence[str]) -> tuple[str, ...]:
    """Return CIE light names, each once, in the order named; commas may part them."""
    names = [light_name(part) for light in lights for part in light.split(",")]
    return tuple(dict.fromkeys(names))


def reading_of(text: str, light: str, observer: int) -> Reading:
    """Return the reading meant by L,a,b, FILE or FILE@NAME."""
    return resolve_reading(text, light, observer)


def scale_options(command: Command) -> Command:
    """Add --scale-step and --smallest to a command."""
    command = click.option(
        "--smallest", type=float, metavar="G", help="Smallest part worth weighing, grams.  [default: 3 scale steps]"
    )(command)
    return click.option(
        "--scale-step", type=float, default=0.1, show_default=True, metavar="G", help="Step of the scale, grams."
    )(command)


def scale_of(step_g: float, smallest_g: float | None) -> Scale:
    """Return the painter's scale; without a smallest part it is three steps."""
    from finishmatch.match.weighing import SMALLEST_STEPS, Scale

    return Scale(step_g, SMALLEST_STEPS * step_g if smallest_g is None else smallest_g)


def open_bank(folder: str, *, must_store: bool = False) -> FittedBank:
    """Return a bank with its fit, made anew and stored when the bank has changed since.

    A folder that can't be written only warns, unless storing is what was asked for.
    """
    from finishmatch.cli.common import stage
    from finishmatch.errors import InputError
    from finishmatch.optics import fit_bank
    from finishmatch.readings import load_fit, read_bank, store_fit

    bank = read_bank(Path(folder))
    stored = load_fit(Path(folder), bank)
    if stored is not None and not must_store:
        return FittedBank(bank, stored)
    with stage(f"fitting {len(bank.panels)} panels of {bank.name}"):
        fit = fit_bank(bank)
    try:
        store_fit(Path(folder), bank, fit)
    except InputError as error:
        if must_store:
            raise
        return FittedBank(bank, fit, (f"the fit was not kept: {error.where} {error.what}",))
    return FittedBank(bank, fit)
