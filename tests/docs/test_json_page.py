"""docs/json/ names every field that is printed, with its type, and no other."""

from __future__ import annotations

import io
import json
import re
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import redirect_stdout
from pathlib import Path
from typing import Any

import click
import pytest
from PIL import Image, ImageChops

from finishmatch.cli import run
from finishmatch.ledger.entries import ENTRY_KINDS
from tests.docs.test_pages import LEAVES
from tests.helpers.door_files import small_bank, write
from tools.doc_pages import ROOT, anchor, links, sections, table_rows

INDEX = ROOT / "docs/json.md"
TEXTS = {page: page.read_text("utf-8") for page in sorted((ROOT / "docs/json").glob("*.md"))}
HEADINGS = [(page, title) for page, text in TEXTS.items() for title in re.findall(r"^##+ (.*)$", text, re.MULTILINE)]
PAGE = {title: page for page, title in HEADINGS}
SECTIONS = {title: sections(TEXTS[page])[title] for page, title in HEADINGS}
SHARED = {
    "A mark",
    "A conversion",
    "A formula",
    "A job",
    "An entry",
    "An option",
    "A rule set",
    "The kinds of entry",
    "What was taken from the job",
}
KINDS = {kind for text in TEXTS.values() for kind in re.findall(r"^### (.*)$", text, re.MULTILINE)}
JSON_COMMANDS = [
    " ".join(path)
    for path, command in LEAVES.items()
    if any(isinstance(param, click.Option) and "--json" in param.opts for param in command.params)
]

# what others rely on, whatever else a command prints
CONTRACT = {
    "compare": "de00 de76 delta.L delta.a delta.b delta.C delta.H lights.<light> metamerism words verdict tolerance "
    "warnings",
    "photo read": "chart.found chart.printed card chart.patches_used chart.fit_de00_median chart.leave_one_out.median "
    "chart.leave_one_out.p90 regions[].name regions[].lab regions[].light regions[].observer regions[].u95 "
    "differences[].standard differences[].trial differences[].de00 differences[].u95 warnings",
    "bank fit": "tints.<tint>.panels tints.<tint>.residual_de00 surface.k1 surface.k2 panels[].panel "
    "panels[].residual_de00 warnings",
    "evidence weigh": "target.lab target.u95 between_samples_de00 tolerance samples[].name samples[].weight "
    "samples[].de00_to_target samples[].outlier warnings",
    "mix": "recipes[].parts[].tint recipes[].parts[].grams recipes[].grams recipes[].predicted.wavelengths "
    "recipes[].predicted.reflectance recipes[].predicted.lab recipes[].lights.<light> recipes[].metamerism "
    "recipes[].cost recipes[].sensitivity_de00_p95 recipes[].hiding_build_um warnings",
    "predict": "predicted.wavelengths predicted.reflectance predicted.lab u95 lights.<light> warnings",
    "correct": "reachable additions[].tint additions[].grams growth lights.<light> strengths.<tint> why warnings",
}

Path_ = tuple[str, ...]


def _split(field: str) -> Path_:
    """Return "recipes[].parts" as ("recipes", "[]", "parts")."""
    parts = [part for piece in field.split(".") for part in re.split(r"(\[\])", piece)]
    return tuple(part for part in parts if part)


def _section(page: Path, link: str) -> str:
    """Return the heading of the section that a link of a page leads to."""
    name, _, place = link.partition("#")
    target = (page.parent / name).resolve() if name else page
    return next(title for title, found in PAGE.items() if found == target and anchor(title) == place)


def _fields(heading: str, follow: bool = True) -> dict[Path_, str]:
    """Return the fields that a section documents with their types, with those of the sections it links to if wanted."""
    found: dict[Path_, str] = {}
    for field, kind, _, meaning in table_rows(SECTIONS[heading]):
        path = _split(field.strip("`"))
        found[path] = kind
        if follow and "object" in kind:
            for link in links(meaning):
                linked = _section(PAGE[heading], link)
                inside = ("[]",) if kind.startswith("list") else ()
                found |= {(*path, *inside, *deeper): inner for deeper, inner in _fields(linked).items()}
    return found


def _is_entry(value: Any) -> bool:
    return isinstance(value, dict) and {"number", "kind", "entry"} <= set(value)


def _walk(value: Any, path: Path_ = ()) -> Iterator[tuple[Path_, Any]]:
    """Yield every keyed value of a document with its path; what is inside an entry is held against its kind instead."""
    if isinstance(value, dict):
        for key, item in value.items():
            yield (*path, key), item
            if not (_is_entry(value) and key == "entry"):
                yield from _walk(item, (*path, key))
    elif isinstance(value, list):
        for item in value:
            yield from _walk(item, (*path, "[]"))


def _objects(value: Any) -> Iterator[dict[str, Any]]:
    """Yield every object within a value, itself included."""
    if isinstance(value, dict):
        yield value
    for item in value.values() if isinstance(value, dict) else value if isinstance(value, list) else ():
        yield from _objects(item)


def _matches(path: Path_, documented: Path_) -> bool:
    return len(path) == len(documented) and all(
        wanted.startswith("<") or wanted == part for part, wanted in zip(path, documented, strict=True)
    )


def _is_of(kind: str, value: Any) -> bool:
    """Return whether a value is of a type as the page writes it."""
    if value is None:
        return kind.endswith(" or null")
    kind = kind.removesuffix(" or null")
    if kind.startswith("list of "):
        return isinstance(value, list) and all(_is_of(kind.removeprefix("list of "), item) for item in value)
    if isinstance(value, bool):
        return kind == "true or false"
    types: dict[str, Any] = {"text": str, "number": int | float, "whole number": int, "object": dict}
    return kind in types and isinstance(value, types[kind])


def _faults(document: Any, documented: dict[Path_, str]) -> list[str]:
    """Return what a document holds that is not documented, or not of that type."""
    faults = []
    for path, value in _walk(document):
        kinds = [kind for field, kind in documented.items() if _matches(path, field)]
        if not kinds:
            faults.append(f"{'.'.join(path)} is not documented")
        elif not _is_of(kinds[0], value):
            faults.append(f"{'.'.join(path)} is {json.dumps(value)[:60]}, not {kinds[0]}")
    return faults


def _unprinted(documents: list[Any], documented: dict[Path_, str]) -> list[str]:
    printed = [path for document in documents for path, _ in _walk(document)]
    return [".".join(field) for field in documented if not any(_matches(path, field) for path in printed)]


@pytest.fixture(scope="module")
def printed(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[Any]]:
    """What every command prints with --json when the whole job is done on the bundled scenario."""
    bench = tmp_path_factory.mktemp("bench")
    shutil.copytree(ROOT / "swatches", bench / "swatches")
    documents: dict[str, list[Any]] = {}

    def call(command: str, *arguments: object) -> Any:
        out = io.StringIO()
        with redirect_stdout(out):
            status = run([*command.split(), *(str(argument) for argument in arguments), "--json"])
        assert status in (0, 1), (command, arguments)
        documents.setdefault(command, []).append(json.loads(out.getvalue()))
        return documents[command][-1]

    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("FINISHMATCH_HOME", str(bench / "home"))
        patch.chdir(bench)
        _whole_job(call, Path("swatches"))
    return documents


def _pours(call: Any, swatches: Path, leaded: Path) -> None:
    """What can be poured into tins of a job that has a recipe; the last is what was sprayed."""
    call("job pour", "J1", "white=300", "warm yellow=20", "--bank", leaded, "--check", "--to", "new")
    call("job pour", "J1", "white=443.6", "blue=33.5", "--check", "--to", "new")
    call("job pour", "J1", "white=443.6", "blue=120", "--check", "--to", "new", "--scale-step", 0.5)
    call("job pour", "J1", "white=443.6", "blue=330", "--check", "--to", "new", "--anyway")  # the white doesn't reach
    whole = ("white=443.6", "blue=40", "soft black=24.4", "violet=2.5", "green=2")
    call("job pour", "J1", *whole, "--check", "--to", "new", "--scale-step", 5)
    call("job pour", "J1", swatches / "batch1.csv")
    call("job pour", "J1", "--set-aside", "half", "white=1")
    call("job pour", "J1", swatches / "batch1.csv", "--to", "new")


def _exchanged(bank: Path, folder: Path) -> Path:
    """Make a small bank in which the readings of two panels are exchanged."""
    few = small_bank(bank, folder, ("white", "black", "warm yellow"))
    exchanged = {"warm yellow 5/95": "warm yellow 50/50", "warm yellow 50/50": "warm yellow 5/95"}
    rows = [line.partition(",") for line in (few / "readings.csv").read_text("utf-8").splitlines()]
    write(few / "readings.csv", "".join(f"{exchanged.get(name, name)},{rest}\n" for name, _, rest in rows))
    return few


def _planned(call: Any, bank: Path) -> None:
    call("bank fit", bank)
    begun = Path("begun")
    begun.mkdir()
    for name in ("bank.toml", "tints.csv"):
        write(begun / name, (bank / name).read_text("utf-8"))
    call("bank plan", bank, "--panels", 2)
    call("bank plan", begun, "--panels", 2)


def _photographed(call: Any, bank: Path, swatches: Path) -> None:
    call("bank photo", bank, swatches / "photo.jpg", "--region", "blue 20/80=117,75,90,60")
    call("bank photo", bank, swatches / "panels.jpg", "--panel", "4=blue 5/95")
    call("photo read", swatches / "panels.jpg")
    Path("piece.csv").write_text("name,L,a,b,u95\npiece,60,-5,-15,2\n", "utf-8")
    call("mix", "piece.csv", "--bank", bank, "--grams", 200)
    call("photo read", swatches / "panels.jpg", "--save", "windows.csv")
    ref = call("job new", "A window")["job"]["ref"]
    call("mix", "windows.csv@window 4", "--bank", bank, "--grams", 200, "--job", ref)
    call("correct", "windows.csv@window 4", "--bank", bank, "--batch", _blue(), "--sprayed", "57,-4,-46")
    call("job show", ref)
    _card_photographed(call, swatches)


def _card_photographed(call: Any, swatches: Path) -> None:
    """A card beside a piece that was photographed as well."""
    photo, beside = swatches / "photo.jpg", ("standard=96,92,174,131", "spray-out=984,60,181,131")
    at = [word for region in beside for word in ("--region", region)]
    call("photo read", photo, *at, "--save", "two.csv")
    ref = call("job new", "A door")["job"]["ref"]
    tin = ("--bank", swatches / "bank", "--batch", swatches / "batch1.csv")
    call("correct", "two.csv@standard", *tin, "--seen", photo, *at, "--job", ref)
    call("job show", ref)


def _blue() -> Path:
    return write(Path("a blue.csv"), "tint,grams\nwhite,190\nblue,10\n")


def _seen_beside(call: Any, bank: Path, swatches: Path) -> None:
    tin = ("--bank", bank, "--batch", swatches / "batch2.csv")
    call("job tin", "J1", "blue 20/80", "--difference", "2.0,-1.5,0.2", "--bank", bank)
    call("correct", swatches / "target.csv", *tin, "--difference=0.1,-0.1,-0.3", "--job", "J1")
    finely = ("--difference=0.4,-0.2,0.2", "--u95", 0.05, "--tolerance", 0.2, "--fresh-tins", "--job", "J1")
    call("correct", f"{swatches}/evidence.csv@tin", *tin, *finely)  # by a letdown
    call("predict", "--add", "white=2", "--tolerance", 0.2, "--job", "J1")
    alone = "name,L,a,b,u95,u95_own,picture\ncard,45.4,-5.1,-16.4,2.4,0.6,card.jpg\n"
    call("correct", swatches / "target.csv", *tin, "--sprayed", write(Path("alone.csv"), alone), "--job", "J1")
    for difference in ("0.4,0.0,0.2", "0.5,0.0,0.2"):
        call("correct", f"{swatches}/evidence.csv@tin", *tin, f"--difference={difference}", *finely[1:])
        call("predict", "--tolerance", 0.2, "--job", "J1")


def _whole_job(call: Any, swatches: Path) -> None:
    bank, target, card = swatches / "bank", swatches / "target.csv", swatches / "card1.csv"
    tin = ("--bank", bank, "--batch", swatches / "batch1.csv", "--sprayed", card)
    call("demo", "--out", "demo")
    call("next")
    call("job use")
    call("job list")
    call("job new", "Tarnbeck Six")
    call("job list")
    _planned(call, bank)
    call("bank fit", _exchanged(bank, Path("few")))
    by_phone = small_bank(bank, Path("by phone"), ("white", "black", "blue"))
    _photographed(call, by_phone, swatches)
    call("bank show", bank)
    call("compare", "52.1,-3.0,4.2", "51.8,-2.6,4.9")
    call("compare", swatches / "meters.csv@sphere", swatches / "meters.csv@ring", "--gloss", 88)
    call("evidence weigh", swatches / "survivors.csv", "--ageing", "--job", "J1")
    left_out = ("--without", "brochure", "--why", "printed ink, not paint")
    call("evidence weigh", swatches / "survivors.csv", *left_out, "--job", "J1")
    Path("white.csv").write_text("name,kind,L,a,b\nroof,sheltered paint,92,0.5,9\n", "utf-8")
    call("evidence weigh", "white.csv")
    call("evidence kinds")
    call("mix", target, "--bank", bank, "--grams", 500, "--job", "J1")
    call("mix", "80,10,110", "--bank", bank, "--grams", 500, "--max-tints", 2)
    leaded = small_bank(bank, Path("leaded"), ("white", "black", "warm yellow"))
    write(leaded / "tints.csv", (leaded / "tints.csv").read_text("utf-8").replace("PY83", "PY34"))
    call("mix", "80,10,60", "--bank", leaded, "--grams", 500)
    cream = write(Path("cream.csv"), "tint,grams\nwhite,300\nwarm yellow,20\n")
    call("correct", "82,9,45", "--bank", leaded, "--batch", cream, "--sprayed", "85,7,38", "--tolerance", 1)
    call("predict", "white=300", "warm yellow=20", "--bank", leaded, "--pour", "white=350", "--max-growth", 1)
    call("predict", swatches / "batch1.csv", "--bank", bank, "--add", "black=2", "--max-growth", 0.02, "--job", "J1")
    call(
        "predict", "white=300", "blue=20", "--bank", bank, "--target", f"{swatches / 'meters.csv'}@ring", "--gloss", 88
    )
    call("predict", "white=300", "blue=20", "--bank", bank, "--target", "70,-8,-20", "--scale-step", 20)
    _pours(call, swatches, leaded)
    call("job spray", "J1", card)
    call("compare", target, card, "--job", "J1")
    call("predict", swatches / "batch1.csv", "--bank", bank, "--job", "J1")
    call("correct", target, *tin, "--job", "J1")
    call("correct", "55,-5,-15", *tin)
    call("correct", target, *tin, "--tolerance", 0.3, "--scale-step", 5)
    again = ("--batch", swatches / "batch2.csv", "--sprayed", swatches / "card2.csv")
    call("correct", target, "--bank", bank, *again, "--job", "J1")
    _seen_beside(call, bank, swatches)
    call("mix", target, "--bank", bank, "--grams", 500, "--max-tints", 3, "--job", "J1")
    _defects_and_photographs(call, swatches)
    _plans(call, swatches / "plan")
    call("job note", "J1", "a slip")
    _handed_over(call, target)
    _shown(call, leaded)
    _in_use(call, bank)


def _shown(call: Any, bank: Path) -> None:
    """The job, and another with a tin that is poured from tins with a lot."""
    call("job show", "J1")
    call("job show", "J1", "--history")
    head, *rows = [line for line in (bank / "tints.csv").read_text("utf-8").splitlines() if line[:1] != "#"]
    lots = ",lot" if "lot" not in head.split(",") else ""
    write(bank / "tints.csv", "\n".join([head + lots, *(row + (lots and ",2") for row in rows)]) + "\n")
    ref = call("job new", "Wing")["job"]["ref"]
    call("job pour", ref, "white=300", "--bank", bank)
    call("job show", ref)


def _handed_over(call: Any, target: Path) -> None:
    call("dossier", "J1", "--out", "handed-over")
    call("label", "J1", "--out", "labels.pdf")
    call("spec", "J1", "--out", "spec.pdf")
    call("export", "J1", "--out", "J1.zip")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("FINISHMATCH_HOME", "other")
        call("import", "J1.zip")
        call("backup", "other.zip")
        call("restore", "other.zip")
        call("ledger move", "other", "moved")
    call("find", target)
    call("find", "50,0,0")


def _in_use(call: Any, bank: Path) -> None:
    call("job use", "J1", "--bank", bank)
    call("next")
    call("mix", "--max-tints", 2)
    call("job pour", bank.parent / "batch1.csv")
    call("judge", bank.parent / "card1.csv", "--anyway")
    call("correct")
    call("predict")
    call("next")
    Path("tin.csv").write_text("tint,grams\nwhite,300\nblue,20\n", "utf-8")
    call("job pour", "J1", "tin.csv")
    card = call("job spray", "J1", "70,-8,-20", "--anyway")["recorded"]["number"]
    strike = call("job strike", "J1", card, "--why", "another tin")["recorded"]["number"]
    call("job strike", "J1", strike, "--why", "it was this tin")
    call("job check")
    database = sqlite3.connect(Path("home/ledger.db"))
    database.execute("DROP TRIGGER keep_note_update")
    database.execute("UPDATE note SET text = 'other'")
    database.commit()
    database.close()
    assert call("job check")["damaged"]


def _defects_and_photographs(call: Any, swatches: Path) -> None:
    call("job film", "J1", "--panel", "roof", "--layer", "primer", "--build", "62,58,60")
    call("job film", "J1", "--panel", "roof", "--layer", "colour", "--build", "58,52,63")
    met = ("--exposure", "gun=1")
    call(
        "defect log", "crater", "--job", "J1", "--panel", "roof", "--reached", "primer", "--check", "lamp=hollow", *met
    )
    call("defect advise", "run", "--layer", "primer=62,58,60", "--layer", "colour=98,104,101")
    call("defect advise", "--job", "J1", "--choose", "back to primer", "--why", "open to the primer")
    call("defect kinds")
    call("photo read", swatches / "photo.jpg", "--job", "J1")
    with Image.open(swatches / "photo.jpg") as photo:
        moved = ImageChops.offset(photo, 3, 2)  # the same pixels would be a copy
        moved.save(swatches / "again.jpg", quality=90, exif=photo.info.get("exif", b""))
    call("photo read", swatches / "photo.jpg", swatches / "again.jpg")
    call("photo read", swatches / "photo.jpg", "--under", f"A={swatches / 'again.jpg'}")
    with Image.open(swatches / "photo.jpg") as photo:
        photo.paste((255, 255, 255), (984, 60, 1165, 191))
        photo.save("glare.jpg", icc_profile=photo.info.get("icc_profile"))
    call("photo read", "glare.jpg", "--region", "tin=96,92,174,131", "--region", "card 1=984,60,181,131")
    call("photo card")
    call("photo card", "--chart", "until-2014")
    call("photo card", "--out", "card.svg", "--register", swatches / "cardprint.csv")
    call("defect checks")
    for i, line in enumerate((1, 1, 1, 1, 2, 2, 2, 2)):
        call("job coat", "J1", "--panel", f"wing {i}", "--exposure", f"air line={line}", "--exposure", f"gun={i % 2}")
        if line == 2:
            call("defect log", "crater", "--job", "J1", "--panel", f"wing {i}")
    call("defect trace", "crater", "--since", "2000-01-01")
    call("defect suspect", "air line=2", "--why", "oil in the filter", "--job", "J1")
    call("defect suspects")
    call("defect clear", "air line=2", "--why", "new filter")
    call("defect calibrate", swatches / "removal.csv")
    placed = ("--place", "100/100", "--place", "400/300")
    call("job film", "J1", "--panel", "door", "--layer", "colour", "--build", "98,90", *placed)
    call("defect log", "crater", "--job", "J1", "--panel", "door", "--at", "200/200", "--over", "60/40")
    call("defect map", "door", "--job", "J1", "--size", "500/400", "--at", "200/200")
    call("job outcome", "J1", "no crater came back", "--came", "right")


def _plans(call: Any, sheets: Path) -> None:
    single, clear = sheets / "single-stage.toml", sheets / "clear.toml"
    call("plan quantity", "--area", "2m2", "--product", single, "--job", "J1")
    call("plan quantity", "--area", "2m2", "--build", "25um", "--solids", "42%", "--ratio", "4:1:1")
    call("plan law")
    call("plan law", single, "--rules", "district", "--job", "J1")
    typed = ("--kind", "single-stage", "--voc", "300g/l", "--holds", "lead chromate")
    call("plan law", *typed, "--rules", "district")
    call("plan law", sheets / "basecoat.toml", clear, "--rules", "federal")
    call("plan law", sheets / "basecoat.toml", clear, "--rules", "district")
    call("plan air", sheets / "surfacer.toml", single, "--temperature", "22C", "--humidity", "60%", "--job", "J1")
    call("plan air", sheets / "basecoat.toml", clear, "--temperature", "22C", "--humidity", "90%")
    call("plan hiding", "--bank", sheets.parent / "bank", "--batch", sheets.parent / "batch1.csv", "--job", "J1")
    call("plan hiding", "--contrast", "0.93", "--at", "20um")
    call("plan sheen", sheets / "ladder.csv", "--gloss", "35", "--job", "J1")
    call("plan sheen", sheets / "ladder.csv", "--sheen", "eggshell", "--weight", "500g")
    flake = sheets / "metallic.csv"
    call("plan angles", f"{flake}@standard", f"{flake}@card 1", "--job", "J1")
    call("plan page", sheets / "plan.toml", "--job", "J1")
    whole = sheets / "whole.toml"
    more = f'[sheen]\nladder = "ladder.csv"\nname = "satin"\n[angles]\nstandard = "{flake.name}@standard"\n'
    whole.write_text((sheets / "plan.toml").read_text("utf-8") + more + f'trial = "{flake.name}@card 1"\n', "utf-8")
    call("plan page", whole, "--out", "plan.html")


def test_every_command_with_json_has_its_section() -> None:
    assert len(SECTIONS) == len(HEADINGS), "a heading stands twice"
    assert set(SECTIONS) - SHARED - KINDS == set(JSON_COMMANDS)


@pytest.mark.parametrize("command", JSON_COMMANDS)
def test_a_command_is_on_the_page_of_its_group(command: str) -> None:
    assert PAGE[command].stem == command.split(maxsplit=1)[0]


def test_the_index_leads_to_every_section() -> None:
    led = [_section(INDEX, link) for link in links(INDEX.read_text("utf-8"))]
    assert sorted(led) == sorted(set(SECTIONS) - KINDS)


@pytest.mark.slow
def test_every_command_with_json_is_run_here(printed: dict[str, list[Any]]) -> None:
    assert set(printed) == set(JSON_COMMANDS)


@pytest.mark.slow
@pytest.mark.parametrize("command", JSON_COMMANDS)
def test_every_field_printed_is_documented_with_its_type(command: str, printed: dict[str, list[Any]]) -> None:
    documented = _fields(command)
    assert [fault for document in printed[command] for fault in _faults(document, documented)] == []


@pytest.mark.slow
@pytest.mark.parametrize("command", JSON_COMMANDS)
def test_every_field_documented_is_printed(command: str, printed: dict[str, list[Any]]) -> None:
    assert _unprinted(printed[command], _fields(command, follow=False)) == []


@pytest.mark.slow
@pytest.mark.parametrize("heading", ["A conversion", "A job", "An entry", "An option", "A rule set"])
def test_every_field_of_a_shared_object_is_printed(heading: str, printed: dict[str, list[Any]]) -> None:
    documented = _fields(heading)
    first = next(iter(documented))[0]
    assert _unprinted([found for found in _objects(printed) if first in found], documented) == []


@pytest.mark.slow
@pytest.mark.parametrize("kind", sorted(KINDS))
def test_the_fields_of_every_kind_of_entry_are_those_printed(kind: str, printed: dict[str, list[Any]]) -> None:
    documents = [found["entry"] for found in _objects(printed) if _is_entry(found) and found["kind"] == kind]
    assert documents, f"no {kind} was printed"
    assert [fault for document in documents for fault in _faults(document, _fields(kind))] == []
    assert _unprinted(documents, _fields(kind)) == []


def test_every_kind_of_entry_is_documented() -> None:
    assert set(ENTRY_KINDS) == KINDS


@pytest.mark.slow
@pytest.mark.parametrize("command", CONTRACT)
def test_what_others_rely_on_is_documented_and_printed(command: str, printed: dict[str, list[Any]]) -> None:
    promised = {_split(field) for field in CONTRACT[command].split()}
    assert promised <= set(_fields(command))
    assert _unprinted(printed[command], dict.fromkeys(promised, "")) == []
