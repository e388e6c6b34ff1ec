# SPDX-License-Identifier: GPL-3.0-or-later
"""All sentences behind reason codes, one table a room, joined here.

Nothing else in the project words a reason, so that sentences can be tested and translated.
"""

from netgraph.words.advice import ADVICE_WORDS
from netgraph.words.circuit import CIRCUIT_WORDS
from netgraph.words.copper import COPPER_WORDS
from netgraph.words.cuts import CUT_WORDS
from netgraph.words.files import FILE_WORDS
from netgraph.words.needs import NEED_WORDS
from netgraph.words.plan import PLAN_WORDS
from netgraph.words.rails import RAIL_WORDS
from netgraph.words.roles import ROLE_WORDS

TEMPLATES: dict[str, str] = {
    **FILE_WORDS,
    **ROLE_WORDS,
    **RAIL_WORDS,
    **CIRCUIT_WORDS,
    **COPPER_WORDS,
    **PLAN_WORDS,
    **NEED_WORDS,
    **CUT_WORDS,
    **ADVICE_WORDS,
}
