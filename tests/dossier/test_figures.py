"""Names stand in a plot as they were written, whatever signs are in them."""

from __future__ import annotations

import pytest

from finishmatch.dossier.figures import blank_figure, png_bytes, svg_text

NAMES = (r"$\frac{$", "tin $5 #2 from $6 tin", "$x^2$", r"\alpha_$")


@pytest.mark.parametrize("name", NAMES)
def test_a_name_is_no_formula(name: str) -> None:
    figure = blank_figure(3, 2)
    axes = figure.subplots()
    axes.plot([1, 2], [1, 2], label=name)
    axes.set_title(name)
    axes.annotate(name, (1, 1))
    axes.set_yticks([1, 2], [name, name])
    axes.legend()
    assert png_bytes(figure).startswith(b"\x89PNG")
    assert svg_text(figure).count(f">{name}<") >= 4
