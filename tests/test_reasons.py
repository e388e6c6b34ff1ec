# SPDX-License-Identifier: GPL-3.0-or-later
"""Every reason that the code gives has words, with the same parameters, and no words lie idle."""

from __future__ import annotations

import ast
from collections.abc import Iterable, Mapping
from string import Formatter

import pytest

from netgraph.reasons import Reason, render
from netgraph.words import TEMPLATES
from tests.support import package_calls


def codes_of(node: ast.expr) -> list[str] | None:
    """The codes a first argument can be: a literal, or a choice of literals; else None."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return [node.value]
    if isinstance(node, ast.IfExp):
        one, other = codes_of(node.body), codes_of(node.orelse)
        return None if one is None or other is None else one + other
    return None


def fields_of(template: str) -> set[str]:
    """The parameters that a sentence names."""
    return {name for _, name, _, _ in Formatter().parse(template) if name is not None}


def faults(calls: Iterable[tuple[str, str, ast.Call]], templates: Mapping[str, str]) -> list[str]:
    """One line for each call whose code or parameters do not fit, and for each idle sentence."""
    found, used = [], set()
    for place, name, call in calls:
        if name == "Reason" and not place.startswith("netgraph/reasons.py"):
            found.append(f"{place}: make reasons with reason(...), so that they are checked")
        if name != "reason":
            continue
        codes = codes_of(call.args[0]) if len(call.args) == 1 else None
        if codes is None or any(keyword.arg is None for keyword in call.keywords):
            found.append(f"{place}: a code and its parameters must be written out to be checked")
            continue
        given = {str(keyword.arg) for keyword in call.keywords}
        used |= set(codes)
        for code in codes:
            if code not in templates:
                found.append(f"{place}: {code!r} has no words in netgraph/words")
            elif given != fields_of(templates[code]):
                wanted = sorted(fields_of(templates[code]))
                found.append(f"{place}: {code!r} gives {sorted(given)}, its words need {wanted}")
    return found + [f"words of {code!r} are used nowhere" for code in templates if code not in used]


def test_reasons_and_words_fit_each_other() -> None:
    if found := faults(package_calls(), TEMPLATES):
        pytest.fail("\n".join(found), pytrace=False)


def test_the_check_itself_sees_each_kind_of_fault() -> None:
    """A check that finds nothing must be able to find something."""
    templates = {"fed-by": "fed by {ref}", "idle": "never said", "shorted": "shorted"}
    source = """
reason("fed-by", ref=x)
reason("fed-by" if x else "shorted", ref=x)
reason("no-such")
reason(code, ref=x)
reason("fed-by", **more)
Reason("fed-by")
"""
    calls = [
        (f"netgraph/x.py:{node.lineno}", ast.unparse(node.func), node)
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.Call)
    ]
    assert sorted(faults(calls, templates)) == [
        "netgraph/x.py:3: 'shorted' gives ['ref'], its words need []",
        "netgraph/x.py:4: 'no-such' has no words in netgraph/words",
        "netgraph/x.py:5: a code and its parameters must be written out to be checked",
        "netgraph/x.py:6: a code and its parameters must be written out to be checked",
        "netgraph/x.py:7: make reasons with reason(...), so that they are checked",
        "words of 'idle' are used nowhere",
    ]


def test_one_is_said_in_the_singular() -> None:
    told = {"x": "{count:part hangs|parts hang} on {net}"}
    said = [render(Reason("x", (("count", n), ("net", "V"))), told) for n in (0, 1, 2)]
    assert said == ["0 parts hang on V", "1 part hangs on V", "2 parts hang on V"]
