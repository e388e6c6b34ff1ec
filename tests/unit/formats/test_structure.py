# SPDX-License-Identifier: GPL-3.0-or-later
"""Brackets are found where KiCad's lexer finds them, at any chunk border."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netgraph import limits
from netgraph.errors import BoardFileError
from netgraph.formats import structure
from netgraph.formats.structure import blank_comments, find_structure, place_of


def nodes(data: bytes, depth: int) -> list[bytes]:
    found = find_structure(data)
    return [found.node(depth, index) for index in range(len(found.opens[depth]))]


def test_nodes_of_the_first_three_depths_are_kept() -> None:
    data = b"(a (b 1 (c 2 (d 3))) (e))"
    assert nodes(data, 1) == [data]
    assert nodes(data, 2) == [b"(b 1 (c 2 (d 3)))", b"(e)"]
    assert nodes(data, 3) == [b"(c 2 (d 3))"]
    assert find_structure(data).children(2, 0) == range(1)
    assert find_structure(data).children(2, 1) == range(1, 1)


@pytest.mark.parametrize(
    ("text", "second"),
    [
        (b'(a (net 1 !MIX"BYPASS) (b "x"))', [b'(net 1 !MIX"BYPASS)', b'(b "x")']),
        (b'(a (net 1 "x)") (b))', [b'(net 1 "x)")', b"(b)"]),
        (b'(a (net 1 "x\\")") (b))', [b'(net 1 "x\\")")', b"(b)"]),
        (b'(a (net 1 "x\\\\") (b ")"))', [b'(net 1 "x\\\\")', b'(b ")")']),
        (b'(a (n 5" 6") (b ")"))', [b'(n 5" 6")', b'(b ")")']),
        (b'(a (host pcbnew "(2015) x") (b))', [b'(host pcbnew "(2015) x")', b"(b)"]),
        (b"(a (path C:\\x) (b))", [b"(path C:\\x)", b"(b)"]),
        (b'(a (n "") (b))', [b'(n "")', b"(b)"]),
        (b"(a (n '(') (b))", None),
    ],
)
def test_a_quote_opens_a_string_only_at_the_start_of_a_token(
    text: bytes, second: list[bytes] | None
) -> None:
    """[kicad-lexer]; the last one is balanced for a reader that knows single quotes."""
    if second is None:
        with pytest.raises(BoardFileError):
            find_structure(text)
    else:
        assert nodes(text, 2) == second


@pytest.mark.parametrize("end", [b"\n", b"\r\n", b"\r"])
def test_a_comment_line_is_left_out_and_lines_keep_their_numbers(end: bytes) -> None:
    data = end.join([b"(a", b"  # (((", b'(b "', b'#no comment") (c #5)', b"# end", b")"])
    assert nodes(data, 2) == [b'(b "' + end + b'#no comment")', b"(c #5)"]
    assert len(blank_comments(data)) == len(data)
    assert place_of(blank_comments(data), data.index(b"(c")) == (4, 15)


PIECES = ["(", ")", "(b ", ") ", '"x"', '"\\""', '"\\\\"', '"(', ')"', " ", "a", '!m"x', "\\", "\n"]


def outcome(data: bytes) -> object:
    try:
        found = find_structure(data)
    except BoardFileError as error:
        return error.code, error.line, error.column
    return [found.opens[depth].tolist() for depth in range(1, 4)]


@given(st.lists(st.sampled_from(PIECES), max_size=30), st.integers(1, 7))
def test_chunk_borders_and_the_fast_path_change_nothing(pieces: list[str], size: int) -> None:
    """The fast path with tiny chunks against the lexer in order."""
    data = f"(r {''.join(pieces)} )".encode()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(structure, "_index_by_parity", lambda _data: None)
        wanted = outcome(data)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(structure, "CHUNK_BYTES", size)
        assert outcome(data) == wanted
    assert outcome(data) == wanted


@pytest.mark.parametrize("size", [1, 2, 3, 5, 1 << 20])
def test_escapes_over_chunk_borders(monkeypatch: pytest.MonkeyPatch, size: int) -> None:
    monkeypatch.setattr(structure, "CHUNK_BYTES", size)
    data = b'(a (b "\\\\\\"(") (c "\\\\") (d "\\"\\"") (e ")"))'
    assert nodes(data, 2) == [b'(b "\\\\\\"(")', b'(c "\\\\")', b'(d "\\"\\"")', b'(e ")")']


@pytest.mark.parametrize(
    ("text", "code", "line", "column"),
    [
        (b"(a\n (b)", "file-truncated", 2, 5),
        (b"(a))\n", "file-malformed", 1, 4),
        (b"(a) (b)", "file-malformed", 1, 5),
        (b"(a) x", "file-malformed", 1, 5),
        (b'(a\n "b)\n', "file-truncated", 2, 2),
        (b"abc", "format-unknown", 1, 1),
        ("(ä\n ü))".encode(), "file-malformed", 2, 4),
    ],
)
def test_a_fault_is_named_with_its_place(text: bytes, code: str, line: int, column: int) -> None:
    with pytest.raises(BoardFileError) as caught:
        find_structure(text)
    assert (caught.value.code, caught.value.line, caught.value.column) == (code, line, column)


def test_deep_nesting_is_refused_at_the_bracket_that_is_too_deep() -> None:
    most = limits.MAX_DEPTH
    find_structure(b"(" * most + b")" * most)
    with pytest.raises(BoardFileError) as caught:
        find_structure(b"(" * 1_000_000)
    assert (caught.value.code, caught.value.column) == ("limit-exceeded", most + 1)


def test_a_file_beyond_the_limit_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(limits, "MAX_FILE_BYTES", 10)
    with pytest.raises(BoardFileError) as caught:
        find_structure(b"(a (b) (c))")
    assert caught.value.code == "limit-exceeded"
