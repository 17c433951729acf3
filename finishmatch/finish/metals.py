"""What the law says of paints that hold toxic metals: bans, and duties of who sprays them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from finishmatch.cautions import metals_named
from finishmatch.finish.spraying_figures import common_rules
from finishmatch.readings.rules_file import MetalRule


@dataclass(frozen=True)
class MetalRuling:
    """What a rule says of some paints or tints.

    Parameters
    ----------
    what : tuple of str
        The paints or tints it bears on.
    metals : tuple of str
        Those of the rule that they hold.
    banned : bool
    says, source : str
        In one sentence, and where it stands.
    """

    what: tuple[str, ...]
    metals: tuple[str, ...]
    banned: bool
    says: str
    source: str

    @property
    def in_words(self) -> str:
        """All of it in one line."""
        names, metals = ", ".join(self.what), ", ".join(self.metals)
        holds = "holds" if len(self.what) == 1 else "hold"
        return f"{names} {holds} {metals}: {self.says} ({self.source})"


def metal_rulings(holders: Iterable[tuple[str, Sequence[str]]], rules: Sequence[MetalRule]) -> tuple[MetalRuling, ...]:
    """Return which rules bear on some paints or tints.

    Parameters
    ----------
    holders : iterable of (name, words)
        What each holds that harms, such as "lead chromate".
    rules : sequence of MetalRule
        One that asks for several metals bears where one paint or tint holds them all.
    """
    held = [(name, metals_named(words)) for name, words in holders]
    found = []
    for rule in rules:
        asked = rule.any_of or rule.all_of
        whole = bool(rule.all_of)
        bears = [
            (name, mine)
            for name, metals in held
            if (mine := tuple(metal for metal in asked if metal in metals)) and (not whole or len(mine) == len(asked))
        ]
        if bears:
            metals = tuple(dict.fromkeys(metal for _, mine in bears for metal in mine))
            names = tuple(dict.fromkeys(name for name, _ in bears))
            found.append(MetalRuling(names, metals, rule.banned, rule.says, rule.source))
    return tuple(found)


def common_metal_rules() -> tuple[MetalRule, ...]:
    """Return what all rule sets that come with the tool say of metals, each once, bans first."""
    every = dict.fromkeys(rule for rules in common_rules().values() for rule in rules.metals)
    return tuple(sorted(every, key=lambda rule: not rule.banned))
