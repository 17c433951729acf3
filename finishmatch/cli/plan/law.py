"""`finishmatch plan law`: whether a paint may be sold or applied there."""

from __future__ import annotations

from typing import Any

import click
from click.core import ParameterSource

from finishmatch.cautions import DEFER
from finishmatch.cli.common import emit_json, request_from, say_cautions
from finishmatch.cli.plan.options import FILE, plan_options, quantity
from finishmatch.cli.plan.shown import show_plan, show_section
from finishmatch.dossier.plan_sections import rule_sets_section
from finishmatch.errors import InputError
from finishmatch.readings.quantities import CONTENT
from finishmatch.steps.plan.law import LawRequest, known_rule_sets, plan_law


@click.command(
    "law",
    short_help="Whether a paint may be sold or applied there.",
    epilog="""\b
Examples:
  finishmatch plan law swatches/plan/single-stage.toml --rules district
  finishmatch plan law --kind single-stage --voc 2.8lb/gal --rules district
  finishmatch plan law swatches/plan/single-stage.toml --rules district --bank swatches/bank --batch swatches/batch1.csv
  finishmatch plan law

Exit status: 0 when all may be sold or applied under the rule set, 1 when one may not.
""",
)
@click.argument("products", nargs=-1, type=FILE)
@click.option("--rules", metavar="NAME|FILE", help="The rule set; without it those known are listed.")
@click.option("--kind", metavar="KIND", help="Kind of a typed coating, in place of PRODUCTS: single-stage, clear, …")
@click.option(
    "--voc",
    "voc_g_l",
    callback=quantity(CONTENT, least=0),
    metavar="QUANTITY",
    help="Its VOC as applied, less water and exempt compounds: 420g/l.",
)
@click.option("--carrier", metavar="CARRIER", default="solvent", show_default=True, help="solvent or water.")
@click.option("--effect", metavar="EFFECT", default="solid", show_default=True, help="solid, metallic or pearl.")
@click.option(
    "--speckle", is_flag=True, help="A multi-coloured coating is speckle paint: several colours from one pass."
)
@click.option("--holds", multiple=True, metavar="TEXT", help="What harms in a typed coating: lead chromate, none, …")
@click.option(
    "--bank", type=FILE, metavar="FOLDER", help="The bank the colour is mixed from, to look for toxic metals."
)
@click.option("--batch", type=FILE, metavar="FILE", help="What is poured of it.")
@plan_options
def law(units: str, job: str | None, as_json: bool, **options: Any) -> int:
    """Judge data sheets (PRODUCTS), or one typed coating, by a rule set: solvent limits, and toxic metals.

    A basecoat and its clear are judged together where the set limits stages.
    """
    if options["rules"] is not None:
        return show_plan(plan_law(request_from(LawRequest, options), job=job), units, job, as_json)
    if options["products"] or options["voc_g_l"] is not None:
        raise InputError("--rules", "no rule set is named", "see those known with: finishmatch plan law")
    named = click.get_current_context().get_parameter_source("job") is not ParameterSource.DEFAULT
    if named and job is not None:
        raise InputError("--job", "there is nothing to record without a rule set", "name it: --rules NAME")
    known = known_rule_sets()
    if as_json:
        emit_json(known.as_dict())
    else:
        show_section(rule_sets_section(known, units))
        say_cautions([DEFER])
    return 0
