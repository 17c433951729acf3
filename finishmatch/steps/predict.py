"""What a batch will look like, and how surely."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from finishmatch.colour import WAVELENGTHS_NM, Floats, reflectance_to_lab
from finishmatch.errors import InputError
from finishmatch.evidence.target import colour_target
from finishmatch.mix.expected_difference import drawn_differences
from finishmatch.optics import predicted_reflectance
from finishmatch.readings import Reading
from finishmatch.steps.bank import film_of, keep_fit, open_bank
from finishmatch.steps.colour_inputs import LIGHTS, light_list
from finishmatch.steps.matching import BankLike, Parts, PartsLike, parts_of, scale_of
from finishmatch.steps.progress import Progress, quiet
from finishmatch.steps.record import check_job
from finishmatch.steps.todays_tins import TodaysTins, todays_tins

U95_LIGHT, U95_OBSERVER = "D65", 10


@dataclass(frozen=True, kw_only=True)
class PredictRequest:
    """How a batch is looked at.

    Parameters
    ----------
    ground, build_um : str, float or None
        A ground of the bank and the dry build in µm of the film over it; None: the film hides.
    scale_step : float
        Step of the scale it is poured on, grams.
    lights : sequence of str
        CIE lights, the reference first.
    observer : int
        2 or 10.
    fresh_tins : bool
        New tins were opened: what earlier spray-outs showed is left out.
    """

    ground: str | None = None
    build_um: float | None = None
    scale_step: float = 0.1
    lights: str | Sequence[str] = LIGHTS
    observer: int = 10
    fresh_tins: bool = False


@dataclass(frozen=True)
class Predicted:
    """What a batch will look like.

    Parameters
    ----------
    reflectance : ndarray, shape (31,)
        On the house grid.
    lights : dict of str to ndarray, shape (3,)
        CIELAB in each light, the reference first.
    u95 : float
        The ΔE00 (D65, 10°) within which a card of that batch lies 95 times in 100, by bank, strength of the tins,
        weighing and reading.
    parts : tuple of (tint, grams)
    tins : TodaysTins
    warnings : tuple of str
    """

    reflectance: Floats
    lights: dict[str, Floats]
    u95: float
    parts: Parts
    tins: TodaysTins
    warnings: tuple[str, ...] = ()

    @property
    def lab(self) -> Floats:
        """CIELAB in the reference light, shape (3,)."""
        return next(iter(self.lights.values()))

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object of a prediction."""
        return {
            "predicted": {"wavelengths": WAVELENGTHS_NM, "reflectance": self.reflectance, "lab": self.lab},
            "u95": self.u95,
            "lights": self.lights,
            "warnings": list(self.warnings),
            **self.tins.as_dict(),
        }


def predict(
    bank: BankLike,
    batch: PartsLike,
    request: PredictRequest = PredictRequest(),
    *,
    job: str | None = None,
    progress: Progress = quiet,
) -> Predicted:
    """Return what a batch will look like, by the strengths of today's tins that the record knows.

    Parameters
    ----------
    bank : BankLike
    batch : PartsLike
    request : PredictRequest
    job : str or None
        Whose spray-outs show the strength of the tins; nothing is recorded in it.
    progress : Progress

    Raises
    ------
    InputError
        A tint that the bank doesn't know well enough, a batch without colour.
    """
    scale = scale_of(request.scale_step)
    lights, observer = light_list(request.lights), request.observer
    check_job(job)
    fitted = open_bank(bank, progress)
    parts, _ = parts_of(batch, fitted.bank.tint_names)
    film = film_of(fitted, request.ground, request.build_um)
    coloured = _coloured(parts, {tint.name for tint in fitted.bank.tints if tint.role == "clear"})
    unknown = [name for name in coloured if name not in fitted.usable_optics.names]
    if unknown or not coloured:
        what = f"the optics of {unknown[0]} aren't known" if unknown else "holds no coloured tint"
        raise InputError("`batch`", what, "add letdowns of it to the bank" if unknown else "name what was poured")
    tins = todays_tins(job, fitted, request.fresh_tins)
    own, covariance = film.optics.chosen(list(coloured)), None
    if tins.prior is not None:
        own, covariance = tins.prior.strengthened(own), tins.prior.chosen(own.names).log_covariance
    grams = np.array(list(coloured.values()))
    reflectance = predicted_reflectance(own, grams)
    itself = colour_target(Reading("the batch", reflectance[None]), (U95_LIGHT,), U95_OBSERVER)
    drawn = drawn_differences(itself, own, grams, scale.step_g, covariance)  # with the noise of one reading
    return Predicted(
        reflectance=reflectance,
        lights={light: reflectance_to_lab(reflectance, light, observer) for light in lights},
        u95=float(np.percentile(drawn[:, 0], 95)),
        parts=parts,
        tins=tins,
        warnings=(*tins.warnings, *fitted.fit.warnings, *keep_fit(fitted)),
    )


def _coloured(parts: Parts, clears: set[str]) -> dict[str, float]:
    """Return the grams of each tint that makes colour."""
    grams: dict[str, float] = {}
    for tint, weight in parts:
        if weight > 0 and tint not in clears:
            grams[tint] = grams.get(tint, 0.0) + weight
    return grams
