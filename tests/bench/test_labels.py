"""What the rooms below say with a command or a parameter in it names what is touched on the page."""

from __future__ import annotations

import ast
import re
from datetime import datetime, timedelta

import pytest

from finishmatch.bench.labels import in_words
from finishmatch.bench.pages import joint, local_time, sentence
from finishmatch.cli import COMMANDS
from tests.conftest import ROOT

SAID_BY = (
    "steps",
    "ledger",
    "readings",
    "photo",
    "evidence",
    "defects",
    "finish",
    "mix",
    "correct",
    "optics",
    "colour",
)
NOT_SHOWN = {"removal_file.py", "bundle_file.py", "job_form.py"}  # the head of a file, the name of a form
COMMAND = re.compile(rf"finishmatch ({'|'.join(COMMANDS)})\b")


def _texts() -> list[tuple[str, str]]:
    found = []
    for room in SAID_BY:
        for path in sorted((ROOT / "finishmatch" / room).rglob("*.py")):
            if path.name in NOT_SHOWN:
                continue
            tree = ast.parse(path.read_text("utf-8"))
            values = [node.value for node in ast.walk(tree) if isinstance(node, ast.Constant)]
            texts = [value for value in values if isinstance(value, str) and value != ast.get_docstring(tree)]
            found += [(path.name, text) for text in texts if "\n" not in text]  # the rest are docstrings and tables
    return found


def test_no_message_sends_a_painter_at_the_page_to_a_command() -> None:
    texts = _texts()
    named = [text for _, text in texts if COMMAND.search(text)]
    assert len(named) >= 10  # else what is looked for isn't found any more
    for name, text in texts:
        said = in_words(text)
        assert not COMMAND.search(said), (name, said)
        assert not re.search(r"`[a-z_]+`", said), (name, said)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("log it first: finishmatch defect log KIND …", "log it first: «Log a defect» of the job"),
        ("see the numbers with: finishmatch job show J12", "see the numbers in «The whole record» of the job"),
        ("say what it is in the column kind, and it counts", "say what it is under «Kind», and it counts"),
        ("give `build_um`, or none", "give build, or none"),
        ("say where it is with `region` NAME=x,y,w,h", "mark it in the picture"),
        ("mark it with `region` spray-out=x,y,w,h", "mark it in the picture"),
        ("painted over, mark the samples (`region` NAME=x,y,w,h)", "painted over, mark the samples"),
        ("leave it out (`without`) and say why", "leave it out and say why"),
        ("bring finishmatch up to date", "bring finishmatch up to date"),
        ("'finishmatch defect checks' lists them", "the terminal lists them"),
        (
            "if so write white 22 or if so write yellow oxide 221.2; with `anyway` it is taken as it is",
            "look again at what was typed; if it was so, it is put right at the terminal, as white 22, or yellow oxide "
            "221.2; with «take it as it is» it is taken as it is",
        ),
        (
            "if so write blue 2 with `weighed`",
            "look again at what was typed; if it was so, it is put right at the terminal, as blue 2",
        ),
    ],
)
def test_what_is_touched_stands_in_its_place(text: str, said: str) -> None:
    assert in_words(text) == said


@pytest.mark.parametrize(
    ("said", "shown"),
    [
        ("card1.jpg: the light is uneven", "card1.jpg: the light is uneven."),
        ("the tolerance of 2.46 is the target's: so be it", "The tolerance of 2.46 is the target's: so be it."),
        ("only Lab is known. nothing more", "Only Lab is known. nothing more."),
        ("with this it is expected at ΔE00 0.20", "With this it is expected at ΔE00 0.20."),
    ],
)
def test_a_sentence_begins_with_a_capital_and_a_files_name_stays_as_it_is(said: str, shown: str) -> None:
    assert sentence(said) == shown


@pytest.mark.parametrize(
    ("what", "between"),
    [
        ("was changed meanwhile: it is batch #5 now", " "),
        ("isn't named", " "),
        ("can't be read", " "),
        ("'many' is not a number", ": "),
        ("-3 µm is no pit", ": "),
        ("island", ": "),
    ],
)
def test_a_place_and_what_is_said_of_it_are_one_sentence(what: str, between: str) -> None:
    assert joint(what) == between


def test_a_time_of_another_year_has_its_year() -> None:
    now = datetime.now().astimezone()
    this_year = now.replace(month=1, day=2)
    assert str(now.year) not in local_time(this_year.isoformat())
    long_ago = this_year - timedelta(days=800)
    assert local_time(long_ago.isoformat()) == long_ago.strftime("%d %b %Y %H:%M")
