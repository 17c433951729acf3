"""Panels that were both read and seen: whether their spectra were read with the gloss, or without, as the bank says."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from finishmatch.colour import de00
from finishmatch.optics.bank import Panel
from finishmatch.optics.panel_set import panel_label
from finishmatch.optics.seen_panels import seen_labs
from finishmatch.optics.surface import Surface, fresnel_normal, specular_included

CLEARLY = 9.0  # by which minus twice the logarithm of the likelihood is less the other way: a choice


def gloss_note(panels: Sequence[Panel], geometry: str, index: float) -> str:
    """Return a note where the spectra fit the colours that were seen of the same panels clearly better the other way.

    Parameters
    ----------
    panels : sequence of Panel
        All of a bank, read and seen.
    geometry : str
        How the bank says that its spectra were read.
    index : float
        Of the binder.

    Returns
    -------
    str
        "" where they agree, or no panel was both read and seen.
    """
    read = {panel_label(panel): panel.reflectance for panel in panels if panel.seen is None}
    seen = [panel for panel in panels if panel.seen is not None and panel_label(panel) in read]
    if not seen:
        return ""
    spectra = np.stack([read[panel_label(panel)] for panel in seen])
    colours = [panel.seen for panel in seen if panel.seen is not None]
    labs = np.array([one.lab for one in colours])
    inverse = np.linalg.inv([one.covariance + one.shared for one in colours])
    included = specular_included(geometry)
    squares, apart = [], []
    for gloss in (included, not included):
        as_seen = seen_labs(spectra, Surface(fresnel_normal(index), 0.575, gloss))
        off = as_seen - labs
        squares.append(float(np.einsum("pj,pjk,pk->", off, inverse, off)))
        apart.append(float(np.median(de00(labs, as_seen))))
    # as far apart as their doubts have it, they agree
    if squares[0] < 3 * len(seen) or squares[0] - squares[1] < CLEARLY:
        return ""
    names = ", ".join(dict.fromkeys(panel_label(panel) for panel in seen))
    how, other = ("without", '"de8" or "45/0"') if included else ("with", '"di8"')
    return (
        f"read and seen are ΔE00 {apart[0]:.1f} apart (median of {names}); read {how} the gloss they would be "
        f"{apart[1]:.1f}: ask how the instrument reads, and write geometry = {other} in bank.toml if it does so"
    )
