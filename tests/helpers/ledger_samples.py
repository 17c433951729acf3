"""One entry of every kind, invented, for the ledger's tests."""

from __future__ import annotations

from finishmatch.ledger import (
    BatchEntry,
    CoatEntry,
    CorrectionEntry,
    DecisionEntry,
    DefectEntry,
    Entry,
    FilmLayerEntry,
    NoteEntry,
    Nth,
    PlanEntry,
    ReadingEntry,
    RecipeEntry,
    SprayOutEntry,
    StrengthEntry,
    TargetEntry,
    VerdictEntry,
)

SPECTRUM = tuple(round(0.1 + 0.004 * i, 3) for i in range(31))
BLUE = (38.2, -4.1, -20.3)
PARTS = (("white", 300.0), ("blue", 187.5), ("black", 12.5))

READING = ReadingEntry("leftover tin", "tin", BLUE, "D65", 10, "di8", SPECTRUM, 3, 0.12, 0.8)
COVARIANCE = (0.2, 0.0, 0.01, 0.1, 0.02, 0.3)
TARGET = TargetEntry(
    "Saltmarsh Blue", BLUE, "D65", 10, SPECTRUM, 0.5, 0.4, ("leftover tin", "door shut"), COVARIANCE,
    (("sun visor", "faded"),),
)  # fmt: skip
RECIPE = RecipeEntry(
    bank="Lowmere bank",
    bank_digest="ab12",
    grams=500.0,
    parts=PARTS,
    lights={"D65": 0.1, "A": 0.3},
    metamerism=0.2,
    cost=12.5,
    sensitivity_de00_p95=0.15,
    rank=1,
    lab=BLUE,
    reflectance=SPECTRUM,
)
OUTSIDE = VerdictEntry(
    "Saltmarsh Blue", "card 1", 1.42, 1.6, {"D65": 1.42, "A": 1.5}, 0.2, ("lighter", "redder"), 0.5, "outside"
)
WITHIN = VerdictEntry("Saltmarsh Blue", "card 2", 0.31, 0.4, {"D65": 0.31}, None, (), 0.5, "within")
FILM = FilmLayerEntry("roof", 1, "primer", (62.0, 58.0), ("left", "right"))
DEFECT = DefectEntry(
    kind="crater",
    panel="roof",
    place="left rear",
    count=12,
    size_mm=0.8,
    depth_um=40.0,
    layer_reached="primer",
    seen_on="colour coat",
    exposures=(("air line", "2"), ("gun", "HVLP 1")),
    met_on=("2024-05-01", ""),
    seen=("rim", "no speck"),
    checks=(("water break", "breaks"),),
    rating="3(S4)",
    at_mm=(120.0, 340.0),
    over_mm=(300.0, 200.0),
)
PLAN = PlanEntry(
    "law",
    "no",
    "it may not be sprayed",
    {"voc_g_l": 420.0, "limit_g_l": 340.0},
    ("check with your district",),
)
COAT = CoatEntry("roof", "2024-05-01", (("air line", "2"), ("gun", "HVLP 1")), "colour")
NOTE = NoteEntry("Leftover tin found under the bench.")


def spray_out(batch: int | None = None) -> SprayOutEntry:
    """A card sprayed from a batch."""
    return SprayOutEntry(batch, (39.4, -3.2, -19.9), SPECTRUM, "grey primer", 2, 45.0, "cut and polished", "card 1")


def correction(batch: int | None = None, reachable: bool = True) -> CorrectionEntry:
    """An addition to a batch."""
    additions = (("blue", 6.2),) if reachable else ()
    return CorrectionEntry(batch, additions, 0.0124, reachable, {"D65": 0.2}, {"blue": 0.93}, "blue is weak today")


def decision(defect: int | None = None, outcome: str = "") -> DecisionEntry:
    """A rework decided for a defect."""
    options = ({"option": "level and recoat", "hours": 3.0, "risk": 0.2}, {"option": "back to primer", "hours": 9.0})
    return DecisionEntry(defect, options, "back to primer", "it is open to the primer", outcome)


def every_kind() -> list[Entry]:
    """One of each, in the order of the work, pointing at one another by index."""
    return [
        READING,
        TARGET,
        RECIPE,
        BatchEntry(PARTS, recipe=Nth(2)),
        spray_out(Nth(3)),
        OUTSIDE,
        correction(Nth(3)),
        StrengthEntry("Lowmere bank", Nth(4), ("blue", "white"), ("", ""), (0.08, 0.0), ((0.0002, 0.0), (0.0, 0.002))),
        StrengthEntry("Lowmere bank", None, ("blue",), ("L 7",), (0.07,), ((0.0002,),), starts_from=Nth(7)),
        FILM,
        DEFECT,
        decision(Nth(10)),
        PLAN,
        COAT,
        NOTE,
    ]
