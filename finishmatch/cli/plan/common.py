"""What the verbs of `plan` share: options, the shop's own files, how a plan is told and recorded."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from finishmatch.cautions import DEFER
from finishmatch.cli.common import emit_json, job_option, json_option, say_cautions, say_recorded, table
from finishmatch.errors import InputError

if TYPE_CHECKING:
    from finishmatch.dossier.plan_page import Part
    from finishmatch.readings.product_sheet import Product
    from finishmatch.readings.rules_file import RuleSet

Command = TypeVar("Command", bound=Callable[..., Any])
WIDTH = 100


@dataclass(frozen=True)
class Told:
    """What a verb found.

    Parameters
    ----------
    about : str
        The verb.
    part : Part
        As it is shown, in the terminal and on the page.
    document : mapping
        The JSON object.
    figures : mapping of str to float
        What the ledger keeps, the unit in the name.
    yes : bool
        False when the answer is no.
    cautions : tuple of str
    sources : tuple of Path
    """

    about: str
    part: Part
    document: Mapping[str, Any]
    figures: Mapping[str, float]
    yes: bool = True
    cautions: tuple[str, ...] = (DEFER,)
    sources: tuple[Path, ...] = field(default=())


def plan_options(command: Command) -> Command:
    """Add --units, --job and --json to a verb."""
    command = json_option(job_option(command))
    return click.option(
        "--units",
        type=click.Choice(["both", "metric", "us"]),
        default="both",
        show_default=True,
        help="Units the answer is shown in.",
    )(command)


def shop_folder() -> Path:
    """Return the folder of the shop's own tables, beside the ledger; it need not be there."""
    from finishmatch.ledger import ledger_home

    return ledger_home() / "shop"


def areas_known(panels_file: str | None) -> tuple[dict[str, float], tuple[Path, ...]]:
    """Return the areas of panels, m², and the files they are from: a shop's own come before those of practice."""
    from finishmatch.finish.practice import common_areas
    from finishmatch.readings.areas_file import read_areas

    own = Path(panels_file) if panels_file else shop_folder() / "panels.toml"
    if not panels_file and not own.is_file():
        return dict(common_areas()), ()
    return {**common_areas(), **read_areas(own)}, (own,)


def rules_called(name: str) -> tuple[RuleSet, tuple[Path, ...]]:
    """Return a rule set by its name, or of a file, and the files it is from."""
    from finishmatch.finish.practice import common_rules
    from finishmatch.readings.rules_file import read_rules

    if name.endswith(".toml") or "/" in name or "\\" in name:
        return read_rules(Path(name)), (Path(name),)
    own = shop_rules()
    if name in own:
        return read_rules(own[name]), (own[name],)
    if name in common_rules():
        return common_rules()[name], ()
    known = ", ".join(dict.fromkeys([*own, *common_rules()]))
    raise InputError("--rules", f"there is no rule set {name[:40]!r}", f"known are {known}; or name a file")


def shop_rules() -> dict[str, Path]:
    """Return the shop's own rule sets by name."""
    return {path.stem: path for path in sorted((shop_folder() / "rules").glob("*.toml"))}


def tell(told: Told, units: str, job: str | None, as_json: bool) -> int:
    """Print what a verb found, record it, and return the exit status."""
    recorded = record_plan(job, [told]) if job is not None else []
    if as_json:
        emit_json(dict(told.document))
    else:
        show_part(told.part)
        say_cautions(told.cautions)
        say_recorded(job, recorded)
    return 0 if told.yes else 1


def record_plan(job: str, plans: Sequence[Told]) -> list[int]:
    """Record what was found in a job, all or nothing."""
    from finishmatch.ledger import PlanEntry
    from finishmatch.steps.record import record_to

    entries = [
        PlanEntry(told.about, "yes" if told.yes else "no", told.part.answer, told.figures, told.part.notes)
        for told in plans
    ]
    return record_to(job, entries, {i: told.sources for i, told in enumerate(plans)})


def show_part(part: Part) -> None:
    """Print a part of a plan."""
    from textwrap import wrap

    for line in wrap(part.answer, WIDTH - 2):
        click.echo(f"  {line}")
    if part.lines:
        click.echo()
        widest = max(len(label) for label, _ in part.lines)
        for label, value in part.lines:
            first, *more = wrap(value, WIDTH - widest - 4) or [""]
            click.echo(f"  {label:{widest}}  {first}".rstrip())
            for line in more:
                click.echo(f"  {'':{widest}}  {line}")
    for shown in part.tables:
        click.echo()
        if shown.caption:
            click.echo("\n".join(f"  {line}" for line in wrap(shown.caption, WIDTH - 2)))
        click.echo("\n".join(table(shown.header, shown.rows)))
    if part.notes:
        click.echo()
    for note in part.notes:
        first, *more = wrap(note, WIDTH - 8)
        click.echo(f"  note: {first}")
        for line in more:
            click.echo(f"        {line}")


def paint_cautions(products: Sequence[Product]) -> tuple[str, ...]:
    """Return the cautions that bear on spraying these paints."""
    from finishmatch.cautions import ISOCYANATES, SOLVENTS

    two_pack = not products or any(one.two_pack for one in products)  # not told is taken for two-pack
    return (*((ISOCYANATES,) if two_pack else ()), SOLVENTS, DEFER)


def checked_job(job: str | None) -> None:
    """See that a job can be recorded in before anything is computed."""
    if job is not None:
        from finishmatch.steps.record import check_job

        check_job(job)
