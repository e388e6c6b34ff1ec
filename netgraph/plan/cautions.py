# SPDX-License-Identifier: GPL-3.0-or-later
"""What can hurt people, data or board in each kind of action: one table of cautions.

All are common practice or from memory, not promises; local rules and trained practice come first.
"""

from __future__ import annotations

from typing import Final

from netgraph.reasons import Reason, reason

CURRENT: Final = reason("caution-current", source="practice")
POLARITY: Final = reason("caution-polarity", source="practice")
CELL: Final = reason("caution-cell", source="practice")
SWOLLEN: Final = reason("caution-cell-swollen", source="practice")
HIGH_VOLTAGE: Final = reason("caution-high-voltage", source="practice")
NO_FINGERS: Final = reason("caution-no-fingers", source="practice")
HOT_TOOL: Final = reason("caution-hot-tool", source="practice")
HEAT_DATA: Final = reason("caution-heat-data", source="memory")
SOLVENT: Final = reason("caution-solvent", source="practice")
FUMES: Final = reason("caution-fumes", source="practice")
EYES: Final = reason("caution-eyes", source="practice")
ESD: Final = reason("caution-esd", source="practice")
FREEZE: Final = reason("caution-freeze", source="practice")
ALCOHOL_FIRE: Final = reason("caution-alcohol-fire", source="practice")
PROTECTION: Final = reason("caution-protection-gone", source="practice")
METER_OFF: Final = reason("caution-meter-off", source="practice")
DRYING: Final = reason("caution-drying", source="memory")
ULTRASONIC: Final = reason("caution-ultrasonic", source="practice")

CAUTIONS: Final[dict[str, tuple[Reason, ...]]] = {
    "inject": (CELL, SWOLLEN, POLARITY, CURRENT, HIGH_VOLTAGE, NO_FINGERS, SOLVENT, ESD),
    "image": (CELL, POLARITY, CURRENT, NO_FINGERS, SOLVENT, ESD),
    "power": (CELL, POLARITY, CURRENT, HIGH_VOLTAGE, NO_FINGERS, ESD),
    "lift": (CELL, SWOLLEN, HIGH_VOLTAGE, HOT_TOOL, HEAT_DATA, EYES, FUMES, ESD),
    "fit": (CELL, HOT_TOOL, HEAT_DATA, EYES, FUMES, ESD),
    "jumper": (CELL, PROTECTION, HOT_TOOL, EYES, FUMES, ESD),
    "open-to-test": (CELL, HOT_TOOL, HEAT_DATA, EYES, FUMES, ESD),
    "cut": (CELL, HIGH_VOLTAGE, EYES, ESD),
    "clean": (CELL, ALCOHOL_FIRE, ULTRASONIC, FUMES, EYES, ESD),
    "dry": (CELL, DRYING, ALCOHOL_FIRE),
    "freeze": (FREEZE, ALCOHOL_FIRE, EYES, FUMES),
    "measure": (CELL, METER_OFF, HIGH_VOLTAGE, ESD),
    "cell": (CELL, SWOLLEN, EYES),
    "unplug": (CELL, HIGH_VOLTAGE, ESD),
}
"""Action -> cautions, the gravest first."""


def cautions_for(action: str) -> tuple[Reason, ...]:
    """Cautions of an action, the gravest first; those of every action for an unknown one.

    >>> cautions_for("freeze")[0].code
    'caution-freeze'
    """
    if action in CAUTIONS:
        return CAUTIONS[action]
    return tuple(dict.fromkeys(one for each in CAUTIONS.values() for one in each))
