"""The devices that may see the page: each holds a secret of its own, of which the bench keeps only a digest."""

from __future__ import annotations

import hashlib
import hmac
import json
import secrets
from dataclasses import asdict, dataclass, field, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from threading import Lock
from typing import Any

from finishmatch.errors import InputError
from finishmatch.files import write_file

FILE = "bench-devices.json"
KEPT_FOR = timedelta(days=30)
MOST_DEVICES = 50
MOST_HERE = 200
_SEEN_ANEW = timedelta(minutes=10)  # between two writings of when a device was seen last


@dataclass(frozen=True)
class Device:
    """A device that was paired, or, with the number 0, a browser on this machine.

    Parameters
    ----------
    number : int
    name : str
        What it is called.
    paired_at, seen_at : str
        UTC in ISO 8601.
    digest : str
        Of its secret.
    """

    number: int
    name: str
    paired_at: str
    seen_at: str
    digest: str = field(repr=False)


@dataclass
class Session:
    """A device while the server runs, and what it is to be told on the next page it asks for."""

    device: Device
    token: str
    said: list[str] = field(default_factory=list)
    noted: list[str] = field(default_factory=list)


class Devices:
    """The paired devices, kept in a file of the ledger's folder that its owner alone can read.

    Parameters
    ----------
    home : Path
        The folder of the ledger.

    Notes
    -----
    The file is read again when another program has changed it, so that a device can be forgotten while the page is
    served. Browsers on this machine are kept in memory alone.
    """

    def __init__(self, home: Path) -> None:
        self._file = home / FILE
        self._lock = Lock()
        self._key = secrets.token_bytes(32)
        self._read_at = -1
        self._kept: dict[str, Device] = {}
        self._sessions: dict[str, Session] = {}

    def paired(self, name: str) -> str:
        """Pair a device, and return its secret, which is kept nowhere else.

        Raises
        ------
        InputError
            Too many devices, a folder that can't be written in.
        """
        secret, now = secrets.token_urlsafe(32), _now()
        with self._lock:
            self._read()
            if len(self._kept) >= MOST_DEVICES:
                raise InputError("devices", f"{len(self._kept)} are paired", "forget those that are gone")
            number = max((device.number for device in self._kept.values()), default=0) + 1
            device = Device(number, " ".join(name.split())[:60] or "a device", now, now, _digest(secret))
            self._kept[device.digest] = device
            self._write()
        return secret

    def here(self) -> str:
        """Return the secret of a browser on this machine."""
        secret, now = secrets.token_urlsafe(32), _now()
        digest = _digest(secret)
        with self._lock:
            mine = [key for key, session in self._sessions.items() if session.device.number == 0]
            for key in mine[: max(0, len(mine) - MOST_HERE + 1)]:
                del self._sessions[key]
            self._sessions[digest] = Session(Device(0, "this machine", now, now, digest), self._token(digest))
        return secret

    def session(self, secret: str) -> Session | None:
        """Return the session of a device by its secret; None where it isn't known, or not any more."""
        if not secret or len(secret) > 200:
            return None
        digest = _digest(secret)
        with self._lock:
            self._read()
            known = self._sessions.get(digest)
            if known is not None and known.device.number == 0:
                return known
            device = self._kept.get(digest)
            if device is None or _age(device.paired_at) > KEPT_FOR:
                self._sessions.pop(digest, None)
                return None
            if _age(device.seen_at) > _SEEN_ANEW:
                device = self._kept[digest] = replace(device, seen_at=_now())
                self._write()
            if known is None:
                known = self._sessions[digest] = Session(device, self._token(digest))
            known.device = device
            return known

    def listed(self) -> tuple[Device, ...]:
        """Return the paired devices in the order paired."""
        with self._lock:
            self._read()
            return tuple(sorted(self._kept.values(), key=lambda device: device.number))

    def forget(self, number: int) -> Device:
        """Forget a device: what it holds is worth nothing from now on.

        Raises
        ------
        InputError
            There is none of this number.
        """
        with self._lock:
            self._read()
            found = next((device for device in self._kept.values() if device.number == number), None)
            if found is None:
                known = ", ".join(str(device.number) for device in self._kept.values()) or "none"
                raise InputError(f"device {number}", "isn't paired", f"paired are: {known}")
            del self._kept[found.digest]
            self._sessions.pop(found.digest, None)
            self._write()
        return found

    def _token(self, digest: str) -> str:
        """Return what every form of a session has to bring along."""
        return hmac.new(self._key, digest.encode(), hashlib.sha256).hexdigest()

    def _read(self) -> None:
        try:
            changed = self._file.stat().st_mtime_ns
        except OSError:
            self._kept, self._read_at = {}, -1
            return
        if changed != self._read_at:
            self._kept = {device.digest: device for device in _devices_in(self._file)}
            self._read_at = changed

    def _write(self) -> None:
        document = {"devices": [asdict(device) for device in self._kept.values()]}
        write_file(self._file, json.dumps(document, indent=1) + "\n", private=True, make_folder=True)
        self._read_at = self._file.stat().st_mtime_ns


def _devices_in(file: Path) -> list[Device]:
    """Return the devices of a file; of one that isn't as it was written none: they have to be paired again."""
    try:
        found: Any = json.loads(file.read_text("utf-8"))
        return [Device(**{name: kind(item[name]) for name, kind in _FIELDS.items()}) for item in found["devices"]]
    except (OSError, ValueError, KeyError, TypeError):
        return []


_FIELDS = {"number": int, "name": str, "paired_at": str, "seen_at": str, "digest": str}


def _digest(secret: str) -> str:
    return hashlib.sha256(secret.encode("utf-8", "replace")).hexdigest()


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")


def _age(stamp: str) -> timedelta:
    try:
        return datetime.now(UTC) - datetime.fromisoformat(stamp)
    except (ValueError, TypeError):
        return KEPT_FOR * 2
