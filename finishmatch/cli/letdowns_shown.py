"""How parts of a strong tint are poured by a letdown, step by step."""

from __future__ import annotations

from collections.abc import Sequence

import click

from finishmatch.mix.letdowns import Letdown


def show_letdowns(letdowns: Sequence[Letdown], parts: Sequence[tuple[str, float]]) -> None:
    """Print how parts are poured by letdowns; nothing where none are.

    Parameters
    ----------
    letdowns : sequence of Letdown
    parts : sequence of (tint, grams)
        All that is poured.
    """
    for one in letdowns:
        _show_letdown(one, dict(parts)[one.tint])
    if letdowns:
        kept_g = sum(one.kept_g for one in letdowns)
        click.echo(f"     what is left in a cup is waste: {kept_g:.0f} g of the tin go with it\n")


def _show_letdown(one: Letdown, grams: float) -> None:
    """Print how drops of a strong tint are poured, step by step."""
    click.echo(f"\n     {one.tint} by a letdown, once the rest is in the tin and stirred:")
    if one.straight_g:
        click.echo(f"       pour {one.straight_g:g} g of it straight and stir; what is more is tenfold less below")
    click.echo(f"       weigh {one.tint_g:g} g of it into an empty cup")
    click.echo(f"       fill up with paint from the tin to ten times what the scale shows ({one.filled_g:g} g); stir")
    click.echo(f"       pour {one.back_g:g} g of that back into the tin and stir: as good as {grams:g} g straight")
