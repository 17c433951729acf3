"""The kinds of evidence and what is known of each: kinds.toml, and a file of the shop's own laid over it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from functools import cache
from typing import Any

from finishmatch.errors import InputError
from finishmatch.near_names import near_names, plain_key
from finishmatch.toml_reader import packaged_toml, parse_toml

CASES = ("yes", "no", "before", "after", "below", "above", "unsaid")
BASE_L = 50.0  # of an effect with figures for white: up to this lightness its own hold, from there they go to white's
NO_KIND = "not told"  # the name that a sample without a kind has in kinds.toml


@dataclass(frozen=True)
class Effect:
    """What time and handling did: [shift, sd] of L*, of chroma as a share, and of b*, read against as it was.

    `b_white` is what b* is of a white, where that differs; `replaces` names effects that this one stands for.
    """

    name: str
    what: str
    L: tuple[float, float] = (0.0, 0.0)
    chroma: tuple[float, float] = (0.0, 0.0)
    b: tuple[float, float] = (0.0, 0.0)
    ageing: bool = False
    b_white: tuple[float, float] | None = None
    replaces: tuple[str, ...] = ()

    def b_at(self, lightness: float) -> tuple[float, float]:
        """Return [shift, sd] of b* at a lightness L*: between `BASE_L` and a white's 100 in proportion."""
        if self.b_white is None:
            return self.b
        part = min(max((lightness - BASE_L) / (100 - BASE_L), 0.0), 1.0)
        shift, sd = (own + part * (white - own) for own, white in zip(self.b, self.b_white, strict=True))
        return shift, sd


@dataclass(frozen=True)
class Condition:
    """A column that a kind asks for, and the effect that each answer adds; `words` are the answers besides `CASES`.

    `only_of`: it is asked only of a sample that has one of these effects already; of any where it is empty.
    """

    column: str
    effects: Mapping[str, str]
    limit: float | None = None
    words: tuple[str, ...] = ()
    only_of: tuple[str, ...] = ()


@dataclass(frozen=True)
class EvidenceKind:
    """A kind of evidence; spreads are standard deviations in ΔE00 along each of lightness, chroma and hue.

    `other_vehicle`: where the file names no vehicle, each sample of it is a vehicle of its own.
    """

    name: str
    also: tuple[str, ...]
    what: str
    spread: float
    vehicle_spread: float = 0.0
    other_vehicle: bool = False
    effects: tuple[str, ...] = ()
    conditions: tuple[Condition, ...] = ()


@dataclass(frozen=True)
class Settings:
    """What the weighing rests on besides the kinds; the meanings stand in kinds.toml."""

    reading_sd: float
    reading_weight: float
    beyond_kinds: float
    another_colour: float
    chance_of_stranger: float
    sure_of_stranger: float
    ageing_sd: float
    ageing_scatter: float
    card_readings: float
    same_camera: float


@dataclass(frozen=True)
class Use:
    """What is painted, and the largest ΔE00 the eye accepts there."""

    name: str
    what: str
    largest: float


@dataclass(frozen=True)
class EvidenceCatalogue:
    """All of it: kinds, effects, settings and uses, and where what isn't «common practice» came from."""

    kinds: tuple[EvidenceKind, ...]
    effects: Mapping[str, Effect]
    settings: Settings
    uses: Mapping[str, Use]
    shop_file: str = ""
    shops_own: frozenset[str] = field(default_factory=frozenset)

    @property
    def columns(self) -> tuple[str, ...]:
        """The condition columns that some kind asks for."""
        asked = (condition.column for kind in self.kinds for condition in kind.conditions)
        return tuple(dict.fromkeys(asked))

    def find_kind(self, text: str, where: str) -> EvidenceKind:
        """Return the kind of a name or synonym, whatever its case, blanks or hyphens, or raise `InputError`."""
        known = {plain_key(name): kind for kind in self.kinds for name in (kind.name, *kind.also)}
        key = plain_key(text) or plain_key(NO_KIND)
        if key in known:
            return known[key]
        near = near_names(key, known)
        names = ", ".join(kind.name for kind in self.kinds)
        mend = f"did you mean {known[near[0]].name!r}? The kinds: {names}" if near else f"use one of: {names}"
        raise InputError(where, f"no kind of evidence is called {text.strip()[:40]!r}", mend)

    def use(self, name: str) -> Use:
        """Return a use by its name, or raise `InputError`."""
        if name not in self.uses:
            raise InputError("`use`", f"{name[:40]!r} is not known", "use one of: " + ", ".join(self.uses))
        return self.uses[name]


@cache
def common_catalogue() -> EvidenceCatalogue:
    """Return the kinds the tool comes with («common practice»)."""
    return _catalogue(packaged_toml("evidence", "kinds.toml"), "kinds.toml")


def shop_catalogue(text: str, where: str) -> EvidenceCatalogue:
    """Return the kinds with a shop's own figures laid over what the tool comes with.

    Parameters
    ----------
    text : str
        TOML in the form of kinds.toml; what it doesn't name stays as it is.
    where : str
        The file, for messages.

    Returns
    -------
    EvidenceCatalogue

    Raises
    ------
    InputError
        Not TOML, a name that isn't known, a figure that can't be.
    """
    own = parse_toml(text, where)
    data = packaged_toml("evidence", "kinds.toml")
    for section in own:
        if section not in ("settings", "use", "effect", "kind"):
            raise InputError(where, f"[{section}] is not known", "use settings, use, effect and kind")
    named = set()
    for section in ("settings", "use", "effect"):
        for name, value in _table(own.get(section, {}), where, section).items():
            if isinstance(value, dict) and isinstance(data[section].get(name), dict):
                data[section][name] = {**data[section][name], **value}
            else:
                data[section][name] = value
            named.add(f"{section} {name}")
    own_kinds = own.get("kind", [])
    if not isinstance(own_kinds, list) or not all(isinstance(item, dict) and item.get("name") for item in own_kinds):
        raise InputError(where, "a kind has no name", 'write [[kind]] and name = "…"')
    for item in own_kinds:
        old = next((kind for kind in data["kind"] if kind["name"] == item["name"]), None)
        if old is None:
            data["kind"].append(item)
        else:
            old.update(item)
        named.add(f"kind {item['name']}")
    found = _catalogue(data, where)
    return EvidenceCatalogue(found.kinds, found.effects, found.settings, found.uses, where, frozenset(named))


def _table(value: Any, where: str, what: str) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise InputError(where, f"{what} is not a table", f"write [{what}]")
    return value


def _number(value: Any, where: str, what: str, low: float = 0.0) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise InputError(where, f"{what} is not a number", "write a number")
    if value < low:
        raise InputError(where, f"{what} is {value:g}", f"it is at least {low:g}")
    return float(value)


def _pair(value: Any, where: str, what: str) -> tuple[float, float]:
    if not isinstance(value, list) or len(value) != 2:
        raise InputError(where, f"{what} is not [shift, standard deviation]", "write two numbers in brackets")
    return _number(value[0], where, what, -math.inf), _number(value[1], where, f"the sd of {what}")


def _texts(value: Any, where: str, what: str) -> tuple[str, ...]:
    if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
        raise InputError(where, f"{what} is not a list of names", "write names in brackets")
    return tuple(value)


def _flag(value: Any, where: str, what: str) -> bool:
    if not isinstance(value, bool):
        raise InputError(where, f"{what} is not true or false", "write true or false")
    return value


def _only(item: Mapping[str, Any], allowed: tuple[str, ...], where: str, what: str) -> None:
    for name in item:
        if name not in allowed:
            raise InputError(where, f"{what} has {name!r}, which is not known", "use " + ", ".join(allowed))


def _catalogue(data: Mapping[str, Any], where: str) -> EvidenceCatalogue:
    given = data["settings"]
    names = tuple(setting.name for setting in fields(Settings))
    _only(given, names, where, "[settings]")
    settings = Settings(**{name: _number(given[name], where, name) for name in names})
    for name in ("reading_sd", "beyond_kinds", "another_colour", "ageing_sd", "ageing_scatter"):
        _number(getattr(settings, name), where, name, 1e-3)
    for name in ("chance_of_stranger", "sure_of_stranger", "same_camera"):
        if not 0 < getattr(settings, name) < 1:
            raise InputError(where, f"{name} is {getattr(settings, name):g}", "it lies between 0 and 1")
    if settings.card_readings < 1:
        raise InputError(where, f"card_readings is {settings.card_readings:g}", "it is at least 1")
    effects = {name: _effect(name, _table(item, where, name), where) for name, item in data["effect"].items()}
    kinds = tuple(_kind(item, effects, where) for item in data["kind"])
    uses = {}
    for name, item in data["use"].items():
        _only(_table(item, where, f"use.{name}"), ("largest", "what"), where, f"[use.{name}]")
        largest = _number(item.get("largest"), where, f"largest of use.{name}", 1e-3)
        uses[name] = Use(name, str(item.get("what", name)), largest)
    return EvidenceCatalogue(kinds, effects, settings, uses)


def _effect(name: str, item: Mapping[str, Any], where: str) -> Effect:
    _only(item, ("what", "ageing", "L", "chroma", "b", "b_white", "replaces"), where, f"[effect.{name}]")
    ageing = _flag(item.get("ageing", False), where, f"ageing of {name}")
    L, chroma, b = (_pair(item.get(key, [0, 0]), where, f"{key} of {name}") for key in ("L", "chroma", "b"))
    white = _pair(item["b_white"], where, f"b_white of {name}") if "b_white" in item else None
    replaces = _texts(item.get("replaces", []), where, f"replaces of {name}")
    return Effect(name, str(item.get("what", name)), L, chroma, b, ageing, white, replaces)


def _kind(item: Mapping[str, Any], effects: Mapping[str, Effect], where: str) -> EvidenceKind:
    name = str(item.get("name", ""))
    allowed = ("name", "also", "what", "spread", "vehicle_spread", "other_vehicle", "effects", "condition")
    _only(item, allowed, where, f"kind {name!r}")
    conditions = []
    for asked in item.get("condition", []):
        _only(
            _table(asked, where, "condition"),
            ("column", "limit", "words", "only_of", *CASES),
            where,
            f"a condition of {name!r}",
        )
        limit = asked.get("limit")
        words = {str(k): str(v) for k, v in _table(asked.get("words", {}), where, "words").items()}
        conditions.append(
            Condition(
                str(asked.get("column", "")),
                {case: str(asked[case]) for case in CASES if case in asked} | words,
                None if limit is None else _number(limit, where, f"limit of {asked.get('column')}"),
                tuple(words),
                _texts(asked.get("only_of", []), where, f"only_of of {asked.get('column')}"),
            )
        )
        if not conditions[-1].column:
            raise InputError(where, f"a condition of {name!r} names no column", 'write column = "…"')
    kind = EvidenceKind(
        name,
        _texts(item.get("also", []), where, f"also of {name!r}"),
        str(item.get("what", name)),
        _number(item.get("spread"), where, f"spread of {name!r}"),
        _number(item.get("vehicle_spread", 0.0), where, f"vehicle_spread of {name!r}"),
        _flag(item.get("other_vehicle", False), where, f"other_vehicle of {name!r}"),
        _texts(item.get("effects", []), where, f"effects of {name!r}"),
        tuple(conditions),
    )
    asked_of = (e for condition in conditions for e in (*condition.effects.values(), *condition.only_of))
    for effect in (*kind.effects, *asked_of):
        if effect not in effects:
            raise InputError(where, f"kind {name!r} names the effect {effect!r}, which is not there", "add it")
    return kind
