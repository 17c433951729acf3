"""What is said on the page: parameters as they are called there, and what is touched in place of a command."""

from __future__ import annotations

import re

_NAMED = re.compile(r"`([A-Za-z_][A-Za-z0-9_]*)`")
# "film-layer, position", where the record checks what an entry holds
_OF_ENTRY = re.compile(
    r"(?:reading|target|batch|spray-out|correction|film-layer|coat|defect|decision|plan|note|strike), ([a-z_]+)"
)
_UNIT = re.compile(r"_(um|mm)$")
_CALLED = {
    "another": "«It is another job»",
    "anyway": "«take it as it is»",
    "bank_name": "what it is called",
    "beside": "the panel in the photograph",
    "build_um": "build",
    "builds": "the build readings",
    "colour_index": "Colour Index name",
    "count": "how many",
    "density_kg_l": "density",
    "depth_um": "depth",
    "geometry": "what reads its panels",
    "grams": "grams",
    "hazard": "what harms in it",
    "lab": "the colour",
    "lot": "which tin it is",
    "max_tints": "most tints",
    "more_g": "how much",
    "more_step": "step of the scale",
    "panel_name": "what it is called",
    "panels_lot": "which tin the panels are drawn from",
    "pick": "which colour",
    "position": "place from the metal up",
    "price_per_kg": "price of a kilogram",
    "reached": "open to",
    "region": "sample",
    "role": "what it is",
    "running": "running totals",
    "scale_step": "step of the scale",
    "seen": "photographs",
    "seen_on": "seen on",
    "size_mm": "size",
    "solids_percent": "volume solids",
    "stock_g": "what there is of it",
    "supersedes": "in place of",
    "text": "the text",
    "tin_l": "the tin",
    "tint_grams": "of the tint, weighed in",
    "tolerance": "tolerance",
    "trial": "the card",
    "weighed": "of the tint, weighed in",
    "why": "why",
    "without": "left out",
    "x": "across",
    "y": "down",
}
# a command with what stands behind it, as messages of the rooms below have it; what is touched on the page in its place
_GROUPS = "job|defect|photo|plan|bank|ledger"
_ALONE = "judge|mix|correct|evidence|predict|compare|find|next|dossier|label|demo|serve|backup|restore|export|import"
_COMMAND = re.compile(rf"(with: )?'?\bfinishmatch ((?:{_GROUPS}) [a-z]+|{_ALONE})\b((?: (?:[A-Z]{{2,}}|J[0-9]+|…))*)'?")
_SAID_SO = {  # what a terminal is told in place of what the page shows
    "(bank plan names the most telling)": "(«Which panels to draw» names the most telling)",
    "or take its row out of seen.csv": "or take the panel out of the bank with its colours, and enter it anew",
    "with its right name, or take its row out": "with its right name, or take the panel out and enter it anew",
    "what no panel is named for: name it with `panel`": "what was said to be none of the panels",
}
_LEFT_OUT = "leave it out (`without`)"  # on the page a tick beside the sample says how
# where a sample lies in a photograph, which a finger marks
_MARKED = re.compile(
    r"say where it is with `region` NAME=x,y,w,h|mark it with `region` [^=]*=x,y,w,h"
    r"|(mark the samples) \(`region` NAME=x,y,w,h\)"
)
# what a tin would have held were a card to be of it; the page has no screen that puts a batch right
_WRITTEN_ANEW = re.compile(r"if so write ([^;]*)")
_COLUMN = re.compile(r"\bin the column ([a-z])([a-z]*)")
_TOUCHED = {
    "job new": "«New job» below the list of jobs",
    "job use": "its line in the list of jobs",
    "job list": "the list of jobs",
    "job show": "«The whole record» of the job",
    "job film": "«Enter build readings» of the job",
    "job pour": "«Weigh out» of the job",
    "job spray": "«Enter a card» of the job",
    "job note": "«Write a note» of the job",
    "job strike": "«Strike it» of its entry in the record",
    "defect log": "«Log a defect» of the job",
    "defect kinds": "the list of kinds",
    "judge": "«Judge a card» of the job",
    "mix": "«Work out a recipe» of the job",
    "correct": "«Judge a card» of the job",
    "evidence": "«Enter evidence» of the job",
    "restore": "at the terminal",
    "dossier": "«The dossier for the car» of the job",
}
ELSEWHERE = "the terminal"  # what the page has no screen for


def in_words(text: str) -> str:
    """Return a text in which parameters stand as they are called on the page, and its screens in place of commands."""
    for said, here in _SAID_SO.items():
        text = text.replace(said, here)
    text = text.replace(_LEFT_OUT, _LEFT_OUT.partition(" (")[0])
    text = _WRITTEN_ANEW.sub(_put_right, text)
    text = _MARKED.sub(lambda found: found[1] or "mark it in the picture", text)
    text = _NAMED.sub(lambda named: _CALLED.get(named[1], named[1].replace("_", " ")), text)
    text = _COLUMN.sub(lambda column: f"under «{column[1].upper()}{column[2]}»", text)
    return _COMMAND.sub(_touched, text)


def place_of(where: str) -> str:
    """Return where something is wrong, as the page calls it."""
    found = _OF_ENTRY.fullmatch(where)
    return in_words(f"`{found[1]}`" if found else where)


def is_of_field(where: str, name: str) -> bool:
    """Return whether what is wrong at a place is what stands in a field of a form."""
    said = place_of(where).casefold().removeprefix("the ")
    own = _UNIT.sub("", name)
    called = {one.casefold().removeprefix("the ") for one in (name, own, own.removesuffix("s"), in_words(f"`{name}`"))}
    return said in called or any(said.startswith((f"{one} '", f"{one} readings '")) for one in called)


def _put_right(found: re.Match[str]) -> str:
    """Return how what was poured or typed is put right: what was typed is looked at first."""
    parts = found[1].replace(" with `weighed`", "").replace(" or if so write ", ", or ")
    return f"look again at what was typed; if it was so, it is put right at {ELSEWHERE}, as {parts}"


def _touched(found: re.Match[str]) -> str:
    return ("in " if found[1] else "") + _TOUCHED.get(found[2], ELSEWHERE)
