"""Whether a paint may be sold or applied there: organic solvent as applied, against a rule set."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from finishmatch.errors import InputError
from finishmatch.finish.quantity import volume_parts
from finishmatch.readings.product_sheet import SPECKLE, Component, Product
from finishmatch.readings.rules_file import RuleSet

WATER_KG_L = 0.998  # at 20 °C
NO_COATING = ("preparatory", "precleaner")  # they don't fall under "other", which is of coatings
# what a rule set's answer is about, by whom it binds
MAY = {"sale": "be sold as such", "use": "be applied"}
CHECK = "check with your district before you spray: this is a starting point, not the law"


@dataclass(frozen=True)
class Ruling:
    """What a rule set says of a paint, or of a basecoat with its clear.

    Parameters
    ----------
    what, kind : str
        The paint or paints, and as what they were judged.
    voc_g_l, limit_g_l : float
        As applied, less water and exempt compounds.
    allowed : bool
    rule : str
        Names the rule, with its date.
    why : tuple of str
        What is in the way; empty when nothing is.
    """

    what: str
    kind: str
    voc_g_l: float
    limit_g_l: float
    allowed: bool
    rule: str
    why: tuple[str, ...]


def voc_less_water(
    volatiles_g: float, water_g: float, exempt_g: float, volume_l: float, water_l: float, exempt_l: float
) -> float:
    """Return the VOC content of a coating as applied, less water and exempt compounds, g/L.

    Parameters
    ----------
    volatiles_g, water_g, exempt_g : float
        Weight of all that evaporates, of the water and of the exempt compounds in it.
    volume_l, water_l, exempt_l : float
        Of the coating, the water and the exempt compounds.

    Raises
    ------
    InputError
        When nothing is left of the volume or the weight.

    References
    ----------
    40 CFR 59.104: (Wv - Ww - Wec) / (V - Vw - Vec).
    """
    weight, volume = volatiles_g - water_g - exempt_g, volume_l - water_l - exempt_l
    if not volume > 1e-9:
        raise InputError("VOC", "water and exempt compounds fill the whole volume", "check the figures")
    if weight < -1e-9:
        raise InputError("VOC", "water and exempt compounds weigh more than all that evaporates", "check the figures")
    return max(weight, 0.0) / volume


def voc_multi_stage(base_g_l: float, mid_coats_g_l: Sequence[float], clear_g_l: float) -> float:
    """Return the VOC content of a basecoat, its mid-coats and its clear together, g/L.

    References
    ----------
    40 CFR 59.104: (base + Σ mid + 2 × clear) / (mid coats + 3).
    """
    return (base_g_l + sum(mid_coats_g_l) + 2 * clear_g_l) / (len(mid_coats_g_l) + 3)


def voc_as_applied(product: Product, less_exempt: bool = True) -> float:
    """Return the VOC of a product ready to spray, less water and exempt compounds: the sheet's, or from its components.

    Parameters
    ----------
    product : Product
    less_exempt : bool
        False counts exempt compounds as solvent; the sheet's own figure is taken as it stands.

    Raises
    ------
    InputError
        When neither is known.
    """
    if product.voc_g_l is not None:
        return product.voc_g_l
    return voc_of_mixture(product.components, product.mix_by, product.name, less_exempt)


def voc_of_mixture(components: Sequence[Component], mix_by: str, name: str, less_exempt: bool = True) -> float:
    """Return the VOC of a mixed paint, g/L less water and exempt compounds, from that of its components."""
    silent = [one.name for one in components if one.voc_g_l is None]
    if not components or silent:
        unknown = f"the VOC of its component {silent[0]} isn't known" if silent else "its VOC isn't known"
        raise InputError(name, unknown, 'add voc = "420 g/l" as applied, or to each component')
    volatiles = water = exempt = water_l = exempt_l = 0.0
    for one, part in zip(components, volume_parts(components, mix_by), strict=True):
        water += part * one.water_g_l
        water_l += part * one.water_g_l / 1000 / WATER_KG_L
        exempt += part * one.exempt_g_l
        exempt_l += part * one.exempt_g_l / 1000 / (one.exempt_density_kg_l or 1.0)
        volatiles += part * ((one.voc_g_l or 0.0) + one.water_g_l + one.exempt_g_l)
    if not less_exempt:
        exempt = exempt_l = 0.0
    return voc_less_water(volatiles, water, exempt, 1.0, water_l, exempt_l)


def judge(products: Sequence[Product], rules: RuleSet) -> tuple[Ruling, ...]:
    """Return what a rule set says of the paints of a job.

    Parameters
    ----------
    products : sequence of Product
        Where the set limits stages, a basecoat is judged together with its mid-coats and clear.
    rules : RuleSet

    Raises
    ------
    InputError
        A kind the set has no limit for; a basecoat without its clear where stages are limited; a multi-coloured paint
        that isn't said to be speckle.
    """
    for product in products:
        _ask_for_speckle(product)
    staged = [one for one in products if one.kind in ("basecoat", "mid-coat", "clear")] if rules.stages_g_l else []
    rulings = []
    if staged:
        rulings.append(_judge_stages(staged, rules))
    for product in products:
        if not any(product is one for one in staged):
            rulings.append(_judge_one(product, rules))
    return tuple(rulings)


def rule_named(rules: RuleSet) -> str:
    """Return a rule with its source and date."""
    checked = f"; {rules.checked}" if rules.checked else ""
    return f"{rules.title} ({rules.source}, {rules.date}{checked})"


def ways_open(rulings: Sequence[Ruling], rules: RuleSet) -> tuple[str, ...]:
    """Return the coats by which a colour may still be put on when the colour coats judged may not be sprayed."""
    barred = {ruling.kind for ruling in rulings if not ruling.allowed}
    if not barred - {"wash primer", "primer", "sealer", "clear"}:
        return ()
    demanded = {demand.kind: demand.carrier for demand in rules.demands}
    ways = [
        f"a {borne_by(demanded.get(kind))}{kind} up to {rules.limits_g_l[kind]:.0f} g/L"
        for kind in ("single-stage", "basecoat")
        if kind in rules.limits_g_l and kind not in barred
    ]
    if rules.stages_g_l and not {"two-stage topcoat", "basecoat"} & barred:
        ways.append(f"a basecoat and clear up to {rules.stages_g_l['two']:.0f} g/L together")
    return tuple(ways)


def borne_by(carrier: str | None) -> str:
    """Return "water-borne ", or "" where no carrier is demanded."""
    return "" if carrier is None else f"{carrier}-borne "


def limits_used(products: Sequence[Product], rules: RuleSet) -> tuple[str, ...]:
    """Return under which kinds of the rule set paints are judged one by one, each once."""
    return tuple(dict.fromkeys(_kind_under(product, rules) for product in products))


def _ask_for_speckle(product: Product) -> None:
    if product.kind == SPECKLE and not product.speckle:
        raise InputError(
            product.name,
            "multi-coloured is speckle paint: several colours from one container in one pass",
            "a two-tone is a single-stage or a basecoat for each colour; if it is speckle paint, give `speckle`",
        )


def _kind_under(product: Product, rules: RuleSet) -> str:
    """Return the kind a product is judged as: another by the set's own words, "other" where the set has that."""
    kind = product.kind
    for judged in rules.judged:
        if judged.kind == kind and product.effect in judged.effects:
            kind = judged.other
    if kind not in rules.limits_g_l and "other" in rules.limits_g_l and kind not in NO_COATING:
        return "other"
    return kind


def _judge_one(product: Product, rules: RuleSet) -> Ruling:
    kind = _kind_under(product, rules)
    if kind not in rules.limits_g_l:
        raise InputError(
            f"rule set {rules.name}",
            f"has no limit for a {kind} ({product.name})",
            f'add "{kind}" = "… g/l" to [limits] of your own set, after asking your district',
        )
    voc, limit = voc_as_applied(product, rules.less_exempt), rules.limits_g_l[kind]
    judged_as = kind if kind == product.kind else f"{product.kind}: {kind}"
    return _ruling([product], judged_as, voc, limit, rules)


def _judge_stages(products: Sequence[Product], rules: RuleSet) -> Ruling:
    of = {kind: [one for one in products if one.kind == kind] for kind in ("basecoat", "mid-coat", "clear")}
    for kind in ("basecoat", "clear"):
        if len(of[kind]) != 1:
            found = "none is given" if not of[kind] else f"{len(of[kind])} are given"
            raise InputError(
                f"rule set {rules.name}",
                f"judges a basecoat together with its clear, and of a {kind} {found}",
                "give one basecoat and one clear",
            )
    base, *mid_coats, clear = (
        voc_as_applied(one, rules.less_exempt) for kind in ("basecoat", "mid-coat", "clear") for one in of[kind]
    )
    voc = voc_multi_stage(base, mid_coats, clear)
    stage = "three" if of["mid-coat"] else "two"
    kind = "two-stage topcoat" if stage == "two" else "topcoat of three or more stages"
    return _ruling(products, kind, voc, rules.stages_g_l[stage], rules)


def _ruling(products: Sequence[Product], kind: str, voc: float, limit: float, rules: RuleSet) -> Ruling:
    why = []
    if voc > limit + 1e-9:
        why.append(f"{voc:.0f} g/L is over the limit of {limit:.0f} g/L")
    for demand in rules.demands:
        for product in products:
            asked = product.kind == demand.kind and product.effect in demand.effects
            if asked and product.carrier != demand.carrier:
                reason = f": {demand.why}" if demand.why else ""
                why.append(f"a {product.effect} {product.kind} must be {borne_by(demand.carrier)}here{reason}")
    name = " + ".join(product.name for product in products)
    return Ruling(name, kind, voc, limit, not why, rule_named(rules), tuple(why))
