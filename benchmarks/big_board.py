# SPDX-License-Identifier: GPL-3.0-or-later
"""Make a big KiCad 6 board file that has the shape of real ones: for time and memory by size.

Footprints of 2 to 200 pads with texts, print lines and a model, the tracks and vias that go with
them, one filled zone in a hundred parts; about 1.3 kB a pad. The same arguments give the same file.

    python -m benchmarks.big_board 150000 big.kicad_pcb
"""

from __future__ import annotations

import random
import sys
from pathlib import Path
from typing import TextIO

PADS_OF_PART = (2, 2, 2, 2, 2, 2, 3, 2, 5, 2, 2, 8, 2, 16, 2, 2, 48, 2, 6, 2, 100, 2, 2, 200)
TRACKS_PER_PAD = 6
PARTS_PER_ZONE = 100
_HEAD = """(kicad_pcb (version 20211014) (generator pcbnew)

  (general
    (thickness 1.6)
  )

  (paper "A0")
  (layers
    (0 "F.Cu" signal)
    (1 "In1.Cu" power)
    (2 "In2.Cu" power)
    (31 "B.Cu" signal)
    (36 "B.SilkS" user "B.Silkscreen")
    (37 "F.SilkS" user "F.Silkscreen")
    (38 "B.Mask" user)
    (39 "F.Mask" user)
    (44 "Edge.Cuts" user)
  )

"""


def write_big_board(path: Path, pads: int, *, seed: int = 1) -> int:
    """Write a board with exactly this many pads; the file's size in bytes."""
    draw = random.Random(seed)
    nets = max(4, pads // 4)
    with path.open("w", encoding="ascii", newline="\n") as out:
        out.write(_HEAD)
        out.write('  (net 0 "")\n')
        out.writelines(f'  (net {net} "/block{net % 37}/N{net}")\n' for net in range(1, nets + 1))
        left, part = pads, 0
        while left:
            count = min(left, PADS_OF_PART[part % len(PADS_OF_PART)])
            _footprint(out, draw, part, count, nets)
            left -= count
            part += 1
        for track in range(pads * TRACKS_PER_PAD):
            x, y, net = draw.randrange(10**6), draw.randrange(10**6), draw.randrange(nets) + 1
            if track % 12 == 11:
                out.write(
                    f"  (via (at {x / 1e3} {y / 1e3}) (size 0.6) (drill 0.3) "
                    f'(layers "F.Cu" "B.Cu") (net {net}) (tstamp {_stamp(draw)}))\n'
                )
            else:
                out.write(
                    f"  (segment (start {x / 1e3} {y / 1e3}) (end {(x + 417) / 1e3} {y / 1e3}) "
                    f'(width 0.1524) (layer "F.Cu") (net {net}) (tstamp {_stamp(draw)}))\n'
                )
        for zone in range(part // PARTS_PER_ZONE + 1):
            _zone(out, draw, zone + 1)
        out.write(")\n")
    return path.stat().st_size


def _stamp(draw: random.Random) -> str:
    digits = f"{draw.getrandbits(128):032x}"
    return f"{digits[:8]}-{digits[8:12]}-{digits[12:16]}-{digits[16:20]}-{digits[20:]}"


def _footprint(out: TextIO, draw: random.Random, part: int, pads: int, nets: int) -> None:
    letter = "RCLRCD"[part % 6] if pads == 2 else "Q" if pads < 6 else "U"
    x, y, angle = part % 997 * 1.27, part // 997 * 2.54, (0, 90, 180, 270, 45)[part % 5]
    side = "B" if part % 7 == 0 else "F"
    out.write(
        f'  (footprint "Package:Body_{pads}" (layer "{side}.Cu")\n'
        f"    (tedit 5F68FEEF) (tstamp {_stamp(draw)})\n"
        f"    (at {x:.6g} {y:.6g}{f' {angle}' if angle else ''})\n"
        f'    (descr "Body with {pads} pads, generated for measurements")\n'
        f'    (tags "body generated")\n'
        f'    (property "Sheetfile" "block{part % 37}.kicad_sch")\n'
        f'    (property "Sheetname" "block{part % 37}")\n'
        f'    (path "/{_stamp(draw)}/{_stamp(draw)}")\n'
        f"    (attr smd)\n"
    )
    for kind, text, layer in (("reference", f"{letter}{part}", "SilkS"), ("value", "10k", "Fab")):
        out.write(
            f'    (fp_text {kind} "{text}" (at 0 -1.43{f" {angle}" if angle else ""}) '
            f'(layer "{side}.{layer}")\n'
            f"      (effects (font (size 1 1) (thickness 0.15)))\n"
            f"      (tstamp {_stamp(draw)})\n    )\n"
        )
    for line in range(8 if pads < 10 else 16):
        out.write(
            f"    (fp_line (start -0.{line + 1}3 0.47) (end 0.{line + 1}3 0.47) "
            f'(layer "{side}.SilkS") (width 0.12) (tstamp {_stamp(draw)}))\n'
        )
    for pad in range(1, pads + 1):
        net = draw.randrange(nets) + 1
        out.write(
            f'    (pad "{pad}" smd roundrect (at {(pad - pads / 2) * 0.5:.6g} 0.{pad % 9}25'
            f'{f" {angle}" if angle else ""}) (size 0.56 0.62) (layers "{side}.Cu" "{side}.Paste" '
            f'"{side}.Mask") (roundrect_rratio 0.25)\n'
            f'      (net {net} "/block{net % 37}/N{net}") (pinfunction "IO{pad}") '
            f'(pintype "passive") (tstamp {_stamp(draw)}))\n'
        )
    out.write(
        '    (model "${KICAD6_3DMODEL_DIR}/Package.3dshapes/Body.wrl"\n'
        "      (offset (xyz 0 0 0))\n      (scale (xyz 1 1 1))\n      (rotate (xyz 0 0 0))\n    )\n"
        "  )\n\n"
    )


def _zone(out: TextIO, draw: random.Random, net: int) -> None:
    points = [(draw.randrange(10**6), draw.randrange(10**6)) for _ in range(200)]
    ring = "\n".join(f"        (xy {x / 1e3} {y / 1e3})" for x, y in points)
    out.write(
        f'  (zone (net {net}) (net_name "/block{net % 37}/N{net}") (layer "In1.Cu") '
        f"(tstamp {_stamp(draw)}) (hatch edge 0.508)\n    (connect_pads (clearance 0.2))\n"
        f"    (min_thickness 0.2) (filled_areas_thickness no)\n"
        f"    (fill yes (thermal_gap 0.3) (thermal_bridge_width 0.3))\n"
        f"    (polygon\n      (pts\n{ring}\n      )\n    )\n"
        f'    (filled_polygon\n      (layer "In1.Cu")\n      (pts\n{ring}\n      )\n    )\n  )\n'
    )


if __name__ == "__main__":
    size = write_big_board(Path(sys.argv[2]), int(sys.argv[1]))
    print(f"{size} bytes, {size / int(sys.argv[1]):.0f} a pad")
