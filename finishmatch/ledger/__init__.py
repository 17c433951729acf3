"""What is remembered: jobs and their entries, in order, never edited in place.

`open_ledger` opens (and makes) the ledger. A module is imported when a name of it is asked for; the types of the names
stand in `__init__.pyi`. See docs/ledger.md.
"""

from finishmatch.lazy import offered_later

_HOMES = {
    "BatchEntry": "entries",
    "CoatEntry": "entries",
    "CorrectionEntry": "entries",
    "DecisionEntry": "entries",
    "DefectEntry": "entries",
    "ENTRY_KINDS": "entries",
    "Entry": "entries",
    "EntryView": "views",
    "FilmLayerEntry": "entries",
    "JobView": "views",
    "Ledger": "book",
    "NoteEntry": "entries",
    "Nth": "entries",
    "OpenItem": "open_items",
    "PlanEntry": "entries",
    "QuarantineMark": "quarantine",
    "RESULTS": "entries",
    "ReadingEntry": "entries",
    "RecipeEntry": "entries",
    "SURFACES": "entries",
    "SprayOutEntry": "entries",
    "Story": "story",
    "StoryLine": "story",
    "StrengthEntry": "entries",
    "TargetEntry": "entries",
    "RecordedOutcome": "shop",
    "VerdictEntry": "entries",
    "bank_of_job": "banks_used",
    "cards_without_strength": "strengths",
    "coat_numbered": "shop",
    "first_found": "strengths",
    "job_title": "find_job",
    "jobs_with_strengths": "banks_used",
    "kind_word": "wording",
    "ledger_exists": "home",
    "ledger_home": "home",
    "ledger_path": "home",
    "mark_exposure": "quarantine",
    "marks_made": "quarantine",
    "marks_standing": "quarantine",
    "new_tins_at": "strengths",
    "open_ledger": "book",
    "recorded_outcomes": "shop",
    "poured_since_count": "stock",
    "remember_bank": "banks_used",
    "remember_stock": "stock",
    "same_reading": "strengths",
    "strength_found": "strengths",
    "strength_standing": "strengths",
    "strengths_counted": "strengths",
    "suspects_met": "quarantine",
    "describe_entry": "wording",
    "describe_exposures": "wording",
    "describe_parts": "wording",
    "job_story": "story",
    "describe_strengths": "wording",
}

__all__ = list(_HOMES)
__getattr__ = offered_later(__name__, _HOMES)
