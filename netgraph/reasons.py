# SPDX-License-Identifier: GPL-3.0-or-later
"""Why the program says what it says: a code with parameters, put into words in one place.

The words stand in ``netgraph/words/``, one table a room; a test holds codes and words equal.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from string import Formatter

from netgraph.words import TEMPLATES

ParamValue = str | int | float | bool | None


@dataclass(frozen=True, slots=True)
class Reason:
    """One fact behind an answer: a code of ``netgraph/words`` and its parameters, sorted."""

    code: str
    params: tuple[tuple[str, ParamValue], ...] = ()

    @property
    def text(self) -> str:
        """The plain sentence for a person."""
        return render(self)

    def as_json(self) -> dict[str, object]:
        """``{"code", "params", "text"}`` as the contract has it."""
        return {"code": self.code, "params": dict(self.params), "text": self.text}


def reason(code: str, **params: ParamValue) -> Reason:
    """Make a reason; parameters are kept in the order of their names.

    >>> reason("letters", letters="C", meaning="capacitor").text
    'designator letters C stand for: capacitor'
    """
    return Reason(code, tuple(sorted(params.items())))


def reason_again(code: str, params: Mapping[str, ParamValue]) -> Reason | None:
    """A reason that was written to a file; None when it has no words here or other parameters.

    >>> reason_again("no-pad-places", {}) == reason("no-pad-places")
    True
    >>> reason_again("letters", {"letters": "C"}) is None
    True
    """
    found = Reason(code, tuple(sorted(params.items())))
    template = TEMPLATES.get(code)
    if template is None:
        return None
    wanted = {name for _, name, _, _ in Formatter().parse(template) if name is not None}
    return found if wanted == set(params) else None


def render(one: Reason, templates: Mapping[str, str] = TEMPLATES) -> str:
    """The sentence of a reason.

    ``{count:part|parts}`` becomes ``1 part`` or ``3 parts``.

    Raises
    ------
    KeyError
        The code has no words, or the words need a parameter that is not there: a programming
        fault, caught by the tests.
    """
    return templates[one.code].format(**{key: _Said(_say(value)) for key, value in one.params})


class _Said(str):
    """A parameter as it is said; the format after the colon is a noun for one and for many."""

    def __format__(self, spec: str) -> str:
        if not spec:
            return str(self)
        one, many = spec.split("|")
        return f"{self} {one if self == '1' else many}"


def _say(value: ParamValue) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.4g}"
    return "unknown" if value is None else str(value)


def few_names(names: Sequence[str], most: int = 12, between: str = ", ") -> str:
    """Names for a sentence, the first ones of many.

    >>> few_names(["A", "B", "C"], most=2)
    'A, B, ...'
    """
    return between.join((*names[:most], "...") if len(names) > most else names)
