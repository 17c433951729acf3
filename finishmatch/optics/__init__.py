"""How paint makes colour: surface, film, mixture, and the fit of a bank's panels. Arrays in, arrays out.

A module is imported when a name of it is asked for, so that two typed colours don't wait for the fit of banks; the
types of the names stand in `__init__.pyi`.
"""

from finishmatch.lazy import offered_later

_HOMES = {
    "Backing": "mixture",
    "Bank": "bank",
    "BankFit": "fit",
    "BankToday": "card_panels",
    "CardPanel": "card_rows",
    "Panel": "bank",
    "PanelResidual": "fit",
    "Surface": "surface",
    "Tint": "bank",
    "TintOptics": "mixture",
    "bank_today": "card_panels",
    "fit_agrees": "fit_check",
    "fit_bank": "fit",
    "fresnel_diffuse": "surface",
    "fresnel_diffuse_internal": "surface",
    "fresnel_normal": "surface",
    "ground_in_contact": "surface",
    "internal": "surface",
    "mixture_reflectance": "mixture",
    "mixture_slope": "mixture",
    "predicted_reflectance": "mixture",
    "strength_slope": "mixture",
    "tints_untold": "panel_set",
    "today_agrees": "fit_check",
    "volume_fractions": "bank",
}

__all__ = list(_HOMES)
__getattr__ = offered_later(__name__, _HOMES)
