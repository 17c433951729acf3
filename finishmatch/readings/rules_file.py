"""A rule set: limits of organic solvent by kind of coating, what is demanded besides, with source and date."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from finishmatch.cautions import metals_named
from finishmatch.errors import InputError
from finishmatch.readings.product_sheet import CARRIERS, EFFECTS, KINDS
from finishmatch.readings.quantities import CONTENT
from finishmatch.readings.table_file import read_text
from finishmatch.readings.toml_file import Node
from finishmatch.toml_reader import parse_toml

LESS = ("water", "exempt")
BINDS = ("sale", "use")  # who makes, imports or sells a paint; who applies it
STAGES = ("two", "three")  # a basecoat with its clear; with one mid-coat or more


@dataclass(frozen=True)
class Demand:
    """That a kind of coating be of a carrier; `effect` is "" for all, else the effects it is asked of."""

    kind: str
    carrier: str
    effects: tuple[str, ...]
    why: str


@dataclass(frozen=True)
class JudgedAs:
    """That a kind of coating with some effects is judged as another kind."""

    kind: str
    effects: tuple[str, ...]
    other: str


@dataclass(frozen=True)
class MetalRule:
    """What is said of paints that hold a toxic metal.

    Parameters
    ----------
    any_of, all_of : tuple of str
        Metals, one of which or all of which a paint or a tint must hold; one of the two tuples is empty.
    says, source : str
        In one sentence without the metal's name, and where it stands.
    banned : bool
        False when it only asks something of who sprays.
    """

    any_of: tuple[str, ...]
    all_of: tuple[str, ...]
    says: str
    source: str
    banned: bool


@dataclass(frozen=True)
class RuleSet:
    """What a rule allows.

    Parameters
    ----------
    name : str
        Short, as it is asked for.
    title, source, date, checked : str
        What it is, where it stands, its date, and how the figures were come by.
    limits_g_l : mapping of str to float
        By kind of coating; "other" is for what isn't listed.
    stages_g_l : mapping of str to float
        By "two" and "three": of a basecoat with its clear, averaged as the rule has it.
    demands : tuple of Demand
    exemptions : tuple of str
    less_exempt : bool
        Whether exempt compounds are taken out of the VOC, as water always is.
    binds, who : str
        "sale" or "use", and in words who is bound.
    confirmed : str
        The day on which the authority was last asked; "" for never.
    dates : mapping of str to str
        The date of each limit, by kind.
    words : mapping of str to str
        What the rule itself calls a kind.
    judged : tuple of JudgedAs
    motion : tuple of str
        What is being changed.
    metals : tuple of MetalRule
    """

    name: str
    title: str
    source: str
    date: str
    checked: str
    limits_g_l: Mapping[str, float]
    stages_g_l: Mapping[str, float]
    demands: tuple[Demand, ...] = ()
    exemptions: tuple[str, ...] = ()
    less_exempt: bool = True
    binds: str = "use"
    who: str = ""
    confirmed: str = ""
    dates: Mapping[str, str] = field(default_factory=dict)
    words: Mapping[str, str] = field(default_factory=dict)
    judged: tuple[JudgedAs, ...] = ()
    motion: tuple[str, ...] = ()
    metals: tuple[MetalRule, ...] = ()

    @property
    def last_seen_to(self) -> str:
        """The day it was last confirmed, or else its date."""
        return max(self.confirmed, self.date)


def read_rules(path: Path) -> RuleSet:
    """Read a rule set (TOML), or raise `InputError`; it is called by the file's name."""
    path = Path(path)
    return parse_rules(read_text(path), str(path), path.stem)


def parse_rules(text: str, file: str, name: str) -> RuleSet:
    """Return the rule set of a TOML text.

    Parameters
    ----------
    text, file : str
        What it holds, and what it is called in messages.
    name : str
        What it is asked for by.

    Raises
    ------
    InputError
        Names the key that is missing or wrong.
    """
    rules = Node(parse_toml(text, file), file)
    rules.only(
        *("title", "source", "date", "checked", "confirmed", "binds", "who", "less", "limits", "stages", "words"),
        *("judged", "demand", "metal", "exemptions", "motion", "provenance"),
    )
    day = _day(rules, "date")
    limits = rules.table("limits")
    limits.only(*KINDS)
    stages = rules.table("stages")
    stages.only(*STAGES)
    if not limits.data and not stages.data:
        raise InputError(file, "there is no limit in it", 'add [limits] with lines such as clear = "250 g/l"')
    if stages.data and len(stages.data) < len(STAGES):
        raise InputError(stages.where(), "a limit is missing", "write both: two and three")
    return RuleSet(
        name=name,
        title=rules.text("title"),
        source=rules.text("source"),
        date=day,
        checked=rules.text("checked", ""),
        limits_g_l={kind: _limit(*_dated(limits, kind)) for kind in limits.data},
        stages_g_l={count: _limit(stages, count) for count in stages.data},
        demands=tuple(_demand(node) for node in rules.tables("demand")),
        exemptions=rules.texts("exemptions"),
        less_exempt="exempt" in _less(rules),
        binds=rules.one_of("binds", BINDS, "use"),
        who=rules.text("who", ""),
        confirmed=_day(rules, "confirmed") if "confirmed" in rules else "",
        dates={kind: _date_of(limits, kind, day) for kind in limits.data},
        words=_words(rules.table("words")),
        judged=tuple(_judged(node) for node in rules.tables("judged")),
        motion=rules.texts("motion"),
        metals=tuple(_metal(node) for node in rules.tables("metal")),
    )


def _day(node: Node, key: str) -> str:
    """Return a day as YYYY-MM-DD, written as a date or as a text."""
    value: Any = node.value(key)
    try:
        return date.fromisoformat(value).isoformat() if isinstance(value, str) else date.isoformat(value)
    except (TypeError, ValueError):
        raise InputError(node.where(key), f"{str(value)[:40]!r} is not a date", f"write {key} = 2024-01-31") from None


def _dated(limits: Node, kind: str) -> tuple[Node, str]:
    """Return where the limit itself stands: limits may be written with a date, as { limit = "…", date = … }."""
    if not isinstance(limits.data[kind], dict):
        return limits, kind
    dated = Node(limits.data[kind], limits.file, f"{limits.place}.{kind}")
    dated.only("limit", "date")
    dated.value("limit")
    return dated, "limit"


def _date_of(limits: Node, kind: str, usual: str) -> str:
    node, _ = _dated(limits, kind)
    return _day(node, "date") if node is not limits and "date" in node else usual


def _words(node: Node) -> dict[str, str]:
    node.only(*KINDS)
    return {kind: node.text(kind) for kind in node.data}


def _judged(node: Node) -> JudgedAs:
    node.only("kind", "effects", "as")
    return JudgedAs(node.one_of("kind", KINDS), _effects(node), node.one_of("as", KINDS))


def _metal(node: Node) -> MetalRule:
    node.only("any_of", "all_of", "banned", "says", "source")
    if ("any_of" in node) == ("all_of" in node):
        raise InputError(node.where(), "needs any_of or all_of, one of them", 'write any_of = ["lead"]')
    metals = {}
    for key in ("any_of", "all_of"):
        known = [metals_named([text]) for text in node.texts(key)]
        if not all(known):
            raise InputError(node.where(key), "names something that is no toxic metal", 'write such as ["lead"]')
        metals[key] = tuple(dict.fromkeys(name for names in known for name in names))
    return MetalRule(
        metals["any_of"], metals["all_of"], node.text("says"), node.text("source"), node.flag("banned", False)
    )


def _less(rules: Node) -> tuple[str, ...]:
    less = rules.texts("less") if "less" in rules else LESS
    if "water" not in less or set(less) - set(LESS):
        raise InputError(
            rules.where("less"), "is not what a VOC can be less of", 'write ["water", "exempt"] or ["water"]'
        )
    return less


def _limit(node: Node, key: str) -> float:
    value = node.data[key]
    if value == "" or value is None:
        raise InputError(node.where(key), "the limit is missing", f'write {key} = "420 g/l"')
    limit = node.quantity(key, CONTENT, above=0)
    assert limit is not None
    return limit


def _demand(node: Node) -> Demand:
    node.only("kind", "carrier", "effects", "why")
    return Demand(node.one_of("kind", KINDS), node.one_of("carrier", CARRIERS), _effects(node), node.text("why", ""))


def _effects(node: Node) -> tuple[str, ...]:
    """Return the effects named; all of them when none is."""
    effects = node.texts("effects") or EFFECTS
    for effect in effects:
        if effect not in EFFECTS:
            raise InputError(node.where("effects"), f"{effect[:40]!r} is not known", "use " + ", ".join(EFFECTS))
    return effects
