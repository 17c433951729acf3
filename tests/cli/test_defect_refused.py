"""`finishmatch defect`: what can't be is refused in one line, and nothing is written."""

from __future__ import annotations

from pathlib import Path

import pytest

from finishmatch.cli import run
from tests.helpers.defect_lines import FULL, refused

pytest_plugins = ["tests.helpers.defect_fixtures"]


@pytest.mark.parametrize(
    ("line", "part"),
    [
        ("log crater --panel roof", "--job: is missing"),
        ("log crater --job J1", "--panel: is missing"),
        ("log cratring --job J1 --panel roof", "did you mean cratering"),
        ("log '' --job J1 --panel roof", "its kind is not named"),
        ("log crater --job J9 --panel roof", "J9"),
        ("log crater --job J1 --panel roof --count 0", "at least 1"),
        ("log crater --job J1 --panel roof --count two", "is not a whole number"),
        ("log crater --job J1 --panel roof --size-mm -1.5", "above 0"),
        ("log crater --job J1 --panel roof --size-mm nan", "not a finite number"),
        ("log crater --job J1 --panel roof --depth-um inf", "not a finite number"),
        ("log crater --job J1 --panel roof --depth-um 1,500", "decimal point"),
        ("log crater --job J1 --panel roof --depth-um 2mil", "1 mil is 25.4 µm"),
        ("log crater --job J1 --panel roof --depth-um 500", "beyond the film, which is 161 µm deep"),
        ("log crater --job J1 --panel roof --depth-um 5 --reached primer", "both a depth and a layer"),
        ("log crater --job J1 --panel roof --reached clear", "no such layer; it has primer, colour coat"),
        ("log crater --job J1 --panel roof --exposure airline", "not KIND=VALUE"),
        ("log crater --job J1 --panel roof --seen-on yesterday", "not a date"),
        ("log crater --job J1 --panel roof --seen-on 20240502", "not a date"),
        ("log crater --job J1 --panel roof --seen-on 2999-01-01", "still to come"),
        ("log crater --job J1 --panel roof --why because", "no entry to replace"),
        ("log crater --job J1 --panel roof --replaces 1 --why x", "is a film"),
        ("advise --job J1", "no defect is logged in it"),
        ("advise --job J1 --defect 1", "no defect is logged in it"),
        ("advise crater --job J1", "stands in the job already"),
        ("advise --job J1 --count 3", "no defect is logged in it"),
        ("advise", "no defect is named"),
        ("advise crater --defect 3", "needs its job"),
        ("advise crater --depth-um 30", "no build readings"),
        (f"advise crater {FULL}", "nothing says how deep"),
        (f"advise crater {FULL} --depth-um 400", "beyond the film"),
        (f"advise crater {FULL} --reached clear", "no such layer"),
        (f"advise crater {FULL} --depth-um 30 --max-risk 5%", "5 % is 0.05"),
        (f"advise crater {FULL} --depth-um 30 --max-risk 5", "5 % is 0.05"),
        (f"advise crater {FULL} --depth-um 30 --keep-um -1", "at least 0"),
        (f"advise crater {FULL} --depth-um 30 --count 0", "at least 1"),
        (f"advise crater {FULL} --depth-um 30 --choose rub --why x", "recorded in a job"),
        (f"advise crater {FULL} --depth-um 30 --why x", "no option is chosen"),
        ("advise --job J1 --choose rub", "no reason is given"),
        ("advise --job J1 --choose burn --why x", "choose one of"),
        ("advise crater --layer colour --depth-um 3", "is not NAME=UM"),
        ("advise crater --layer =50 --depth-um 3", "is not NAME=UM"),
        ("advise crater --layer colour= --depth-um 3", "no build readings"),
        ("advise crater --layer colour=0 --depth-um 3", "above 0"),
        ("advise crater --layer colour=50,-3 --depth-um 3", "above 0"),
        ("advise crater --layer colour=50,nan --depth-um 3", "not a finite number"),
        ("advise crater --layer colour=62,5,60 --depth-um 3", "may be read in two ways; write 62.5 for one reading"),
        ("advise crater --layer colour=50,x --depth-um 3", "not a number"),
        ("advise crater --layer colour=50 --depth-um 3µm", "carries a unit"),
        ("advise crater --layer colour=50mg --depth-um 3", "--layer colour"),
        ("advise crater --layer treacle=50 --depth-um 3", "doesn't say what it is"),
        ("advise crater --layer colour=50 --layer primer=60 --depth-um 3", "from the metal up"),
        ("advise crater --layer colour=50 --layer colour=60 --depth-um 3", "is given twice"),
        ("kinds cratring", "did you mean cratering"),
        ("calibrate --anew", "no FILE to begin anew"),
        (f"advise crater {FULL} --depth-um 30 --age-days -1", "between 0 and"),
        (f"advise crater {FULL} --depth-um 30 --cure-days soon", "a number of days"),
        (f"advise crater {FULL} --depth-um 30 --hour-cost 1e9", "between 0 and"),
        ("calibrate nowhere.csv", "no such file"),
        ("log crater --job J1 --panel roof --over 300/200", "its middle is not given"),
        ("log crater --job J1 --panel roof --at here", "is not a place"),
        (f"advise crater {FULL} --depth-um 30 --at 100/100 --over 0/200", "both are above 0"),
        (f"advise crater {FULL} --depth-um 30 --at 100/100/100", "is not a place"),
        (f"advise crater {FULL} --depth-um 30 --at 1e9/1", "is not a place"),
        (f"advise crater {FULL} --depth-um 30 --steps P1600x", "no step is called"),
        (f"advise crater {FULL} --depth-um 30 --steps ,", "names no step"),
        ("advise crater --layer colour=98@1/2,104 --depth-um 3", "1 places for 2 readings"),
        ("advise crater --layer colour=98@left --depth-um 3", "is not a place"),
        ("checks 'water brake'", "did you mean water break"),
        ("log crater --job J1 --panel roof --seen rimm", "did you mean rim"),
        ("log crater --job J1 --panel roof --check lamp", "is not CHECK=OUTCOME"),
        ("log crater --job J1 --panel roof --rating 7", "not a rating of ISO 4628-1"),
        ("log crater --job J1 --panel roof --seen-on 2024-05-02 --exposure gun=1@2024-05-03", "can't have caused it"),
        (f"advise crater {FULL} --depth-um 30 --seen rim --seen 'no rim'", "both seen and not seen"),
        (f"advise crater {FULL} --depth-um 30 --check 'air line=perhaps'", "comes out as: spots, clean"),
    ],
)
def test_bad_input_is_one_line_and_nothing_is_written(capsys, job: str, line: str, part: str) -> None:
    assert run(["job", "show", job, "--json"]) == 0
    before = capsys.readouterr().out
    assert part in refused(capsys, line)
    run(["job", "show", job, "--json"])
    assert capsys.readouterr().out == before


def test_without_a_ledger_nothing_is_made(capsys, home: Path) -> None:
    home.rmdir()
    assert "there is no ledger yet" in refused(capsys, "log crater --job J1 --panel roof")
    assert "there is no ledger yet" in refused(capsys, "advise --job J1")
    assert not home.exists()
