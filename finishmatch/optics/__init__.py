"""How paint makes colour: surface, film, mixture, and the fit of a bank's panels. Arrays in, arrays out."""

from finishmatch.optics.bank import Bank, Panel, Tint, volume_fractions
from finishmatch.optics.fit import BankFit, PanelResidual, fit_bank
from finishmatch.optics.fit_check import fit_agrees
from finishmatch.optics.mixture import (
    Backing,
    TintOptics,
    mixture_reflectance,
    mixture_slope,
    predicted_reflectance,
    strength_slope,
)
from finishmatch.optics.surface import (
    Surface,
    fresnel_diffuse,
    fresnel_diffuse_internal,
    fresnel_normal,
    ground_in_contact,
    internal,
)

__all__ = [
    "Backing",
    "Bank",
    "BankFit",
    "Panel",
    "PanelResidual",
    "Surface",
    "Tint",
    "TintOptics",
    "fit_agrees",
    "fit_bank",
    "fresnel_diffuse",
    "fresnel_diffuse_internal",
    "fresnel_normal",
    "ground_in_contact",
    "internal",
    "mixture_reflectance",
    "mixture_slope",
    "predicted_reflectance",
    "strength_slope",
    "volume_fractions",
]
