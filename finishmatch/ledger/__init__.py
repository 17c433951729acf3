"""What is remembered: jobs and their entries, in order, never edited in place.

`open_ledger` opens (and makes) the ledger; the entries are the dataclasses below. See docs/ledger.md.
"""

from finishmatch.ledger.banks_used import bank_of_job, jobs_told_of, remember_bank
from finishmatch.ledger.book import Ledger, open_ledger
from finishmatch.ledger.entries import (
    ENTRY_KINDS,
    RESULTS,
    SURFACES,
    BatchEntry,
    CoatEntry,
    CorrectionEntry,
    DecisionEntry,
    DefectEntry,
    Entry,
    FilmLayerEntry,
    NoteEntry,
    Nth,
    PlanEntry,
    ReadingEntry,
    RecipeEntry,
    SprayOutEntry,
    StrengthEntry,
    TargetEntry,
    VerdictEntry,
)
from finishmatch.ledger.find_job import job_title
from finishmatch.ledger.home import ledger_exists, ledger_home, ledger_path
from finishmatch.ledger.open_items import OpenItem
from finishmatch.ledger.outcomes import ToldOutcome
from finishmatch.ledger.quarantine import QuarantineMark, mark_exposure, marks_made, marks_standing, suspects_met
from finishmatch.ledger.story import Story, StoryLine, tell_story
from finishmatch.ledger.strengths import (
    cards_untold,
    first_told,
    new_tins_at,
    same_reading,
    strength_found,
    strength_standing,
    strengths_counted,
)
from finishmatch.ledger.views import EntryView, JobView
from finishmatch.ledger.wording import kind_word, tell_entry, tell_exposures, tell_parts, tell_strengths

__all__ = [
    "ENTRY_KINDS",
    "RESULTS",
    "SURFACES",
    "BatchEntry",
    "CoatEntry",
    "CorrectionEntry",
    "DecisionEntry",
    "DefectEntry",
    "Entry",
    "EntryView",
    "FilmLayerEntry",
    "JobView",
    "Ledger",
    "NoteEntry",
    "Nth",
    "OpenItem",
    "PlanEntry",
    "QuarantineMark",
    "ReadingEntry",
    "RecipeEntry",
    "SprayOutEntry",
    "Story",
    "StoryLine",
    "StrengthEntry",
    "TargetEntry",
    "ToldOutcome",
    "VerdictEntry",
    "bank_of_job",
    "cards_untold",
    "first_told",
    "job_title",
    "jobs_told_of",
    "kind_word",
    "ledger_exists",
    "ledger_home",
    "ledger_path",
    "mark_exposure",
    "marks_made",
    "marks_standing",
    "new_tins_at",
    "open_ledger",
    "remember_bank",
    "same_reading",
    "strength_found",
    "strength_standing",
    "strengths_counted",
    "suspects_met",
    "tell_entry",
    "tell_exposures",
    "tell_parts",
    "tell_story",
    "tell_strengths",
]
