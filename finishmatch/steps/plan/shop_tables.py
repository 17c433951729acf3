"""The shop's own tables of panels and rule sets, in `shop/` beside the ledger; they come before those of the tool."""

from __future__ import annotations

import os
from pathlib import Path

from finishmatch.errors import InputError
from finishmatch.finish.spraying_figures import common_areas, common_rules
from finishmatch.ledger import ledger_home
from finishmatch.readings.areas_file import read_areas
from finishmatch.readings.rules_file import RuleSet, read_rules


def shop_folder() -> Path:
    """Return the folder of the shop's own tables; it need not be there.

    Raises
    ------
    InputError
        Something else than a folder stands there.
    """
    return _folder(ledger_home() / "shop")


def _folder(path: Path) -> Path:
    if os.path.lexists(path) and not path.is_dir():
        raise InputError(str(path), "is not a folder", "put the shop's own tables in a folder of that name")
    return path


def areas_known(panels_file: Path | None) -> tuple[dict[str, float], tuple[Path, ...]]:
    """Return the areas of panels, m², and the files they are from: the file named, else the shop's, else the tool's."""
    own = panels_file or shop_folder() / "panels.toml"
    if panels_file is None and not os.path.lexists(own):
        return dict(common_areas()), ()
    return {**common_areas(), **read_areas(own)}, (own,)


def shop_rules() -> dict[str, Path]:
    """Return the shop's own rule sets by name."""
    return {path.stem: path for path in sorted(_folder(shop_folder() / "rules").glob("*.toml"))}


def rule_sets_known() -> dict[str, RuleSet]:
    """Return all rule sets by name, the shop's own in place of those of the same name that come with the tool."""
    return {**common_rules(), **{name: read_rules(path) for name, path in shop_rules().items()}}


def rule_set(name: str) -> tuple[RuleSet, tuple[Path, ...]]:
    """Return a rule set by its name, or of a file, and the files it is from."""
    if name.endswith(".toml") or "/" in name or "\\" in name:
        return read_rules(Path(name)), (Path(name),)
    own = shop_rules()
    if name in own:
        return read_rules(own[name]), (own[name],)
    if name in common_rules():
        return common_rules()[name], ()
    known = ", ".join(dict.fromkeys([*own, *common_rules()]))
    raise InputError("`rules`", f"there is no rule set {name[:40]!r}", f"known are {known}; or name a file")
