"""Which 24-patch chart the shop lays beside its work: registered once, kept in the shop's home beside its prints."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from finishmatch.colour import LIGHTS, OBSERVERS
from finishmatch.colour.grid import SIZE
from finishmatch.errors import InputError
from finishmatch.files import read_file
from finishmatch.photo.card.register import FOLDER, MAX_BYTES, keep_numbered, kept_file, numbers_kept
from finishmatch.photo.find.chart import MADE, PATCHES, Chart, usual_chart

CHART = "chart"  # what kept files are named by
FORM = 1  # the form of the kept file
MEND = "move it away, and register the chart again"


@dataclass(frozen=True)
class RegisteredChart:
    """A chart as the shop said it is.

    Parameters
    ----------
    number : int
        Counts the registrations of this home from 1.
    registered : str
        When, UTC in ISO 8601.
    chart : Chart
    """

    number: int
    registered: str
    chart: Chart


def register_chart(home: Path, chart: Chart, registered: str) -> RegisteredChart:
    """Keep which chart a shop has in its home; earlier ones stay, and the latest is used.

    Parameters
    ----------
    home : Path
        The folder of the ledger.
    chart : Chart
        As published, or as the shop read it.
    registered : str
        When, UTC in ISO 8601.

    Raises
    ------
    InputError
        A folder that can't be written in; nothing is kept then.
    """
    document: dict[str, Any] = {"form": FORM, "registered": registered, "made": chart.made, "name": chart.name}
    if not chart.made:
        values = np.asarray(chart.lab if chart.spectra is None else chart.spectra)
        document |= {"light": chart.light, "observer": chart.observer, "patches": np.round(values, 6).tolist()}
    number = keep_numbered(json.dumps(document, ensure_ascii=False, indent=1), Path(home) / FOLDER, CHART)
    return RegisteredChart(number, registered, chart)


def registered_chart(home: Path) -> RegisteredChart | None:
    """Return the chart that was registered last; None when none was.

    Raises
    ------
    InputError
        The kept file is damaged.
    """
    folder = Path(home) / FOLDER
    numbers = numbers_kept(folder, CHART)
    if not numbers:
        return None
    path = kept_file(folder, CHART, numbers[-1])
    try:
        document = json.loads(read_file(path, MAX_BYTES))
        if document["form"] != FORM:
            raise ValueError(document["form"])
        return RegisteredChart(numbers[-1], str(document["registered"]), _chart(document))
    except InputError:
        raise
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        raise InputError(str(path), "is damaged, or of a later version", MEND) from None


def _chart(document: Mapping[str, Any]) -> Chart:
    made = document["made"]
    if made:
        if made not in MADE:
            raise ValueError(made)
        return usual_chart(made)
    values = np.array(document["patches"], dtype=float)
    light, observer = document["light"], document["observer"]
    if values.shape not in ((PATCHES, SIZE), (PATCHES, 3)) or not np.isfinite(values).all():
        raise ValueError("patches")
    if light not in LIGHTS or observer not in OBSERVERS:
        raise ValueError(light)
    name = str(document["name"])
    return Chart(name, values) if values.shape[1] == SIZE else Chart(name, None, values, light, observer)
