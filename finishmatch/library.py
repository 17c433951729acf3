"""The house as a library: the same steps as the commands, with their wishes as plain keywords.

Every function takes the request of its step, or single wishes that override fields of it: ``max_tints=4``,
``tolerance=0.5``, ``lights=("D65", "A")``. What it returns is the result of the step; its ``as_dict()`` is the object
that the command prints as JSON.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace
from pathlib import Path
from typing import Any, TypeVar

from finishmatch import readings
from finishmatch.errors import InputError
from finishmatch.near_names import did_you_mean
from finishmatch.optics import Bank
from finishmatch.readings import Reading
from finishmatch.steps import compare as comparing
from finishmatch.steps import correct as correcting
from finishmatch.steps import mix as mixing
from finishmatch.steps import predict as predicting
from finishmatch.steps import weigh_evidence as weighing
from finishmatch.steps.bank import FittedBank, open_bank
from finishmatch.steps.colour_inputs import ReadingLike, reading_of
from finishmatch.steps.compare import Compared, CompareRequest
from finishmatch.steps.corrected import Corrected, CorrectRequest
from finishmatch.steps.matching import BankLike, PartsLike
from finishmatch.steps.mix import Mixed, MixRequest
from finishmatch.steps.photo import read_photo as photographing
from finishmatch.steps.photo.photo_read import PhotoRead
from finishmatch.steps.photo.read_photo import PhotoRequest
from finishmatch.steps.predict import Predicted, PredictRequest
from finishmatch.steps.weigh_evidence import WeighedEvidence, WeighRequest

Request = TypeVar("Request", CompareRequest, CorrectRequest, MixRequest, PhotoRequest, PredictRequest, WeighRequest)


def _asked(request: Request, wishes: dict[str, Any]) -> Request:
    """Return a request with single wishes in place of its own; one it doesn't have is refused."""
    known = [field.name for field in fields(request)]
    for wish in wishes:
        if wish not in known:
            raise InputError(
                f"wish {wish[:40]!r}", "isn't one that this function takes", did_you_mean(wish, known, ", ".join(known))
            )
    return replace(request, **wishes)


def read_bank(folder: Path | str) -> Bank:
    """Return the bank of tints that a folder holds.

    Raises
    ------
    InputError
        What is wrong, in which file, line and column.
    """
    return readings.read_bank(Path(folder))


def fit_bank(bank: BankLike) -> FittedBank:
    """Return a bank with the optics of its tints, fitted on its panels.

    Parameters
    ----------
    bank : Bank, FittedBank, Path or str
        Of a folder the fit that is kept there is used, where it is still that of the bank.
    """
    return open_bank(bank)


def read_target(text: ReadingLike, light: str = "D65", observer: int = 10) -> Reading:
    """Return the colour that is meant.

    Parameters
    ----------
    text : ReadingLike
        "L,a,b", a readings file, or "FILE@NAME"; or three numbers of CIELAB, or 31 reflectance factors.
    light : str
        For CIELAB.
    observer : int
        2 or 10.
    """
    return reading_of(text, light, observer, "target")


def mix(
    target: ReadingLike,
    fit: BankLike,
    grams: float,
    request: MixRequest | None = None,
    *,
    job: str | None = None,
    **wishes: Any,
) -> Mixed:
    """Return recipes in grams for a target from the tints of a bank, best match first.

    Parameters
    ----------
    target : ReadingLike
    fit : FittedBank, Bank, Path or str
    grams : float
        Weight of the batch.
    request : MixRequest or None
    job : str or None
        Where target and recipes are recorded.
    **wishes
        Fields of `MixRequest`: max_tints, tolerance, must, without, lights, …
    """
    return mixing.mix(target, fit, grams, _asked(request or MixRequest(), wishes), job=job)


def predict(
    fit: BankLike, batch: PartsLike, request: PredictRequest | None = None, *, job: str | None = None, **wishes: Any
) -> Predicted:
    """Return what a batch will look like, and how surely.

    Parameters
    ----------
    fit : FittedBank, Bank, Path or str
    batch : mapping of str to float, sequence of (tint, grams), Path or str
    request : PredictRequest or None
    job : str or None
        Whose spray-outs show the strength of the tins, and whose target it is held against where no other is given.
    **wishes
        Fields of `PredictRequest`: add, pour, target, meant, ground, build_um, lights, …
    """
    return predicting.predict(fit, batch, _asked(request or PredictRequest(), wishes), job=job)


def compare(
    standard: ReadingLike,
    trial: ReadingLike,
    request: CompareRequest | None = None,
    *,
    job: str | None = None,
    **wishes: Any,
) -> Compared:
    """Return how a trial differs from its standard, and whether it passes.

    Parameters
    ----------
    standard, trial : ReadingLike
    request : CompareRequest or None
    job : str or None
        Where readings and verdict are recorded.
    **wishes
        Fields of `CompareRequest`: tolerance, lights, gloss, …
    """
    return comparing.compare(standard, trial, _asked(request or CompareRequest(), wishes), job=job)


def correct(
    target: ReadingLike,
    fit: BankLike,
    batch: PartsLike,
    sprayed: ReadingLike,
    request: CorrectRequest | None = None,
    *,
    job: str | None = None,
    **wishes: Any,
) -> Corrected:
    """Return the smallest addition that brings a poured tin to its target; nothing is ever taken out.

    Parameters
    ----------
    target : ReadingLike
    fit : FittedBank, Bank, Path or str
    batch : mapping of str to float, sequence of (tint, grams), Path or str
        What was poured.
    sprayed : ReadingLike
        The spray-out of it.
    request : CorrectRequest or None
    job : str or None
        Where batch, spray-out, verdict and correction are recorded.
    **wishes
        Fields of `CorrectRequest`: tolerance, max_growth, lights, …
    """
    return correcting.correct(target, fit, batch, sprayed, _asked(request or CorrectRequest(), wishes), job=job)


def read_photo(
    photographs: Path | str | Sequence[Path | str],
    request: PhotoRequest | None = None,
    *,
    job: str | None = None,
    **wishes: Any,
) -> PhotoRead:
    """Return the colours of samples from photographs that have a 24-patch chart, or the shop's card, in them.

    Parameters
    ----------
    photographs : Path, str or sequence of them
    request : PhotoRequest or None
    job : str or None
        Where the colours are recorded.
    **wishes
        Fields of `PhotoRequest`: region, light, within, …
    """
    return photographing.read_photo(photographs, _asked(request or PhotoRequest(), wishes), job=job)


def weigh_evidence(
    path: Path | str, request: WeighRequest | None = None, *, job: str | None = None, **wishes: Any
) -> WeighedEvidence:
    """Return the colour that the samples of an evidence file show.

    Parameters
    ----------
    path : Path or str
    request : WeighRequest or None
    job : str or None
        Where samples and target are recorded.
    **wishes
        Fields of `WeighRequest`: use, ageing, pick, without, …
    """
    return weighing.weigh_evidence(path, _asked(request or WeighRequest(), wishes), job=job)
