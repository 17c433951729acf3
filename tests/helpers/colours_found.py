"""A record of many colours, some of them struck or replaced; what is found by an index, and by computing all."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from finishmatch.ledger import Ledger, SprayOutEntry, StrikeEntry, TargetEntry, nearest_colours
from finishmatch.steps.find import FindRequest, Found, find
from tests.helpers.ledger_samples import TARGET

LIGHTS = ("D65", "A", "F11")


def _entry(r: np.random.Generator) -> TargetEntry | SprayOutEntry:
    """A target or a card: its spectrum known, or only its colour in one light or another; some of them nearly alike."""
    lab = (float(r.uniform(20, 90)), *map(float, r.normal(0, 25, 2)))
    if r.uniform() < 0.3:
        lab = (50.0 + float(r.normal(0, 0.02)), -4.0, -15.0)
    if r.uniform() < 0.4:
        return replace(TARGET, name="typed", lab=lab, light=str(r.choice(LIGHTS)), observer=10, reflectance=None)
    level, slope = r.uniform(0.05, 0.7), r.normal(0, 0.3)
    spectrum = tuple(np.clip(level * (1 + slope * np.linspace(-1, 1, 31)), 0.01, 1).tolist())
    return SprayOutEntry(None, lab, spectrum, name="card")


def colours_recorded(ledger: Ledger, r: np.random.Generator, jobs: int) -> None:
    """Add jobs in which some entries are struck, struck and restored, or replaced."""
    for number in range(jobs):
        job = ledger.new_job(f"Job {number}")
        entries = [_entry(r) for _ in range(6)]
        numbers = ledger.record_all(job, entries)
        if r.uniform() < 0.5:
            struck = ledger.record(job, StrikeEntry(numbers[0], "another colour"))
            if r.uniform() < 0.5:
                ledger.record(job, StrikeEntry(struck, "it was right"))
        if r.uniform() < 0.5:
            again = replace(entries[1], name="anew")
            newer = ledger.record(job, again, supersedes=numbers[1], reason="read anew")
            if r.uniform() < 0.5:
                ledger.record(job, StrikeEntry(newer, "it was the first"))


def both_ways(monkeypatch: pytest.MonkeyPatch, *asked: object) -> tuple[Found, Found]:
    """What is found by the index, and by computing all."""
    found = []
    for least in (1, 10**9):
        monkeypatch.setattr(nearest_colours, "LEAST", least)
        found.append(find(*asked))  # type: ignore[arg-type]
    return found[0], found[1]


def see_alike(one: Found, other: Found) -> None:
    assert (one.looked_through, one.not_compared) == (other.looked_through, other.not_compared)
    assert [(each.job.ref, each.colour) for each in one.found] == [(each.job.ref, each.colour) for each in other.found]
    for mine, theirs in zip(one.found, other.found, strict=True):
        assert mine.lights == pytest.approx(theirs.lights, abs=1e-9)
        assert (mine.formula, mine.came_within) == (theirs.formula, theirs.came_within)


def see_same_found(monkeypatch: pytest.MonkeyPatch, r: np.random.Generator) -> None:
    see_alike(*both_ways(monkeypatch, "50,-4,-15", FindRequest(most=10_000)))
    for colour in ("50,-4,-15", "J2", np.full(31, 0.3), f"{r.uniform(20, 90):.2f},{r.normal():.2f},3"):
        for request in (FindRequest(most=3), FindRequest(most=5, within=2.0), FindRequest(("A", "D65"), 2, most=20)):
            see_alike(*both_ways(monkeypatch, colour, request))
