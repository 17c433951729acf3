"""`finishmatch plan law`: whether a paint may be sprayed there."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from finishmatch.cli.plan.common import (
    Told,
    checked_job,
    paint_cautions,
    plan_options,
    rules_called,
    shop_rules,
    tell,
)
from finishmatch.cli.plan.units import Shown
from finishmatch.errors import InputError

if TYPE_CHECKING:
    from finishmatch.readings.product_sheet import Product
    from finishmatch.readings.rules_file import RuleSet


@click.command(
    "law",
    short_help="Whether a paint may be sprayed there.",
    epilog="""\b
Examples:
  finishmatch plan law swatches/plan/single-stage.toml --rules district
  finishmatch plan law --kind single-stage --voc 2.8lb/gal --rules district
  finishmatch plan law

Exit status: 0 when all may be sprayed under the rule set, 1 when one may not.
""",
)
@click.argument("products", nargs=-1)
@click.option("--rules", "rules_name", metavar="NAME|FILE", help="The rule set; without it those known are listed.")
@click.option("--kind", metavar="KIND", help="Kind of a typed coating, in place of PRODUCTS: single-stage, clear, …")
@click.option("--voc", metavar="QUANTITY", help="Its VOC as applied, less water and exempt compounds: 420g/l.")
@click.option("--carrier", metavar="CARRIER", default="solvent", show_default=True, help="solvent or water.")
@click.option("--effect", metavar="EFFECT", default="solid", show_default=True, help="solid, metallic or pearl.")
@plan_options
def law(
    products: tuple[str, ...],
    rules_name: str | None,
    kind: str | None,
    voc: str | None,
    carrier: str,
    effect: str,
    units: str,
    job: str | None,
    as_json: bool,
) -> int:
    """Judge data sheets (PRODUCTS), or one typed coating, by a rule set of solvent limits.

    A basecoat and its clear are judged together where the set limits stages.
    """
    from finishmatch.readings.product_sheet import read_product

    if rules_name is None:
        if products or voc is not None:
            raise InputError("--rules", "no rule set is named", "see those known with: finishmatch plan law")
        if job is not None:
            raise InputError("--job", "there is nothing to record without a rule set", "name it: --rules NAME")
        return tell(_known(Shown(units)), units, None, as_json)
    sheets = [read_product(Path(path)) for path in products]
    if (kind is None) != (voc is None) or (kind is None) == (not sheets):
        raise InputError("plan law", "a coating is needed", "name data sheets, or give --kind and --voc")
    if kind is not None and voc is not None:
        sheets = [_typed(kind, voc, carrier, effect)]
    rules, files = rules_called(rules_name)
    checked_job(job)
    return tell(law_told(sheets, rules, files, Shown(units)), units, job, as_json)


def _typed(kind: str, voc: str, carrier: str, effect: str) -> Product:
    from finishmatch.readings.product_sheet import CARRIERS, EFFECTS, KINDS, Product
    from finishmatch.readings.quantities import CONTENT, quantity

    for where, value, known in (
        ("--kind", kind, KINDS),
        ("--carrier", carrier, CARRIERS),
        ("--effect", effect, EFFECTS),
    ):
        if value not in known:
            raise InputError(where, f"{value[:40]!r} is not known", "use one of " + ", ".join(known))
    content = quantity("--voc", voc, CONTENT, least=0)
    return Product(name=f"typed {kind}", kind=kind, carrier=carrier, effect=effect, two_pack=True, voc_g_l=content)


def _known(shown: Shown) -> Told:
    """Return the rule sets there are, the shop's own before those of the same name that come with the tool."""
    from finishmatch.dossier.page import Table
    from finishmatch.dossier.plan_page import Part
    from finishmatch.finish.law import rule_named
    from finishmatch.finish.practice import common_rules
    from finishmatch.readings.rules_file import read_rules

    sets = {**common_rules(), **{name: read_rules(path) for name, path in shop_rules().items()}}
    limits = [
        Table(
            f"{name}: {rule_named(rules)}",
            ("kind", "limit"),
            tuple(
                (kind, shown.content(limit))
                for kind, limit in [
                    *rules.limits_g_l.items(),
                    *((f"basecoat and clear, {count} stages", limit) for count, limit in rules.stages_g_l.items()),
                ]
            ),
        )
        for name, rules in sets.items()
    ]
    part = Part(
        "Rule sets",
        f"{len(sets)} rule sets are known; put your own in shop/rules beside the ledger, or name a file",
        tables=tuple(limits),
    )
    return Told("law", part, {"sets": [_set_document(rules) for rules in sets.values()]}, {})


def _set_document(rules: RuleSet) -> dict[str, Any]:
    return {
        "name": rules.name,
        "title": rules.title,
        "source": rules.source,
        "date": rules.date,
        "checked": rules.checked,
        "less_exempt": rules.less_exempt,
        "limits_g_l": dict(rules.limits_g_l),
        "stages_g_l": dict(rules.stages_g_l),
        "exemptions": list(rules.exemptions),
    }


def law_told(products: Sequence[Product], rules: RuleSet, files: Sequence[Path], shown: Shown) -> Told:
    """Return what a rule set says of products."""
    from finishmatch.dossier.page import Table
    from finishmatch.dossier.plan_page import Part
    from finishmatch.finish.law import CHECK, judge, rule_named, ways_open

    rulings = judge(products, rules)
    barred = [ruling for ruling in rulings if not ruling.allowed]
    notes = [f"{ruling.what}: {why}" for ruling in barred for why in ruling.why]
    notes += [f"still open under this rule: {way}" for way in ways_open(rulings, rules)]
    notes += [f"exemptions: {exemption}" for exemption in rules.exemptions]
    notes.append(CHECK)
    verdict = "may not be sprayed" if barred else "may be sprayed"
    which = " and ".join(ruling.what for ruling in (barred or rulings))
    part = Part(
        heading="Law",
        answer=f"{which} {verdict} under the rule set {rules.name}",
        lines=(("rule", rule_named(rules)),),
        tables=(
            Table(
                "VOC as applied, less water" + (" and exempt compounds" if rules.less_exempt else ""),
                ("paint", "judged as", "VOC", "limit", ""),
                tuple(
                    (r.what, r.kind, shown.content(r.voc_g_l), shown.content(r.limit_g_l), "yes" if r.allowed else "no")
                    for r in rulings
                ),
            ),
        ),
        notes=tuple(notes),
    )
    document = {
        "rules": _set_document(rules),
        "rulings": [
            {
                "what": r.what,
                "kind": r.kind,
                "voc_g_l": r.voc_g_l,
                "limit_g_l": r.limit_g_l,
                "allowed": r.allowed,
                "rule": r.rule,
                "why": list(r.why),
            }
            for r in rulings
        ],
        "allowed": not barred,
        "warnings": notes,
    }
    return Told(
        "law",
        part,
        document,
        {f"{r.what} voc_g_l": r.voc_g_l for r in rulings},
        yes=not barred,
        cautions=paint_cautions(products),
        sources=(*(one.source for one in products if one.source is not None), *files),
    )
