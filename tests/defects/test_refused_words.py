"""Films, defects, exposures and ratings as they are typed: what is taken, and what is refused word for word."""

from __future__ import annotations

from dataclasses import replace

import pytest

from finishmatch.defects import (
    Advice,
    SeenDefect,
    advise,
    common_rework_figures,
    exposure_pairs,
    film_layer,
    find_kind,
    make_film,
    read_exposures,
)
from finishmatch.defects.exposures import Exposure, check_met_before
from finishmatch.defects.film import METAL_INDEX, is_metal, layer_role, reached_layer, read_place
from finishmatch.defects.names import by_key, find_named, find_or_refuse, nearest
from finishmatch.defects.observed import bottom_of, check_in_film, check_seen
from finishmatch.defects.rating import Rating, read_rating, size_rating
from finishmatch.defects.rework import find_option
from finishmatch.defects.rework_figures import find_step
from finishmatch.defects.spread import Cut, EvenLength, sum_of_cuts
from finishmatch.errors import InputError

FIGURES = common_rework_figures()
CRATER, YELLOWING, CHIP = find_kind("crater"), find_kind("yellowing"), find_kind("stone chip")
FILM = make_film([film_layer("primer", (62, 58, 60)), film_layer("basecoat", (20, 22)), film_layer("clear", (48, 52))])
NAME_IT = "name it with a word such as primer, surfacer, sealer, colour, basecoat, single-stage or clear"


def refused(call: object, *given: object, **more: object) -> str:
    with pytest.raises(InputError) as caught:
        call(*given, **more)  # type: ignore[operator]
    return str(caught.value)


# the film


@pytest.mark.parametrize(
    ("name", "role"),
    [("2K Surfacer", "primer"), ("etch", "primer"), ("Putty", "primer"), ("base-coat", "colour"), ("single "
                                                                                                   "stage", "colour"),
     ("Lacquer", "colour"), ("varnish", "clear"), ("clear coat", "clear"), ("colour sealer", "primer")],
)  # fmt: skip
def test_a_layer_is_what_its_name_says(name: str, role: str) -> None:
    assert layer_role(name) == role


def test_layers_that_cant_be_are_told() -> None:
    assert refused(layer_role, f" {'q' * 50}") == f"layer '{'q' * 40}': its name doesn't say what it is; {NAME_IT}"
    where = "layer 'top coat colour'"
    for builds, told in (
        ((), "has no build readings; read it at least once, three times is better"),
        ((50.0, float("nan")), "nan is not a build; write a number of µm"),
        ((0.0,), "a build of 0 µm is not possible; a reading is above 0"),
        ((-3.0,), "a build of -3 µm is not possible; a reading is above 0"),
        ((0.99,), "a build of 0.99 µm is too thin for paint; builds are in µm: is it in mm?"),
        ((20001.0,), "a build of 20001 µm is too thick for paint; builds are in µm"),
    ):
        assert refused(film_layer, " top  coat colour ", builds) == f"{where}: {told}"
    assert film_layer("colour", (1.0, 20000.0)).builds_um == (1.0, 20000.0)
    assert film_layer("colour", (50, 60)).mean_um == 55.0
    assert film_layer("colour", (50, 60), ((1, 2), None)).places_mm == ()
    assert film_layer("colour", (50, 60), ((1, 2), (3, 4))).places_mm == ((1, 2), (3, 4))
    assert refused(make_film, []) == (
        "film: there are no build readings; read the film around the defect, layer by layer"
    )
    assert refused(make_film, [film_layer("Clear coat", (50,)), film_layer("clear-coat", (50,))]) == (
        "layer 'clear-coat': is given twice; put its readings together, or name its coats differently"
    )
    assert refused(make_film, [film_layer("colour", (50,)), film_layer("primer", (50,))]) == (
        "layer 'primer': a primer lies on top, so there is no topcoat to judge; name the layers from the metal up, the "
        "topcoat last"
    )


def test_a_film_knows_its_topcoat_its_primer_and_its_depth() -> None:
    assert (FILM.top_start, FILM.primer_index, FILM.names()) == (2, 0, "primer, basecoat, clear")
    assert (FILM.mean_um, FILM.thickest_um) == (60 + 21 + 50, 62 + 22 + 52)
    two = make_film([film_layer("etch primer", (10,)), film_layer("surfacer", (60,)), film_layer("colour", (40,)),
                     film_layer("second colour", (40,))])  # fmt: skip
    assert (two.top_start, two.primer_index, len(two.topcoat)) == (2, 1, 2)
    bare = make_film([film_layer("colour", (40,))])
    assert (bare.top_start, bare.primer_index) == (0, METAL_INDEX)


@pytest.mark.parametrize(
    ("text", "place"),
    [("120/340", (120.0, 340.0)), ("-3/0.5", (-3.0, 0.5)), ("20000/0", (20000.0, 0.0)), ("20001/0", None),
     ("inf/0", None),
     ("120", None), ("left/top", None), ("1/2/3", None)],
)  # fmt: skip
def test_a_place_is_two_lengths(text: str, place: tuple[float, float] | None) -> None:
    assert read_place(text) == place


def test_the_layer_that_lies_bare_is_found() -> None:
    names = ("Primer", "base coat", "clear", "metal", "bare steel", "colour")
    assert [reached_layer(FILM, name) for name in names] == [0, 1, 2, METAL_INDEX, METAL_INDEX, 1]
    assert reached_layer(FILM, "color") == 1
    assert is_metal("aluminium")
    assert not is_metal("bare primer")
    assert refused(reached_layer, FILM, "surfacer") == (
        "layer 'surfacer': the film here has no such layer; it has primer, basecoat, clear, and metal below"
    )
    assert refused(reached_layer, FILM, "q" * 50).startswith(f"layer '{'q' * 40}': the film here has no such layer")


# the defect


@pytest.mark.parametrize(
    ("seen", "told"),
    [
        ({"count": 0}, "count: 0 defects is nothing to judge; count at least 1"),
        ({"count": 100001}, "count: 100001 is more than anyone can count; estimate it"),
        ({"size_mm": 0.0}, "size: 0 mm is not possible; it is above 0"),
        ({"size_mm": float("inf")}, "size: inf is not a length; write a number of mm"),
        ({"size_mm": 100001.0}, "size: 100001 mm is too large; is it in mm?"),
        ({"depth_um": -1.0}, "depth: -1 µm is not possible; it is at least 0"),
        ({"depth_um": 5.0, "pm_um": -1.0}, "the ± of the depth: -1 µm is not possible; it is at least 0"),
        ({"pm_um": 1.0}, "the ± of the depth: there is no depth it belongs to; give the depth too"),
        ({"depth_um": 5.0, "layer_reached": "primer"}, "depth: both a depth and a layer reached are given; give "
                                                       "the one that "
         "was seen best"),
        ({"at_mm": (20001.0, 0.0)}, "place: 20001/0 mm is not a place on a panel; write it in mm, as 120/340"),
        ({"over_mm": (float("nan"), 0.0)}, "spread: nan/0 mm is not a place on a panel; write it in mm, as 120/340"),
        ({"over_mm": (5.0, 0.0)}, "spread: 5/0 mm is not possible; both are above 0"),
    ],
)  # fmt: skip
def test_a_defect_that_cant_be_is_told(seen: dict[str, object], told: str) -> None:
    assert refused(check_seen, SeenDefect(CRATER, **seen)) == told  # type: ignore[arg-type]


def test_how_deep_a_defect_goes() -> None:
    check_seen(SeenDefect(CRATER, count=100000, size_mm=100000.0, depth_um=0.0, pm_um=0.0))
    known = bottom_of(SeenDefect(CRATER, depth_um=20.0, pm_um=6.0), FILM, FIGURES)
    assert (known.depth, known.bare, known.notes) == (Cut(20.0, 0.0, 3.0), None, ())
    unknown = bottom_of(SeenDefect(CRATER, depth_um=20.0), FILM, FIGURES)
    sd = (FIGURES.depth_error_um**2 + (20 * FIGURES.depth_error) ** 2) ** 0.5
    assert unknown.depth == Cut(20.0, 0.0, pytest.approx(sd))
    assert unknown.notes == (f"no ± is known for the depth: {2 * sd:.0f} µm is taken («common practice»)",)
    assert bottom_of(SeenDefect(CRATER, layer_reached="metal"), FILM, FIGURES).bare == METAL_INDEX
    assert bottom_of(SeenDefect(CRATER, layer_reached="basecoat"), FILM, FIGURES).bare == 1
    inside = bottom_of(SeenDefect(CRATER, layer_reached="clear"), FILM, FIGURES)
    assert (inside.depth, inside.bare) == (EvenLength(0.0, 50.0), None)
    assert inside.notes == (
        "it ends somewhere in the clear: any depth from 0 to 50 µm is taken to be as likely; a measured depth "
        "settles it",
    )
    assert refused(bottom_of, SeenDefect(CRATER), FILM, FIGURES) == (
        f"depth: nothing says how deep it goes ({CRATER.name}); give it, or the layer reached"
    )
    assert refused(check_in_film, SeenDefect(CRATER, depth_um=136.5), FILM) == (
        "depth: 136.5 µm is beyond the film, which is 131 µm deep by its readings (136 µm at the thickest); "
        "check the depth, "
        "or say it reached metal"
    )
    assert check_in_film(SeenDefect(CRATER, depth_um=136.0), FILM) is None
    proud = bottom_of(SeenDefect(find_kind("dust nibs")), FILM, FIGURES)
    assert isinstance(proud.depth, Cut)
    assert proud.notes == (
        f"its depth was not measured: {proud.depth.mean_um:.0f} µm is taken («common practice»)",
    ) or proud.depth == Cut(0.0, 0.0, 0.0)  # fmt: skip


def test_a_rim_is_a_sign_and_points_to_something_foreign() -> None:
    rimmed = SeenDefect(CHIP, rim=True)
    assert rimmed.known.signs == ("rim", "bare centre")
    assert SeenDefect(CHIP).known.signs == ()
    assert rimmed.contamination == (CHIP.form == "pit")
    assert SeenDefect(CRATER).contamination


def test_independent_cuts_add_in_squares() -> None:
    found = sum_of_cuts([Cut(5.0, 3.0, 1.0), Cut(7.0, 4.0, 2.0)])
    assert (found.mean_um, found.panel_sd_um, found.spot_sd_um) == (12.0, 5.0, pytest.approx(5**0.5))
    assert Cut(0.0, 3.0, 4.0).sd_um == 5.0
    assert EvenLength(2.0, 5.0).mean_um == 3.5


# the rating


@pytest.mark.parametrize(
    ("size", "rating"),
    [(0.02, 0), (0.021, 1), (0.1, 1), (0.11, 2), (0.2, 2), (0.21, 3), (0.5, 3), (0.51, 4), (5.0, 4), (5.1, 5)],
)
def test_a_size_has_its_class(size: float, rating: int) -> None:
    assert size_rating(size) == rating


def test_ratings_are_read_and_told() -> None:
    assert read_rating(" 3(S4) ", CRATER, None) == Rating(3, 4)
    assert read_rating("3 ( 4 )", CRATER, None) == Rating(3, 4)
    assert read_rating("3", CRATER, 1.0) == Rating(3, 4)
    assert read_rating("3", CRATER, None) == Rating(3)
    assert read_rating("2", YELLOWING, None) == Rating(2)
    assert (Rating(3, 4).text(), Rating(2).text()) == ("3(S4)", "2")
    assert refused(read_rating, "6", CRATER, None) == (
        "rating '6': is not a rating of ISO 4628-1; write 0 to 5, as 3(S4): quantity, and size"
    )
    assert refused(read_rating, "q" * 30, YELLOWING, None) == (
        f"rating '{'q' * 20}': is not a rating of ISO 4628-1; write 0 to 5, as one number: intensity"
    )
    assert refused(read_rating, "3(S4)", YELLOWING, None) == (
        "rating '3(S4)': yellowing is an even change without a size; give its intensity, 0 to 5"
    )
    assert refused(read_rating, "3(S4)", CRATER, 6.0) == (
        "rating '3(S4)': 6 mm is size class 5, not 4; check size and rating"
    )


# what the panel met


def test_exposures_are_read_however_they_are_written() -> None:
    assert read_exposures(["Airline = 2", " Tack  rag=old  one@2024-05-02", "wipe=a@b", "my own=x"]) == (
        Exposure("air line", "2"), Exposure("cloth", "old one", "2024-05-02"), Exposure("wipe", "a@b"),
        Exposure("my own", "x"),
    )  # fmt: skip
    assert exposure_pairs(["gun=3", "booth=1"]) == (("gun", "3"), ("booth", "1"))
    for text, told in (
        ("gun", "is not KIND=VALUE; write it as \"air line=2\""),
        ("=3", "is not KIND=VALUE; write it as \"air line=2\""),
        ("gun= ", "is not KIND=VALUE; write it as \"air line=2\""),
        ("gun=3@2024-5-2", "'2024-5-2' is not a date; write it as \"air line=2@2024-05-02\""),
        ("gun=3@2024-02-30", "'2024-02-30' is not a date; write it as \"air line=2@2024-05-02\""),
    ):  # fmt: skip
        assert refused(read_exposures, [text]) == f"exposure {text.strip()!r}: {told}"
    assert refused(read_exposures, ["gun=3", "spray gun=3"]) == "exposure 'spray gun=3': is given twice; give it once"
    assert refused(exposure_pairs, ["gun=3@2024-05-02"]) == (
        "exposure 'gun=3@2024-05-02': has a day of its own; the coat has its day: leave @… out"
    )
    late = read_exposures(["gun=3@2024-05-03", "booth=1"])
    check_met_before(late, "2024-05-03")
    assert refused(check_met_before, late, "2024-05-02") == (
        "exposure 'gun=3': is of 2024-05-03, after the defect was seen on 2024-05-02: it can't have caused it; "
        "check both "
        "dates"
    )


# names


def test_names_are_found_in_the_plural_too_and_the_nearest_are_offered() -> None:
    known = by_key(["fish-eyes", "run"], lambda name: (name, "sags") if name == "run" else (name,))
    assert [find_named(text, known) for text in ("Fish Eye", "FISHEYES", "runs", "sag", "dust")] == [
        "fish-eyes", "fish-eyes", "run", "run", None,
    ]  # fmt: skip
    assert nearest("fishye", known, str) == "did you mean fish-eyes?"
    assert nearest("sagss", known, str) == "did you mean sags (run)?"
    assert nearest("zzzz", known, str) == ""
    assert refused(find_or_refuse, " zzzz ", known, str, "kind", "see the list") == (
        "kind: no kind is called 'zzzz'; see the list"
    )
    unnamed = refused(find_or_refuse, " ", known, str, "kind", "see the list")
    assert unnamed == "kind: the kind is not named; see the list"
    assert refused(find_or_refuse, "fishye", known, str, "kind", "see the list") == (
        "kind: no kind is called 'fishye'; did you mean fish-eyes?"
    )
    assert find_or_refuse("run", known, str, "kind", "") == "run"
    assert refused(find_kind, "zzzzqq") == "defect: no kind is called 'zzzzqq'; 'finishmatch defect kinds' lists them"
    assert refused(find_kind, " ").startswith("defect: its kind is not named")
    assert refused(find_step, "zzzzqq") == (
        "step: no step is called 'zzzzqq'; 'finishmatch defect calibrate' lists them"
    )
    assert refused(find_option, "q").startswith("choice 'q': is not an option; choose one of: ")
    assert refused(find_option, "").startswith("choice '': is not an option")
    assert "names more than one option" in refused(find_option, "e")


# advice


def told(film: object = FILM, **seen: object) -> Advice:
    return advise(SeenDefect(CRATER, **{"count": 3, "depth_um": 8.0, "pm_um": 4.0, **seen}), film)  # type: ignore[arg-type]


def test_what_readings_say_too_little_of_is_told() -> None:
    few = make_film([
        film_layer("primer", (60.0,)), film_layer("colour", (100.0, 100.0)), film_layer("clear", (50.0, 56.0)),
    ])  # fmt: skip
    share, gauge = f"{100 * FIGURES.spread:g} %", f"{FIGURES.gauge_um:g} µm"
    nothing = f"nothing about the spread; {share} of the build and {gauge} of gauge error are taken («common practice»)"
    notes = told(few).warnings
    assert notes[:3] == (
        f"primer: one reading says {nothing}",
        f"colour: 2 readings all the same say {nothing}",
        "clear: 2 readings say little about the spread; one more would say much",
    )
    assert told(few).readings_needed == ("primer", "colour", "clear")
    wide = make_film([film_layer("colour", (30.0, 91.0, 60.0))])
    assert told(wide).warnings[:2] == (
        "colour: readings from 30 to 91 µm; was a decimal comma typed?",
        "no primer was read: none is counted",
    )
    assert not any("decimal" in note for note in told(make_film([film_layer("colour", (30.0, 90.0, 60.0))])).warnings)
    assert "they were not counted: one is assumed" in told(count=None).warnings
    thin = make_film([film_layer("primer", (60, 61, 62)), film_layer("colour", (10, 11, 12))])
    keep = FIGURES.keep_um["colour"]
    assert (
        f"the colour is 11 µm before any cut, already under the {keep:g} µm to keep"
        in told(thin, depth_um=2.0).warnings
    )


def test_what_must_be_kept_and_what_is_risked_must_be_possible() -> None:
    seen = SeenDefect(CRATER, count=1, depth_um=8.0)
    assert refused(advise, seen, FILM, keep_um=-1.0) == (
        "film to keep: -1 µm is not possible; it is a number of µm, at least 0"
    )
    assert refused(advise, seen, FILM, max_risk=1.1) == (
        "greatest risk: 1.1 is not a chance; it is between 0 and 1; 5 % is 0.05"
    )
    assert advise(seen, FILM, keep_um=0.0, max_risk=1.0).more_readings == 0
    thick = make_film([film_layer("primer", (60, 61, 62)), film_layer("clear", (149, 150, 151))])
    shallow, deep = told(thick, depth_um=2.0), told(thick, depth_um=140.0)
    assert shallow.breakthrough < 0.01
    assert shallow.more_readings == 0
    assert deep.breakthrough > 0.99
    assert deep.anywhere >= deep.breakthrough
    assert not deep.mendable or deep.chosen.key != "rub"
    assert replace(shallow, options=()).then == "judge the finish after it is cut and polished, not as sprayed"
