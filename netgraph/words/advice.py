# SPDX-License-Identifier: GPL-3.0-or-later
"""Sentences of the power gate, the heat plan and the ordered plan."""

_FEED = {
    "feed-unknown": "how {net} may be fed is not known",
    "feed-volts-unknown": (
        "the volts of {net} are not known for sure: read the print on the cell or adapter, or a "
        "document, and note them"
    ),
    "feed-ceiling-low": (
        "{net} wants {volts} V, but feeding it may also reach a lower supply backwards: {ceiling}; "
        "feed at another entry, or trace what keeps the two apart and note it"
    ),
    "feed-single-cell": (
        "{net} is the entry of a single lithium cell: {volts} V from a supply in place of the cell"
    ),
    "feed-cells": (
        "{net} is the entry of lithium cells in series: {volts} V from a supply in their place"
    ),
    "feed-usb": "{net} is a USB input: {volts} V from a bench supply, no fast-charge adapter",
    "feed-dc": "{net} is the input of an adapter: {volts} V from a bench supply",
    "feed-supply": "{net} enters at {volts} V from outside",
    "feed-inner": "{net} at its own {volts} V, past what makes it on the board",
    "feed-lowered": (
        "{net} wants {nominal} V but gets {volts} V, which may be too little to start: {ceiling}"
    ),
    "limit-start": ("a device that starts takes about 5 to 10 W (rule of thumb), so {amps} A"),
    "limit-fuse": "the fuse {part} on the way in is rated {amps} A",
    "cell-thermistor": (
        "{net} at {part} is the line of the cell's thermistor: many devices refuse a supply "
        "without it; a resistor of the value the charger expects (often 10 kohm) from {net} to "
        "ground stands in for it"
    ),
    "cell-identity": (
        "{net} at {part} is the line by which the cell identifies itself: many devices refuse a "
        "supply without it; find out what the device expects, or put the cell's own small board on "
        "without its cell"
    ),
}

_TRIAGE = {
    "triage-cell": "no card says that the cell is off: disconnect it (card: cell)",
    "triage-cell-connected": "the cell is connected: disconnect it, the supply takes its place",
    "triage-cell-swollen": (
        "the cell was seen swollen or hot: outside, onto sand, no further work on it"
    ),
    "triage-photo": "no photographs yet: both sides, before anything is moved (card: photo)",
    "triage-unplug": "{parts} not yet unplugged: screens and flexes come off first (card: unplug)",
    "triage-plugged": "{parts} plugged in: it stays unplugged for the first power (card: unplug)",
    "triage-shield": "shields not yet off: water stays under them (card: shield)",
    "triage-look": "nobody has looked at the board yet (card: seen or not-seen)",
    "triage-clean": "the board was not cleaned yet (card: clean)",
    "triage-wet": "the board is wet since the last cleaning: dry it at 60 to 70 °C (card: dry)",
    "triage-dry": "the board was not dried yet: 60 to 70 °C, never baked (card: dry)",
    "triage-solvent": (
        "how long the board dried is not said: under large packages solvent needs at least {hours} "
        "hours warm (card: dry with hours)"
    ),
    "triage-solvent-short": (
        "dried for {said} hours: under large packages solvent needs at least {hours} hours warm"
    ),
    "triage-look-again": "nobody has looked again after drying (card: seen or not-seen)",
}

_CHECKS = {
    "check-rail": "read {net} to ground with cell and supply off: {least} ohm or more",
    "check-core": (
        "read {net} to ground: the core of {chips}, where a sound one may read 1 to 10 ohm; below "
        "10 ohm compare with a known-good board"
    ),
    "check-memory": (
        "read {net} to ground: a memory supply, where 50 to 300 ohm are normal; below {least} ohm "
        "compare with a known-good board"
    ),
    "check-clear": "{net} reads {ohms}",
    "check-compare": (
        "{net} reads {ohms}, below {bound} ohm: a sound chip of its kind may read so too; compare "
        "with a known-good board or a like supply, then waive {net} with the reason"
    ),
    "check-low": "{net} reads {ohms}, below {bound} ohm: it looks shorted; find the short first",
    "check-leak": (
        "{net} reads {ohms}, a sound one more than {least} ohm: something may leak; find it, or "
        "compare with a known-good board and waive {net} with the reason"
    ),
    "check-waived": "{net} was passed by a person: {why}",
    "check-high": (
        "prove {net} clear of {to}, which {chips} uses: more than 1 Mohm, dry, both ways round"
    ),
    "check-high-clear": "{net} is clear of {to}",
    "check-bridged": (
        "{net} is bridged to {to} ({ohms}), which {chips} uses: power would drive its volts into "
        "that chip; clean there and read again, and leave whatever shares the place unplugged"
    ),
}

_POWER = {
    "power-ready": (
        "nothing known stands against it for {goal}: limited supply, no cell, off at once when a "
        "line below says so"
    ),
    "power-no-entry": (
        "no entry of power is known on this board: note which net the cell or adapter feeds "
        "(notes set FILE --net NET --not-fed)"
    ),
    "power-inner": (
        "{net} is no entry: fed alone, supplies come up in another order than the board makes "
        "them, which may harm a chip; feed an entry, or waive feed with the reason"
    ),
    "power-untraced": (
        "only a part of this board is traced: other supplies, and high volts beside a chip's "
        "lines, may be there unseen; trace what lies at the connectors, or waive untraced with the "
        "reason"
    ),
    "power-to-note": "volts to note first: {nets} (notes set FILE --net NET --volts V)",
    "power-kept-gone": "{parts} was taken off and not fitted again, but the goal needs it",
    "power-fed-no-more": "with {parts} off, {nets}, which the goal needs, is no longer fed",
    "power-not-held": (
        "{part} is off, which held {net} at its volts: {net} would rise and burn what hangs on it"
    ),
    "power-still-open": "{parts} is still open on one side: refit it first (card: fit)",
    "power-cut": "{nets}, which the goal needs, was cut: say with a note what joins it again",
    "power-leak-before": (
        "before the power key the board took {amps} A: more than {least} A means a leak on a "
        "supply that is always on; find it first, or waive draw with the reason"
    ),
    "power-loop": (
        "the last power-up ran in a loop: during one loop read always-on volts, storage supplies, "
        "reset and clock, then off; no lifts from the loop alone"
    ),
    "power-unread": "not read to ground yet: {nets}, {count} in all",
    "power-high-unread": "not proved clear of kept pins yet: {nets}",
    "power-cell-unprotected": (
        "the cell is connected to a board that runs without its protection: never with a cell"
    ),
    "power-bypassed": "the {role} {part} is bypassed: this board is never run with a cell again",
    "power-clamp-off": (
        "the clamp {part} is off: a plain limited supply at its nominal only, no fast-charge "
        "adapter, never with a cell"
    ),
    "power-hold-reset": (
        "the goal reads the storage in place: hold the processor in reset before the board is "
        "powered, or feed the storage's own supplies instead of the board"
    ),
    "power-other-entries": "nothing is connected to the other entries meanwhile: {nets}",
    "power-unfed": "it is not known what feeds {nets}; whether the goal is reached is unsure",
    "power-waived": "passed on purpose: {what} ({why})",
    "plug-screen": (
        "{part}: the screen comes back last, when the draw is right and its high volts are proved "
        "clear; a test screen is enough"
    ),
    "plug-host": "{part}: the cable to the host goes on when the draw before the key is right",
    "plug-card": "{part}: take the card out and image it by itself; it may hold the data",
    "plug-entry": "{part}: another entry of power; one supply is enough",
    "plug-later": "{part}: the goal needs it, but not before the draw is right",
    "plug-not-needed": "{part}: the goal does not need what plugs in here",
    "off-surge": (
        "before the key, with the limit at {amps} A: the supply stays in current limit for more "
        "than a second (the surge into the capacitors is over by then)"
    ),
    "off-before-key": "before the key the draw stays above {amps} A: a leak, not a start",
    "off-warm": "a part gets {kelvin} K warmer than the room, by camera, no fingers",
    "off-smoke": "smoke, smell, a noise or a flash",
    "off-over-nominal": "a supply reads above its nominal anywhere",
    "off-limit": "after the key the supply stays in current limit at {amps} A",
    "off-stuck": (
        "a minute after the key it still takes only {low} to {high} A: it is not coming up; note "
        "the draw, then off"
    ),
    "off-loop": "the current rises and falls in a steady beat: it starts over and over; note it",
    "boot-ready": (
        "ready before the first boot, which may be the last: host, cable, and a target disk with "
        "room"
    ),
    "boot-list": "a list of what matters most; precious small folders are copied first",
    "boot-quiet": "radios quiet: no SIM, no known network, a shielded box",
    "boot-code": "the first unlock needs the code, not a finger or a face; count the tries left",
    "done-copy": "once the data show: copy, then verify by counts and hashes, not by viewing",
    "done-stop": "then power off and stop: no charging, no refitting of shields, no more repair",
    "done-hand-over": (
        "hand the copy over, have it confirmed, then delete your own copy and note that"
    ),
}

_HEAT = {
    "heat-never": "{part} may hold the data: it is not taken off by advice of this program",
    "heat-no-pads": "{part} has no pads: nothing is soldered",
    "heat-tweezers": (
        "{part} has two ends: hot tweezers, no air, so that only its own joints melt"
    ),
    "heat-two-irons": "{part} has two ends too far apart for tweezers: two irons, no air",
    "heat-small-chip": (
        "{part} has {pads:pad|pads}: two irons with solder bridged along each side, no air"
    ),
    "heat-through": (
        "{part} has {pads:joint|joints}, some through the board: iron and wick, preheat first"
    ),
    "heat-through-many": (
        "{part} has {pads:joint|joints} through the board: air with a shield and preheat, or cut "
        "it off pin by pin"
    ),
    "heat-untraced": (
        "how many pads {part} has is not traced: look; air with a shield and preheat takes off a "
        "package with any number"
    ),
    "heat-air": "{part} has {pads:pad|pads}: air with a shield and preheat",
    "heat-dry": ("dry the board at 60 to 70 °C before any heat, never baked: trapped water bursts"),
    "heat-underfill": (
        "{part} is underfilled: scrape the underfill off warm first; beside underfill solder must "
        "not melt, it squeezes out and bridges"
    ),
    "heat-underfill-look": "look for underfill at {part} and its neighbours before any heat",
    "heat-no-distance": "how far a kept chip lies from {part} is not known: look before heating",
    "heat-beneath": (
        "{chip} lies on the other side right under {part}: heat goes straight through; leave "
        "{part} for last"
    ),
    "heat-distance": "the nearest kept chip is {chip}, {mm} mm from {part}",
    "heat-shield": "metal shield or tape between the air and {chip}",
    "heat-preheat": (
        "preheat from below and a thermocouple on {chip}, so that the air needs less time"
    ),
    "heat-no-air": "no hot air: it heats everything around",
    "heat-limit": "stop when {chip} reads {limit} °C, whatever the joint does",
    "heat-melts": "the solder {alloy} melts at {solidus} to {liquidus} °C",
    "heat-melts-assumed": (
        "the solder is not known: taken as lead-free, which melts at {solidus} to {liquidus} °C"
    ),
    "heat-low-melt": (
        "a low-melting alloy spread over the joints lowers all of this; remove it fully before "
        "anything is fitted, since bismuth with lead leaves joints that melt near 96 °C"
    ),
    "heat-account": (
        "heat cycle {cycles} of this board: with {seconds} s at {limit} °C on the kept chip each, "
        "all cycles so far age stored charge like {years} at 40 °C (Arrhenius, 1.1 eV from memory; "
        "orders of magnitude, to rank plans, no promise)"
    ),
}

_PLAN = {
    "plan-no-charging": (
        "no charging, no key, all cables off: each try with water inside costs more"
    ),
    "plan-cell-not-backup": (
        "disconnect the main cell before anything else is done to the board, but leave {cells} in: "
        "{chips} may forget without it"
    ),
    "plan-cell": "disconnect the cell before anything else is done to the board",
    "plan-photo": "photographs of both sides before anything is moved",
    "plan-ask-elsewhere": (
        "is the data on a card, in a backup or in a cloud account? Then the repair is needless"
    ),
    "plan-ask-unlock": (
        "is the passcode known, how many tries are left, is a lock or wipe pending? With storage "
        "encrypted by a key in the processor and no code, the repair gives no data"
    ),
    "plan-ask-authority": "who may decide over this device, and who agreed to which step, when?",
    "plan-unplug": "unplug {part}: no heat, a minute, and it splits the suspects",
    "plan-shield": "shields off: deposits hide under them",
    "plan-look": "look at the whole board under magnification, before water moves anything",
    "plan-rinse": "rinse with deionised water first: salt and sugar go with water, not alcohol",
    "plan-clean": (
        "brush with soap or flux remover, rinse again, then alcohol by hand, no cell and no spark "
        "near"
    ),
    "plan-clean-deposit": (
        "a deposit was seen at {part}: clean there once more, dry, look, measure, before any heat"
    ),
    "plan-dry": "dry at 60 to 70 °C, never baked at 125 °C: heat costs stored data",
    "plan-look-at": "look at {part}: {site}",
    "plan-look-again": "look at the whole board again, dry and under magnification",
    "plan-measure": (
        "read {net} to ground both ways round, cell and supply off, the net below 10 mV; "
        "subtract what the leads read when touched together"
    ),
    "plan-measure-beside": "read {net} to ground: it hangs on {short}; is it low too?",
    "plan-inject": (
        "one frame, then feed {net} with {volts} V, {amps} A and not more than {watts} W for "
        "{seconds} s, second frame, off; what is warm in the difference?"
    ),
    "plan-open": "lift {part} on one side only: which side of it is low?",
    "plan-lift-shunt": "take off {part}: {verdict}",
    "plan-lift-suspect": "take off {part}: {verdict}",
    "plan-lift-deposit": "take off {part}, where a deposit was seen: {verdict}",
    "plan-cut": "separate: take off {part}, for then {verdict}",
    "note-floats": "with {part} off nobody drives {net}: pull it to {to} with 10 kohm or so",
    "note-floats-unknown": (
        "with {part} off nobody drives {net}: find out which way it rests, and pull it there"
    ),
    "plan-replace": "with all else cleared, swap {part} for a like one: {verdict}",
    "plan-separate": "separate at {part}: {verdict}",
    "plan-stop": (
        "if {net} is still low now, the fault sits in a chip that holds the data or in the board: "
        "feed the supply from outside, move the paired chips to a donor board by a specialist, or "
        "stop and return"
    ),
    "plan-leave": (
        "if {net} is still low now: the goal does not need it, so it may stay low as long as it is "
        "separated from what the goal needs"
    ),
    "plan-verify-ohms": "read {net} to ground again: is the short gone?",
    "plan-verify-inject": "feed {net} once more with {volts} V: now it must draw nearly nothing",
    "plan-gate": "ask the power gate (netgraph power FILE --cards CARDS) for {goal}",
    "plan-first-boot": (
        "power it with the volts and limits of the power gate: first without the key, then with it"
    ),
    "check-cell-off": "the cell's contacts on the board read 0 V",
    "check-unplugged": "read {net} again: does it still read the same?",
    "check-dry": "hours are noted; nothing glistens under the large packages",
    "check-measure": (
        "a surprising figure is read a second time: a slip of a decade or of a pad happens to all"
    ),
    "check-warm": (
        "warm in the difference of the two frames; cans and solder read cold, use a dot of tape; "
        "of two warm parts on one path take the one the goal does not need first"
    ),
    "check-both-sides": "read both sides of {part} to ground and note both",
    "check-after-lift": "read the net again before the next part; look at the pads beneath {part}",
    "check-verify": "like the reading of a sound board; then no more lifts",
    "check-quiet": "a few milliamperes at most",
    "check-first-boot": "draw before the key, draw after it, what the host sees: note all three",
    "check-copy": "counts and hashes agree with the source",
    "undo-plug": "plug it in again",
    "undo-shield": "shields are not refitted before the data are safe",
    "undo-output-off": "output off",
    "undo-refit": "solder {part} down again (card: fit)",
    "undo-fit-new": "fit a part like {part}; the old one only if it reads sound by itself",
    "undo-donor": (
        "fit a part of the same marking and programming as {part}, from a donor board if need be"
    ),
    "stop-swollen": "a swollen or hot cell: outside, onto sand, no further work",
    "stop-kept-hot": "{chip} reads 150 °C",
    "stop-cleared": "the net reads sound: no more lifts",
    "stop-no-donor": "no like part at hand for {part}: don't take it off",
    "stop-volts": "not above {volts} V unless you choose to",
    "stop-warm-kept": "a chip that may hold the data gets 15 K warmer than the room",
}

_INJECT = {
    "inject-cell-connected": "a card says that the cell is connected: disconnect it first",
    "inject-cell-swollen": (
        "a card speaks of a swollen or hot cell: outside, onto sand, no further work"
    ),
    "inject-still-wet": "a card says that the board is wet: rinse, dry, look again",
}

ADVICE_WORDS: dict[str, str] = {
    **_INJECT,
    **_FEED,
    **_TRIAGE,
    **_CHECKS,
    **_POWER,
    **_HEAT,
    **_PLAN,
}
