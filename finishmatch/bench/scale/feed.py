"""The number on the pan: it follows the scale, and is settled before it is taken."""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from threading import Event, Lock, Thread
from typing import Any

import serial

from finishmatch.bench.scale.line import ScaleLine, read_line
from finishmatch.errors import InputError

BAUD = 9600
SETTLED_S = 0.8  # for so long the number has to stay where it is
SETTLED_SHARE, SETTLED_G = 0.0002, 0.05  # and so near: a step of a common bench scale («common practice»)
FORGOTTEN_S = 3.0  # a scale that has said nothing for so long isn't followed
TRY_AGAIN_S = 2.0

Seconds = Callable[[], float]


@dataclass(frozen=True)
class Pan:
    """What is on the pan: grams, None while the scale says nothing; and whether the number has settled."""

    grams: float | None = None
    settled: bool = False


class Settling:
    """Tells when the number of a scale has settled.

    Parameters
    ----------
    now : callable
        A clock, in seconds.

    Notes
    -----
    Settled is what stayed within a step for most of a second and isn't said to be moving; a scale that says that its
    pan is still is believed after two such lines.
    """

    def __init__(self, now: Seconds = time.monotonic) -> None:
        self._now = now
        self._lock = Lock()
        self._heard: deque[tuple[float, ScaleLine]] = deque(maxlen=200)

    def hear(self, line: ScaleLine) -> None:
        """Take a line in."""
        with self._lock:
            self._heard.append((self._now(), line))

    def pan(self) -> Pan:
        """Return what is on the pan now."""
        with self._lock:
            now = self._now()
            if not self._heard or now - self._heard[-1][0] > FORGOTTEN_S:
                return Pan()
            last = self._heard[-1][1]
            near = max(SETTLED_G, SETTLED_SHARE * abs(last.grams))
            same: list[tuple[float, ScaleLine]] = []
            for at, line in reversed(self._heard):
                if abs(line.grams - last.grams) > near or line.still is False:
                    break
                same.append((at, line))
        if not same:
            return Pan(last.grams)
        told = len(same) > 1 and all(line.still is True for _, line in same[:2])
        return Pan(last.grams, told or (len(same) > 1 and now - same[-1][0] >= SETTLED_S))


class ScaleFeed:
    """A thread that listens to a scale, and goes on when the line was pulled and is plugged in again.

    Parameters
    ----------
    device : str
        The serial line, as /dev/ttyUSB0.

    Raises
    ------
    InputError
        There is no such line, or it can't be opened.
    """

    def __init__(self, device: str) -> None:
        self.device = device
        self._settling = Settling()
        self._stopped = Event()
        self._line: Any = _opened(device)
        self._thread = Thread(target=self._listen, name="bench scale", daemon=True)
        self._thread.start()

    @property
    def pan(self) -> Pan:
        """What is on the pan now."""
        return self._settling.pan()

    def close(self) -> None:
        """Let go of the line."""
        self._stopped.set()
        self._thread.join(timeout=3)

    def _listen(self) -> None:
        while not self._stopped.is_set():
            try:
                self._hear(self._line)
            except (OSError, serial.SerialException):
                self._stopped.wait(TRY_AGAIN_S)
                self._reopen()
        self._line.close()

    def _hear(self, line: Any) -> None:
        kept = b""
        while not self._stopped.is_set():
            kept += line.read(max(1, min(line.in_waiting, 4096)))
            *whole, kept = kept.replace(b"\r", b"\n").split(b"\n")
            kept = kept[-4096:]
            for one in whole:
                said = read_line(one.decode("ascii", "replace"))
                if said is not None:
                    self._settling.hear(said)

    def _reopen(self) -> None:
        try:
            self._line.close()
            self._line = _opened(self.device)
        except (OSError, InputError):
            return


def _opened(device: str) -> Any:
    try:
        return serial.Serial(device, BAUD, timeout=0.2)
    except (OSError, ValueError, serial.SerialException) as error:
        what = f"can't be listened to: {getattr(error, 'strerror', None) or error}"
        raise InputError(f"`scale` {device}", what, "name the serial line of the scale, as /dev/ttyUSB0") from None
