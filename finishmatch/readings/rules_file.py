"""A rule set: limits of organic solvent by kind of coating, what is demanded besides, with source and date."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from finishmatch.errors import InputError
from finishmatch.readings.product_sheet import CARRIERS, EFFECTS, KINDS
from finishmatch.readings.quantities import CONTENT
from finishmatch.readings.table_file import read_text
from finishmatch.readings.toml_file import Node
from finishmatch.toml_reader import parse_toml

LESS = ("water", "exempt")
STAGES = ("two", "three")  # a basecoat with its clear; with one mid-coat or more


@dataclass(frozen=True)
class Demand:
    """That a kind of coating be of a carrier; `effect` is "" for all, else the effects it is asked of."""

    kind: str
    carrier: str
    effects: tuple[str, ...]
    why: str


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
        By kind of coating.
    stages_g_l : mapping of str to float
        By "two" and "three": of a basecoat with its clear, averaged as the rule has it.
    demands : tuple of Demand
    exemptions : tuple of str
    less_exempt : bool
        Whether exempt compounds are taken out of the VOC, as water always is.
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
    rules.only("title", "source", "date", "checked", "less", "limits", "stages", "demand", "exemptions")
    date = rules.value("date")
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
        date=str(date),
        checked=rules.text("checked", ""),
        limits_g_l={kind: _limit(limits, kind) for kind in limits.data},
        stages_g_l={count: _limit(stages, count) for count in stages.data},
        demands=tuple(_demand(node) for node in rules.tables("demand")),
        exemptions=rules.texts("exemptions"),
        less_exempt="exempt" in _less(rules),
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
    effects = node.texts("effects") or EFFECTS
    for effect in effects:
        if effect not in EFFECTS:
            raise InputError(node.where("effects"), f"{effect[:40]!r} is not known", "use " + ", ".join(EFFECTS))
    return Demand(node.one_of("kind", KINDS), node.one_of("carrier", CARRIERS), effects, node.text("why", ""))
