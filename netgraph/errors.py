# SPDX-License-Identifier: GPL-3.0-or-later
"""What can go wrong, as one small tree of errors, each with a fixed code and an exit status.

Every error prints as one line: where, what was found, what was expected, and a hint.
"""

from __future__ import annotations

from typing import ClassVar, Literal, get_args

ErrorCode = Literal[
    "file-unreadable",
    "format-unknown",
    "format-unsupported",
    "file-malformed",
    "file-truncated",
    "file-empty",
    "no-nets",
    "limit-exceeded",
    "number-invalid",
    "name-invalid",
    "reference-undefined",
    "notes-invalid",
    "notes-contradictory",
    "goal-invalid",
    "name-unknown",
    "usage",
    "board-contradictory",
    "board-invalid",
    "writer-refuses",
    "data-missing",
    "fault-invalid",
    "circuit-invalid",
    "circuit-island",
    "circuit-diverged",
    "cards-invalid",
    "weights-invalid",
    "data-folder",
    "address-refused",
    "origin-refused",
    "token-needed",
    "code-spent",
    "too-many-tries",
    "too-large",
    "too-busy",
    "disk-full",
    "body-invalid",
    "not-json",
    "match-needed",
    "match-stale",
    "revision-stale",
    "picture-missing",
    "board-unknown",
    "job-unknown",
    "no-such-address",
    "method-refused",
    "own-fault",
]
"""All codes; each has its heading in docs/reference/errors.md."""

ECHOED = 80
"""So many characters of an unknown name are repeated; a file may hold names of any length."""

LONGEST = 400
"""A message about a file is not longer than this."""

ERROR_CODES: tuple[str, ...] = get_args(ErrorCode)


class NetgraphError(Exception):
    """Root of all errors that are meant for a person; never raised itself.

    Attributes
    ----------
    code
        One of :data:`ErrorCode`.
    hint
        What to do about it, or an empty string.
    """

    exit_status: ClassVar[int] = 2

    def __init__(self, code: ErrorCode, message: str, *, hint: str = "") -> None:
        super().__init__(message)
        self.code: ErrorCode = code
        self.message = message
        self.hint = hint

    def one_line(self) -> str:
        """Message and hint on one line, control characters made visible."""
        text = self.message if not self.hint else f"{self.message} (hint: {self.hint})"
        return visible(text)

    def __str__(self) -> str:
        return self.one_line()


class UsageError(NetgraphError):
    """The question itself is wrong: an unknown option value, a missing argument."""

    def __init__(self, message: str, *, hint: str = "") -> None:
        super().__init__("usage", message, hint=hint)


class UnknownNameError(NetgraphError):
    """A net or part that the board does not have; carries the nearest names.

    `instead` says what the name does belong to, where that is known.
    """

    def __init__(self, what: str, name: str, near: tuple[str, ...], *, instead: str = "") -> None:
        hint = f"near names: {', '.join(near)}" if near else f"no {what} has a name like it"
        hint = instead or hint
        shown = f"{name[:ECHOED]}..." if len(name) > ECHOED else name
        super().__init__("name-unknown", f"no {what} is named {shown!r}", hint=hint)
        self.what = what
        self.name = name
        self.near = near


class DataMissingError(NetgraphError):
    """The board lacks what the question needs (for example positions)."""

    def __init__(self, message: str, *, hint: str = "") -> None:
        super().__init__("data-missing", message, hint=hint)


class BoardFileError(NetgraphError):
    """A file that can't be read; says where, what stood there and what was expected.

    ``line`` and ``column`` count from 1; ``column`` counts characters, not bytes.
    They are None when the fault has no place in the file.
    """

    exit_status = 3

    def __init__(
        self,
        code: ErrorCode,
        message: str,
        *,
        path: str = "",
        line: int | None = None,
        column: int | None = None,
        expected: str = "",
        hint: str = "",
    ) -> None:
        super().__init__(code, shortened(message), hint=hint)
        self.path = path
        self.line = line
        self.column = column
        self.expected = shortened(expected)

    def one_line(self) -> str:
        """``path:line:column: message; expected X (hint: ...)`` on one line."""
        place = self.path or "board"
        if self.line is not None:
            place += f":{self.line}"
            if self.column is not None:
                place += f":{self.column}"
        text = f"{place}: {self.message}"
        if self.expected:
            text += f"; expected {self.expected}"
        if self.hint:
            text += f" (hint: {self.hint})"
        return visible(text)


class NotesError(BoardFileError):
    """Board notes that can't be read or don't fit the board."""

    def __init__(
        self, message: str, *, path: str = "", line: int | None = None, hint: str = ""
    ) -> None:
        super().__init__("notes-invalid", message, path=path, line=line, hint=hint)


class NotesOrderError(NotesError):
    """Board notes of which not all can be true: who enables whom, who needs what first."""

    exit_status = 4

    def __init__(
        self, message: str, *, path: str = "", line: int | None = None, hint: str = ""
    ) -> None:
        super().__init__(message, path=path, line=line, hint=hint)
        self.code = "notes-contradictory"


class AssemblyError(BoardFileError):
    """An assembly whose boards can't be joined as it says."""

    exit_status = 4

    def __init__(self, message: str, *, line: int | None = None, hint: str = "") -> None:
        super().__init__("board-contradictory", message, line=line, hint=hint)


class GoalError(BoardFileError):
    """A goal file that can't be read as a goal."""

    def __init__(self, message: str, *, path: str = "", hint: str = "") -> None:
        super().__init__("goal-invalid", message, path=path or "goal", hint=hint)


class CardsError(BoardFileError):
    """Bench cards that can't be read, or that name what the board does not have."""

    def __init__(
        self,
        message: str,
        *,
        path: str = "",
        line: int | None = None,
        column: int | None = None,
        expected: str = "",
        hint: str = "",
    ) -> None:
        super().__init__(
            "cards-invalid",
            message,
            path=path or "cards",
            line=line,
            column=column,
            expected=expected,
            hint=hint,
        )


class WeightsError(BoardFileError):
    """Weights that can't be read, or that name what the board does not have."""

    def __init__(
        self, message: str, *, path: str = "", line: int | None = None, hint: str = ""
    ) -> None:
        super().__init__("weights-invalid", message, path=path or "weights", line=line, hint=hint)


class BoardCheckError(NetgraphError):
    """The pieces handed to the builder make no board, or contradict each other."""

    exit_status = 4

    def __init__(
        self,
        message: str,
        *,
        code: Literal["board-contradictory", "board-invalid"] = "board-invalid",
        hint: str = "",
    ) -> None:
        super().__init__(code, message, hint=hint)


class FaultError(NetgraphError):
    """A fault that is not written in the fault grammar, or does not fit the board."""

    def __init__(self, message: str, *, hint: str = "") -> None:
        super().__init__("fault-invalid", message, hint=hint)


class CircuitError(NetgraphError):
    """A circuit that no physics answers: impossible values, contradictory sources, islands."""

    exit_status = 4

    def __init__(
        self,
        code: Literal["circuit-invalid", "circuit-island", "circuit-diverged"],
        message: str,
        *,
        hint: str = "",
    ) -> None:
        super().__init__(code, message, hint=hint)


class WriterError(NetgraphError):
    """The board can't be written in the wanted format without losing something."""

    def __init__(self, message: str, *, hint: str = "") -> None:
        super().__init__("writer-refuses", message, hint=hint)


class DataFolderError(NetgraphError):
    """The service's data folder can't be used as it is."""

    exit_status = 3

    def __init__(self, message: str, *, hint: str = "") -> None:
        super().__init__("data-folder", message, hint=hint)


class ServiceError(NetgraphError):
    """A request that the service refuses; `status` is its HTTP status."""

    def __init__(self, code: ErrorCode, status: int, message: str, *, hint: str = "") -> None:
        super().__init__(code, message, hint=hint)
        self.status = status


def shortened(text: str) -> str:
    """The text, or its beginning and end: a cell of a file may be of any length.

    >>> len(shortened("x" * 10_000)) <= LONGEST
    True
    """
    if len(text) <= LONGEST:
        return text
    half = LONGEST // 2 - 2
    return f"{text[:half]} ... {text[-half + 1 :]}"


def visible(text: str) -> str:
    r"""The text with control characters and lone surrogates written as escapes, on one line.

    >>> visible("a\tb\n")
    'a\\tb\\n'
    """
    return "".join(
        char if char.isprintable() else char.encode("unicode_escape").decode("ascii")
        for char in text
    )
