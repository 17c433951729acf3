"""A code, good for one device and ten minutes, by which a device is let in; guessing is slow and soon shut out."""

from __future__ import annotations

import hmac
import io
import secrets
import time
from collections.abc import Callable
from threading import Lock

import segno

from finishmatch.errors import InputError

DIGITS = 8
GOOD_FOR_S = 600.0
TRIES_OF_A_CODE = 5
TRIES_OF_A_DEVICE = 10  # wrong codes of one address
TRIES_IN_ALL = 30
FORGIVEN_AFTER_S = 3600.0

Seconds = Callable[[], float]


class Pairing:
    """The code of the moment, and who guessed wrong.

    Parameters
    ----------
    now : callable
        A clock, in seconds.
    """

    def __init__(self, now: Seconds = time.monotonic) -> None:
        self._now = now
        self._lock = Lock()
        self._wrong: list[tuple[float, str]] = []
        self._code, self._made_at, self._tries = "", 0.0, 0

    def code(self) -> str:
        """Return the code that lets the next device in, as "4831 2076"."""
        with self._lock:
            return self._shown()

    def try_code(self, typed: str, address: str) -> bool:
        """Return whether a code that was typed lets a device in; it is used up then.

        Parameters
        ----------
        typed : str
            Blanks and hyphens don't count.
        address : str
            From where.

        Raises
        ------
        InputError
            Too many wrong codes were typed: nobody is let in for a while.
        """
        digits = "".join(sign for sign in typed[:40] if sign in "0123456789")
        with self._lock:
            now = self._now()
            self._wrong = [(at, who) for at, who in self._wrong if now - at < FORGIVEN_AFTER_S]
            mine = sum(who == address for _, who in self._wrong)
            if mine >= TRIES_OF_A_DEVICE or len(self._wrong) >= TRIES_IN_ALL:
                raise InputError("the code", "was wrong too often", "wait an hour, or start the bench page again")
            self._shown()
            if hmac.compare_digest(digits.encode(), self._code.encode()):
                self._code = ""
                return True
            self._wrong.append((now, address))
            self._tries += 1
            if self._tries >= TRIES_OF_A_CODE:
                self._code = ""
            return False

    def _shown(self) -> str:
        now = self._now()
        if not self._code or now - self._made_at > GOOD_FOR_S:
            self._code = "".join(secrets.choice("0123456789") for _ in range(DIGITS))
            self._made_at, self._tries = now, 0
        return f"{self._code[: DIGITS // 2]} {self._code[DIGITS // 2 :]}"


def pairing_link(address: str, code: str) -> str:
    """Return where a device goes to be paired: the code stands behind the #, which no server and no log is sent."""
    return f"{address}/pair#{code.replace(' ', '')}"


def code_in_text(link: str) -> str:
    """Return a link as a code of squares, in half blocks for a terminal."""
    out = io.StringIO()
    segno.make(link, error="m").terminal(out, compact=True, border=2)
    return out.getvalue().rstrip("\n")


def code_in_svg(link: str) -> str:
    """Return a link as a code of squares, as SVG text without a style of its own."""
    return segno.make(link, error="m").svg_inline(scale=8, border=4, dark="#000", light="#fff", omitsize=True)
