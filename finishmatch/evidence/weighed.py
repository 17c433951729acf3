"""What weighing evidence found: the colours, what became of each sample, and what is to be borne in mind."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from finishmatch.colour import Floats, de00
from finishmatch.colour.cielab import lab_to_lch
from finishmatch.colour.off_white import OffWhite
from finishmatch.evidence.ageing import Shift, pairs_of
from finishmatch.evidence.conditions import waiting_for
from finishmatch.evidence.kinds import NO_KIND
from finishmatch.evidence.model import Piece
from finishmatch.evidence.pictures import listed, said_of_pictures
from finishmatch.evidence.spectrum import TargetSpectrum
from finishmatch.evidence.tolerance import Tolerance

DARK = "dark-yellowed"  # how the effects of a binder that yellowed in the dark begin
STRONG_CHROMA, YELLOW_HUES = 35.0, (50.0, 110.0)  # C*ab and hue angles of chrome yellows and oranges
CREAMY_B = 4.0  # b* from which a pale sample may be taken for a cream
STRIKING = 1.5  # ΔE00 of scatter that the kinds don't explain
STRONG_PULL = 0.5  # times the tolerance: a sample that alone moves the target by more is asked about
WORTH_A_WARNING = 1.5  # times the tolerance: a target less sure than that is warned of


@dataclass(frozen=True)
class WeighedSample:
    """A sample and what became of it.

    `lab_as_it_was` is with the shifts of its kind taken off; `colour` counts from 1, 0 when set aside. `pull` is what
    it moves its colour by, ΔE00 with it against without it, `pull_words` which way; None where nothing else is left.
    """

    piece: Piece
    lab_as_it_was: Floats
    weight: float
    de00_to_target: float
    colour: int
    outlier: bool
    pull: float | None = None
    pull_words: tuple[str, ...] = ()


@dataclass(frozen=True)
class OneMore:
    """What one more sample of a kind, well kept and read three times, would bring."""

    kind: str
    u95: float
    tolerance: float


@dataclass(frozen=True)
class Colour:
    """One colour the evidence holds.

    Parameters
    ----------
    number : int
        From 1, the surest first.
    names : tuple of str
        Its samples.
    lab, covariance : ndarray, shapes (3,) and (3, 3)
        CIELAB and its covariance.
    u95 : float
        ΔE00 that holds the truth 95 times in 100.
    between_de00 : float
        How far the samples lie from one another beyond their readings, shifts taken off: root mean square ΔE00.
    beyond_kinds_de00 : float
        The part of it that their kinds don't explain.
    estimates : dict of str to ndarray, shape (3,)
        CIELAB by other ways of taking the mean.
    """

    number: int
    names: tuple[str, ...]
    lab: Floats
    covariance: Floats
    u95: float
    between_de00: float
    beyond_kinds_de00: float
    tolerance: Tolerance
    spectrum: TargetSpectrum | None
    estimates: dict[str, Floats]
    shifts: tuple[Shift, ...]
    one_more: tuple[OneMore, ...]
    off_white: OffWhite | None


@dataclass(frozen=True)
class Weighed:
    """All of it; `picked` is the colour that is the target, or None while it must be said which."""

    colours: tuple[Colour, ...]
    samples: tuple[WeighedSample, ...]
    picked: Colour | None
    light: str
    observer: int
    warnings: tuple[str, ...]

    def shares_of(self, colour: Colour) -> list[tuple[str, float]]:
        """Return how much each sample counts for a colour, those that were set aside from all included."""
        bearing = (one for one in self.samples if one.outlier or one.piece.name in colour.names)
        return [(one.piece.name, round(one.weight, 4)) for one in bearing]


def warnings_of(
    pieces: Sequence[Piece], colours: Sequence[Colour], weighed: Sequence[WeighedSample], picked: Colour | None
) -> list[str]:
    """Return what is to be borne in mind of samples, of the colours they hold, and of the one that was picked."""
    warnings = list(dict.fromkeys(text for piece in pieces for text in piece.sample.reading.warnings))
    if any(piece.kind.name == NO_KIND for piece in pieces):
        names = [piece.name for piece in pieces if piece.kind.name == NO_KIND]
        warnings.append(
            f"no kind is given for {_list(names)}: say what it is in the column kind, and it counts for more"
        )
    warnings += said_of_pictures([piece.name for piece in pieces], [piece.seen for piece in pieces])
    warnings += _of_no_picture(pieces)
    geometries = sorted({piece.sample.reading.geometry for piece in pieces} - {""})
    if len(geometries) > 1:
        warnings.append(
            f"the samples were read in different geometries ({', '.join(geometries)}): gloss counts as colour here; "
            "read them all the same way"
        )
    for name, members in pairs_of(pieces).items():
        if len(members) == 1:
            warnings.append(f"the pair {name!r} has one sample only: {members[0].name}")
    if len(colours) > 1:
        warnings += _differences(pieces, colours)
    for item in weighed:
        if item.outlier:
            warnings.append(
                f"{item.piece.name} is set aside: ΔE00 {item.de00_to_target:.1f} from the target, more than its kind "
                "and its reading allow; look at it again (a repaint, another colour, a slip of the instrument)"
            )
    for piece in pieces:
        for column, deciding in waiting_for(piece.kind, piece.sample.conditions).items():
            warnings.append(f"the {column} of {piece.name} isn't used: fill in its column {deciding} first")
    warnings += _strong_pulls(colours, weighed, picked)
    warnings += _aged(pieces, (picked,) if picked else colours)
    for colour in (picked,) if picked else colours:
        warnings += _doubts(colour, "the target" if picked else f"colour {colour.number}")
    return warnings


def _of_no_picture(pieces: Sequence[Piece]) -> list[str]:
    """Return a question about samples whose doubt is as of photographs, and that name none."""
    silent = [one for one in (piece.sample for piece in pieces) if one.u95 is not None and not one.of_photographs]
    if len(silent) < 2:
        return []
    return [
        f"{listed([one.name for one in silent])} come with a u95 and are taken to be off each by itself: where one "
        "photograph or camera told them, an evidence file may name it (picture, camera): what it is off by they share"
    ]


def _strong_pulls(colours: Sequence[Colour], weighed: Sequence[WeighedSample], picked: Colour | None) -> list[str]:
    """Return a question about each sample that alone moves its colour by more than half of what may be off."""
    tolerance = {colour.number: colour.tolerance.value for colour in colours}
    return [
        f"{item.piece.name} alone moves {'the target' if picked else f'colour {item.colour}'} by ΔE00 {item.pull:.1f} "
        f"({' and '.join(item.pull_words[:2]) or 'no way the eye would name'}): is it of the same paint, and as sound "
        "as it is taken for? If not, leave it out (`without`) and say why"
        for item in weighed
        if item.pull is not None
        and (picked is None or item.colour == picked.number)
        and item.pull > STRONG_PULL * tolerance[item.colour]
    ]


def _aged(pieces: Sequence[Piece], colours: Sequence[Colour]) -> list[str]:
    """Return what the dark may have done to pale samples, and daylight to chrome yellows.

    References
    ----------
    JAIC 1985; ICOM-CC 2011: oil films yellow in the dark, linseed most and alkyd least, and daylight bleaches most of
    it. That chrome yellows may darken outdoors is «common practice».
    """
    warnings = []
    yellowed = [one for one in pieces if one.lab[2] > CREAMY_B and any(name.startswith(DARK) for name in one.effects)]
    dark = [piece.name for piece in yellowed]
    if dark and any(colour.off_white is not None for colour in colours):
        silent = any(DARK in piece.effects for piece in yellowed)
        binder = "; say in the column binder what it is (linseed yellows most, alkyd least)" if silent else ""
        warnings.append(
            f"pale paint kept in the dark yellows, and daylight bleaches most of it: leave {_list(dark)} in daylight "
            "for a week or two and read again before a cream is taken for the colour; give the days in daylight_days"
            f"{binder}"
        )
    faded = [piece.name for piece in pieces if {"faded", "perhaps-faded"} & set(piece.effects)]
    if faded and any(_strong_yellow(colour) for colour in colours):
        warnings.append(
            f"a chrome yellow or orange may darken outdoors where others fade: if {_list(faded)} may hold one, write "
            "chrome in the column pigment"
        )
    return warnings


def _strong_yellow(colour: Colour) -> bool:
    """Return whether a colour is a yellow or an orange such as chrome pigments give («common practice»)."""
    _, chroma, hue = (float(value) for value in lab_to_lch(colour.lab))
    return chroma >= STRONG_CHROMA and YELLOW_HUES[0] <= hue % 360 <= YELLOW_HUES[1]


def _doubts(colour: Colour, which: str) -> list[str]:
    """Return what is doubtful or striking about a colour, which is named so."""
    warnings = []
    white = colour.off_white
    if white is not None and white.cream and white.yellowness is not None:
        warnings.append(
            f"{which} is a cream, not a white: yellowness {white.yellowness:.0f} (ASTM E313; a clean "
            "white is below 5); mixed as a white it would look wrong on the whole vehicle"
        )
    if colour.u95 > WORTH_A_WARNING * colour.tolerance.value:
        warnings.append(
            f"{which} is known to ΔE00 {colour.u95:.2f} only: a match within {colour.tolerance.value:.2f} of it "
            f"may be {colour.u95 + colour.tolerance.value:.1f} from the colour as it was"
        )
    if colour.beyond_kinds_de00 > STRIKING:
        warnings.append(
            f"the samples of {which} differ by ΔE00 {colour.beyond_kinds_de00:.1f} more than their kinds explain: "
            "look at them again; one more sample would help most"
        )
    robust = float(de00(colour.lab, colour.estimates["robust"]))
    if robust > colour.u95 / 2:
        warnings.append(
            f"{which} depends on its farthest sample: with that one counted less, the target moves by ΔE00 {robust:.1f}"
        )
    if len(colour.names) == 1:
        warnings.append(f"{which} rests on one sample: nothing else confirms it")
    return warnings


def _differences(pieces: Sequence[Piece], colours: Sequence[Colour]) -> list[str]:
    """Return in what the samples of the colours differ, besides the colour."""
    by_name = {piece.name: piece for piece in pieces}
    warnings = [
        f"there are {len(colours)} colours here, ΔE00 {float(de00(colours[0].lab, colours[1].lab)):.1f} apart"
        + (" (the first two)" if len(colours) > 2 else "")
        + ": a repaint, another year, or age; they are not averaged"
    ]
    for what in ("year", "vehicle", "kind"):
        groups = [{_said(by_name[name], what) for name in colour.names} for colour in colours]
        if all(len(group) == 1 and "" not in group for group in groups) and len(set.union(*groups)) == len(groups):
            words = ", ".join(f"colour {c.number} {next(iter(g))}" for c, g in zip(colours, groups, strict=True))
            warnings.append(f"they differ in {what}: {words}")
    return warnings


def _said(piece: Piece, what: str) -> str:
    return piece.kind.name if what == "kind" else str(getattr(piece.sample, what))


def _list(names: Sequence[str]) -> str:
    return ", ".join(names[:4]) + (f" and {len(names) - 4} more" if len(names) > 4 else "")
