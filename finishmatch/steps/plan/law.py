"""Whether paints may be sold or applied there, by a rule set: solvent limits, and toxic metals."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any, ClassVar

from finishmatch.errors import InputError
from finishmatch.finish.law import CHECK, MAY, Ruling, judge, limits_used, ways_open
from finishmatch.finish.metals import MetalRuling, metal_rulings
from finishmatch.readings import read_bank
from finishmatch.readings.product_sheet import CARRIERS, EFFECTS, KINDS, Product, read_product
from finishmatch.readings.rules_file import RuleSet
from finishmatch.steps.matching import PartsLike, parts_of
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
        what carries it, and its effect,
    speckle : bool
        whether a multi-coloured coating is speckle paint, and
    holds : tuple of str
        what harms in it, such as "lead chromate"; "none" where the data sheet was looked at.
    bank, batch : Path, and Path or parts, or None
        What the colour coat is mixed from: its tints are looked at for toxic metals.
    """

    rules: str
    products: tuple[Product | Path, ...] = ()
    kind: str | None = None
    voc_g_l: float | None = None
    carrier: str = "solvent"
    effect: str = "solid"
    speckle: bool = False
    holds: tuple[str, ...] = ()
    bank: Path | None = None
    batch: PartsLike | None = None


@dataclass(frozen=True, kw_only=True)
class PlannedLaw(Planned):
    """What a rule set says of the paints, one ruling for each, or for a basecoat with its clear."""

    about: ClassVar[str] = "law"
    rules: RuleSet
    rulings: tuple[Ruling, ...]
    metals: tuple[MetalRuling, ...] = ()

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
            "metals": [
                {
                    "what": list(m.what),
                    "metals": list(m.metals),
                    "banned": m.banned,
                    "says": m.says,
                    "source": m.source,
                }
                for m in self.metals
            ],
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
    tints, poured = _tints(request)
    check_job(job)
    rulings = judge(products, rules)
    metals = metal_rulings([*((one.name, one.holds or ()) for one in products), *tints], rules.metals)
    barred = [ruling for ruling in rulings if not ruling.allowed]
    no = bool(barred) or any(ruling.banned for ruling in metals)
    notes = [f"{ruling.what}: {why}" for ruling in barred for why in ruling.why]
    notes += [ruling.in_words for ruling in metals]
    notes += _unknown_metals(products, tints, rules)
    notes += [f"still open under this rule: {way}" for way in ways_open(rulings, rules)]
    notes += _about_the_limits(products, rules)
    notes += [f"exemptions: {exemption}" for exemption in rules.exemptions]
    which = " and ".join(ruling.what for ruling in (barred or rulings))
    found = PlannedLaw(
        answer=f"{which} {'may not' if no else 'may'} {MAY[rules.binds]} under the rule set {rules.name}",
        notes=(*notes, CHECK),
        yes=not no,
        cautions=paint_cautions(products, [word for _, words in tints for word in words]),
        sources=(*(one.source for one in products if one.source is not None), *files, *poured),
        rules=rules,
        rulings=rulings,
        metals=metals,
    )
    return recorded(job, found)


def _tints(request: LawRequest) -> tuple[list[tuple[str, tuple[str, ...]]], tuple[Path, ...]]:
    """Return the tints that the colour coat is mixed from, with what harms in each, and the files of it."""
    if (request.bank is None) != (request.batch is None):
        raise InputError("plan law", "a recipe needs its bank and its batch", "give both `bank` and `batch`")
    if request.bank is None or request.batch is None:
        return [], ()
    bank = read_bank(request.bank)
    parts, poured = parts_of(request.batch, [tint.name for tint in bank.tints])
    return [(name, bank.tint(name).hazards) for name in dict.fromkeys(name for name, _ in parts)], poured


def _unknown_metals(products: list[Product], tints: object, rules: RuleSet) -> list[str]:
    """Return that nothing is known of the metals in a paint, where the rule set says something of them."""
    silent = [one.name for one in products if one.holds is None]
    if not rules.metals or tints or not silent:
        return []
    metals = dict.fromkeys(metal for rule in rules.metals for metal in rule.any_of or rule.all_of)
    return [
        f"whether {' and '.join(silent)} {'holds' if len(silent) == 1 else 'hold'} {', '.join(metals)} isn't known: "
        "look at the data sheet, or name the bank and the batch that it is mixed from"
    ]


def _about_the_limits(products: list[Product], rules: RuleSet) -> list[str]:
    """Return what the rule calls the kinds, whom it binds, how old the limits are and what is being changed."""
    used = [kind for kind in limits_used(products, rules) if kind in rules.limits_g_l]
    notes = [f"{rules.name} binds {rules.who}"] if rules.who else []
    notes += [f"the rule's own word for {kind}: {rules.words[kind]}" for kind in used if kind in rules.words]
    dated = [f"{kind}, of {rules.dates[kind]}" for kind in used if rules.dates.get(kind, rules.date) != rules.date]
    notes += [f"limits of another date than the set: {'; '.join(dated)}"] if dated else []
    if rules.last_seen_to < (date.today() - timedelta(days=366)).isoformat():
        notes.append(
            f"this set is of {rules.last_seen_to}, more than a year ago: ask what was amended since, and put the day "
            "you asked into your own set as confirmed = …"
        )
    return [*notes, *(f"in motion: {change}" for change in rules.motion)]


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
        "binds": rules.binds,
        "who": rules.who,
        "confirmed": rules.confirmed or None,
        "limit_dates": dict(rules.dates),
        "words": dict(rules.words),
        "motion": list(rules.motion),
        "metals": [
            {
                "any_of": list(metal.any_of),
                "all_of": list(metal.all_of),
                "banned": metal.banned,
                "says": metal.says,
                "source": metal.source,
            }
            for metal in rules.metals
        ],
    }


def _products(request: LawRequest) -> list[Product]:
    """Return the paints: their sheets, or the one coating given."""
    kind, voc_g_l = request.kind, request.voc_g_l
    if (kind is None) != (voc_g_l is None) or (kind is None) == (not request.products):
        raise InputError("plan law", "a coating is needed", "name data sheets, or give `kind` and `voc_g_l`")
    if kind is None and (request.holds or request.speckle):
        name = "holds" if request.holds else "speckle"
        raise InputError(f"`{name}`", "is for a coating that is typed", f"write {name} = … on the data sheet itself")
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
            speckle=request.speckle,
            holds=request.holds or None,
        )
    ]
