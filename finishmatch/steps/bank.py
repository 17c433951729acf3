"""A bank of tints with its fit, and the films that can be predicted with it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from finishmatch.colour import Floats
from finishmatch.errors import InputError
from finishmatch.optics import Backing, Bank, BankFit, TintOptics, fit_bank, ground_in_contact
from finishmatch.optics.surface import specular_included
from finishmatch.readings import load_fit, read_bank, store_fit
from finishmatch.steps.card_build import check_card_build
from finishmatch.steps.progress import Progress, quiet

THICKEST_UM = 2000
_MOST_FITS = 8  # of so many banks the fit is kept in memory: one that can't be kept beside its bank is made once
_fits: dict[str, BankFit] = {}  # by the digest of what was fitted


@dataclass(frozen=True)
class FittedBank:
    """A bank with its current fit.

    Parameters
    ----------
    folder : Path or None
        Where the bank lies; None for one that was made in a program.
    bank : Bank
    fit : BankFit
    fresh : bool
        Whether the fit was made anew and isn't kept beside the bank yet.
    today : BankFit or None
        What panels and cards of the record show together; None: the bank stands alone.
    """

    folder: Path | None
    bank: Bank
    fit: BankFit
    fresh: bool = False
    today: BankFit | None = None

    @property
    def optics(self) -> TintOptics:
        """The optics of all tints as of today."""
        return (self.today or self.fit).optics

    @property
    def usable_optics(self) -> TintOptics:
        """The optics of the tints that are known well enough to mix with."""
        optics = self.optics
        return optics.chosen([name for name in optics.names if name in self.fit.usable])


@dataclass(frozen=True)
class Film:
    """The optics of what is sprayed, hiding or over a ground, and the bank's grounds in contact with the film."""

    optics: TintOptics
    grounds: tuple[tuple[str, Floats], ...]


def open_bank(bank: FittedBank | Bank | Path | str, progress: Progress = quiet) -> FittedBank:
    """Return a bank with its fit, which is made anew when the bank has changed since it was kept.

    Parameters
    ----------
    bank : FittedBank, Bank, Path or str
        One that is fitted is returned as it is; a path or a text names the folder of a bank.
    progress : Progress
    """
    if isinstance(bank, FittedBank):
        return bank
    folder = None if isinstance(bank, Bank) else Path(bank)
    found = read_bank(folder) if folder is not None else bank
    assert isinstance(found, Bank)
    kept = None if folder is None else load_fit(folder, found)
    if kept is not None:
        return FittedBank(folder, found, kept)
    return FittedBank(folder, found, _fit_of(found, progress), fresh=folder is not None)


def bank_meant(named: Path | str | None, remembered: tuple[str, Path] | None, progress: Progress = quiet) -> FittedBank:
    """Return the bank that was named, else the one that a job remembers, which must still be that one.

    Raises
    ------
    InputError
        Neither is known, or another bank is in that folder now.
    """
    if named is not None:
        return open_bank(named, progress)
    if remembered is None:
        raise InputError("`bank`", "no bank is known to this job", "name it once with `bank` FOLDER")
    name, folder = remembered
    fitted = open_bank(folder, progress)
    if fitted.bank.name != name:
        raise InputError(str(folder), f"holds {fitted.bank.name} now", f"not {name}: `bank` FOLDER")
    return fitted


def _fit_of(bank: Bank, progress: Progress) -> BankFit:
    """Return the fit of a bank, made once as long as its files stay as they are."""
    fit = _fits.get(bank.digest)
    if fit is None:
        with progress(f"fitting {len(bank.panels)} panels of {bank.name}"):
            fit = fit_bank(bank)
        if bank.digest:
            while len(_fits) >= _MOST_FITS:
                _fits.pop(next(iter(_fits)), None)
            _fits[bank.digest] = fit
    return fit


def keep_fit(fitted: FittedBank) -> tuple[str, ...]:
    """Keep a fresh fit beside its bank, once all else that was given has proved right; return what was in the way."""
    if fitted.fresh and fitted.folder is not None:
        try:
            store_fit(fitted.folder, fitted.bank, fitted.fit)
        except InputError as error:
            return (f"the fit was not kept: {error.where} {error.what}",)
    return ()


def grounds_in_contact(bank: Bank) -> tuple[tuple[str, Floats], ...]:
    """Return the bank's grounds by name, as they are under a film."""
    specular = specular_included(bank.geometry)
    return tuple((name, ground_in_contact(reading, bank.binder_index, specular)) for name, reading in bank.grounds)


def film_of(fitted: FittedBank, ground: str | None = None, build_um: float | None = None) -> Film:
    """Return the film that is matched: the endless one, or with a ground and a dry build in µm a film over it."""
    optics, grounds = fitted.optics, grounds_in_contact(fitted.bank)
    if ground is None and build_um is None:
        return Film(optics, grounds)
    if ground is None or build_um is None:
        lacking = "`ground`" if ground is None else "`build_um`"
        raise InputError(lacking, "a film over a ground needs `ground` and `build_um`", "give both, or neither")
    if not 0 < build_um <= THICKEST_UM:
        raise InputError(
            "`build_um`", f"{build_um:g} µm can't be sprayed", f"give the dry build in µm, above 0, up to {THICKEST_UM}"
        )
    check_card_build("`build_um`", build_um, thickest_um=THICKEST_UM)
    known = dict(grounds)
    if ground not in known:
        raise InputError("`ground`", f"no file names the ground {ground!r}", "known: " + (", ".join(known) or "none"))
    if not optics.per_um:
        raise InputError(
            f"bank {fitted.bank.name}",
            "has no panels of a known build over a ground, so films over one can't be predicted",
            "add some, or leave out `ground` and `build_um`",
        )
    return Film(optics.over(Backing(ground, build_um, known[ground])), grounds)


def coloured_grams(parts: tuple[tuple[str, float], ...], fitted: FittedBank) -> dict[str, float]:
    """Return the grams of each tint of a batch that makes colour.

    Raises
    ------
    InputError
        A tint that the bank doesn't know well enough, a batch without colour.
    """
    clears = {tint.name for tint in fitted.bank.tints if tint.role == "clear"}
    grams: dict[str, float] = {}
    for tint, weight in parts:
        if weight > 0 and tint not in clears:
            grams[tint] = grams.get(tint, 0.0) + weight
    unknown = [name for name in grams if name not in fitted.usable_optics.names]
    if unknown or not grams:
        what = f"the optics of {unknown[0]} aren't known" if unknown else "holds no coloured tint"
        raise InputError("`batch`", what, "add letdowns of it to the bank" if unknown else "name what was poured")
    return grams
