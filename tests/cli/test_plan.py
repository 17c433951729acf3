"""`plan` at the terminal: what is shown, recorded and refused."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from finishmatch.cautions import (
    DEFER,
    ISOCYANATES,
    NITROCELLULOSE,
    OLD_BODY,
    OLD_PAINT,
    REWORK,
    SANDING,
    SPRAYING,
    WASH_PRIMER,
)

Cli = Callable[..., Any]


@pytest.fixture
def sheets(swatches: Path) -> Path:
    """The bundled data sheets."""
    return swatches / "plan"


def test_a_quantity_is_the_same_asked_in_either_units(cli: Cli) -> None:
    metric = cli("plan", "quantity", "--area", "2m2", "--build", "50.8um", "--solids", "0.4", "--json").json
    us = cli("plan", "quantity", "--area", "21.52782083 ft2", "--build", "2mil", "--solids", "40%", "--json").json
    assert us["mixed_l"] == pytest.approx(metric["mixed_l"], rel=1e-6)
    assert metric["mixed_l"] == pytest.approx(2 * 50.8 / 1000 / 0.4 / 0.55 / 0.9, rel=1e-5)


def test_units_are_shown_as_asked(cli: Cli) -> None:
    asked = ("plan", "quantity", "--area", "2m2", "--build", "50um", "--solids", "0.4")
    both, metric, us = (cli(*asked, "--units", units).out for units in ("both", "metric", "us"))
    assert "2.00 m² (21.5 ft²)" in both
    assert "50 µm (2.0 mils)" in both
    assert "m²" in metric
    assert "ft²" not in metric
    assert "ft²" in us
    assert "m²" not in us


def test_a_sheet_gives_what_is_not_typed_and_what_is_typed_comes_first(cli: Cli, sheets: Path) -> None:
    sheet = ("plan", "quantity", "--area", "2m2", "--product", sheets / "single-stage.toml", "--json")
    plain = cli(*sheet).json
    assert (plain["coats"], plain["build_um"]) == (2, 50)
    assert plain["volume_solids"] == pytest.approx((4 * 0.62 + 0.66) / 6, abs=1e-6)
    assert [part["name"] for part in plain["components"]] == ["colour", "hardener", "thinner"]
    typed = cli(*sheet, "--coats", 3, "--build", "20um", "--solids", "50%", "--ratio", "2:1:1").json
    assert (typed["coats"], typed["build_um"], typed["volume_solids"]) == (3, 60, 0.5)
    colour, hardener, _ = (part["litres"] for part in typed["components"])
    assert colour == pytest.approx(2 * hardener, rel=1e-5)


def test_a_batch_that_outlasts_its_pot_life_is_mixed_in_lots(cli: Cli) -> None:
    asked = ("--area", "2m2", "--build", "25um", "--solids", "0.4", "--coats", 4)
    ran = cli("plan", "quantity", *asked, "--pot-life", "30 min at 20 C", "--temperature", "30C")
    # at 30 °C the pot life is 15 min: a coat of 10 min and its wait of 7.5 min leave no time for a second
    assert "the coats take 1 h 2 min, longer than the pot life: mix in 4 lots" in ran.out
    assert "15 min (halved per 10 °C" in ran.out


def test_a_shop_has_its_own_panels_and_rules(cli: Cli, home: Path, tmp_path: Path) -> None:
    rules = home / "shop" / "rules"
    rules.mkdir(parents=True)
    (home / "shop" / "panels.toml").write_text('[areas]\n"roof" = "20 ft2"\n"hood" = "1 m2"\n', "utf-8")
    asked = ("plan", "quantity", "--build", "25um", "--solids", "0.4", "--json")
    assert cli(*asked, "--panel", "roof").json["area_m2"] == pytest.approx(1.858061)
    assert cli(*asked, "--panel", "hood=2", "--panel", "wheel").json["area_m2"] == pytest.approx(2.4)
    other = tmp_path / "panels.toml"
    other.write_text('[areas]\nroof = "3 m2"\n', "utf-8")
    assert cli(*asked, "--panel", "roof", "--panels", other).json["area_m2"] == pytest.approx(3)

    text = 'title = "Own"\nsource = "own"\ndate = 2024-01-01\n[limits]\nsingle-stage = "330 g/l"\n'
    (rules / "district.toml").write_text(text, "utf-8")
    (rules / "lowmere.toml").write_text(text, "utf-8")
    names = [known["name"] for known in cli("plan", "law", "--json").json["sets"]]
    assert names == ["federal", "district", "europe", "lowmere"]
    typed = ("plan", "law", "--kind", "single-stage", "--voc", "335g/l")
    assert cli(*typed, "--rules", "district").status == 1
    assert cli(*typed, "--rules", rules / "lowmere.toml").status == 1


def test_the_law_names_its_rule_and_sends_to_the_district(cli: Cli, sheets: Path) -> None:
    no = cli("plan", "law", sheets / "basecoat.toml", sheets / "clear.toml", "--rules", "district")
    yes = cli("plan", "law", sheets / "single-stage.toml", "--rules", "district")
    assert (no.status, yes.status) == (1, 0)
    for shown in (" ".join(ran.out.split()) for ran in (no, yes)):
        assert "check with your district" in shown
        assert "restoration work" in shown
        assert "suggested control measure of 20 October 2005, 2005-10-20" in shown
        assert "this set is of 2005-10-20, more than a year ago" in shown
        assert "binds who applies the paint" in shown
        assert "in motion: proposed in October 2024" in shown
        assert "10 US gallons a year" in shown
    assert "still open under this rule: a single-stage up to 340 g/L" in " ".join(no.out.split())


def test_the_answer_says_whom_the_rule_binds(cli: Cli) -> None:
    typed = ("plan", "law", "--kind", "single-stage", "--voc", "300g/l", "--holds", "none")
    for rules, words in (
        ("district", "may be applied under the rule set district"),
        ("federal", "may be sold as such under the rule set federal"),
        ("europe", "may be sold as such under the rule set europe"),
    ):
        shown = " ".join(cli(*typed, "--rules", rules).out.split())
        assert words in shown
        assert f"{rules} binds who" in shown
        assert "isn't known" not in shown
    silent = " ".join(cli(*typed[:-2], "--rules", "district").out.split())
    assert "whether typed single-stage holds hexavalent chromium, cadmium" in silent


def test_a_paint_that_may_not_be_sold_for_its_chromate_is_refused(cli: Cli, sheets: Path) -> None:
    """17 CCR 93112; REACH annex XIV: lead chromates PY34 and PR104."""
    typed = ("plan", "law", "--kind", "single-stage", "--voc", "300g/l", "--holds", "lead chromate", "--rules")
    for rules, source in (("district", "17 CCR 93112"), ("europe", "REACH, annex XIV")):
        found = cli(*typed, rules)
        assert found.status == 1
        assert source in " ".join(found.out.split())
        assert "cause cancer" in found.out
    assert cli(*typed, "federal").status == 0  # it binds who sprays, but bans nothing
    assert [one["source"] for one in cli(*typed, "federal", "--json").json["metals"]] == ["40 CFR 63 subpart HHHHHH"]
    sheet = sheets / "single-stage.toml"
    sheet.write_text('holds = ["zinc chromate"]\n' + sheet.read_text("utf-8"), "utf-8")
    assert cli("plan", "law", sheet, "--rules", "district").status == 1
    assert cli("plan", "law", sheet, "--rules", "europe", "--json").json["metals"] == []


def test_the_tints_of_a_recipe_are_held_against_the_laws_on_metals(cli: Cli, sheets: Path, tmp_path: Path) -> None:
    bank = sheets.parent / "bank"
    tints = (bank / "tints.csv").read_text("utf-8").replace("PBr7", "PR104")
    (bank / "tints.csv").write_text(tints, "utf-8")
    batch = tmp_path / "batch.csv"
    batch.write_text("tint,grams\nwhite,80\nbrown umber,20\n", "utf-8")
    asked = ("plan", "law", sheets / "single-stage.toml", "--rules", "district", "--bank", bank, "--batch", batch)
    found = cli(*asked, "--json")
    assert (found.status, found.json["allowed"]) == (1, False)
    assert [(one["what"], one["banned"]) for one in found.json["metals"]] == [
        (["brown umber"], True),
        (["brown umber"], False),
    ]
    assert "give both --bank and --batch" in cli(*asked[:-2]).err
    assert "write holds = … on the data sheet" in cli(*asked, "--holds", "lead").err


def test_a_set_that_was_confirmed_within_a_year_is_not_called_old(cli: Cli, tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    text = f'title = "Own"\nsource = "own"\ndate = 2005-10-20\nconfirmed = {date.today()}\n[limits]\nclear = "9 g/l"\n'
    own.write_text(text, "utf-8")
    asked = ("plan", "law", "--kind", "clear", "--voc", "5g/l", "--rules", own)
    assert "more than a year ago" not in " ".join(cli(*asked).out.split())
    own.write_text(text.replace("confirmed", "# confirmed"), "utf-8")
    assert "more than a year ago" in " ".join(cli(*asked).out.split())


def test_air_that_will_not_do_ends_with_one(cli: Cli) -> None:
    assert cli("plan", "air", "--temperature", "22C", "--humidity", "50%").status == 0
    assert cli("plan", "air", "--temperature", "72F", "--humidity", "90%").status == 1


def test_without_a_window_whether_the_air_will_do_is_not_known(cli: Cli, sheets: Path, tmp_path: Path) -> None:
    """That two-pack commonly wants 15 °C and more is «common practice»."""
    air = ("--temperature", "22C", "--humidity", "50%")
    typed = " ".join(cli("plan", "air", *air).out.split())
    assert "Whether the air will do isn't known: 22.0 °C" in typed
    assert "two-pack commonly wants 15 °C and more" in typed
    assert "colder than that" not in typed
    assert cli("plan", "air", *air, "--json").json["window_unknown"] == ["the paint"]
    sheet = tmp_path / "x.toml"
    sheet.write_text('name = "x"\nkind = "clear"\n', "utf-8")
    cold = ("--temperature", "12C", "--humidity", "50%")
    found = cli("plan", "air", sheets / "surfacer.toml", sheet, *cold)
    assert found.status == 1  # the surfacer's own window
    shown = " ".join(cli("plan", "air", sheet, *cold).out.split())
    assert "12.0 °C is colder than that: two-pack may not cure" in shown
    both = cli("plan", "air", sheet, sheets / "basecoat.toml", *air, "--json").json
    assert both["window_unknown"] == ["x"]
    unknown = [event["what"] for event in both["timetable"] if event["latest_unknown"]]
    assert unknown == ["coat 1 of 2"]
    known = cli("plan", "air", sheets / "surfacer.toml", *air)
    assert "The air will do" in known.out


def test_the_day_starts_when_asked_and_runs_past_midnight(cli: Cli, sheets: Path) -> None:
    air = ("--temperature", "20C", "--humidity", "50%", "--start", "22:00", "--coat-time", "20min", "--json")
    events = cli("plan", "air", sheets / "surfacer.toml", sheets / "single-stage.toml", *air).json["timetable"]
    assert [event["clock"] for event in events] == ["22:00", "22:30", "00:50 +1 d", "01:22 +1 d", "17:42 +1 d"]


def test_cautions_are_those_that_bear(cli: Cli, sheets: Path) -> None:
    two_pack = cli("plan", "law", sheets / "single-stage.toml", "--rules", "district").out
    one_pack = cli("plan", "air", sheets / "basecoat.toml", "--temperature", "20C", "--humidity", "50%").out
    assert "isocyanates" in two_pack
    assert "isocyanates" in one_pack  # its sheet doesn't say, so two-pack isn't ruled out
    sheet = (sheets / "basecoat.toml").read_text("utf-8")
    (sheets / "basecoat.toml").write_text("two_pack = false\n" + sheet, "utf-8")
    one_pack = cli("plan", "air", sheets / "basecoat.toml", "--temperature", "20C", "--humidity", "50%").out
    assert "isocyanates" not in one_pack
    assert "data sheet, local air and waste rules" in one_pack


def test_a_plan_goes_into_the_job_with_its_files(cli: Cli, sheets: Path) -> None:
    cli("job", "new", "Tarnbeck Six")
    sheet = sheets / "single-stage.toml"
    cli("plan", "quantity", "--area", "2m2", "--product", sheet, "--job", "J1")
    cli("plan", "law", "--kind", "clear", "--voc", "400g/l", "--rules", "district", "--job", "J1")
    first, second = cli("job", "show", "J1", "--json").json["entries"]
    assert (first["kind"], first["entry"]["about"], first["entry"]["verdict"]) == ("plan", "quantity", "yes")
    assert [source["name"] for source in first["sources"]] == ["single-stage.toml"]
    assert first["entry"]["figures"]["area_m2"] == 2
    assert (second["entry"]["about"], second["entry"]["verdict"]) == ("law", "no")
    assert "law: no: typed clear may not be applied" in " ".join(cli("job", "show", "J1").out.split())


def test_a_whole_plan_is_one_page_with_its_cautions(cli: Cli, sheets: Path, tmp_path: Path) -> None:
    out = tmp_path / "plan.html"
    ran = cli("plan", "page", sheets / "plan.toml", "--out", out)
    assert ran.status == 0, ran.err
    html = out.read_text("utf-8")
    shown = " ".join(ran.out.split())
    for words in (
        "Tarnbeck Six, bonnet",
        "may be applied under the rule set district",
        "It hides from",
        "The air will do",
    ):
        assert words in html
        assert words in shown
    assert html.count("isocyanates") == shown.count("isocyanates") == 1
    assert "Nothing stands against it" in html
    assert "http" not in html  # needs nothing from outside
    assert "@page" in html
    assert 'class="dense"' not in html


def test_a_plan_of_everything_prints_smaller_to_stay_on_its_sheet(cli: Cli, sheets: Path, tmp_path: Path) -> None:
    whole, out = sheets / "whole.toml", tmp_path / "plan.html"
    more = '[[step]]\nproduct = "clear.toml"\n[sheen]\nladder = "ladder.csv"\ngloss = 35\n'
    whole.write_text((sheets / "plan.toml").read_text("utf-8") + more, "utf-8")
    ran = cli("plan", "page", whole, "--out", out)
    assert ran.status == 1
    html = out.read_text("utf-8")
    assert 'class="dense"' in html
    assert "What stands against it: Law." in html
    assert "Lowmere clear: 420 g/L is over the limit of 250 g/L" in html


def test_coats_that_do_not_hide_are_reported(cli: Cli, sheets: Path) -> None:
    thin = sheets / "thin.toml"
    thin.write_text(
        'title = "x"\n[[step]]\nproduct = "single-stage.toml"\ncoats = 1\n'
        '[hiding]\ncontrast = 0.85\nat = "20 um"\ncolour = "../target.csv"\n',
        "utf-8",
    )
    ran = cli("plan", "page", thin)
    assert ran.status == 1
    assert "planned doesn't hide" in ran.out
    thin.write_text(thin.read_text("utf-8").replace("coats = 1", "coats = 3"), "utf-8")
    assert cli("plan", "page", thin).status == 0


def test_a_metallic_is_shown_with_the_note_that_flake_is_not_predicted(cli: Cli, sheets: Path) -> None:
    flake = sheets / "metallic.csv"
    assert "doesn't know flake" in cli("plan", "angles", f"{flake}@standard", f"{flake}@card 1").out
    plan = sheets / "flake.toml"
    plan.write_text(
        'title = "x"\n[[step]]\nproduct = "basecoat.toml"\n[hiding]\ncontrast = 0.9\nat = "10 um"\n', "utf-8"
    )
    assert "doesn't know flake" in cli("plan", "page", plan).out


def test_the_same_angles_are_within(cli: Cli, sheets: Path) -> None:
    flake = sheets / "metallic.csv"
    same = cli("plan", "angles", f"{flake}@standard", f"{flake}@standard")
    assert same.status == 0
    assert "the flop is alike" in same.out


def test_a_whole_plan_goes_into_the_job_part_by_part(cli: Cli, sheets: Path) -> None:
    cli("job", "new", "Tarnbeck Six")
    cli("plan", "page", sheets / "plan.toml", "--job", "J1")
    entries = cli("job", "show", "J1", "--json").json["entries"]
    assert [entry["entry"]["about"] for entry in entries] == ["law", "hiding", "quantity", "quantity", "air"]
    assert all("plan.toml" in [source["name"] for source in entry["sources"]] for entry in entries)


PLAN = 'title = "x"\n'


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "there is no 'title'"),
        (PLAN, "there is nothing to plan"),
        (PLAN + 'area = "0 m2"\n', "must be above 0"),
        (PLAN + "area = 3.8\n", "has no unit"),
        (PLAN + 'area = "3 m2"\n', "names an area but no paint"),
        (PLAN + 'area = "3 m2"\n[panels]\nroof = 1\n', "stands beside [panels]"),
        (PLAN + '[panels]\nrof = 1\n[[step]]\nproduct = "clear.toml"\n', "did you mean roof"),
        (PLAN + "[panels]\nroof = -1\n", "too small"),
        (PLAN + 'rules = "district"\n', "names rules but no paint"),
        (PLAN + 'rules = "none"\n[[step]]\nproduct = "clear.toml"\n', "there is no rule set"),
        (PLAN + '[[step]]\nproduct = "none.toml"\n', "there is no such file"),
        (PLAN + '[booth]\nhumidity = "50 %"\n', "there is no 'temperature'"),
        (PLAN + '[booth]\ntemperature = "20 C"\nhumidity = "90 %"\nsurface = "10 C"\n', "below the dew point"),
        (PLAN + '[booth]\ntemperature = "20 C"\nhumidity = "50 %"\nstart = "8"\n', "not a time of day"),
        (PLAN + "[hiding]\ncontrast = 0.9\n", "a paint is needed"),
        (PLAN + "[sheen]\ngloss = 35\n", "there is no 'ladder'"),
        (PLAN + '[sheen]\nladder = "ladder.csv"\n', "one gloss is needed"),
        (PLAN + '[sheen]\nladder = "ladder.csv"\ngloss = 99\n', "outside the ladder"),
        (PLAN + '[angle]\nstandard = "x"\n', "did you mean angles"),
    ],
)
def test_a_plan_file_that_is_wrong_is_reported_in_one_line(text: str, message: str, cli: Cli, sheets: Path) -> None:
    (sheets / "bad.toml").write_text(text, "utf-8")
    out = sheets / "bad.html"
    assert message in cli("plan", "page", sheets / "bad.toml", "--out", out).error
    assert not out.exists()


QUANTITY = ("quantity", "--build", "25um", "--solids", "0.4")
BAD = [
    (("quantity",), "one area is needed"),
    ((*QUANTITY, "--area", "2m2", "--panel", "roof"), "one area is needed"),
    ((*QUANTITY, "--area", "2.1"), "has no unit and could be m2 or ft2"),
    ((*QUANTITY, "--area", "0m2"), "must be above 0"),
    ((*QUANTITY, "--area", "-2m2"), "must be above 0"),
    ((*QUANTITY, "--area", "2 hectare"), "the unit 'hectare' is not known"),
    ((*QUANTITY, "--panel", "rof"), "did you mean roof"),
    ((*QUANTITY, "--panel", "roof=two"), "not a number of panels"),
    ((*QUANTITY, "--panel", "roof=-1"), "can't be painted"),
    ((*QUANTITY, "--area", "2m2", "--ratio", "60%:20%:10%"), "come to 90 %"),
    ((*QUANTITY, "--area", "2m2", "--density", "1kg/l"), "there is no mixing ratio"),
    ((*QUANTITY, "--area", "2m2", "--ratio", "4:1", "--density", "1kg/l"), "1 densities for 2 components"),
    ((*QUANTITY, "--area", "2m2", "--waste", "100%"), "the whole of it"),
    ((*QUANTITY, "--area", "2m2", "--product", "none.toml"), "there is no such file"),
    ((*QUANTITY, "--area", "2m2", "--job", "J1"), ""),
    (("quantity", "--area", "2m2", "--solids", "0.4"), "the dry build of a coat isn't known"),
    (("quantity", "--area", "2m2", "--build", "25um"), "the volume solids aren't known"),
    (("quantity", "--area", "2m2", "--build", "25um", "--solids", "1.4"), "1.4 is over 1"),
    (("quantity", "--area", "2m2", "--build", "25", "--solids", "0.4"), "could be um or mil"),
    (("hiding",), "a paint is needed"),
    (("hiding", "--contrast", "0.9"), "a paint is needed"),
    (("hiding", "--contrast", "1.2", "--at", "20um"), "1.2 is over 1"),
    (("hiding", "--contrast", "0.9", "--at", "20"), "could be um or mil"),
    (("hiding", "--contrast", "0.9", "--at", "20um", "--colour", "none.csv"), "no such file"),
    (("hiding", "--bank", "none", "--batch", "none.csv"), "there is no such bank folder"),
    (("sheen", "none.csv", "--gloss", "35"), "there is no such file"),
    (("sheen", "none.csv"), "one gloss is needed"),
    (("angles", "none.csv", "none.csv"), "there is no such file"),
    (("page", "none.toml"), "there is no such file"),
    (("law", "--kind", "clear", "--voc", "400g/l"), "no rule set is named"),
    (("law", "--job", "J1"), "there is nothing to record"),
    (("law", "--rules", "district"), "a coating is needed"),
    (("law", "--rules", "distrit", "--kind", "clear", "--voc", "400g/l"), "there is no rule set"),
    (("law", "--rules", "district", "--kind", "clear", "--voc", "400"), "could be g/l or lb/gal"),
    (("law", "--rules", "district", "--kind", "top", "--voc", "400g/l"), "'top' is not known"),
    (("law", "--rules", "federal", "--kind", "clear", "--voc", "400g/l"), "together with its clear"),
    (("air", "--temperature", "22C"), "needs its humidity or its dew point"),
    (("air", "--temperature", "22", "--humidity", "50%"), "could be C or F"),
    (("air", "--temperature", "22C", "--humidity", "80%", "--surface", "10C"), "below the dew point"),
    (("air", "--temperature", "10C", "--dew-point", "12C"), "below the dew point"),
    (("air", "--temperature", "22C", "--humidity", "50%", "--start", "25:00"), "not a time of day"),
]


@pytest.mark.parametrize(("arguments", "message"), BAD, ids=[" ".join(arguments) for arguments, _ in BAD])
def test_what_is_wrong_is_reported_in_one_line(arguments: tuple[str, ...], message: str, cli: Cli) -> None:
    assert message in cli("plan", *arguments).error


SHEET = 'name = "x"\nkind = "clear"\n'


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('kind = "clear"\n', "there is no 'name'"),
        (SHEET.replace("clear", "cleer"), "did you mean clear"),
        (SHEET + "volume_solids = 1.2\n", "1.2 is over 1"),
        (SHEET + "build = 25\n", "has no unit and could be um or mil"),
        (SHEET + 'biuld = "25 um"\n', "did you mean build"),
        (SHEET + "coats = 0\n", "not a count"),
        (SHEET + 'two_pack = "yes"\n', "neither true nor false"),
        (SHEET + 'temperature = ["30 C", "15 C"]\n', "ends before it begins"),
        (SHEET + 'temperature = "15 C"\n', "is not a window"),
        (SHEET + "pot_life = 4\n", "is not a list of texts"),
        (SHEET + 'component = "x"\n', "is not a list of tables"),
        (SHEET + '[[component]]\nname = "a"\n', "needs parts or share"),
        (SHEET + '[[component]]\nname = "a"\nparts = 0\n', "too small"),
        (SHEET + '[[component]]\nname = "a"\nshare = 0.7\n[[component]]\nname = "b"\nshare = 0.2\n', "come to 0.9"),
        (SHEET + '[[component]]\nname = "a"\nshare = 0.7\n[[component]]\nname = "b"\nparts = 2\n', "write all alike"),
        (SHEET + '[[component]]\nname = "a"\nparts = 1\nexempt = "100 g/l"\n', "add exempt_density"),
        (SHEET + '[[component]]\nname = "a"\nparts = 1\ndensity = "1 kg/l"\nvoc = "1100 g/l"\n', "more than the litre"),
        ("name = \n", "is not valid TOML"),
    ],
)
def test_a_data_sheet_that_is_wrong_is_reported_in_one_line(text: str, message: str, cli: Cli, tmp_path: Path) -> None:
    sheet = tmp_path / "sheet.toml"
    sheet.write_text(text, "utf-8")
    error = cli("plan", "law", sheet, "--rules", "district").error
    assert message in error
    assert "sheet.toml" in error


def test_what_is_not_said_of_a_paint_is_not_ruled_out(cli: Cli, tmp_path: Path) -> None:
    """34 Pa. Code 35.92(d): nitrocellulose isn't alternated with other paint in an uncleaned booth."""
    sheet, air = tmp_path / "x.toml", ("--temperature", "20C", "--humidity", "50%")
    for kind, two_pack, shown, left_out in (
        ("single-stage", "", (ISOCYANATES, NITROCELLULOSE), (WASH_PRIMER,)),
        ("single-stage", "two_pack = true\n", (ISOCYANATES,), (NITROCELLULOSE, WASH_PRIMER)),
        ("single-stage", "two_pack = false\n", (NITROCELLULOSE,), (ISOCYANATES, WASH_PRIMER)),
        ("wash primer", "two_pack = true\n", (ISOCYANATES, WASH_PRIMER), (NITROCELLULOSE,)),
    ):
        sheet.write_text(f'name = "x"\nkind = "{kind}"\n{two_pack}', "utf-8")
        out = cli("plan", "air", sheet, *air).out
        assert all(caution in out for caution in (*shown, DEFER))
        assert not any(caution in out for caution in left_out)


def test_the_cautions_name_what_harms_in_old_cars_and_new_paint() -> None:
    """REACH annex XVII entry 74; 34 Pa. Code 35.92(d); lead solder, asbestos and wash primers are «common practice»."""
    assert {NITROCELLULOSE, ISOCYANATES} <= set(SPRAYING)
    assert {OLD_BODY, OLD_PAINT} <= set(SANDING)
    assert {OLD_BODY, OLD_PAINT, NITROCELLULOSE, WASH_PRIMER, ISOCYANATES} <= set(REWORK)
    assert "entry 74" in ISOCYANATES
    assert "training besides, since 24 August 2023" in ISOCYANATES
    assert "heats itself" in NITROCELLULOSE
    assert "by turns" in NITROCELLULOSE
    assert "lead solder" in OLD_BODY
    assert "asbestos" in OLD_BODY
    assert "acid" in WASH_PRIMER
    assert "chromate" in WASH_PRIMER
    assert "cadmium" in OLD_PAINT


def test_the_words_of_a_sheen_stand_beside_the_figure_and_its_scale(cli: Cli, sheets: Path) -> None:
    """ISO 2813; the other bounds are those of architectural painting standards."""
    shown = " ".join(cli("plan", "sheen", sheets / "ladder.csv", "--gloss", "30").out.split())
    assert "for a gloss of 30 at 60° (ISO 2813; satin)" in shown
    assert "satin is 25 to 40 gloss units at 60°" in shown
    assert "others take satin 20 to 35 and semi-gloss 35 to 70: agree on the figure, not the word" in shown
    assert "read the card there too" not in shown
    high = " ".join(cli("plan", "sheen", sheets / "ladder.csv", "--gloss", "80").out.split())
    assert "told better at 20° (ISO 2813)" in high
