# SPDX-License-Identifier: GPL-3.0-or-later
"""What a step costs while a board is traced, beside a plain, safe write of the same file.

python -m benchmarks.trace_steps

Each step goes through the service's own application: checked, kept on the disk, answered.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable
from pathlib import Path
from statistics import median
from time import perf_counter

from netgraph.formats.photo_board import PhotoBoard, PhotoPad
from netgraph.formats.photo_edit import with_pad
from netgraph.service.data_folder import write_whole
from tests.service.client import bench
from tests.service.photographs import png
from tests.service.test_tracing import Tracer

STEPS = 15


def _took(act: Callable[[], object]) -> float:
    started = perf_counter()
    act()
    return perf_counter() - started


def _grown(photo: PhotoBoard, pads: int) -> PhotoBoard:
    for i in range(pads):
        photo = with_pad(photo, f"U{i // 8}", PhotoPad(str(i % 8), float(i), float(i)))
    return photo


def measure(pads: int) -> tuple[float, float, int]:
    """Seconds of a step and of a plain write (medians), and the file's size in bytes."""
    with tempfile.TemporaryDirectory() as folder:
        made = bench(Path(folder) / "data")
        traced = Tracer(made)
        traced.picture(png())
        now, _ = made.service.traces.change(
            traced.sha, traced.now["revision"], ("part", ""), lambda photo: _grown(photo, pads)
        )
        traced.now = {"revision": now.revision}
        steps, plain = [], []
        place = Path(folder) / "plain.json"
        file = made.service.store.folder.traces / traced.sha / "trace.json"
        for i in range(STEPS):
            text = f"R{i}.1 U1.1 : VSYS"
            steps.append(_took(lambda text=text: traced.step(do="line", text=text)))  # type: ignore[misc]
            table = json.loads(file.read_bytes())
            plain.append(
                _took(lambda table=table: write_whole(place, json.dumps(table).encode()))  # type: ignore[misc]
            )
        size = file.stat().st_size
        made.close()
    return median(steps), median(plain), size


def main() -> None:
    """Print one line a size."""
    for pads in (20, 200, 2000):
        step, plain, size = measure(pads)
        print(
            f"{pads:5} pads, {size / 1e3:7.1f} kB: a step {step * 1e3:6.1f} ms, "
            f"{step / plain:5.1f} times a plain write of the file"
        )


if __name__ == "__main__":
    main()
