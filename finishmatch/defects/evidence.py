"""What speaks for a cause: the causes, the signs that are seen, the checks that can be done; from data files."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache

from finishmatch.defects.kinds import FORMS
from finishmatch.defects.names import by_key, find_named, find_or_refuse
from finishmatch.errors import InputError
from finishmatch.near_names import plain_key
from finishmatch.toml_reader import packaged_toml

LISTED = "'finishmatch defect checks' lists them"
NOT_MET = ("no", "none", "not", "never", "0")


@dataclass(frozen=True)
class Sign:
    """Something that may be seen of a defect; signs of one `group` shut each other out. See signs.toml."""

    name: str
    synonyms: tuple[str, ...]
    usual: float
    when_seen: str
    when_absent: str
    group: str


@dataclass(frozen=True)
class Check:
    """Something that can be done to find out, with defects of some `forms`. See checks.toml."""

    name: str
    synonyms: tuple[str, ...]
    minutes: float
    cost: float
    do: str
    outcomes: Mapping[str, float]
    caution: str
    forms: tuple[str, ...]


@dataclass(frozen=True)
class Cause:
    """What may bring a defect about, and how often each sign and outcome goes with it. See causes.toml."""

    key: str
    name: str
    contamination: bool
    mend: str
    seen: Mapping[str, float]
    checks: Mapping[str, Mapping[str, float]]
    met: Mapping[str, float]


@dataclass(frozen=True)
class Evidence:
    """What is known of a defect beyond its kind.

    signs are names of signs, "no " before one that was looked for and not seen; checks are pairs of a check and its
    outcome; exposures pairs of a kind and a value, as logged.
    """

    signs: tuple[str, ...] = ()
    checks: tuple[tuple[str, str], ...] = ()
    exposures: tuple[tuple[str, str], ...] = ()


NOTHING_KNOWN = Evidence()


@cache
def all_signs() -> dict[str, Sign]:
    """Return every sign by its name."""
    return {
        item["name"]: Sign(
            item["name"],
            tuple(item["synonyms"]),
            item["usual"],
            item["when_seen"],
            item.get("when_absent", ""),
            item.get("group", ""),
        )
        for item in packaged_toml("defects", "signs.toml")["sign"]
    }


@cache
def all_checks() -> dict[str, Check]:
    """Return every check by its name."""
    return {
        item["name"]: Check(
            item["name"],
            tuple(item["synonyms"]),
            item["minutes"],
            item["cost"],
            item["do"],
            dict(item["outcomes"]),
            item["caution"],
            tuple(item.get("forms", FORMS)),
        )
        for item in packaged_toml("defects", "checks.toml")["check"]
    }


@cache
def all_causes() -> dict[str, Cause]:
    """Return every cause by its key."""
    return {
        item["key"]: Cause(
            item["key"],
            item["name"],
            item["contamination"],
            item["mend"],
            item.get("seen", {}),
            item.get("checks", {}),
            item.get("met", {}),
        )
        for item in packaged_toml("defects", "causes.toml")["cause"]
    }


@cache
def usual_met() -> dict[str, float]:
    """Return how often an exposure that speaks for some causes is met anyway."""
    return dict(packaged_toml("defects", "causes.toml")["usual_met"])


@cache
def _known_signs() -> dict[str, tuple[Sign, str]]:
    return by_key(all_signs().values(), lambda sign: (sign.name, *sign.synonyms))


@cache
def _known_checks() -> dict[str, tuple[Check, str]]:
    return by_key(all_checks().values(), lambda check: (check.name, *check.synonyms))


def find_signs(typed: Iterable[str]) -> tuple[str, ...]:
    """Return signs by their one name, "no …" for those not seen.

    Parameters
    ----------
    typed : iterable of str
        As typed: "rim", "no raised rim", "while spraying".

    Raises
    ------
    InputError
        A sign that is not known (the nearest are offered), one seen and not seen, two that shut each other out, a
        pattern or a time that was "not" seen.
    """
    found: dict[str, str] = {}
    groups: dict[str, str] = {}
    for text in typed:
        words = text.split()
        absent = len(words) > 1 and words[0].casefold() in ("no", "not") and not find_named(text, _known_signs())
        plain = " ".join(words[1:]) if absent else " ".join(words)
        sign = find_or_refuse(plain, _known_signs(), lambda sign: sign.name, "sign", LISTED)
        noted = f"no {sign.name}" if absent else sign.name
        if found.setdefault(sign.name, noted) != noted:
            raise InputError(f"sign {text.strip()[:40]!r}", "is given as both seen and not seen", "keep what is true")
        if sign.group:
            if absent:
                raise InputError(f"sign {text.strip()[:40]!r}", "says what it is not", f"say the {sign.group} it has")
            other = groups.setdefault(sign.group, sign.name)
            if other != sign.name:
                what = f"can't be with {other!r}: a defect has one {sign.group}"
                raise InputError(f"sign {text.strip()[:40]!r}", what, "keep what is truer")
    return tuple(found.values())


def find_check(text: str) -> Check:
    """Return the check a name stands for, or raise `InputError` with the nearest."""
    return find_or_refuse(text, _known_checks(), lambda check: check.name, "check", LISTED)


def find_checks(typed: Iterable[str]) -> tuple[tuple[str, str], ...]:
    """Return checks that were done as pairs of a check and its outcome.

    Parameters
    ----------
    typed : iterable of str
        CHECK=OUTCOME each, the outcome by any part that names it: "water break=breaks".

    Raises
    ------
    InputError
        Without "=", a check or an outcome that is not known, a check with two outcomes.
    """
    found: dict[str, str] = {}
    for text in typed:
        name, equals, result = (" ".join(part.split()) for part in text.partition("="))
        where = f"check {text.strip()[:40]!r}"
        if not equals or not name or not result:
            raise InputError(where, "is not CHECK=OUTCOME", 'write it as "water break=breaks"')
        check = find_check(name)
        outcome = _outcome(check, result, where)
        if found.setdefault(check.name, outcome) != outcome:
            raise InputError(where, "has two outcomes", "give the one that holds")
    return tuple(found.items())


def _outcome(check: Check, typed: str, where: str) -> str:
    key = plain_key(typed)
    exact = [outcome for outcome in check.outcomes if plain_key(outcome) == key]
    part = [outcome for outcome in check.outcomes if key and key in plain_key(outcome)]
    fits = exact or part
    if len(fits) != 1:
        what = "fits several of its outcomes" if fits else "is not an outcome of it"
        raise InputError(where, f"{typed[:40]!r} {what}", f"{check.name} comes out as: {', '.join(check.outcomes)}")
    return fits[0]


def sign_chance(cause: Cause, noted: str) -> float:
    """Return how often a sign is seen (or, noted as "no …", not seen) with a cause."""
    signs = all_signs()
    if noted in signs:
        sign = signs[noted]
        if not sign.group:
            return cause.seen.get(sign.name, sign.usual)
        usual = {name: other.usual for name, other in signs.items() if other.group == sign.group}
        return _filled(usual, {name: share for name, share in cause.seen.items() if name in usual})[sign.name]
    sign = signs[noted.removeprefix("no ")]
    return 1 - cause.seen.get(sign.name, sign.usual)


def outcome_chances(cause: Cause, check: Check) -> dict[str, float]:
    """Return how often each outcome of a check comes with a cause."""
    return _filled(check.outcomes, cause.checks.get(check.name, {}))


def exposure_chance(cause: Cause, exposure: tuple[str, str]) -> float | None:
    """Return how often an exposure is met with a cause; None for one that says nothing of the cause."""
    kind, value = exposure
    if kind not in usual_met():
        return None
    met = cause.met.get(kind, usual_met()[kind])
    return 1 - met if plain_key(value) in NOT_MET else met


def _filled(usual: Mapping[str, float], given: Mapping[str, float]) -> dict[str, float]:
    """Return shares that add up to 1: those given, and the usual ones of the others scaled to what remains."""
    rest = sum(share for name, share in usual.items() if name not in given)
    left = 1 - sum(given.values())
    if rest == 0:
        return {name: share / (1 - left) for name, share in given.items()}
    return {name: given.get(name, share * left / rest if name not in given else 0.0) for name, share in usual.items()}
