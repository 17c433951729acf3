"""The whole record in one file, and back: verified before anything is replaced, and what stood there is kept."""

from __future__ import annotations

import hashlib
import io
import json
import sqlite3
import stat
import subprocess
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from finishmatch.errors import InputError
from finishmatch.ledger import NoteEntry, open_ledger, soundness_of
from finishmatch.ledger.rows import Base
from finishmatch.steps.backup.back_up import back_up
from finishmatch.steps.backup.put_back import put_back
from tests.conftest import ROOT

OLD_FORM = ROOT / "tests/reference/backup_form_0001.zip"
BESIDE = {
    "removal.csv": "step,um\n",
    "evidence-kinds.toml": "# the shop's own\n",
    "in-use.txt": "J1 2024-05-02T09:00:00Z\n",
    "in-use-bay-2.txt": "J1 2024-05-02T09:00:00Z\n",
    "bench-panels.json": "{}\n",
    "bench-sent.json": "{}\n",
    "cards/card-0001.json": "{}\n",
    "banks/shed-tins/bank.toml": 'name = "Shed tins"\n',
    "banks/shed-tins/tints.csv": "tint\n",
    "shop/panels.toml": "# panels\n",
    "shop/rules/ours.toml": "# rules\n",
}
NOT_KEPT = {"bank-today/x.json": "{}", "bench-devices.json": "{}", "shop/.panels.toml.0a0b0c0d.new": "half"}

Files = dict[str, bytes]


def _fill(home: Path, *notes: str) -> None:
    for name, text in (BESIDE | NOT_KEPT).items():
        (home / name).parent.mkdir(parents=True, exist_ok=True)
        (home / name).write_text(text, "utf-8")
    _note(home, *notes)


def _note(home: Path, *notes: str) -> None:
    source = home.parent / "card.csv"
    source.write_text("name,L,a,b\n", "utf-8")
    with open_ledger(home) as ledger:
        job = ledger.jobs()[0] if ledger.jobs() else ledger.new_job("Tarnbeck Six, roof")
        for text in notes:
            ledger.record(job, NoteEntry(text), sources=[source])


def _notes(home: Path) -> list[str]:
    with open_ledger(home, create=False) as ledger:
        assert soundness_of(ledger).damaged == ()
        (job,) = ledger.jobs()
        return [view.entry.text for view in ledger.entries(job) if isinstance(view.entry, NoteEntry)]


def _tree(home: Path) -> dict[str, bytes]:
    return {path.relative_to(home).as_posix(): path.read_bytes() for path in home.rglob("*") if path.is_file()}


def _beside(home: Path) -> dict[str, str]:
    return {name: (home / name).read_text("utf-8") for name in BESIDE if (home / name).exists()}


@pytest.fixture
def kept(home: Path, tmp_path: Path) -> Path:
    """A backup of a record with two notes; the record has a third since, and its shop was changed."""
    _fill(home, "one", "two")
    file = tmp_path / "record.zip"
    back_up(file)
    _note(home, "three")
    (home / "shop/panels.toml").write_text("# other panels\n", "utf-8")
    (home / "cards/card-0002.json").write_text("{}\n", "utf-8")
    (home / "removal.csv").unlink()
    return file


def test_what_belongs_to_the_record_and_nothing_else_is_in_a_backup_its_owner_alone_can_read(kept: Path) -> None:
    with zipfile.ZipFile(kept) as archive:
        assert set(archive.namelist()) == {"manifest.json", "ledger.db", *BESIDE}
        assert {info.external_attr >> 16 for info in archive.infolist()} == {stat.S_IFREG | 0o600}
    assert kept.stat().st_mode & 0o777 == 0o600


def test_a_backup_puts_the_record_back_and_what_stood_there_is_kept_and_can_be_put_back_too(
    home: Path, kept: Path, tmp_path: Path
) -> None:
    before = _beside(home)
    found = put_back(kept)
    assert _notes(home) == ["one", "two"]
    assert _beside(home) == BESIDE
    assert not (home / "cards/card-0002.json").exists()
    assert (home / "bench-devices.json").exists()  # a device that was forgotten since isn't let in again
    assert found.kept is not None
    assert not (home / ".restoring").exists()
    put_back(Path(found.kept))
    assert _notes(home) == ["one", "two", "three"]
    assert _beside(home) == before
    assert (home / "cards/card-0002.json").exists()
    elsewhere = tmp_path / "another/machine"
    assert put_back(kept, home=elsewhere).kept is None
    assert _notes(elsewhere) == ["one", "two"]
    assert {path.stat().st_mode & 0o077 for path in elsewhere.rglob("*")} == {0}


def test_a_backup_of_the_first_form_of_the_ledger_is_put_back(home: Path) -> None:
    found = put_back(OLD_FORM)
    assert (found.listed.jobs, found.listed.entries) == (1, 12)
    with open_ledger(home, create=False) as ledger:
        assert soundness_of(ledger).damaged == ()
        assert len(ledger.entries(ledger.find_job("J1"))) == 12
    assert (home / "shop/panels.toml").exists()


def test_a_record_that_cannot_be_read_is_kept_as_it_is(home: Path, kept: Path) -> None:
    (home / "ledger.db").write_bytes(b"no ledger any more")
    found = put_back(kept)
    assert found.kept_damaged
    assert (Path(str(found.kept)) / "ledger.db").read_bytes() == b"no ledger any more"
    assert (Path(str(found.kept)) / "shop/panels.toml").exists()
    assert _notes(home) == ["one", "two"]


def test_a_damaged_record_replaces_no_good_backup(home: Path, kept: Path) -> None:
    before = kept.read_bytes()
    database = sqlite3.connect(home / "ledger.db")
    database.executescript("DROP TRIGGER keep_note_update; UPDATE note SET text = 'other' WHERE number = 1")
    database.close()
    with pytest.raises(InputError, match=r"is damaged \(J1 #1 is not as it was written\)"):
        back_up(kept)
    assert kept.read_bytes() == before


def test_another_file_is_not_replaced_by_a_backup(home: Path, kept: Path, tmp_path: Path) -> None:
    letter = tmp_path / "letter.txt"
    letter.write_text("dear sir\n")
    with pytest.raises(InputError, match="is there already, and is no backup"):
        back_up(letter)
    assert letter.read_text() == "dear sir\n"
    back_up(kept)
    assert back_up(letter, replace=True).size == letter.stat().st_size
    put_back(letter)
    assert _notes(home) == ["one", "two", "three"]


def _repacked(file: Path, change: Callable[[Files, dict[str, Any]], None]) -> None:
    """Change what is in a backup and in its list."""
    with zipfile.ZipFile(file) as archive:
        files = {name: archive.read(name) for name in archive.namelist()}
    listed = json.loads(files.pop("manifest.json"))
    change(files, listed)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in files.items():
            archive.writestr(name, data)
        archive.writestr("manifest.json", json.dumps(listed))
    file.write_bytes(out.getvalue())


def _put(name: str, data: bytes | None, listed_too: bool = True) -> Callable[[Files, dict[str, Any]], None]:
    def change(files: Files, listed: dict[str, Any]) -> None:
        files.pop(name, None)
        if data is not None:
            files[name] = data
        if listed_too:
            listed["files"] = [one for one in listed["files"] if one["name"] != name]
            if data is not None:
                listed["files"].append({"name": name, "sha256": hashlib.sha256(data).hexdigest(), "bytes": len(data)})

    return change


def _says(**fields: Any) -> Callable[[Files, dict[str, Any]], None]:
    return lambda _files, listed: listed.update(fields)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (_put("removal.csv", b"step,mm\n", listed_too=False), "was changed or is damaged"),
        (_put("removal.csv", b"another\n", listed_too=False), "was changed or is damaged"),
        (_put("removal.csv", None, listed_too=False), "was changed or is damaged"),
        (_put("ledger.db", None), "doesn't hold what its list names"),
        (_put("notes.txt", b"x"), "belongs to no record"),
        (_put("shop/.hidden", b"x"), "belongs to no record"),
        (_put("../outside", b"x"), "a name that leads out of it"),
        (_put("/outside", b"x"), "a name that leads out of it"),
        (_put("cards/extra.json", b"x", listed_too=False), "or holds more"),
        (_put("ledger.db", b"no database"), "the ledger in it can't be used"),
        (_put("cards/zeros", bytes(90_000_000)), "would unpack to far more than a record holds"),
        (_says(version=2), "is of a newer form"),
        (_says(format="finishmatch bundle"), "is no backup"),
        (_says(files="all"), "doesn't list its files"),
        (_says(files=[{}]), "doesn't list its files"),
        (_says(entries=7), "holds 1 jobs and 2 entries, and says 1 and 7"),
    ],
)
def test_a_backup_that_is_not_what_it_says_replaces_nothing(
    change: Callable[[Files, dict[str, Any]], None], said: str, home: Path, kept: Path
) -> None:
    before = _tree(home)
    _repacked(kept, change)
    with pytest.raises(InputError) as refused:
        put_back(kept)
    assert said in str(refused.value)
    assert _tree(home) == before


def test_a_damaged_byte_anywhere_in_a_backup_is_found_or_harmless(home: Path, kept: Path) -> None:
    whole = kept.read_bytes()
    before, refused = _tree(home), 0
    for at in range(40, len(whole), max(1, len(whole) // 24)):
        kept.write_bytes(whole[:at] + bytes([whole[at] ^ 0x41]) + whole[at + 1 :])
        try:
            put_back(kept)
        except InputError:
            refused += 1
            assert _tree(home) == before
        else:
            assert _notes(home) == ["one", "two"]
            assert _beside(home) == BESIDE
            before = _tree(home)
    assert refused > 15


def test_a_backup_of_a_newer_program_is_refused(home: Path, kept: Path, tmp_path: Path) -> None:
    newer = tmp_path / "newer.db"
    with zipfile.ZipFile(kept) as archive:
        newer.write_bytes(archive.read("ledger.db"))
    database = sqlite3.connect(newer)
    database.execute("UPDATE alembic_version SET version_num = '9999'")
    database.commit()
    database.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    database.close()
    _repacked(kept, _put("ledger.db", newer.read_bytes()))
    with pytest.raises(InputError, match=r"written by a newer finishmatch .* update finishmatch"):
        put_back(kept)
    assert _notes(home) == ["one", "two", "three"]


# a bay records, and says what it was told is recorded, while backups are taken and put back beside it
WRITER = """
import sys
from pathlib import Path
from finishmatch.errors import InputError
from finishmatch.ledger import NoteEntry, open_ledger
home = Path(sys.argv[1])
at = 0
while True:
    with open_ledger(home) as ledger:
        for _ in range(5):
            at += 1
            try:
                ledger.record(ledger.jobs()[0], NoteEntry(f"bay {at}"))
            except InputError as error:
                assert "being put back" in error.what, error
            else:
                print(f"bay {at}", flush=True)
"""


@pytest.mark.slow
def test_what_is_recorded_while_a_backup_is_taken_and_put_back_is_in_the_record_or_in_what_is_kept(
    home: Path, tmp_path: Path
) -> None:
    _fill(home, "one")
    bay = subprocess.Popen([sys.executable, "-c", WRITER, str(home)], stdout=subprocess.PIPE, text=True)
    assert bay.stdout is not None
    told = [bay.stdout.readline().strip() for _ in range(5)]
    file = tmp_path / "record.zip"
    back_up(file)
    found = put_back(file)
    told += [bay.stdout.readline().strip() for _ in range(200)]
    bay.kill()
    told += bay.communicate()[0].split("\n")[:-1]
    after = _notes(home)
    put_back(Path(str(found.kept)), home=tmp_path / "kept")
    everywhere = {*after, *_notes(tmp_path / "kept")}
    assert set(told) <= everywhere
    assert len(after) == len(set(after)), "nothing stands twice"
    put_back(file, home=tmp_path / "then")
    assert set(told[:5]) <= set(_notes(tmp_path / "then")), "a backup holds what was recorded before it"
    for record in (after, _notes(tmp_path / "then")):
        numbers = [int(text.split()[1]) for text in record if text.startswith("bay")]
        assert numbers == sorted(numbers)


# a backup is put back by a child that is killed at its n-th look at the disk or the database
KILLED = """
import os, shutil, signal, sys
from pathlib import Path
from finishmatch.ledger import open_ledger, soundness_of, NoteEntry
from finishmatch.steps.backup.put_back import put_back
from finishmatch.steps.backup.back_up import back_up

root, step = Path(sys.argv[1]), int(sys.argv[2])
template, home = root / "template", root / "home"
SEEN = ("open", "os.", "sqlite3.", "shutil.", "fcntl.")

def state(home):
    with open_ledger(home, create=False) as ledger:
        assert soundness_of(ledger).damaged == ()
        notes = [view.entry.text for view in ledger.entries(ledger.jobs()[0])]
    beside = {str(path.relative_to(home)): path.read_text() for name in ("shop", "cards") for path in
              sorted((home / name).rglob("*")) if path.is_file()}
    small = [(home / name).read_text() if (home / name).exists() else None for name in ("removal.csv", "in-use.txt")]
    return notes, beside, small

def at_most(count):
    left = [count]
    def hook(event, _arguments):
        if event.startswith(SEEN):
            left[0] -= 1
            if left[0] == 0:
                os.kill(os.getpid(), signal.SIGKILL)
    sys.addaudithook(hook)

old = state(template)
shutil.copytree(template, root / "new")
put_back(root / "record.zip", home=root / "new")
new = state(root / "new")
assert old[0] != new[0] and old[1] != new[1] and old[2] != new[2]
found, killed = [0, 0], 0
for count in range(1, 10_000, step):
    shutil.rmtree(home, ignore_errors=True)
    shutil.copytree(template, home)
    child = os.fork()
    if child == 0:
        at_most(count)
        put_back(root / "record.zip", home=home)
        os._exit(0)
    _, status = os.waitpid(child, 0)
    now = state(home)
    assert now in (old, new), (count, now)
    assert not (home / ".restoring").exists(), count
    found[now == new] += 1
    with open_ledger(home) as ledger:
        ledger.record(ledger.jobs()[0], NoteEntry("goes on"))
    if not os.WIFSIGNALED(status):
        assert status == 0 and now == new
        break
    killed += 1
print("old", found[0], "new", found[1], "killed", killed)
"""


@pytest.mark.slow
def test_a_restore_that_is_killed_at_any_step_leaves_the_old_record_or_the_new(tmp_path: Path) -> None:
    template = tmp_path / "template"
    template.mkdir()
    _fill(template, "one")
    back_up(tmp_path / "record.zip", home=template)
    _note(template, "two")
    (template / "shop/panels.toml").write_text("# other panels\n", "utf-8")
    (template / "removal.csv").unlink()
    (template / "in-use.txt").write_text("J1 2024-05-02T10:00:00Z\n", "utf-8")
    ran = subprocess.run(
        [sys.executable, "-c", KILLED, str(tmp_path), "11"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert ran.returncode == 0, ran.stderr
    words = ran.stdout.split()
    assert int(words[1]) > 5, ran.stdout
    assert int(words[3]) > 3, ran.stdout


def test_every_table_of_the_ledger_is_in_a_backup(home: Path, kept: Path, tmp_path: Path) -> None:
    with zipfile.ZipFile(kept) as archive:
        archive.extract("ledger.db", tmp_path)
    database = sqlite3.connect(tmp_path / "ledger.db")
    tables = {name for (name,) in database.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    database.close()
    assert tables == {*Base.metadata.tables, "alembic_version"}
