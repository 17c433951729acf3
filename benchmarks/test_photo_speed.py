"""A 12-megapixel photograph: the time and the memory of the whole reading, against decoding the file."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from benchmarks.photobooth import Sample, Shot, photograph, profile_bytes
from benchmarks.photoscenes import paints
from benchmarks.ratios import holds

pytestmark = pytest.mark.timed

SIZE = (4000, 3000)
SAMPLES = 6
TIMES, MEMORY = 3.0, 6.0
# the most a process ever held (VmHWM of Linux), above what it holds once its libraries are loaded
CHILD = """
import re, sys
from pathlib import Path
import PIL.Image, PIL.JpegImagePlugin, scipy.special
from finishmatch.readings.photo.photoread import read_photograph
from finishmatch.readings.photo.picture import open_picture
def most():
    return int(re.search(r"VmHWM:\\s+(\\d+)", Path("/proc/self/status").read_text()).group(1))
before = most()
reading = read_photograph(open_picture(Path(sys.argv[1])))
assert len(reading.regions) == int(sys.argv[2]), reading.why_not
print(before * 1024, most() * 1024)
"""

TIMED = """
import sys
from pathlib import Path
import numpy as np
from PIL import Image
from benchmarks.ratios import time_ratio
from finishmatch.readings.photo.photoread import read_photograph
from finishmatch.readings.photo.picture import open_picture
path = Path(sys.argv[1])
def ours():
    reading = read_photograph(open_picture(path))
    assert len(reading.regions) == int(sys.argv[2]), reading.why_not
def decode():
    with Image.open(path) as image:
        return np.asarray(image)
print(time_ratio(ours, decode))
"""


@pytest.fixture(scope="module")
def jpeg(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Six samples and a chart, with the noise of a sensor in every pixel."""
    samples = [Sample(str(i), paints()[9 * i], 30 + i * 86, 42, 68, 50) for i in range(SAMPLES)]
    photo = photograph(samples, Shot(width=2000, height=1500, encoding="Display P3", tilt_deg=12, turn_deg=5))
    large = cv2.resize(photo.uint8(), SIZE, interpolation=cv2.INTER_CUBIC).astype(np.float32)
    large += 2 * np.random.default_rng(1).standard_normal(large.shape, dtype=np.float32)
    path = tmp_path_factory.mktemp("photograph") / "large.jpg"
    image = Image.fromarray(np.clip(np.rint(large), 0, 255).astype(np.uint8))
    image.save(path, quality=92, icc_profile=profile_bytes("Display P3"))
    return path


def test_the_whole_reading_takes_at_most_three_times_decoding(jpeg: Path) -> None:
    def measure() -> float:
        alone = {**os.environ, "OPENBLAS_NUM_THREADS": "1"}  # threads that wait for a busy core triple the time
        command = [sys.executable, "-c", TIMED, str(jpeg), str(SAMPLES)]
        return float(subprocess.run(command, capture_output=True, check=True, text=True, env=alone).stdout)

    ratio = holds(measure, TIMES)
    print(f"\nreading a 12-megapixel photograph over decoding it ({jpeg.stat().st_size / 1e6:.1f} MB): {ratio:.2f}")
    assert ratio <= TIMES


def test_the_reading_holds_at_most_six_times_the_decoded_image(jpeg: Path) -> None:
    told = subprocess.run(
        [sys.executable, "-c", CHILD, str(jpeg), str(SAMPLES)], capture_output=True, check=True, text=True
    )
    before, most = (int(part) for part in told.stdout.split())
    image = SIZE[0] * SIZE[1] * 3
    print(f"\npeak memory over the decoded image: {(most - before) / image:.2f}; libraries too: {most / image:.2f}")
    assert most - before <= MEMORY * image
