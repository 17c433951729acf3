"""A photograph is opened: what can't serve is found out before it is decoded, and it is turned the way it was held."""

from __future__ import annotations

import io
import struct
import warnings
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError

from finishmatch.errors import InputError
from finishmatch.files import read_file
from finishmatch.photo.open.dng_tags import is_dng
from finishmatch.photo.open.finer_chroma import FinerChroma, finer_chroma
from finishmatch.photo.open.form import check_form
from finishmatch.photo.open.icc_profile import (
    Encoding,
    assumed_encoding,
    linear_encoding,
    read_profile,
)
from finishmatch.photo.open.jpeg import jpeg_values
from finishmatch.photo.open.raw import raw_values
from finishmatch.photo.open.upright import Pixels, upright
from finishmatch.photo.raw_suffixes import RAW_SUFFIXES

MAX_BYTES = 400_000_000
MAX_PIXELS = 120_000_000
MAX_DEEP_PIXELS = 60_000_000  # of 16 bits: they take twice the memory
KINDS = "JPEG, PNG, TIFF, HEIC or DNG"
RAW = "raw"
_OTHERWISE = (b"\xff\xd8\xff", b"\x89PNG")  # how JPEG and PNG begin, whatever they are called
_SHOWN_SHARE = 99.5  # in 100 places of a raw picture are not too bright to be shown
_KINDS = {"MPO": "JPEG", "HEIF": "HEIC"}
_DEEP_MODES = ("I;16", "I;16B", "I;16L", "I", "F")


# phones take 8 million and more; what is sent from one to the next has some 1 to 2 («common practice»)
CAMERA_PIXELS = 2_000_000


@dataclass(frozen=True)
class Picture:
    """A photograph as it is seen upright.

    Parameters
    ----------
    values : ndarray of uint8 or uint16, shape (height, width, 3)
        Red, green, blue as in the file.
    encoding : Encoding
        What the values mean.
    source : Path
    warnings : tuple of str
    kind : str
        "JPEG", "PNG", "TIFF", "HEIC" or "raw", the sensor's own values; "" when it isn't of a file.
    balance : tuple of float
        Red, green, blue: by what they are multiplied to be looked at, and for nothing else.
    file : tuple of (bytes, int), or None
        Of a JPEG: what the file holds, and how it is turned, EXIF's orientation.
    """

    values: Pixels
    encoding: Encoding
    source: Path
    warnings: tuple[str, ...] = ()
    kind: str = ""
    balance: tuple[float, float, float] = (1.0, 1.0, 1.0)
    file: tuple[bytes, int] | None = None

    @cached_property
    def finer(self) -> FinerChroma | None:
        """The chroma of its blocks more finely, of a JPEG."""
        return None if self.file is None else finer_chroma(self.file[0], self.size, self.file[1])

    @cached_property
    def spots(self) -> dict[tuple[bytes, bool], Any]:
        """What `sample` found in it already: the cells of a card are looked at more than once."""
        return {}

    @property
    def full_scale(self) -> int:
        """The largest value of a channel."""
        return 255 if self.values.dtype == np.uint8 else 65535

    @property
    def size(self) -> tuple[int, int]:
        """Width and height in pixels."""
        return self.values.shape[1], self.values.shape[0]

    @property
    def as_sent(self) -> str:
        """What to add to advice to go closer, where it is as small as a messenger sends it; else ""."""
        width, height = self.size
        if width * height >= CAMERA_PIXELS:
            return ""
        return (
            f"; the picture has only {width} × {height} pixels: if a messenger sent it, take the file as the camera "
            "made it"
        )

    def small(self, scale: float) -> NDArray[np.uint8]:
        """Return the picture in 8 bits at a scale, light enough to find things in.

        A scale of one over a whole number is quickest; what is over at the right and below is then left out.
        """
        by = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
        values: NDArray[Any] = self.values
        times = round(1 / scale)
        if times > 1 and abs(times * scale - 1) < 1e-9:
            # halves are quicker than other parts, and the first of them serves more than once
            values = _part(values, times) if times % 2 else _part(self._half, times // 2)
        elif scale != 1:
            values = np.asarray(cv2.resize(values, None, fx=scale, fy=scale, interpolation=by))
        if self.encoding.name == "linear" and values.dtype == np.uint16:
            return np.stack([self._shown[i].take(values[..., i]) for i in range(3)], axis=-1)
        if values.dtype == np.uint16:
            values = (values >> 8).astype(np.uint8)
        return np.asarray(values, np.uint8)

    @cached_property
    def _shown(self) -> NDArray[np.uint8]:
        """What linear values are shown as, by channel, shape (3, 65536); raw ones balanced, as light as is usual."""
        times = np.array(self.balance)
        if self.kind == RAW:
            step = max(1, min(self.size) // 200)
            lightest = (self.values[::step, ::step] * times).max(axis=2)
            times = times * (65535 / max(1.0, float(np.percentile(lightest, _SHOWN_SHARE))))
        light = np.minimum(np.arange(65536) / 65535 * times[:, None], 1)
        return np.asarray(np.rint(255 * np.sqrt(light)), np.uint8)

    @cached_property
    def _half(self) -> NDArray[Any]:
        return _part(self.values, 2)


def _part(values: NDArray[Any], times: int) -> NDArray[Any]:
    """Return a picture shrunk to one over a whole number."""
    if times == 1:
        return values
    if times % 2 == 0 and times > 2:
        return _part(_part(values, 2), times // 2)
    height, width = values.shape[0] // times, values.shape[1] // times
    whole = values[: height * times, : width * times]
    return np.asarray(cv2.resize(whole, (width, height), interpolation=cv2.INTER_AREA))


def open_picture(path: Path) -> Picture:
    """Open a photograph.

    Parameters
    ----------
    path : Path
        JPEG, PNG, TIFF or HEIC, 8 or 16 bits; DNG and other raw files of cameras.

    Returns
    -------
    Picture

    Raises
    ------
    InputError
        What is not a photograph, is damaged, has other than three colours, is animated, or is too small or too large.
    """
    path = Path(path)
    data = _bytes(path)
    named_raw = path.suffix.lower() in RAW_SUFFIXES and not data.startswith(_OTHERWISE)
    if named_raw or is_dng(data):
        return _open_raw(path, data)
    formats = ["JPEG", "PNG", "TIFF"]
    if data[4:8] == b"ftyp":
        import pillow_heif  # takes a third of a second to load, and few photographs are HEIC

        pillow_heif.register_heif_opener()
        formats = ["HEIF"]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a bomb is reported below, what else is odd in the file is no matter
        try:
            with Image.open(io.BytesIO(data), formats=formats) as image:
                _check(path, image)
                return _decode(path, data, image)
        except InputError:
            raise
        except Image.DecompressionBombError:
            raise _too_large(path, "far too many") from None
        except UnidentifiedImageError:
            raise InputError(str(path), "is not a photograph that can be read", f"give {KINDS}") from None
        except MemoryError:
            raise InputError(str(path), "doesn't fit into the memory", "save it smaller") from None
        except Exception as error:  # the decoders raise anything on a damaged file
            raise InputError(
                str(path), f"is damaged or cut short ({_reason(error)})", "copy it again from the camera"
            ) from None


def _bytes(path: Path) -> bytes:
    data = read_file(path, MAX_BYTES, "name a photograph")
    if not data:
        raise InputError(str(path), "is empty", "copy it again from the camera")
    return data


def _reason(error: Exception) -> str:
    text = " ".join(str(error).split()) or type(error).__name__
    return text[:80]


def _too_large(path: Path, what: str) -> InputError:
    return InputError(
        str(path), f"has {what} pixels", f"save it with 8 to 50 megapixels; {MAX_PIXELS // 1_000_000} at most"
    )


def _check(path: Path, image: Any) -> None:
    """See from the header alone that a picture can serve."""
    if image.size[0] * image.size[1] > MAX_PIXELS:
        raise _too_large(path, f"{image.size[0]} × {image.size[1]}")
    check_form(path, *image.size)
    if getattr(image, "n_frames", 1) > 1 and image.format not in ("MPO", "HEIF"):
        raise InputError(str(path), "is animated or has several pages", "give a single photograph")
    if image.mode in ("CMYK", "LAB"):
        raise InputError(str(path), f"is in {image.mode}, not RGB", "export it as RGB, best with its camera profile")
    if image.mode in ("1", "L", "LA", "La", *_DEEP_MODES):
        raise InputError(str(path), "is black and white, so it holds no colour", "give the colour photograph")


def _decode(path: Path, data: bytes, image: Any) -> Picture:
    profile = image.info.get("icc_profile")
    notes: list[str] = []
    file = None
    encoding = read_profile(profile) if profile else None
    if profile and encoding is None:
        notes.append("its colour profile can't be used; the tone curve is taken from the chart's greys")
    is_deep = _bits(data, image) == 16
    width, height = image.size
    if is_deep and width * height > MAX_DEEP_PIXELS:
        mend = f"save it with 8 to 50 megapixels, or with 8 bits; {MAX_DEEP_PIXELS // 1_000_000} at most"
        raise InputError(str(path), f"has {width} × {height} pixels of 16 bits", mend)
    deep = _deep(data, image) if is_deep else None
    if deep is None:
        if _see_through(image):
            notes.append("it is transparent in places; what lies behind was left out")
        if image.format in ("JPEG", "MPO"):
            whole, file = jpeg_values(path, data), (data, _orientation(image))
            values = upright(lambda top, end: whole[top:end], whole.shape, _orientation(image))
        else:
            image.load()  # Pillow turns some kinds of file itself, and takes the orientation from them
            values = upright(lambda top, end: _rows(image, top, end), (*image.size[::-1], 3), _orientation(image))
    else:
        # OpenCV turns a TIFF whatever it is asked
        orientation = 1 if image.format == "TIFF" else _orientation(image)
        values = upright(lambda top, end: _red_first(deep[top:end]), deep.shape, orientation)
    kind = _KINDS.get(image.format, str(image.format))
    return Picture(values, encoding or assumed_encoding(), path, tuple(notes), kind, file=file)


def _bits(data: bytes, image: Any) -> int:
    """Return 16 when a channel of the file has more than 8 bits."""
    if image.format == "PNG":
        return data[24]  # of the header chunk, which always stands first
    if image.format == "TIFF":
        bits = image.tag_v2.get(258, (8,))
        return 16 if max(bits if isinstance(bits, tuple) else (bits,)) > 8 else 8
    return 8


def _deep(data: bytes, image: Any) -> NDArray[np.uint16] | None:
    """Return 16-bit values, which Pillow would cut to 8; blue, green, red."""
    if image.format == "TIFF" and image.tag_v2.get(339, (1,))[0] not in (1,):
        raise ValueError("its values are not whole numbers")
    found = cv2.imdecode(
        np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR | cv2.IMREAD_ANYDEPTH | cv2.IMREAD_IGNORE_ORIENTATION
    )
    if found is None:
        raise ValueError("its 16-bit values can't be decoded")
    if found.dtype != np.uint16:
        return None
    return np.asarray(found, np.uint16)


def _rows(image: Any, top: int, end: int) -> NDArray[np.uint8]:
    """Return some rows of a picture, shape (end - top, width, 3)."""
    strip = image.crop((0, top, image.size[0], end))
    return np.asarray(strip if strip.mode == "RGB" else strip.convert("RGB"))


def _red_first(rows: NDArray[np.uint16]) -> NDArray[np.uint16]:
    return np.asarray(cv2.cvtColor(rows, cv2.COLOR_BGR2RGB), np.uint16)


def _see_through(image: Any) -> bool:
    if image.mode == "P" and "transparency" in image.info:
        image = image.convert("RGBA")
    return "A" in image.getbands() and bool(image.getchannel("A").getextrema()[0] < 255)


def _orientation(image: Any) -> int:
    if image.format == "HEIF":
        return 1  # the decoder has turned it already
    try:
        return int(image.getexif().get(0x0112, 1))
    except (ValueError, TypeError, struct.error, SyntaxError):
        return 1


def _open_raw(path: Path, data: bytes) -> Picture:
    """Open camera raw as linear values of the sensor, with nothing laid on."""
    found = raw_values(path, data, KINDS)
    values = upright(lambda top, end: found.values[top:end], found.values.shape, found.orientation)
    return Picture(values, linear_encoding(), path, kind=RAW, balance=found.balance)
