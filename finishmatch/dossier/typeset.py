"""A PDF is set from a template of this room and plain data: what a painter wrote is never read as markup."""

from __future__ import annotations

import json
import shutil
import tempfile
from collections.abc import Mapping
from datetime import UTC, datetime
from importlib import resources
from pathlib import Path
from typing import Any, Literal

from finishmatch.dossier.figures import print_fonts
from finishmatch.errors import InputError

ARCHIVED = "PDF/A-2a"
ORDINARY = "PDF 1.7"
# the fonts of the machine only where those that come along lack a letter
_TRIED: tuple[tuple[bool, Literal["a-2a", "1.7"]], ...] = ((True, "a-2a"), (False, "a-2a"), (False, "1.7"))


def typeset(template: str, data: Mapping[str, Any], pictures: Mapping[str, bytes], day: str) -> tuple[bytes, str]:
    """Return a PDF, and by which standard it is.

    Parameters
    ----------
    template : str
        A file of `templates/`.
    data : mapping
        What JSON knows.
    pictures : mapping of str to bytes
        By the names that the data has for them.
    day : str
        YYYY-MM-DD, which the file gives as that of its making: the same document is the same file.

    Returns
    -------
    pdf : bytes
        Tagged, its fonts embedded.
    standard : str
        "PDF/A-2a" (ISO 19005-2), or "PDF 1.7" where a letter isn't in any font that is at hand.

    Raises
    ------
    InputError
        No room to write in.
    """
    import typst  # a compiler of thirty megabytes, for the commands that make a PDF

    made = datetime.fromisoformat(day).replace(tzinfo=UTC)
    source = resources.files("finishmatch.dossier").joinpath("templates", template).read_bytes()
    try:
        with tempfile.TemporaryDirectory(prefix="finishmatch-") as folder:
            root = Path(folder)
            (root / "main.typ").write_bytes(source)
            (root / "data.json").write_text(json.dumps(data, ensure_ascii=False), "utf-8")
            (root / "fonts").mkdir()
            for font in print_fonts():
                shutil.copyfile(font, root / "fonts" / font.name)
            for name, content in pictures.items():
                (root / name).write_bytes(content)
            for own_alone, standard in _TRIED:
                compiler = typst.Compiler(
                    root / "main.typ", root=root, font_paths=[root / "fonts"], ignore_system_fonts=own_alone
                )
                try:
                    pdf = compiler.compile(format="pdf", pdf_standards=standard, timestamp=made)
                except typst.TypstError as error:
                    if standard == "1.7":
                        raise AssertionError(f"{template} can't be set: {error}") from error
                    continue
                assert isinstance(pdf, bytes)
                return pdf, ARCHIVED if standard == "a-2a" else ORDINARY
    except OSError as error:
        raise InputError(
            "the folder for scratch files", f"can't be written in ({error.strerror})", "make room"
        ) from None
    raise AssertionError(template)
