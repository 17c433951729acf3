"""What a painter types, turned into readings, lights, a scale and a bank with its fit."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from finishmatch.colour import Floats, light_name
from finishmatch.errors import InputError
from finishmatch.readings import Reading, resolve_reading, typed_lab

if TYPE_CHECKING:
    from finishmatch.mix.weighing import Scale
    from finishmatch.optics import Bank, BankFit, TintOptics

Command = TypeVar("Command", bound=Callable[..., Any])


@dataclass(frozen=True)
class FittedBank:
    """A bank with its current fit; `fresh` when it was made anew and isn't kept beside the bank yet."""

    folder: Path
    bank: Bank
    fit: BankFit
    fresh: bool


@dataclass(frozen=True)
class Film:
    """The optics of what is sprayed, hiding or over a ground, and the bank's grounds in contact with the film."""

    optics: TintOptics
    grounds: tuple[tuple[str, Floats], ...]


def film_of(fitted: FittedBank, ground: str | None, build_um: float | None) -> Film:
    """Return the film that is matched: the endless one, or with --ground and --build a film over a ground."""
    from finishmatch.optics import Backing, ground_in_contact
    from finishmatch.optics.surface import specular_included

    bank, optics = fitted.bank, fitted.fit.optics
    specular = specular_included(bank.geometry)
    grounds = tuple((name, ground_in_contact(reading, bank.binder_index, specular)) for name, reading in bank.grounds)
    if ground is None and build_um is None:
        return Film(optics, grounds)
    if ground is None or build_um is None:
        lacking = "--ground" if ground is None else "--build"
        raise InputError(lacking, "a film over a ground needs --ground and --build", "give both, or neither")
    if not 0 < build_um <= 2000:
        raise InputError("--build", f"{build_um:g} µm can't be sprayed", "give the dry build in µm, above 0")
    known = dict(grounds)
    if ground not in known:
        raise InputError("--ground", f"no file names the ground {ground!r}", "known: " + (", ".join(known) or "none"))
    if not optics.per_um:
        raise InputError(
            f"bank {bank.name}",
            "has no panels of a known build over a ground, so films over one can't be predicted",
            "add some, or leave out --ground and --build",
        )
    return Film(optics.over(Backing(ground, build_um, known[ground])), grounds)


def light_list(lights: Sequence[str]) -> tuple[str, ...]:
    """Return CIE light names, each once, in the order named; commas may part them."""
    names = [light_name(part) for light in lights for part in light.split(",")]
    return tuple(dict.fromkeys(names))


def reading_of(text: str, light: str, observer: int) -> Reading:
    """Return the reading meant by L,a,b, FILE or FILE@NAME."""
    return resolve_reading(text, light, observer)


def target_of(command: str, target: str | None, lab: str | None, light: str, observer: int) -> Reading:
    """Return the one target that was given: as an argument, or typed with --lab."""
    if target is not None and lab is None:
        return reading_of(target, light, observer)
    if lab is not None and target is None:
        return typed_lab(lab, light, observer)
    raise InputError(command, "one target is needed", "give TARGET or --lab L,a,b")


def tolerance_of(
    given: float | None, standard: Reading, usual: float, job: str | None = None
) -> tuple[float, tuple[str, ...]]:
    """Return the tolerance to judge by, and what is to be said of it.

    As given; else the target's own (a file that `evidence weigh --save` wrote carries the tolerance that its evidence
    can defend); else that of the target the job has; else the usual.
    """
    if given is not None:
        check_tolerance(given)
        return given, ()
    own = None if standard.target is None else standard.target.tolerance
    if own is not None:
        return own, (f"the tolerance of {own:.2f} is the target's own, from {standard.source}",)
    if job is not None:
        from finishmatch.steps.record import tolerance_in

        kept = tolerance_in(job)
        if kept is not None:
            return kept[0], (f"the tolerance of {kept[0]:.2f} is that of the job's target #{kept[1]}",)
    return usual, ()


def check_tolerance(tolerance: float | None) -> None:
    """See that a tolerance is one, before anything is computed for it; None is told later."""
    if tolerance is not None and not (math.isfinite(tolerance) and tolerance > 0):
        raise InputError("--tolerance", f"{tolerance:g} is not a tolerance", "give a ΔE00 above 0")


scale_step_option = click.option(
    "--scale-step", type=float, default=0.1, show_default=True, metavar="G", help="Step of the scale, grams."
)


def scale_options(command: Command) -> Command:
    """Add --scale-step and --smallest to a command."""
    command = click.option(
        "--smallest", type=float, metavar="G", help="Smallest part worth weighing, grams.  [default: 3 scale steps]"
    )(command)
    return scale_step_option(command)


def scale_of(step_g: float, smallest_g: float | None) -> Scale:
    """Return the painter's scale; without a smallest part it is three steps."""
    from finishmatch.mix.weighing import SMALLEST_STEPS, Scale

    if not (math.isfinite(step_g) and step_g > 0):
        raise InputError("--scale-step", f"{step_g:g} g is not the step of a scale", "give grams above 0")
    smallest = SMALLEST_STEPS * step_g if smallest_g is None else smallest_g
    if not (math.isfinite(smallest) and smallest >= step_g):
        raise InputError("--smallest", f"{smallest:g} g can't be the smallest part", f"at least a step, {step_g:g} g")
    return Scale(step_g, smallest)


def open_bank(folder: str) -> FittedBank:
    """Return a bank with its fit, which is made anew when the bank has changed since it was kept."""
    from finishmatch.cli.common import stage
    from finishmatch.optics import fit_bank
    from finishmatch.readings import load_fit, read_bank

    bank = read_bank(Path(folder))
    stored = load_fit(Path(folder), bank)
    if stored is not None:
        return FittedBank(Path(folder), bank, stored, fresh=False)
    with stage(f"fitting {len(bank.panels)} panels of {bank.name}"):
        return FittedBank(Path(folder), bank, fit_bank(bank), fresh=True)


def keep_fit(fitted: FittedBank) -> tuple[str, ...]:
    """Keep a fresh fit beside its bank, once all else that was given has proved right; return what was in the way."""
    from finishmatch.readings import store_fit

    if fitted.fresh:
        try:
            store_fit(fitted.folder, fitted.bank, fitted.fit)
        except InputError as error:
            return (f"the fit was not kept: {error.where} {error.what}",)
    return ()
