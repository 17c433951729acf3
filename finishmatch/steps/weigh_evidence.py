"""What a colour was, by the samples that survive of it, and the kinds of evidence there are."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from finishmatch.colour import Floats, light_name, reflectance_to_lab
from finishmatch.errors import InputError
from finishmatch.evidence import Colour, Weighed
from finishmatch.evidence import weigh_evidence as weigh_samples
from finishmatch.evidence.model import Piece
from finishmatch.ledger import Entry, TargetEntry
from finishmatch.optics.camera_look import CameraSaw
from finishmatch.outputs import check_output, write_output
from finishmatch.readings.evidence_file import EvidenceSample, read_evidence
from finishmatch.readings.look_form import saw_document
from finishmatch.readings.reading import TargetFacts
from finishmatch.readings.target_file import MARK, target_text, upper_triangle
from finishmatch.steps.entries import reading_entry, sources_of
from finishmatch.steps.evidence_documents import colour_document, sample_document, shift_document
from finishmatch.steps.evidence_kinds import catalogue_of
from finishmatch.steps.progress import Progress, quiet
from finishmatch.steps.record import check_job, record_to

_LEAST_SHARE = 1e-3  # of a target, below which a sample's photograph has nothing to say of it


@dataclass(frozen=True, kw_only=True)
class WeighRequest:
    """How evidence is weighed.

    Parameters
    ----------
    use : str
        What is painted: whole-vehicle, panel-beside-old-paint or touch-in; bounds the tolerance.
    ageing : bool
        Measure what age did from pairs of samples.
    pick : int or None
        Which colour is the target, where there are several.
    without : sequence of str
        Samples to leave out.
    why : sequence of str
        Why: one reason for all of them, or one for each; needed where the target is recorded or saved.
    kinds : Path, str or None
        The shop's own figures of the kinds; None: those of the home, where there are some.
    name : str or None
        What the target is called; None: as the file.
    save : Path, str or None
        Where the target is written, with its tolerance, as a file that recipes are made for.
    replace : bool
        Whether that may be written over a file that the program didn't write.
    light, observer : str, int
        The CIE light and observer in which the colour is given.
    """

    use: str = "whole-vehicle"
    ageing: bool = False
    pick: int | None = None
    without: tuple[str, ...] = ()
    why: str | tuple[str, ...] = ()
    kinds: Path | str | None = None
    name: str | None = None
    save: Path | str | None = None
    replace: bool = False
    light: str = "D65"
    observer: int = 10


@dataclass(frozen=True)
class WeighedEvidence:
    """What the samples are evidence of.

    Parameters
    ----------
    found : Weighed
    title : str
        What the target is called.
    warnings : tuple of str
    left_out : tuple of (sample, why)
        Those that were left out by hand.
    recorded : tuple of int
        The numbers of the entries, where they were recorded.
    """

    found: Weighed
    title: str
    warnings: tuple[str, ...]
    left_out: tuple[tuple[str, str], ...] = ()
    recorded: tuple[int, ...] = ()

    @property
    def picked(self) -> Colour | None:
        """The colour that is the target; None when there are several and none was picked."""
        return self.found.picked

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON object; with several colours and none picked the target is the surest."""
        found = self.found
        colour = found.picked or found.colours[0]
        spectrum, tolerance, white = colour.spectrum, colour.tolerance, colour.off_white
        return {
            "target": {
                "name": self.title,
                "lab": colour.lab,
                "u95": colour.u95,
                "covariance": colour.covariance,
                "light": found.light,
                "observer": found.observer,
                "reflectance": None if spectrum is None else spectrum.reflectance,
                "reflectance_sd": None if spectrum is None else spectrum.sd,
            },
            "between_samples_de00": colour.between_de00,
            "beyond_kinds_de00": colour.beyond_kinds_de00,
            "tolerance": tolerance.value,
            "tolerance_from": {
                "use": tolerance.use.name,
                "evidence": tolerance.evidence,
                "readings": tolerance.least,
                "eye": tolerance.use.largest,
                "why": tolerance.why,
            },
            "samples": [sample_document(item) for item in found.samples],
            "left_out": [{"sample": sample, "why": why} for sample, why in self.left_out],
            "colours": [colour_document(one) for one in found.colours],
            "picked": None if found.picked is None else found.picked.number,
            "estimates": colour.estimates,
            "ageing": [shift_document(shift) for shift in colour.shifts],
            "one_more": [vars(more) for more in colour.one_more],
            "off_white": None if white is None else vars(white),
            "warnings": list(self.warnings),
        }


def weigh_evidence(
    file: Path | str,
    request: WeighRequest = WeighRequest(),
    *,
    job: str | None = None,
    progress: Progress = quiet,
    before_recording: Callable[[WeighedEvidence], None] | None = None,
) -> WeighedEvidence:
    """Return the colour that the samples of a file are evidence of.

    Parameters
    ----------
    file : Path or str
        One row a reading: name, kind, condition, and L,a,b or a spectrum.
    request : WeighRequest
    job : str or None
        Where the samples and the target are recorded.
    progress : Progress
    before_recording : callable or None
        Is given what was found before anything is written or recorded; when it fails nothing is.

    Raises
    ------
    InputError
        A file that can't be used, a name that isn't known; nothing is written or recorded then.
    """
    file, save = Path(file), None if request.save is None else Path(request.save)
    check_job(job)
    catalogue = catalogue_of(request.kinds)
    use = catalogue.use(request.use)
    samples = _kept(read_evidence(file, catalogue.columns), request.without, file)
    left_out = _left_out(request, kept=save is not None or job is not None)
    if save is not None and not request.replace:
        _check_save(save)
    seen = (light_name(request.light), request.observer)
    with progress("weighing the evidence"):
        found = weigh_samples(samples, catalogue, use, *seen, ageing=request.ageing, pick=request.pick)
    title = " ".join((request.name or file.stem).split()) or "target"
    weighed = WeighedEvidence(found, title, tuple(found.warnings), left_out)
    if before_recording is not None:
        before_recording(weighed)
    if found.picked is None:
        if save is None and job is None:
            return weighed
        return replace(
            weighed, warnings=(*found.warnings, "nothing was saved or recorded: say which colour with `pick`")
        )
    if save is not None:
        write_output(save, _saved(found, found.picked, title, left_out), request.replace, mend="name another file")
    return replace(weighed, recorded=() if job is None else _recorded(job, weighed, found.picked, file))


def _left_out(request: WeighRequest, kept: bool) -> tuple[tuple[str, str], ...]:
    """Return the samples left out by hand, each with why; where the target is kept there must be a reason."""
    names = tuple(dict.fromkeys(request.without))
    given = (request.why,) if isinstance(request.why, str) else request.why
    reasons = [" ".join(reason.split()) for reason in given if reason.strip()]
    if reasons and not names:
        raise InputError("`why`", "a reason is given, but no sample is left out", "name it with `without`")
    if len(reasons) > 1 and len(reasons) != len(names):
        what = f"{len(reasons)} reasons are given for {len(names)} samples"
        raise InputError("`why`", what, "give one for all, or one for each, in the same order")
    if names and kept and not reasons:
        what = f"{names[0][:40]} is left out, and no reason is given"
        raise InputError("`without`", what, "say why with `why`: it is kept with the target")
    return tuple(zip(names, reasons if len(reasons) == len(names) else (reasons or [""]) * len(names), strict=True))


def _kept(samples: Sequence[EvidenceSample], without: Sequence[str], file: Path) -> list[EvidenceSample]:
    """Return the samples less those left out by hand."""
    names = [sample.name for sample in samples]
    for name in without:
        if name not in names:
            raise InputError("`without`", f"{file} has no sample named {name[:40]!r}", "it has " + ", ".join(names[:8]))
    kept = [sample for sample in samples if sample.name not in without]
    if not kept:
        raise InputError("`without`", "leaves no sample", "keep at least one")
    return kept


def _check_save(path: Path) -> None:
    """See that nothing but an earlier target is written over, as it was written."""
    if not path.is_file():
        return  # what else stands there is refused where it is written
    try:
        with path.open("rb") as file:
            ours = file.read(200).startswith(MARK.encode())
    except OSError as error:
        raise InputError(str(path), f"can't be written: {error.strerror}", "name another file") from None
    if not ours:
        raise InputError(str(path), "is there already and is not a target", "name another file, or give `replace`")
    check_output(path)


def _rounded(found: Weighed, colour: Colour) -> tuple[Floats, Floats | None]:
    """Return Lab and spectrum of a target to the digits it is written with, so that a recipe knows the target again."""
    if colour.spectrum is None:
        return np.round(colour.lab, 4), None
    reflectance = np.round(colour.spectrum.reflectance, 6)
    return reflectance_to_lab(reflectance, found.light, found.observer), reflectance


def _saved(found: Weighed, colour: Colour, title: str, left_out: Sequence[tuple[str, str]]) -> str:
    about = (
        f"{title}: weighed from {', '.join(colour.names)}\n"
        f"ΔE00 {colour.u95:.2f} holds the truth 95 times in 100; tolerance for {colour.tolerance.use.name}"
    )
    about += "".join(f"\nleft out: {sample}: {why}" for sample, why in left_out)
    facts = TargetFacts(colour.tolerance.value, round(colour.u95, 4), colour.covariance)
    lab, reflectance = _rounded(found, colour)
    viewing, saw = (found.light, found.observer), _camera_saw(found, colour)
    return target_text(title, lab, reflectance, facts, viewing, about, _geometry(found, colour), saw)


def _geometry(found: Weighed, colour: Colour) -> str:
    """Return how the samples of a colour were read, when all were read alike."""
    read = {item.piece.sample.reading.geometry for item in found.samples if item.piece.name in colour.names}
    return read.pop() if len(read) == 1 else ""


def _camera_saw(found: Weighed, colour: Colour) -> tuple[CameraSaw, ...]:
    """Return what cameras saw of the samples of a colour, each by its share in it."""
    used = [item for item in found.samples if item.piece.name in colour.names]
    return tuple(
        replace(saw, share=round(min(item.weight, 1.0), 4))
        for item in used
        for saw in item.piece.sample.reading.camera_saw
        if item.weight >= _LEAST_SHARE
    )


def described(piece: Piece) -> str:
    """Return kind and condition of a sample on one line."""
    sample = piece.sample
    parts = [piece.kind.name, *(f"{column.replace('_', ' ')} {text}" for column, text in sample.conditions.items())]
    parts += [f"{what} {text}" for what, text in (("vehicle", sample.vehicle), ("year", sample.year)) if text]
    return ", ".join(parts)


def _recorded(job: str, weighed: WeighedEvidence, colour: Colour, file: Path) -> tuple[int, ...]:
    found = weighed.found
    used = [item for item in found.samples if item.piece.name in colour.names]
    entries: list[Entry] = [
        reading_entry(replace(item.piece.sample.reading, name=item.piece.name), f"evidence: {described(item.piece)}")
        for item in used
    ]
    lab, reflectance = _rounded(found, colour)
    entries.append(
        TargetEntry(
            name=weighed.title,
            lab=lab.tolist(),
            light=found.light,
            observer=found.observer,
            reflectance=None if reflectance is None else reflectance.tolist(),
            tolerance=colour.tolerance.value,
            u95=round(colour.u95, 4),
            evidence=list(colour.names),
            covariance=upper_triangle(colour.covariance),
            left_out=list(weighed.left_out),
            weights=found.shares_of(colour),
            geometry=_geometry(found, colour),
            camera_saw=[saw_document(one) for one in _camera_saw(found, colour)],
            doubts=[*weighed.warnings, f"the tolerance is {colour.tolerance.value:g}: {colour.tolerance.why}"],
        )
    )
    sources = {i: list(dict.fromkeys([file, *sources_of(s.piece.sample.reading)])) for i, s in enumerate(used)}
    return tuple(record_to(job, entries, {**sources, len(used): [file]}))
