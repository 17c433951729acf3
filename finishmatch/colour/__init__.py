"""What a spectrum looks like: tristimulus values, CIELAB, differences, metamerism, words.

Pure NumPy: arrays in, arrays out, over any number of colours.
"""

from finishmatch.colour.cielab import (
    lab_to_lch,
    lab_to_xyz,
    reflectance_to_lab,
    reflectance_to_lab_slope,
    xyz_to_lab,
    xyz_to_lab_slope,
)
from finishmatch.colour.difference import cielab_delta, de00, de00_parts
from finishmatch.colour.grid import WAVELENGTHS_NM, Floats
from finishmatch.colour.local_metric import de00_metric, de00_vectors, de00_vectors_and_slope
from finishmatch.colour.metamerism import metamerism_index
from finishmatch.colour.tristimulus import (
    LIGHTS,
    OBSERVERS,
    light_name,
    reflectance_to_xyz,
    weights,
    white_point,
)
from finishmatch.colour.words import difference_words

__all__ = [
    "LIGHTS",
    "OBSERVERS",
    "WAVELENGTHS_NM",
    "Floats",
    "cielab_delta",
    "de00",
    "de00_metric",
    "de00_parts",
    "de00_vectors",
    "de00_vectors_and_slope",
    "difference_words",
    "lab_to_lch",
    "lab_to_xyz",
    "light_name",
    "metamerism_index",
    "reflectance_to_lab",
    "reflectance_to_lab_slope",
    "reflectance_to_xyz",
    "weights",
    "white_point",
    "xyz_to_lab",
    "xyz_to_lab_slope",
]
