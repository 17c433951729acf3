"""The words of the GHS in the hazard column are known as such, whatever their capitals, and are said in full."""

from __future__ import annotations

import pytest

from finishmatch.cautions import ISOCYANATES, MIXING, mixing_cautions
from finishmatch.readings.ghs import ghs_said, ghs_word, on_the_tin


@pytest.mark.parametrize(
    ("written", "word"),
    [("danger", "Danger"), ("WARNING", "Warning"), ("h317", "H317"), ("H 360D", "H360D"), ("euh204", "EUH204"),
     ("H350i", "H350i"), ("lead", ""), ("H3", ""), ("H3170", ""), ("dangerous", ""), ("PH317", "")],
)  # fmt: skip
def test_signal_words_and_codes_are_known(written: str, word: str) -> None:
    assert ghs_word(written) == word


def test_the_stronger_signal_word_stands_for_all_and_the_rest_is_what_the_tin_holds() -> None:
    held, ghs = on_the_tin(("lead", "Warning", "H373", "EUH201", "Danger", "H302"))
    assert held == ("lead",)
    assert ghs == ("Danger", "H302", "H373", "EUH201")


def test_statements_are_said_in_full_and_an_unknown_code_as_it_is() -> None:
    """CLP (EC) 1272/2008, annex III; from memory."""
    assert ghs_said(("Danger", "H225", "H999")) == "Danger: Highly flammable liquid and vapour. (H225) H999"
    assert ghs_said(()) == ""


def test_codes_alone_name_no_metal_but_one_names_isocyanates() -> None:
    assert ISOCYANATES in mixing_cautions(("EUH204",))
    assert mixing_cautions(("Danger", "H350i", "H317")) == MIXING
