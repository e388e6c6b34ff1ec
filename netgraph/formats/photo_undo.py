# SPDX-License-Identifier: GPL-3.0-or-later
"""The way back from one JSON value to an earlier one, as a small JSON value of its own.

A list tells where it differed and what stood there; an object its changed fields. So that a step
costs what it changed, however large the whole is.
"""

from __future__ import annotations

from typing import Any

from netgraph.errors import BoardFileError

Patch = dict[str, Any]


def way_back(now: Any, before: Any) -> Patch | None:
    """What turns `now` into `before`; None when they are the same.

    Examples
    --------
    >>> way_back({"a": [1, 2, 3]}, {"a": [1, 2]})
    {'in': {'a': {'at': 2, 'drop': 1, 'put': []}}}
    """
    if now == before:
        return None
    if isinstance(now, dict) and isinstance(before, dict) and now.keys() == before.keys():
        parts = {key: way_back(now[key], before[key]) for key in now}
        return {"in": {key: one for key, one in parts.items() if one is not None}}
    if isinstance(now, list) and isinstance(before, list):
        first = 0
        while first < min(len(now), len(before)) and now[first] == before[first]:
            first += 1
        last = 0
        while last < min(len(now), len(before)) - first and now[-1 - last] == before[-1 - last]:
            last += 1
        new, old = now[first : len(now) - last], before[first : len(before) - last]
        if len(new) == len(old) == 1:
            return {"at": first, "of": way_back(new[0], old[0])}
        return {"at": first, "drop": len(new), "put": old}
    return {"was": before}


def gone_back(now: Any, patch: Patch) -> Any:
    """The earlier value.

    Raises
    ------
    BoardFileError
        The way back does not fit: the file was changed by something else.
    """
    try:
        return _gone_back(now, patch)
    except (KeyError, IndexError, TypeError):
        raise BoardFileError("file-malformed", "the step to undo does not fit") from None


def _gone_back(now: Any, patch: Patch) -> Any:
    if "was" in patch:
        return patch["was"]
    if "in" in patch:
        return now | {key: _gone_back(now[key], one) for key, one in patch["in"].items()}
    at = patch["at"]
    if "of" in patch:
        return [*now[:at], _gone_back(now[at], patch["of"]), *now[at + 1 :]]
    return [*now[:at], *patch["put"], *now[at + patch["drop"] :]]
