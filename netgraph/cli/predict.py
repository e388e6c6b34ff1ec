# SPDX-License-Identifier: GPL-3.0-or-later
# ruff: noqa: D301 - click takes the control character \b itself, no raw docstring has it
"""The command predict: what supply, meter and camera would read."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING

import click

from netgraph.cli.page import Page
from netgraph.cli.session import Job, board_command, complete_net, progress
from netgraph.cli.wording import counted

if TYPE_CHECKING:
    from netgraph.circuit.feeding import Feeding
    from netgraph.circuit.network import Row
    from netgraph.circuit.predict import Answer, Prediction, Predictions
    from netgraph.circuit.questions import Asked

UNITS = {"V": "V", "A": "A", "ohm": "ohm", "K": "K"}
LEAST_KELVIN, LEAST_VOLTS = 0.3, 0.05
"""What no camera sees and no meter minds is left to the JSON form."""
SHOWN = 6
"""So many warm parts and live rails are shown; the JSON form has all."""


@click.command()
@board_command
@click.option(
    "--fault",
    "fault",
    metavar="FAULT",
    default="",
    help="What is wrong with it, for example 'leak VSYS GND 12R'. Default: the sound board.",
)
@click.option(
    "--cards",
    metavar="CARDS",
    help="Bench cards, one JSON object a line: predict these readings, and compare.",
)
@click.option(
    "--at",
    "nets",
    metavar="NET",
    multiple=True,
    shell_complete=complete_net,
    help="Ask at this net instead of the fault's; may be given again.",
)
@click.option(
    "--battery-switch/--no-battery-switch",
    default=False,
    help="Whether the switch between cell and system conducts. Default: only its body diode.",
)
@click.option(
    "--celsius",
    type=click.FloatRange(-40, 125),
    default=27.0,
    show_default=True,
    help="Temperature of the board.",
)
@click.option(
    "--diode-ma",
    type=click.FloatRange(0.5, 1.5),
    default=1.0,
    show_default=True,
    help="What the meter drives in diode mode.",
)
@click.option(
    "--values",
    "show_values",
    is_flag=True,
    help="Show what conducts at the nets asked, with figures and where they come from.",
)
def predict(
    job: Job,
    fault: str,
    cards: str | None,
    nets: tuple[str, ...],
    battery_switch: bool,
    celsius: float,
    diode_ma: float,
    show_values: bool,
) -> None:
    """What would supply, meter and camera read with this fault?

    \b
    Examples:  netgraph predict board.kicad_pcb --fault "leak VSYS GND 12R"
               netgraph predict board.kicad_pcb --fault "open L2 + part U7 3R"
               netgraph predict board.kicad_pcb --cards readings.jsonl

    \b
    leak NET NET OHMS            a path between two nets
    part REF [NET [NET]] OHMS    a path inside a part
    bridge REF.PIN REF.PIN OHMS  a deposit between two pads
    open REF                     a part that has lost contact

    OHMS from 0.01 to 1M. Several faults stand together with a + between blanks; names with blanks
    in double quotes. The board is at rest, cell off, nothing running. Behind each figure stands
    the interval that holds nine of ten boards built with the spreads of the model. A model of
    common values, not of your board: compare with a known-good reading where you can.
    """
    found, asked = predict_answer(
        job,
        fault,
        cards=cards,
        nets=nets,
        battery_switch=battery_switch,
        celsius=celsius,
        diode_ma=diode_ma,
    )
    from netgraph.contract.predict_answers import predict_fields

    skipped = asked.skipped if asked is not None else []
    fields = predict_fields(found, skipped)
    job.answer("predict", fields, lambda page: _page(page, job, found, asked, show_values))


def predict_answer(
    job: Job,
    fault: str = "",
    *,
    cards: str | None = None,
    nets: tuple[str, ...] = (),
    battery_switch: bool = False,
    celsius: float = 27.0,
    diode_ma: float = 1.0,
) -> tuple[Predictions, Asked | None]:
    """The one core call behind `predict`."""
    import numpy as np

    from netgraph.circuit.elements import Hypotheses
    from netgraph.circuit.faults import parse_faults
    from netgraph.circuit.predict import predict_readings
    from netgraph.circuit.questions import read_cards

    faults = parse_faults(fault) if fault.strip() else ()
    asked = None
    if cards is not None:
        grounds = frozenset(job.tree.grounds) | job.roles.grounds()
        asked = read_cards(_text(cards), job.board, grounds, Path(cards).name)
    with progress("solving the board"):
        found = predict_readings(
            job.board,
            job.roles,
            job.tree,
            faults,
            questions=None if asked is None else asked.questions,
            at=nets,
            hypotheses=Hypotheses(battery_switch=battery_switch),
            kelvin=273.15 + celsius,
            diode_amps=diode_ma / 1000.0,
            # The same question gives the same answer.
            random=np.random.default_rng(0),
        )
    return found, asked


def _text(cards: str) -> str:
    from netgraph.errors import BoardFileError
    from netgraph.formats.reading import read_bytes

    try:
        return read_bytes(Path(cards), "a file of cards").decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise BoardFileError("file-malformed", f"not UTF-8: {error.reason}", path=cards) from None


# -- the page ----------------------------------------------------------------------------------


def _page(page: Page, job: Job, found: Predictions, asked: Asked | None, show_values: bool) -> None:
    name = job.board.source.file_name
    page.title(f"{name}: {found.fault or 'sound board'}")
    if not found.readings:
        page.text("no reading can be predicted", indent=2)
    else:
        _readings(page, found)
    for one in found.feeding:
        _feeding(page, one)
    if show_values:
        _values(page, found)
    for island in found.islands:
        page.section("Cut off by the fault")
        page.names("no path to ground", island)
    skipped = asked.skipped if asked is not None else []
    other = [one for one in skipped if one.code == "predict-card-skipped"]
    remarks = [one.text for one in (*skipped, *found.notes) if one not in other]
    if other:
        kinds = dict.fromkeys(str(dict(one.params)["kind"]) for one in other)
        remarks.append(
            f"{counted(len(other), 'card')} that this model has no answer for: {', '.join(kinds)}"
        )
    if remarks:
        page.section("Mind")
        for text in remarks:
            page.item("-", text)
    switch = "conducts" if found.battery_switch else "is off: only its body diode conducts"
    page.section("Taken as given")
    page.item("-", f"the board at rest at {found.kelvin - 273.15:.0f} C; a cell's switch {switch}")
    page.item("-", f"diode mode with {1000 * found.diode_amps:g} mA; meters differ by tens of "
              "millivolts: compare within one meter")  # fmt: skip
    page.item("-", f"intervals hold 90 % of {found.draws} boards drawn with the spreads of the "
              "model, none of them yours")  # fmt: skip


def _values(page: Page, found: Predictions) -> None:
    """Like things together: parts of one kind with the same figures between the same nets."""
    from netgraph.cli.wording import in_order
    from netgraph.sources import SOURCES

    used: dict[str, str] = {}
    groups: dict[tuple[str, str, str], list[str]] = {}
    for row in found.values:
        if row.label.what != "leak":
            source = row.label.source
            words = f"{row.label.basis} [{source}]" if source else row.label.basis
            if source in SOURCES:
                used[source] = SOURCES[source]
            key = _between(row, found), _law(row), words
            groups.setdefault(key, []).append(row.label.part_id or "the fault")
    page.section("What conducts there (leaks of nanoamperes left out)")
    for (between, law, words), parts in groups.items():
        page.item(" ".join(in_order(set(parts))), f"{between}: {law}; {words}")
    for name, said in sorted(used.items()):
        page.item(f"[{name}]", said)


def _between(row: Row, found: Predictions) -> str:
    """What lies where; the many signals of a chip are counted with its first one."""
    asked = {one.question.at for one in found.readings}
    if row.label.what == "clamp" and row.a not in (*asked, "ground"):
        return f"clamps from its pins to {row.b}"
    arrow = "-" if row.saturation is None else "to"
    return f"{row.label.what} {row.a} {arrow} {row.b}"


def _law(row: Row) -> str:
    """Ohms within a factor, or a junction's volts at 1 mA within so many of them."""
    from netgraph.circuit.junction import ROOM_KELVIN, thermal_volts
    from netgraph.units import format_quantity

    if row.saturation is None or row.emission is None:
        factor = f" within a factor of {math.exp(row.sd):.2g}" if row.sd > 0 else ""
        return format_quantity(row.ohm, "ohm") + factor
    scale = row.emission * thermal_volts(ROOM_KELVIN)
    volts = scale * math.log1p(1e-3 / row.saturation)
    spread = f", give or take {format_quantity(scale * row.sd, 'V', 2)}" if row.sd > 0 else ""
    behind = f", {format_quantity(row.ohm, 'ohm')} behind it" if row.ohm > 10 else ""
    return f"junction of {format_quantity(volts, 'V')} at 1 mA{spread}{behind}"


def _readings(page: Page, found: Predictions) -> None:
    with_fault, measured = bool(found.fault), any(
        one.question.measured is not None for one in found.readings
    )  # fmt: skip
    headers = ["reading", *(["with the fault"] if with_fault else []), "sound board"]
    if measured:
        headers.append("measured")
    rows = []
    for one in found.readings:
        row = [_what(one)]
        if with_fault:
            row.append(_expected(one.fault, one.unit))
        row.append(_expected(one.sound, one.unit))
        if measured:
            row.append(_measured(one, with_fault))
        rows.append(row)
    page.table(headers, rows)


def _what(one: Prediction) -> str:
    asked = one.question
    if asked.kind == "ohms":
        return f"ohms {asked.at}" + (f" to {asked.to}" if asked.to else "")
    if asked.kind == "diode":
        return f"diode {asked.at}, red lead {'on ground' if asked.red == 'ground' else 'there'}"
    if asked.kind in ("draw", "inject"):
        limit = f", limit {asked.limit_amps:g} A" if asked.kind == "inject" else ""
        meter = ", USB meter" if asked.usb else ""
        return f"{asked.kind} {asked.at} at {asked.volts:g} V{limit}{meter}"
    return f"{asked.kind} {asked.at}, {asked.volts:g} V on {asked.fed}"


def _expected(one: Answer, unit: str) -> str:
    if one.value is None:
        value = "over range" if one.over_range else "no answer"
    else:
        value = _figure(one.value, unit)
    low = None if one.low is None else _figure(one.low, unit)
    high = "over range" if one.over_range else None if one.high is None else _figure(one.high, unit)
    if low is None or (low == high == value):
        return value
    return f"{value} ({low} to {high})"


def _figure(value: float, unit: str) -> str:
    from netgraph.units import format_quantity

    least = {"A": 1e-6, "V": 1e-4, "ohm": 1e-3, "K": 0.05}[unit]
    if abs(value) < least:
        return format_quantity(0.0, UNITS[unit])
    return format_quantity(value, UNITS[unit])


def _measured(one: Prediction, with_fault: bool) -> str:
    asked = one.question
    if asked.measured is None:
        return ""
    value = "over range" if asked.measured == math.inf else _figure(asked.measured, one.unit)
    fits = [
        name
        for name, inside in (
            ("fault", one.inside if with_fault else None),
            ("sound", one.sound_inside),
        )
        if inside
    ]
    return f"{value}: fits {' and '.join(fits) if fits else 'neither' if with_fault else 'not'}"


def _feeding(page: Page, one: Feeding) -> None:
    warm = [part for part in one.parts if part.high_kelvin >= LEAST_KELVIN]
    alive = [net for net in one.alive if net.volts >= LEAST_VOLTS]
    if not warm and not alive:
        return
    mode = "current limit reached" if one.mode == "cc" else "limit not reached"
    page.section(
        f"{one.set_volts:g} V on {one.net}: {_figure(one.amps, 'A')}, {_figure(one.volts, 'V')} at "
        f"the pads, {mode}"
    )
    if warm:
        page.table(
            ("warms up", "power", "camera sees about"),
            [
                (
                    part.part_id or "the leak itself",
                    _span(part.watts, part.low_watts, part.high_watts, "W"),
                    f"{_round(part.low_kelvin)} to {_round(part.high_kelvin)} K",
                )
                for part in warm[:SHOWN]
            ],
        )
    if alive:
        page.table(
            ("comes alive", "volts"),
            [(net.net, _span(net.volts, net.low, net.high, "V")) for net in alive[:SHOWN]],
        )
        if len(alive) > SHOWN:
            page.text(f"and {counted(len(alive) - SHOWN, 'more rail')}", indent=2)


def _round(value: float) -> str:
    """Two digits, and no more than a tenth.

    >>> _round(112.4), _round(4.21), _round(0.086)
    ('110', '4.2', '0.1')
    """
    return f"{round(float(f'{value:.2g}'), 1):g}"


def _span(value: float, low: float, high: float, unit: str) -> str:
    from netgraph.units import format_quantity

    def small(one: float) -> str:
        return format_quantity(0.0 if abs(one) < 1e-5 else one, unit)

    return f"{small(value)} ({small(low)} to {small(high)})"
