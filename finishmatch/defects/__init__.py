"""What is wrong with a finish and how far it may be cut: kinds of defect, the film left, the rework.

Pure: layers with readings and a defect in, advice out.
"""

from finishmatch.defects.breakthrough import FilmLeft, film_left
from finishmatch.defects.case import Timing
from finishmatch.defects.diagnose import CheckWorth, Diagnosis, RankedCause, diagnose
from finishmatch.defects.evidence import (
    NOTHING_KNOWN,
    Cause,
    Check,
    Evidence,
    Sign,
    all_causes,
    all_checks,
    all_signs,
    find_check,
    find_checks,
    find_signs,
)
from finishmatch.defects.exposures import Exposure, check_met_before, exposure_pairs, read_exposures
from finishmatch.defects.film import Film, FilmLayer, film_layer, layer_role, make_film, reached_layer, read_place
from finishmatch.defects.film_map import FilmMap, film_map
from finishmatch.defects.kinds import DefectKind, all_kinds, find_kind
from finishmatch.defects.observed import SeenDefect, check_in_film, check_seen
from finishmatch.defects.options import Branch, Left, Option, percent
from finishmatch.defects.outcomes import with_record
from finishmatch.defects.predicted_build import Build, Builds, Spots, predicted_builds, spots_over
from finishmatch.defects.rating import Rating, read_rating, size_rating
from finishmatch.defects.removal import Removal, calibrated, calibrated_step
from finishmatch.defects.rework import Advice, advise, find_option, likely_causes
from finishmatch.defects.rework_figures import Record, ReworkFigures, Step, Work, common_rework_figures, find_step
from finishmatch.defects.spread import Cut, EvenLength, spot_cut, sum_of_cuts

__all__ = [
    "NOTHING_KNOWN",
    "Advice",
    "Branch",
    "Build",
    "Builds",
    "Cause",
    "Check",
    "CheckWorth",
    "Cut",
    "DefectKind",
    "Diagnosis",
    "EvenLength",
    "Evidence",
    "Exposure",
    "Film",
    "FilmLayer",
    "FilmLeft",
    "FilmMap",
    "Left",
    "Option",
    "RankedCause",
    "Rating",
    "Record",
    "Removal",
    "ReworkFigures",
    "SeenDefect",
    "Sign",
    "Spots",
    "Step",
    "Timing",
    "Work",
    "advise",
    "all_causes",
    "all_checks",
    "all_kinds",
    "all_signs",
    "calibrated",
    "calibrated_step",
    "check_in_film",
    "check_met_before",
    "check_seen",
    "common_rework_figures",
    "diagnose",
    "exposure_pairs",
    "film_layer",
    "film_left",
    "film_map",
    "find_check",
    "find_checks",
    "find_kind",
    "find_option",
    "find_signs",
    "find_step",
    "layer_role",
    "likely_causes",
    "make_film",
    "percent",
    "predicted_builds",
    "reached_layer",
    "read_exposures",
    "read_place",
    "read_rating",
    "size_rating",
    "spot_cut",
    "spots_over",
    "sum_of_cuts",
    "with_record",
]
