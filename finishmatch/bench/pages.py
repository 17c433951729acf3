"""The templates of the page, and how numbers and colours stand in them."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from datetime import datetime
from functools import cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup, escape

from finishmatch.bench.labels import in_words, place_of
from finishmatch.bench.sheets import sheet_in_page, static
from finishmatch.colour.display import lab_to_hex
from finishmatch.steps.correction_forms import growth_told, share_told
from finishmatch.steps.defect.advise import chance_told

_FILE_FIRST = re.compile(r"[^:]*\.[A-Za-z]\w{1,4}(:|,|$)")  # "card1.jpg: the light is uneven"

_SAID_OF_PLACE = re.compile(r"(is|are|was|were|has|have|can|do|does|holds?|carry|carries|shows?)(n['’]t|not)?\b")


def rendered(template: str, **context: Any) -> str:
    """Return a template with what it shows put in, every text of it escaped."""
    return _environment().get_template(template).render(**context)


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("finishmatch.bench"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters.update(
        grams=grams,
        chance=chance_told,
        hex=hex_of,
        local=local_time,
        words=in_words,
        place=place_of,
        lights=lights,
        parts=parts_of,
        attribute=attribute,
        sentence=sentence,
        joint=joint,
        capital=capital,
    )
    environment.globals.update(static=static, grows=growth_told, share=share_told, sheet_in_page=sheet_in_page)
    return environment


def grams(weight: float) -> str:
    """Return a weight to a tenth of a gram, or to what a finer scale gave."""
    return f"{weight:.1f}" if abs(weight * 10 - round(weight * 10)) < 1e-6 else f"{round(weight, 3):g}"


def hex_of(lab: Sequence[float]) -> str:
    """Return a colour as a screen shows it."""
    return lab_to_hex(lab)  # type: ignore[arg-type]


def local_time(stamp: str) -> str:
    """Return a time of the ledger by the clock of this machine, to the minute; of another year with that."""
    then = datetime.fromisoformat(stamp).astimezone()
    return then.strftime("%d %b %H:%M" if then.year == datetime.now().astimezone().year else "%d %b %Y %H:%M")


def capital(text: str) -> str:
    """Return a sentence with its first letter a capital, and the rest as it is; a file's name at its head stays too."""
    if _FILE_FIRST.match(text):
        return text
    return text[:1].upper() + text[1:]


def sentence(text: str) -> str:
    """Return words as a sentence: with a capital, and a full stop where there is none."""
    text = capital(text.strip())
    return text if not text or text[-1] in ".?!" else f"{text}."


def joint(what: str) -> str:
    """Return what stands between a place and what is wrong there: "the tin was changed", but "depth: 'x' is none"."""
    return " " if _SAID_OF_PLACE.match(what) else ": "


def lights(differences: Mapping[str, float]) -> str:
    """Return a difference in each light, as "D65 0.42, A 0.51"."""
    return ", ".join(f"{light} {value:.2f}" for light, value in differences.items())


def parts_of(parts: Sequence[tuple[str, float]]) -> str:
    """Return what is weighed, as "white 443.6 g, blue 27.5 g"."""
    return ", ".join(f"{tint} {grams(weight)} g" for tint, weight in parts)


def attribute(value: object) -> Markup:
    """Return a value for our own script, as JSON in an attribute."""
    text = json.dumps(value, ensure_ascii=True)
    return escape(text)
