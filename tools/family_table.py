#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Write ``netgraph/roles/tables/families_symbols.csv`` from a folder of KiCad symbol libraries.

    .venv/bin/python tools/family_table.py FOLDER

The libraries sort parts by what they are. A beginning of markings becomes a family when at least
two parts of the libraries begin so, all of them of one role, and the table written by hand
(``families.csv``) doesn't say the same already. Only such facts are taken: no symbol, no text.
"""

from __future__ import annotations

import re
import sys
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from netgraph.roles.answer import Role  # noqa: E402
from netgraph.roles.families import marking_of, written_families  # noqa: E402

TABLE = ROOT / "netgraph" / "roles" / "tables" / "families_symbols.csv"
SHORTEST, LONGEST = 4, 8
LEAST_PARTS = {4: 6, 5: 3}
"""So many parts for a beginning of so many characters, two for a longer one."""
BY_LIBRARY: tuple[tuple[str, Role], ...] = (
    ("Regulator_Linear", "regulator"),
    ("Regulator_Switching", "regulator"),
    ("Regulator_SwitchedCapacitor", "regulator"),
    ("Converter_", "regulator"),
    ("Regulator_Controller", "power-controller"),
    ("Power_Supervisor", "power-controller"),
    ("Driver_FET", "power-controller"),
    ("Memory_EEPROM", "eeprom"),
    ("Memory_EPROM", "boot-flash"),
    ("Memory_RAM", "memory"),
    ("MCU_", "processor"),
    ("CPU", "processor"),
    ("DSP_Freescale", "processor"),
    ("DSP_Texas", "processor"),
    ("FPGA_", "programmable-logic"),
    ("CPLD_", "programmable-logic"),
    ("Interface_CAN", "interface"),
    ("Interface_UART", "interface"),
    ("Interface_LineDriver", "interface"),
    ("Sensor_", "sensor"),
    ("Amplifier_", "amplifier"),
    ("Comparator", "amplifier"),
    ("Reference_Voltage", "amplifier"),
    ("Driver_Motor", "motor-driver"),
    ("Driver_LED", "display-driver"),
    ("Isolator", "optocoupler"),
    ("Timer_RTC", "other"),
    ("Analog_ADC", "other"),
    ("Analog_DAC", "other"),
    ("Analog_Switch", "analog-switch"),
    ("RF_GPS", "radio"),
    ("RF_GSM", "radio"),
    ("RF_Bluetooth", "radio"),
    ("RF_ZigBee", "radio"),
    ("RF_WiFi", "radio"),
    ("Oscillator", "oscillator"),
    ("Diode_Bridge", "bridge-rectifier"),
)
"""Role of all parts of a library whose name begins so; other libraries hold parts of many roles."""
BY_WORDS: tuple[tuple[str, str, Role], ...] = (
    ("Battery_Management", r"gauge", "fuel-gauge"),
    ("Battery_Management", r"charg(er|ing|e management)", "charger"),
    ("Battery_Management", r"protect|balanc|monitor", "power-controller"),
    (
        "Power_Management",
        r"load switch|power switch|high.?side switch|current.limit",
        "load-switch",
    ),
    ("Power_Management", r"hot.?swap|ideal.?diode|or-?ing|controller", "power-controller"),
    ("Interface_USB", r"hub|bridge|uart|transceiver|converter|phy", "interface"),
    ("Memory_Flash", r"serial|spi|nor", "boot-flash"),
    ("Memory_Flash", r"nand|emmc", "storage"),
)
"""Role by library and a word of the description, where the library alone doesn't tell."""
PART = re.compile(r'^\t?\s{0,2}\(symbol "([^"]+)"', re.MULTILINE)
DESCRIPTION = re.compile(r'"(?:ki_description|Description)" "([^"]*)"')


def parts(folder: Path) -> Iterator[tuple[str, str, str]]:
    """(library, name, description) of every symbol that is no unit of another."""
    for path in sorted(folder.glob("*.kicad_sym")):
        text = path.read_text(encoding="utf-8")
        starts = [
            found for found in PART.finditer(text) if not re.search(r"_\d+_\d+$", found.group(1))
        ]
        ends = [found.start() for found in starts[1:]] + [len(text)]
        for found, end in zip(starts, ends, strict=True):
            said = DESCRIPTION.search(text, found.start(), end)
            yield path.stem, found.group(1), said.group(1) if said else ""


def role_of(library: str, description: str) -> Role | None:
    """The role that library and description give, None where they don't tell."""
    for start, pattern, role in BY_WORDS:
        if library.startswith(start) and re.search(pattern, description, re.IGNORECASE):
            return role
    return next((role for start, role in BY_LIBRARY if library.startswith(start)), None)


def families(folder: Path) -> dict[str, Role]:
    """Beginnings of markings and their roles, the shortest that hold for all parts."""
    roles: dict[str, set[Role | None]] = defaultdict(set)
    count: dict[str, set[str]] = defaultdict(set)
    marked: dict[str, Role | None] = {}
    for library, name, description in parts(folder):
        marking = marking_of(name)
        if marking is None:
            continue
        role = role_of(library, description)
        marked[marking] = role
        for length in range(SHORTEST, min(LONGEST, len(marking)) + 1):
            roles[marking[:length]].add(role)
            count[marking[:length]].add(marking)
    found: dict[str, Role] = {}
    for marking, role in sorted(marked.items()):
        if role is None:
            continue
        for length in range(SHORTEST, min(LONGEST, len(marking)) + 1):
            start = marking[:length]
            mixed = not (re.search(r"[A-Z]", start) and re.search(r"\d", start))
            if (
                roles[start] == {role}
                and len(count[start]) >= LEAST_PARTS.get(length, 2)
                and not mixed
            ):
                found[start] = role
                break
    written = written_families()
    return {
        start: role
        for start, role in found.items()
        if _said(written, start) != role and start not in written
    }


def _said(written: dict[str, Role], start: str) -> Role | None:
    """What the table written by hand says of a marking that begins so."""
    for length in range(len(start), 1, -1):
        if start[:length] in written:
            return written[start[:length]]
    return None


def main() -> None:
    """Write the table."""
    by_role: dict[Role, list[str]] = defaultdict(list)
    for start, role in sorted(families(Path(sys.argv[1])).items()):
        by_role[role].append(start)
    lines = [
        "# source: made by tools/family_table.py from the KiCad symbol libraries 6.0.10: which "
        "beginnings of markings belong to parts of one role; facts only",
        "# status: published",
        "# columns: as in families.csv",
        "role,what,prefixes,source",
    ]
    lines += [
        f"{role},{role.replace('-', ' ')},{' '.join(by_role[role])},kicad-symbols"
        for role in sorted(by_role)
    ]
    TABLE.write_text("\n".join(lines) + "\n", encoding="utf-8")
    print(f"{TABLE.name}: {sum(map(len, by_role.values()))} families")


if __name__ == "__main__":
    main()
