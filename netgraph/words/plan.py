# SPDX-License-Identifier: GPL-3.0-or-later
"""Sentences of the `plan` room: who, why, what happens, what to check."""

_KEEP = {
    "goal-unclear": (
        "nothing on this board is known to hold or process data, so what {goal} needs is not "
        "known; name the processor and the storage in the board notes first"
    ),
    "keep-user": "a person has marked {part} as {word}",
    "keep-core": (
        "{part} may hold the data or its keys and can't be replaced (role {role}: {function}, "
        "confidence {confidence})"
    ),
    "keep-function": (
        "{part} ({role}) does {function}, which {goal} needs; a like part may take its place"
    ),
    "keep-feeder": (
        "{part} makes or passes the supply {net}, which the goal needs (feeders: {feeders}); a "
        "part of the same marking and programming may take its place"
    ),
    "keep-maybe-light": (
        "{part} makes {net} for a screen's connector alone: it may only light the screen, and data "
        "can be read with a lamp instead; if so, note {part} as not needed (--keep no)"
    ),
    "keep-entry": "{part} is where the supply {net} enters; a like connector may take its place",
    "keep-clock": "{part} is the clock of {chip} (net {net}); without it {chip} does not start",
    "keep-card": "{part} holds a card that {chip} reads (net {net}); the data may be on the card",
    "keep-host-port": "{part} is the port over which the data leave the board",
    "keep-host-path": "{part} lies on the data lines between {port} and a kept chip",
    "keep-screen": (
        "{part} joins a screen or touch panel to {chip} (net {net}); a test screen on it may be "
        "needed to unlock and to consent"
    ),
    "keep-screen-path": "{part} lies between {chip} and the screen's connector {screen}",
    "keep-key": "{part} is a key read by {chip} (net {net}); it may be needed to start or unlock",
    "keep-strap": (
        "{part} lies on a reset or start-up line of {chip} (net {net}); a like part may take its "
        "place"
    ),
}

_LIFT = {
    "lift-no-gain": "nothing in {part} ({role}) can leak, so nothing is gained by its lift",
    "lift-might-hold-data": (
        "{part} has {pads} pads and its role ({role}) is not sure: it might hold data; find out "
        "what it is before anything else"
    ),
    "lift-role-unsure": (
        "what {part} is for is not sure enough ({role}, confidence {confidence}); confirm its "
        "role in the board notes"
    ),
    "lift-feeder-missing": (
        "it is not known for sure what feeds {nets}, which the goal needs, and {part} may be part "
        "of that supply; trace it and add it to the board notes"
    ),
    "lift-user-no": "a person has marked {part} as not needed, and no needed supply runs over it",
    "lift-user-no-but-needed": (
        "a person has marked {part} as not needed, but without it {nets} would stop, which the "
        "goal needs"
    ),
    "lift-diode-needed": (
        "{nets} would stop without {part}; put in a diode of the same kind, the same way round"
    ),
    "lift-passive-needed": "{nets} would stop without {part}; it stays as it is",
    "lift-needed": "{nets} would stop without {part}; a like part may take its place",
    "lift-high-voltage": (
        "{part} lies on {nets}, which may hold a high voltage even when off: bleed it through a "
        "resistor and measure it, then judge again"
    ),
    "backup-cell": (
        "{cell} may be what keeps the content of {chips} while the board is off: leave it in, and "
        "what lies between, until it is known that nothing is lost with it, or feed that supply "
        "from outside before it comes off"
    ),
    "watched-lines": (
        "a line at {parts} watches whether the device is opened: leave plugs and switches there as "
        "they were found, keys may be erased when the line opens"
    ),
    "lift-backup": (
        "{part} lies on the way from {cell} to {chips}: with the board off, the content of "
        "{chips} may be gone as soon as it comes off"
    ),
    "lift-tamper": (
        "{part} is on {net}: a chip that watches for opening may erase its keys when the line opens"
    ),
    "lift-battery": (
        "{part} is a cell or battery: disconnect it by its own rules before anything is measured; "
        "whether the board runs without it is not known"
    ),
}

_CAPACITORS = {
    "cap-not-shunt": (
        "{part} does not lie between one supply and ground ({nets}): it may be part of a "
        "converter, a filter or a signal"
    ),
    "cap-serves": (
        "{part} joins {nets} for {chips} (a bootstrap, a feed-forward, a coupling or a smoothing "
        "between supplies): off, put one of like value in its place"
    ),
    "cap-rail-not-needed": "{part} only smooths {net}, which the goal does not need",
    "boost-must-not-run": (
        "with {part} off {chip} must not run: a boost converter without its output capacitor can "
        "run {net} up; open its inductor too, so that it can't"
    ),
    "cap-crystal-load": "{part} is a load capacitor of {crystal} (net {net}); without it the "
    "clock may not start",
    "cap-on-signal": (
        "{part} lies from {net} ({kind}) to ground and not on a supply: it may time a reset, "
        "hold a converter stable or filter a line"
    ),
    "cap-value-unknown": (
        "the value of {part} on {net} is not known, so whether enough is left without it can't be "
        "counted"
    ),
    "cap-only-one": (
        "{part} is the only capacitor of known value on {net}: off, put one of like value in its "
        "place, or what makes or uses {net} may not be stable"
    ),
    "cap-last-of-kind": (
        "{part} is the largest of its kind on {net}: none of the {others} others has a quarter of "
        "its value; off, put one of like value in its place"
    ),
    "cap-too-little-left": (
        "{part} holds much of what {net} has: without it {percent} % of the known capacitance is "
        "left; off, put one of like value in its place, or the converter may not be stable"
    ),
    "cap-spare": (
        "{part} is one of several on {net}: {alike} more of at least a quarter of its value stay, "
        "with {percent} % of the known capacitance; take off one, then ask again"
    ),
    "net-not-surely-rail": (
        "whether {net} is a supply is not sure (confidence {confidence}), so {part} may do more "
        "than smooth it; measure or trace the net first"
    ),
}

_SERIES = {
    "series-joins-grounds": "{part} joins two grounds; currents and shields may depend on it",
    "series-needs-wire": (
        "{part} ({role}) carries the supply of {nets}, which the goal needs; it may come off "
        "only if a wire takes its place, which also joins the short on {net} again if that is "
        "not gone"
    ),
    "series-one-of-several": (
        "{part} is one of several ways in which {nets} is fed; without it the board may start "
        "only from another source"
    ),
    "series-to-ground": (
        "{part} seems to join the supply {net} to ground, which makes no sense: its role or its "
        "net is wrong; look at it"
    ),
    "series-kept-behind": (
        "behind {part} lies {net}, and {chips}, which the goal needs, may be supplied from it"
    ),
    "series-in-line": (
        "{part} is in line on {nets}, which {chips} uses: off, put a like one in its place"
    ),
    "series-leads-on": "{part} leads on to {nets}; what hangs there is not followed further",
    "series-not-needed": "{part} only passes the supply between {nets}; what hangs behind it is "
    "not needed",
    "coil-needed": (
        "{part} is the inductor of the converter that makes {nets}, which the goal needs: it may "
        "be opened on one side to test and must be refitted"
    ),
    "coil-of-kept": (
        "{part} is an inductor of {chips}, which is needed; with the inductor gone the chip may "
        "shut down its other outputs too"
    ),
    "coil-unclear": "{part} looks like the inductor of a converter that was not found; trace it",
    "coil-not-needed": (
        "{part} is the inductor of {chips}, and the goal needs nothing of what it makes"
    ),
    "resistor-to-ground": (
        "{part} joins {net} to ground with a small or unknown resistance: its role is not clear"
    ),
    "resistor-bleeds": "{part} only loads {net} to ground; nothing else hangs on it",
    "resistor-reference": "{part} is a leg of the divider that makes the reference {net}",
    "resistor-feedback": (
        "{part} is on a line by which {chip} is set ({net}): its output, a limit or a reading; "
        "without it the voltage may run away and burn chips"
    ),
    "resistor-sets-converter": (
        "{part} may set the converter {chip} (net {net}): while {chip} is on the board its voltage "
        "may run away without {part}; judge {chip} first"
    ),
    "resistor-pull": (
        "{part} pulls or ties {net}, on which {chips} depends: off, put a like one in its place, "
        "or the line may float"
    ),
    "resistor-lamp": "{part} feeds a light-emitting diode on {net} and nothing else",
    "diode-to-ground": (
        "{part} lies from {net} to ground: it may be a clamp or may make the voltage of {net}; "
        "read its marking"
    ),
    "clamp-spare": (
        "{part} is a clamp from {net} to ground: the board works without it, unprotected"
    ),
    "clamp-gone": (
        "with {part} off nothing clamps {net}: only a plain limited supply at its nominal (plain "
        "5 V on a USB input), no fast-charge adapter"
    ),
    "line-clamp-gone": (
        "with {part} off nothing takes a discharge away from {nets}: touch the connector only with "
        "the wrist strap on"
    ),
    "jumper-protection": (
        "a wire in place of the {role} {part} takes protection away: only on a limited supply, "
        "never with the cell; a fuel gauge then reads zero"
    ),
    "jumper-plain": (
        "bridge the pads of the {role} {part} only after the short is gone, and measure both "
        "sides to ground first"
    ),
    "jumper-diode": (
        "{part} is a diode: a wire lets current flow back; check which way it lies and what it "
        "keeps apart before anything takes its place"
    ),
}

_LOADS = {
    "load-shares": (
        "{part} shares {nets} with {chips}, which the goal needs: off, a line may float or end"
    ),
    "load-leaf": (
        "{part} ({role}) is not needed for {goal}; it only hangs on {nets} of {chips}, and nothing "
        "kept is reached through it"
    ),
    "load-bridges": (
        "{part} may carry signals between {chips}, which the goal needs, and no other way between "
        "them is known"
    ),
    "lamp-may-strap": (
        "a lamp on a pin of {chips} may set how that starts: if the board comes up differently, "
        "refit {part}"
    ),
    "load-may-drive": (
        "{part} may drive {nets}, a reset, enable, clock or start-up line of {chips}: off, that "
        "may not start"
    ),
    "load-between": ("{part} may serve or lead to {chips}, which kept parts depend on"),
    "load-hangs-on": (
        "{part} serves {chips}, which stays on the board and may be needed: judge that chip first"
    ),
    "load-not-needed": (
        "{part} ({role}) is not needed for {goal} and shares no signal with a kept part"
    ),
    "feeder-not-needed": "{part} only feeds {nets}, which the goal does not need",
    "chips-unpowered": (
        "without {part} no supply reaches {chips}, and kept parts use the same lines: an unfed "
        "chip may hold those down; judge {chips} first"
    ),
    "switch-unclear": (
        "{part} stands between {nets}, one of which the goal needs: it may switch or protect it"
    ),
}

_NOTED = {
    "noted-ground": (
        "your note makes {net} a ground, though {signs}: if the note is wrong, the ground clip "
        "would go on a supply"
    ),
    "noted-volts": (
        "your note says {said} V for {net}, its name or its supply says {named} V at most: nothing "
        "is built on the note"
    ),
    "noted-volts-believed": (
        "your note says {said} V for {net}, its name says {named} V; the note counts because it "
        "gives a reason: read that again before current flows"
    ),
    "noted-role": (
        "your note makes {part} a {said}, it looked like a {role}: if the note is wrong, the plan "
        "gives away what holds the data"
    ),
    "noted-not-fitted": (
        "your note says that the {role} {part} is not fitted: if it is on the board after all, the "
        "plan gives away what it needs"
    ),
    "noted-not-kept": (
        "your note says that the {role} {part} is not needed: whatever it holds is lost with it"
    ),
    "lift-only-processor": (
        "a person has marked {part} as not needed, but no other processor is known: without one "
        "nothing can be read; if another chip runs the board, note its role"
    ),
}

_INJECT = {
    "inject-ground": "{net} is ground: it is where the other clip goes, nothing is fed into it",
    "inject-high-voltage": (
        "{net} carries a high voltage in use: never fed from outside here; bleed it through a "
        "resistor and measure it before anything else"
    ),
    "inject-negative": (
        "{net} is negative in use ({volts} V): a supply connected the usual way would drive every "
        "junction on it backwards"
    ),
    "inject-not-a-rail": (
        "{net} is no supply but {kind} net: feed the supply it belongs to instead"
    ),
    "inject-kind-unsure": (
        "{net} may be {kind} net and no supply: not more than the first step until it is traced"
    ),
    "inject-unknown-net": (
        "what {net} is for is not known: not more than the first step until it is traced"
    ),
    "inject-no-point": (
        "{net} has no pad that is good to touch (capacitor of 0402 or larger, test point, "
        "inductor, connector); solder a thin wire to a via or another pad"
    ),
    "inject-careful": (
        "{chips} on {net} or reached from it may hold the data: not more than {watts} W, one or "
        "two seconds, stop when it is 15 K warmer than the room"
    ),
    "inject-watts": (
        "volts times amperes at the pads stay below {watts} W: {amps} A at the first step, above "
        "{volts} V set the current limit lower; the volts protect, the limit acts too late"
    ),
    "inject-back-feed": "feeding {net} may also power {nets}, through parts that are off",
    "inject-reference": "{net} is a reference: no load current, so a current here is a leak",
    "ceiling-own": "the nominal of {net} itself, {volts} V, is the least of all nets that come "
    "alive",
    "ceiling-own-unknown": (
        "the nominal of {net} is not known: not more than the first step; state it in the board "
        "notes if you know it"
    ),
    "ceiling-own-doubtful": (
        "the nominal of {net} ({volts} V) is not sure enough to build on; confirm it in the board "
        "notes"
    ),
    "ceiling-other": (
        "{net} ({volts} V) may come alive with {fed} through {way} and has the least nominal"
    ),
    "ceiling-unknown": (
        "the nominal of {net}, which may come alive with {fed} through {way}, is not known"
    ),
    "ceiling-note-disputed": (
        "your note says {said} V for {net}, its name or its supply says {named} V at most; where "
        "only the name speaks against it, say why (--why) and the note counts"
    ),
    "ceiling-doubtful": (
        "the nominal of {net} ({volts} V), which may come alive with {fed} through {way}, is "
        "not sure enough to build on; confirm it in the board notes"
    ),
    "ceiling-not-positive": (
        "{net}, which may come alive with {fed} through {way}, is at {volts} V in use: a positive "
        "supply would reverse it"
    ),
    "ceiling-none": "there is no nominal to go by: {net} is not surely a supply",
    "veto-cell": "no current while a cell is connected: disconnect it",
    "veto-wet": "no current while the board is wet: rinse, dry, look again",
    "veto-solvent": (
        "no current before the solvent has gone: under large packages at least 30 minutes warm"
    ),
    "veto-high-voltage": (
        "{net} may carry a high voltage even when off or come alive: bleed it through a resistor "
        "and measure it first"
    ),
    "point-distance": ("{part} ({role}), {mm} mm from the nearest chip that may hold the data"),
    "point-by-part": "{part} ({role}), good to touch",
}

_SITES = {
    "site-by-design": "{part} ({role}) joins {a} and {b} by design",
    "site-part": "{part} ({role}) touches both {a} and {b}: a fault inside it joins them",
    "site-gap": "{a} and {b} lie {mm} mm apart: a deposit there joins them; look at it",
    "site-under": (
        "{a} and {b} lie {mm} mm apart under {over}, where water stays longest and nobody sees it"
    ),
    "site-copper": "a {kind} of {a} or {b} passes the other net at {mm} mm on {layer}",
}

_CAUTIONS = {
    "caution-current": (
        "The volts protect, the current limit does not: set volts with the output off, first step "
        "at most 0.3 V and 0.5 A for one or two seconds; a short may open at any moment. "
        "[source: {source}]"
    ),
    "caution-polarity": (
        "Check the polarity with a meter on the clips before contact; ground clip first; never "
        "reverse the current on a fitted board. [source: {source}]"
    ),
    "caution-cell": "The cell is disconnected before anything else is done. [source: {source}]",
    "caution-cell-swollen": (
        "A swollen, hot or damaged lithium cell: outside, onto sand, no further work; never "
        "pierce, charge or short it. [source: {source}]"
    ),
    "caution-high-voltage": (
        "Mains side, flash and boost capacitors can hold up to 400 V when off: bleed through a "
        "resistor, then measure. [source: {source}]"
    ),
    "caution-no-fingers": (
        "No fingers on a powered board: use a camera, thermal paper or a film. [source: {source}]"
    ),
    "caution-hot-tool": (
        "Hot tools: near kept chips two irons or hot tweezers and no air; with air a shield, "
        "preheat and a thermocouple on the nearest kept chip, stop at 150 °C there. "
        "[source: {source}]"
    ),
    "caution-heat-data": (
        "Heat may cost stored data, the more the hotter and longer; each action has a chance to "
        "lose it. [source: {source}]"
    ),
    "caution-solvent": (
        "No power before the solvent has evaporated, also under packages. [source: {source}]"
    ),
    "caution-fumes": "Solder, flux and solvent fumes: extract them. [source: {source}]",
    "caution-eyes": "Eye protection: parts, wire ends and liquids fly. [source: {source}]",
    "caution-esd": "Wrist strap and mat: a discharge kills what water left. [source: {source}]",
    "caution-freeze": (
        "Freeze spray burns skin and leaves water: dry the board and measure again before power. "
        "[source: {source}]"
    ),
    "caution-alcohol-fire": (
        "Alcohol burns: no cell, no hot tool, no spark near, fumes extracted, never open in a "
        "heated or ultrasonic tank. [source: {source}]"
    ),
    "caution-protection-gone": (
        "A wire in place of a protective part: mark the board 'never with a cell', use a limited "
        "supply only. [source: {source}]"
    ),
    "caution-meter-off": (
        "Ohms and diode mode only with cell and supply off, the net below 10 mV, capacitors bled "
        "through a resistor. [source: {source}]"
    ),
    "caution-drying": (
        "A board that holds data is dried at 60 to 70 °C and never baked at 125 °C. "
        "[source: {source}]"
    ),
    "caution-ultrasonic": (
        "Ultrasonic baths can kill clocks and sensors: screen, cameras, microphones and cell off; "
        "better a brush where clocks are kept. [source: {source}]"
    ),
}

_REVIEW = {
    "review-role": "What is {part}?",
    "review-kind": "Is {net} a supply?",
    "review-feeder": "What feeds {net}?",
    "review-volts": "How many volts has {net} on a sound board?",
    "review-fitted": "Is {part} on this board?",
    "review-hangs": "{parts:part hangs|parts hang} on it, {kept} of them may hold the data",
    "review-hangs-ceilings": (
        "{parts:part hangs|parts hang} on it, {kept} of them may hold the data; the injection "
        "ceiling of {ceilings:other rail|other rails} depends on it"
    ),
    "now-role": "{role}",
    "now-kind": "{kind}",
    "now-feeder": "{feeders}",
    "now-no-feeder": "no feeder found",
    "now-entry": "an entry",
    "now-volts": "{volts} V",
    "now-no-volts": "not known",
    "now-not-fitted": "not fitted",
    "choice-role": "{role}",
    "choice-other-role": "something else: type the role",
    "choice-fitted": "{part} is on the board, or solder or copper joins its pads",
    "choice-not-fitted": "{part} is not on the board",
    "choice-rail": "a supply",
    "choice-reference": "a reference voltage, not meant to carry current",
    "choice-signal": "a signal, no supply",
    "choice-ground": "a ground",
    "choice-other-kind": "something else: type the kind",
    "choice-feeder": "{part} ({role}), from {net}",
    "choice-feeder-only": "{part} ({role}), from a net not known",
    "choice-feeders": "as found, any of these: {feeders}",
    "choice-entry": "an entry: power comes in here",
    "choice-volts-now": "{volts} V, as found so far",
    "choice-volts-name": "{volts} V, as its name says",
    "choice-volts-marking": "{volts} V, as the marking of {part} says",
    "choice-volts-neighbour": "{volts} V, as {net} has behind {part}",
    "choice-volts-usb": "{volts} V, as USB gives",
    "choice-volts-cell": "{volts} V, as a single lithium cell has",
    "choice-typed-volts": "type a figure",
    "choice-not-known": "nothing known: do not ask again",
}

PLAN_WORDS: dict[str, str] = {
    **_KEEP,
    **_LIFT,
    **_CAPACITORS,
    **_SERIES,
    **_LOADS,
    **_NOTED,
    **_INJECT,
    **_SITES,
    **_CAUTIONS,
    **_REVIEW,
}
