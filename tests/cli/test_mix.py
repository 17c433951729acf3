"""`mix`: recipes that a painter can weigh out, what they promise, and what is said when the colour can't be reached."""

from __future__ import annotations

import re
from collections.abc import Callable
from math import comb
from pathlib import Path

import pytest

from finishmatch.readings import read_bank
from tests.conftest import Ran
from tests.helpers.door_files import MIX, put, write

pytest_plugins = ["tests.helpers.door_fixtures"]
Cli = Callable[..., Ran]
RECIPE_KEYS = {
    "parts", "grams", "predicted", "lights", "metamerism", "cost", "sensitivity_de00_p95", "hiding_build_um",
}  # fmt: skip


def weighed(steps: float, step: float) -> bool:
    """Whether a weight is a whole number of scale steps."""
    return abs(steps / step - round(steps / step)) < 1e-6


def test_the_recipes_are_told_as_others_rely_on(cli: Cli, bench: Path) -> None:
    ran = cli(*MIX, "--json")
    assert (ran.status, ran.err) == (0, "")
    found = ran.json
    assert {"recipes", "warnings"} <= set(found)
    assert found["within"] is True
    assert found["subsets_searched"] == sum(comb(5, k) for k in range(1, 6))
    price = {tint.name: tint.price_per_kg for tint in read_bank(bench / "bank").tints}
    for recipe in found["recipes"]:
        assert set(recipe) >= RECIPE_KEYS
        assert all(set(part) == {"tint", "grams"} for part in recipe["parts"])
        predicted = recipe["predicted"]
        assert predicted["wavelengths"] == list(range(400, 701, 10))
        assert len(predicted["reflectance"]) == 31
        assert all(0 < value < 1 for value in predicted["reflectance"])
        assert len(predicted["lab"]) == 3
        assert list(recipe["lights"]) == ["D65", "A", "F11"]
        assert recipe["metamerism"] >= 0
        assert recipe["sensitivity_de00_p95"] > 0
        cost = sum(part["grams"] / 1000 * price[part["tint"]] for part in recipe["parts"])
        assert recipe["cost"] == pytest.approx(cost, abs=1e-5)
        weights = [part["grams"] for part in recipe["parts"]]
        assert weights == sorted(weights, reverse=True)
    worst = [max(recipe["lights"].values()) for recipe in found["recipes"]]
    assert worst[0] <= min(worst) + 0.02  # best first; closer than that the eye can't part them


def test_the_difference_told_is_the_one_compare_finds(cli: Cli, bench: Path) -> None:
    recipe = cli(*MIX, "--json").json["recipes"][0]
    head = ",".join(map(str, recipe["predicted"]["wavelengths"]))
    write(bench / "promised.csv", f"name,{head}\nrecipe,{','.join(map(str, recipe['predicted']['reflectance']))}\n")
    compared = cli("compare", "target.csv", "promised.csv", "--json").json
    assert compared["lights"] == pytest.approx(recipe["lights"], abs=1e-3)
    assert compared["metamerism"] == pytest.approx(recipe["metamerism"], abs=1e-3)


@pytest.mark.parametrize(
    ("grams", "step", "smallest"),
    [
        (500, 0.1, None),
        (250, 0.5, None),
        (100, 0.01, None),
        (1000, 1, None),
        (2000, 5, 20),
        (60, 0.1, 2),
        (37.3, 0.1, 0.5),
    ],
)
@pytest.mark.parametrize("target", ["target.csv", "62,2,-8", "35,-1,-12"])
def test_grams_are_what_the_scale_can_weigh(
    cli: Cli, bench: Path, grams: float, step: float, smallest: float | None, target: str
) -> None:
    line = ["mix", target, "--bank", "bank", "--grams", grams, "--scale-step", step, "--json"]
    found = cli(*line, *(() if smallest is None else ("--smallest", smallest))).json
    for recipe in found["recipes"]:
        cups = {one["tint"] for one in recipe["letdowns"]}  # a tenth of the step goes through a cup
        least = 3 * step if smallest is None else smallest
        for part in recipe["parts"]:
            share = 0.1 if part["tint"] in cups else 1.0
            assert weighed(part["grams"], share * step)
            assert part["grams"] >= share * least - 1e-9
        total = sum(part["grams"] for part in recipe["parts"])
        assert total == pytest.approx(recipe["grams"], abs=0.5 * step + 1e-6 if cups else 1e-6)
        if any("batch enlarged" in note for note in recipe["notes"]):
            assert grams < recipe["grams"] <= 2.1 * grams
        else:
            assert recipe["grams"] == pytest.approx(round(grams / step) * step, abs=1e-6)


@pytest.mark.slow
def test_a_part_too_small_to_weigh_is_left_out_or_the_batch_enlarged_and_it_is_said(cli: Cli, bench: Path) -> None:
    notes = [
        note
        for grams in (40, 80, 120, 160, 200, 240, 280, 320, 400)
        for recipe in cli(*put(MIX, "500", str(grams)), "--smallest", 1, "--no-letdowns", "--json").json["recipes"]
        for note in recipe["notes"]
    ]
    assert any(re.fullmatch(r".* g of .* left out, too little to weigh", note) for note in notes)
    assert any(
        re.fullmatch(r"batch enlarged from .* g to .* g, so that the smallest part can be weighed", n) for n in notes
    )


def test_of_a_batch_that_was_enlarged_what_was_asked_for_is_what_is_mixed_again(cli: Cli, swatches: Path) -> None:
    cli("job", "new", "Sill")
    line = ["mix", f"{swatches}/evidence.csv@tin", "--bank", swatches / "bank", "--grams", 40, "--smallest", 1]
    found = cli(*line, "--job", "J1", "--json").json
    enlarged = [one["grams"] for one in found["recipes"] if one["grams"] > 41]
    assert enlarged
    assert "(40.0 g was asked for)" in " ".join(cli("job", "show", "J1").out.split())
    again = cli("mix", "--smallest", 1, "--job", "J1", "--json").json
    assert again["recipes"][0]["grams"] == pytest.approx(found["recipes"][0]["grams"], abs=0.05)
    kept = [view["entry"] for view in cli("job", "show", "J1", "--json").json["entries"] if view["kind"] == "recipe"]
    assert {one["asked_g"] for one in kept if one["grams"] > 41} == {40.0}
    assert {one["asked_g"] for one in kept if one["grams"] < 41} <= {None}


def test_a_recipe_a_little_outside_comes_first_where_its_first_card_is_expected_nearer_and_says_so(
    cli: Cli, swatches: Path
) -> None:
    line = ["mix", "60,12,12", "--bank", swatches / "bank", "--grams", 30, "--tolerance", 0.3]
    told = cli(*line)
    assert told.status == 0
    assert "outside the tolerance of" not in told.out
    found = cli(*line, "--json").json
    first, *others = found["recipes"]
    worst = [max(recipe["lights"].values()) for recipe in found["recipes"]]
    assert found["within"]
    assert 0.3 < worst[0] <= 0.45
    inside = [recipe["expected_de00"] for recipe, off in zip(others, worst[1:], strict=True) if off <= 0.3]
    assert first["expected_de00"] < 0.9 * min(inside)
    says = f"expected at ΔE00 {min(inside):.2f} instead of {first['expected_de00']:.2f}"
    assert found["why_harder"].endswith(says)
    assert says in " ".join(told.out.split())
    assert says in found["why_first"][0]


@pytest.mark.parametrize("most", range(1, 6))
def test_no_recipe_has_more_tints_than_allowed(cli: Cli, bench: Path, most: int) -> None:
    found = cli(*MIX, "--max-tints", most, "--json").json
    assert max(len(recipe["parts"]) for recipe in found["recipes"]) <= most
    assert found["subsets_searched"] == sum(comb(5, k) for k in range(1, most + 1))


def test_the_stock_is_kept_to_and_a_short_tint_is_named(cli: Cli, bench: Path) -> None:
    tints = bench / "bank" / "tints.csv"
    write(tints, tints.read_text().replace("blue,tint,PB15:1,1,0.3,58,1000", "blue,tint,PB15:1,1,0.3,58,5"))
    ran = cli(*MIX, "--json")
    assert (ran.status, ran.json["within"]) == (1, False)
    assert re.match(r"the stock is too small \(.*blue.*\); the nearest is ΔE00 .* a smaller batch", ran.json["why"])
    for recipe in ran.json["recipes"]:
        assert {part["tint"]: part["grams"] for part in recipe["parts"]}.get("blue", 0) <= 5
    assert "outside the tolerance of 1: the stock is too small" in cli(*MIX).out
    assert cli(*put(MIX, "500", "80"), "--json").json["within"] is True  # as was said


def test_a_tint_out_of_stock_is_left_out_and_named(cli: Cli, bench: Path) -> None:
    tints = bench / "bank" / "tints.csv"
    write(tints, tints.read_text().replace("94,500", "94,0"))
    found = cli(*MIX, "--json").json
    assert any("violet: the stock is below the smallest weighable part; left out" in w for w in found["warnings"])
    assert "violet" not in {part["tint"] for recipe in found["recipes"] for part in recipe["parts"]}


@pytest.mark.parametrize("target", ["80,60,70", "5,0,0", "99,-40,0"])
def test_a_colour_out_of_reach_gets_the_nearest_and_the_reason(cli: Cli, bench: Path, target: str) -> None:
    ran = cli("mix", target, "--bank", "bank", "--grams", 500, "--json")
    assert (ran.status, ran.err, ran.json["within"]) == (1, "", False)
    assert ran.json["recipes"]
    nearest = max(ran.json["recipes"][0]["lights"].values())
    assert "outside what these tints can make" in ran.json["why"]
    assert f"the nearest is ΔE00 {nearest:.2f} away" in ran.json["why"]
    text = cli("mix", target, "--bank", "bank", "--grams", 500)
    assert text.status == 1
    assert "outside the tolerance of 1: the colour is outside what these tints can make" in text.out


def test_of_a_lab_target_only_its_own_light_is_promised(cli: Cli, bench: Path) -> None:
    line = ("mix", "--lab", "45,-5,-15", "--bank", "bank", "--grams", 500, "--light", "F11", "--light", "D65")
    found = cli(*line, "--json").json
    assert found["recipes"]
    for recipe in found["recipes"]:
        assert list(recipe["lights"]) == ["F11"]
        assert recipe["metamerism"] is None
    (told,) = [note for note in found["warnings"] if "metamerism" in note]
    assert "only Lab under F11, 10° is known of typed" in told
    assert "nothing can be promised in another light" in told
    assert "nothing can be promised in another light" in cli(*line).out


def test_it_is_told_with_what_the_scale_shows_and_with_the_cautions(cli: Cli, bench: Path) -> None:
    ran = cli(*MIX, "--scale-step", "0.01", "--recipes", 1)
    assert (ran.status, ran.err) == (0, "")
    assert "all 31 combinations of up to 5 of 5 tints tried" in ran.out
    parts = cli(*MIX, "--scale-step", "0.01", "--json").json["recipes"][0]["parts"]
    running = 0.0
    for part in parts:
        running += part["grams"]
        # the first line with the tint's name; the table of grounds may name one too
        line = next(line for line in ran.out.splitlines() if line.strip().startswith(f"{part['tint']} "))
        grams, shown = (float(cell) for cell in line.split()[-2:])
        assert grams == pytest.approx(part["grams"], abs=1e-9)  # to the last step of the scale
        assert shown == pytest.approx(running, abs=1e-9)
    assert "with --recipes" in ran.out
    assert "! The product's data sheet" in ran.out


def test_what_it_found_is_recorded(cli: Cli, bench: Path) -> None:
    cli("job", "new", "Roof")
    found = cli(*MIX, "--recipes", 2, "--job", "J1", "--json")
    assert (found.status, found.err) == (0, "")
    evidence, target, *recipes = cli("job", "show", "J1", "--json").json["entries"]
    assert [entry["kind"] for entry in (evidence, target)] == ["reading", "target"]
    assert [source["name"] for source in evidence["sources"]] == ["target.csv"]
    assert target["entry"]["tolerance"] == 1.0
    assert [recipe["entry"]["rank"] for recipe in recipes] == [1, 2]
    for kept, told in zip(recipes, found.json["recipes"], strict=False):
        assert [(p["tint"], p["grams"]) for p in kept["entry"]["parts"]] == [
            (p["tint"], p["grams"]) for p in told["parts"]
        ]
        assert kept["entry"]["bank_digest"] == read_bank(bench / "bank").digest
    assert "recorded in J1 as #1, #2," in cli(*MIX, "--recipes", 1, "--job", "J1").out


def test_every_recipe_tells_what_a_painter_chooses_by(cli: Cli, bench: Path) -> None:
    """In the text as in the JSON: each light with its interval, metamerism, scale, hiding build, cost."""
    found = cli(*MIX, "--json").json
    blocks = re.split(r"\n  \d+\. ", cli(*MIX, "--recipes", 20).out)[1:]
    assert len(blocks) == len(found["recipes"])
    for recipe, block in zip(found["recipes"], blocks, strict=True):
        for light, de in recipe["lights"].items():
            low, high = recipe["intervals"][light]["low"], recipe["intervals"][light]["high"]
            assert f"{light} {de:.2f}" in block
            assert f"{light} {low:.1f} to {high:.1f}" in block
        assert f"metamerism {recipe['metamerism']:.2f}" in block
        assert f"cost {recipe['cost']:.2f}" in block
        assert f"weighing ±{recipe['sensitivity_de00_p95']:.2f}" in block
        assert f"from {recipe['hiding_build_um']:.0f} µm dry" in block


def test_what_hides_is_what_the_painter_says(cli: Cli, bench: Path) -> None:
    usual, seen = cli(*MIX, "--json").json, cli(*MIX, "--unseen", 3, "--json").json
    assert seen["recipes"][0]["hiding_build_um"] < usual["recipes"][0]["hiding_build_um"]
    builds = [{row["ground"]: row["build_um"] for row in found["grounds"]} for found in (usual, seen)]
    assert all(builds[1][name] < build for name, build in builds[0].items())
    assert "hides (black and white within ΔE00 3) from" in cli(*MIX, "--unseen", 3).out
    for wrong in (0, -1, 10):
        assert "not a difference to hide within" in cli(*MIX, "--unseen", wrong).error
    assert "--unseen: 'nan' is not a finite number" in cli(*MIX, "--unseen", "nan").error


def test_the_match_in_every_light_is_drawn(cli: Cli, bench: Path, tmp_path: Path) -> None:
    ran = cli(*MIX, "--plot", tmp_path / "lights.png")
    assert (tmp_path / "lights.png").read_bytes()[:4] == b"\x89PNG"
    assert f"drawn: {tmp_path / 'lights.png'}" in ran.out
    assert "can't be written" in cli(*MIX, "--plot", tmp_path / "none" / "lights.png").error
    typed = ("mix", "--lab", "45,-5,-15", *MIX[MIX.index("--bank") :])
    assert "Lab only" in cli(*typed, "--plot", tmp_path / "lab.png").error


def test_it_is_explained_what_each_recipe_is_listed_for(cli: Cli, bench: Path) -> None:
    found = cli(*MIX, "--json").json
    first, *others = found["recipes"]
    assert len(found["why_first"]) == 2 + len(others)
    text = cli(*MIX, "--explain").out
    for line in found["why_first"]:
        assert line in text
    for recipe, line in zip(others, found["why_first"][2:], strict=True):
        assert ("tints instead of" in line) == (len(recipe["parts"]) < len(first["parts"]))
        assert (f"costs {recipe['cost']:.2f} instead of" in line) == (recipe["cost"] < first["cost"] - 0.005)


def test_a_wish_names_a_tint_with_any_capitals(cli: Cli, bench: Path) -> None:
    ran = cli(*MIX, "--must", "Soft  Black", "--json")
    assert all("soft black" in [part["tint"] for part in recipe["parts"]] for recipe in ran.json["recipes"])
    assert "--must: 'Soft  Black' is read as 'soft black'" in ran.err
