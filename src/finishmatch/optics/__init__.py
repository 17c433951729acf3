"""How paint makes colour: surface, film, mixture, and the fit of a bank's letdowns. Arrays in, arrays out."""

from finishmatch.optics.bank import Bank, Panel, Tint, volume_fractions
from finishmatch.optics.film import hiding_reflectance, k_over_s
from finishmatch.optics.fit import BankFit, PanelResidual, fit_bank
from finishmatch.optics.mixture import TintOptics, mixture_reflectance, mixture_slope
from finishmatch.optics.surface import Surface, fresnel_normal, internal, measured

__all__ = [
    "Bank",
    "BankFit",
    "Panel",
    "PanelResidual",
    "Surface",
    "Tint",
    "TintOptics",
    "fit_bank",
    "fresnel_normal",
    "hiding_reflectance",
    "internal",
    "k_over_s",
    "measured",
    "mixture_reflectance",
    "mixture_slope",
    "volume_fractions",
]
