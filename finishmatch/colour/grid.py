"""What every spectrum here shares: one grid, 400 to 700 nm by 10 nm; and the geometries it may be read in."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

WAVELENGTHS_NM: Floats = np.arange(400.0, 701.0, 10.0)
WAVELENGTHS_NM.setflags(write=False)
SIZE = WAVELENGTHS_NM.size

GEOMETRIES = ("di8", "de8", "45/0")  # CIE 15: those that the surface model knows
