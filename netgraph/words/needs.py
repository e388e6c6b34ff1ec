# SPDX-License-Identifier: GPL-3.0-or-later
"""Sentences about what small parts do for chips: enables, resets, dividers, clocks, straps."""

_ENABLE = {
    "keep-enable": (
        "{part} switches {chip} on, which makes the supply {net} that the goal needs; a like part "
        "may take its place"
    ),
    "enable-tied": "the enable of {part} (net {net}) lies on {rails}",
    "enable-pulled": "the enable of {part} (net {net}) is held on {rails} by {parts}",
    "enable-low": "the low-active enable of {part} (net {net}) is held on ground by {parts}",
    "enable-driven": "the enable of {part} (net {net}) is driven by {chips}",
    "enable-good": (
        "the enable of {part} (net {net}) waits for power good of {chips}, over {parts}"
    ),
    "enable-noted": "a person says that {part} is switched on by {chips} and needs {rails} first",
    "enable-noted-free": "a person says that nothing has to switch {part} on",
    "enable-unknown": (
        "what switches {part} on is not known (net {net}, pin {pin}): nothing is built on it; "
        "measure the line while the board has power, or note what drives it (--enabled-by)"
    ),
    "enable-through": (
        "{parts} may switch {part} on (net {net}, pin {pin}), but the netlist does not tell how; "
        "taken as needed until it is noted what drives it (--enabled-by)"
    ),
    "enable-several": (
        "one of {chips} switches {part} on (net {net}, pin {pin}), and the netlist does not tell "
        "which; all are taken as needed"
    ),
    "enable-held-off": (
        "nothing seen switches {part} on, its enable (net {net}, pin {pin}) is only held off: "
        "nothing is built on it; find out what drives it"
    ),
    "enable-which-output": (
        "{part} has several enables, and which output {pin} (net {net}) switches is not known"
    ),
    "enable-holds-itself": (
        "{chip} switches {part} on (net {net}) but can't start without it, or has a supply that is "
        "not known: something else starts it, a key perhaps; {chip} is taken as needed, how it "
        "starts is not proved"
    ),
    "enable-missing": (
        "{part} can't be switched on: {parts} held its enable (net {net}) and is off the board; "
        "put it back or pull the line by hand"
    ),
}

_NEEDS = {
    "need-enable": "{part} holds the enable of {chip} (net {net}): without it {chip} stays off",
    "need-noted": "a person says that {part} switches {chip} on: without it {chip} stays off",
    "need-reset": (
        "{part} holds the reset of {chip} released (net {net}): without it {chip} may never start"
    ),
    "need-timing": "{part} delays the start of {chip} (net {net}); it carries no supply",
    "need-power-good": (
        "{part} pulls up the power-good line of {chip} (net {net}): without it the line never "
        "says that the supply is up"
    ),
    "need-feedback": (
        "{part} is part of the divider that sets the output of {chip} (net {net}): without it the "
        "output runs away"
    ),
    "need-hold": (
        "{part} helps to hold {rail} at its volts: without it {rail} rises, and what hangs on it "
        "may burn"
    ),
    "need-catch": (
        "{part} carries the current of the coil on while {chip} is off (net {net}): without it "
        "{chip} breaks, and its input may come through"
    ),
    "need-bootstrap": (
        "{part} is the bootstrap capacitor of {chip} (net {net}): without it the upper switch "
        "never opens and {chip} makes nothing"
    ),
    "need-compensation": (
        "{part} keeps the control loop of {chip} steady (net {net}): without it the output may "
        "swing or stay down"
    ),
    "need-soft-start": "{part} sets how slowly {chip} starts (net {net})",
    "need-current-set": (
        "{part} sets a current or a clock of {chip} (net {net}): without it {chip} may stay off "
        "or lose its limit"
    ),
    "need-bypass": "{part} steadies a reference or an inner supply of {chip} (net {net})",
    "need-clock": "{part} is part of the clock of {chip} (net {net}): without it {chip} stands",
    "need-clock-load": (
        "{part} is a load capacitor of the clock of {chip} (net {net}): without it the clock may "
        "not start"
    ),
    "need-strap": (
        "{part} tells {chip} from where to start (net {net}): without it {chip} may look for its "
        "program in the wrong place"
    ),
    "need-bus-pull": "{part} pulls up a bus line of {chip} (net {net}): without it the bus is dead",
    "need-and-stops": (
        "{why}; then {nets} would stop, which the goal needs; a like part may take its place"
    ),
    "need-and-wire": (
        "{why}; then {nets} would stop, which the goal needs; it may come off only if a wire takes "
        "its place"
    ),
    "need-and-stays": "{why}; then {nets} would stop, which the goal needs; it stays as it is",
}

_CHAIN = {
    "chain-off": "{part} is off",
    "chain-noted": "{chip} misses what a person says it waits for",
    "chain-enable": "{chip} is no longer switched on (net {net})",
    "chain-reset": "the reset of {chip} is not released (net {net})",
    "chain-aid": "{chip} lacks its {kind} (net {net})",
    "chain-feed": "{chip} makes no {net}",
    "chain-rail": "{net} is dead",
    "chain-load": "{chip} stops",
}

NEED_WORDS: dict[str, str] = {**_ENABLE, **_NEEDS, **_CHAIN}
