"""What is wrong with a finish and how far it may be cut: kinds of defect, the film left, the rework.

Pure: layers with readings and a defect in, advice out.
"""

from finishmatch.defects.breakthrough import FilmLeft, anywhere, film_left
from finishmatch.defects.exposures import exposure_pairs
from finishmatch.defects.film import Film, FilmLayer, film_layer, layer_role, make_film, reached_layer
from finishmatch.defects.kinds import DefectKind, all_kinds, find_kind
from finishmatch.defects.options import Left, Option, percent
from finishmatch.defects.practice import Practice, common_practice
from finishmatch.defects.rework import Advice, advise, find_option, likely_causes
from finishmatch.defects.seen import SeenDefect, check_in_film, check_seen
from finishmatch.defects.spread import EvenLength, StudentLength, predicted_build

__all__ = [
    "Advice",
    "DefectKind",
    "EvenLength",
    "Film",
    "FilmLayer",
    "FilmLeft",
    "Left",
    "Option",
    "Practice",
    "SeenDefect",
    "StudentLength",
    "advise",
    "all_kinds",
    "anywhere",
    "check_in_film",
    "check_seen",
    "common_practice",
    "exposure_pairs",
    "film_layer",
    "film_left",
    "find_kind",
    "find_option",
    "layer_role",
    "likely_causes",
    "make_film",
    "percent",
    "predicted_build",
    "reached_layer",
]
