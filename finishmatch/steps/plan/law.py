"""Whether paints may be sprayed there, by a rule set of solvent limits."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, ClassVar

from finishmatch.errors import InputError
from finishmatch.finish.law import CHECK, Ruling, judge, ways_open
from finishmatch.readings.product_sheet import CARRIERS, EFFECTS, KINDS, Product, read_product
from finishmatch.readings.rules_file import RuleSet
from finishmatch.steps.plan.planned import Planned, paint_cautions, recorded
from finishmatch.steps.plan.shop_tables import rule_set, rule_sets_known
from finishmatch.steps.record import check_job


@dataclass(frozen=True)
class LawRequest:
    """The paints, and the rule set they are judged by.

    Parameters
    ----------
    rules : str
        The name of a rule set, or a file.
    products : tuple of Product or Path
        Data sheets, or where they are.
    kind : str or None
        In place of them, one coating: its kind, as data sheets name it,
    voc_g_l : float or None
        its VOC as applied, less water and exempt compounds,
    carrier, effect : str
        what carries it, and its effect.
    """

    rules: str
    products: tuple[Product | Path, ...] = ()
    kind: str | None = None
    voc_g_l: float | None = None
    carrier: str = "solvent"
    effect: str = "solid"


@dataclass(frozen=True, kw_only=True)
class PlannedLaw(Planned):
    """What a rule set says of the paints, one ruling for each, or for a basecoat with its clear."""

    about: ClassVar[str] = "law"
    rules: RuleSet
    rulings: tuple[Ruling, ...]

    @property
    def figures(self) -> dict[str, float]:
        """What the ledger keeps."""
        return {f"{ruling.what} voc_g_l": ruling.voc_g_l for ruling in self.rulings}

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object."""
        rulings = [
            {
                "what": r.what,
                "kind": r.kind,
                "voc_g_l": r.voc_g_l,
                "limit_g_l": r.limit_g_l,
                "allowed": r.allowed,
                "rule": r.rule,
                "why": list(r.why),
            }
            for r in self.rulings
        ]
        return {
            "rules": rules_as_dict(self.rules),
            "rulings": rulings,
            "allowed": self.yes,
            "warnings": list(self.notes),
        }


@dataclass(frozen=True)
class RuleSets:
    """The rule sets there are, by name."""

    sets: Mapping[str, RuleSet]

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object."""
        return {"sets": [rules_as_dict(rules) for rules in self.sets.values()]}


def known_rule_sets() -> RuleSets:
    """Return the rule sets there are, the shop's own in place of those of the same name that come with the tool."""
    return RuleSets(rule_sets_known())


def plan_law(request: LawRequest, *, job: str | None = None) -> PlannedLaw:
    """Return what a rule set says of paints; a basecoat and its clear are judged together where it limits stages.

    Parameters
    ----------
    request : LawRequest
    job : str or None
        Record it in this job of the ledger.

    Raises
    ------
    InputError
        No coating, or both sheets and one that is typed; an unknown rule set; a kind it has no limit for.
    """
    products = _products(request)
    rules, files = rule_set(request.rules)
    check_job(job)
    rulings = judge(products, rules)
    barred = [ruling for ruling in rulings if not ruling.allowed]
    notes = [f"{ruling.what}: {why}" for ruling in barred for why in ruling.why]
    notes += [f"still open under this rule: {way}" for way in ways_open(rulings, rules)]
    notes += [f"exemptions: {exemption}" for exemption in rules.exemptions]
    which = " and ".join(ruling.what for ruling in (barred or rulings))
    found = PlannedLaw(
        answer=f"{which} {'may not' if barred else 'may'} be sprayed under the rule set {rules.name}",
        notes=(*notes, CHECK),
        yes=not barred,
        cautions=paint_cautions(products),
        sources=(*(one.source for one in products if one.source is not None), *files),
        rules=rules,
        rulings=rulings,
    )
    return recorded(job, found)


def rules_as_dict(rules: RuleSet) -> dict[str, Any]:
    """Return a rule set as the JSON object has it."""
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


def _products(request: LawRequest) -> list[Product]:
    """Return the paints: their sheets, or the one coating given."""
    kind, voc_g_l = request.kind, request.voc_g_l
    if (kind is None) != (voc_g_l is None) or (kind is None) == (not request.products):
        raise InputError("plan law", "a coating is needed", "name data sheets, or give `kind` and `voc_g_l`")
    if kind is None:
        return [read_product(one) if isinstance(one, Path) else one for one in request.products]
    known = (("kind", kind, KINDS), ("carrier", request.carrier, CARRIERS), ("effect", request.effect, EFFECTS))
    for name, value, values in known:
        if value not in values:
            raise InputError(f"`{name}`", f"{value[:40]!r} is not known", "use one of " + ", ".join(values))
    return [
        Product(
            name=f"typed {kind}",
            kind=kind,
            carrier=request.carrier,
            effect=request.effect,
            two_pack=True,
            voc_g_l=voc_g_l,
        )
    ]
