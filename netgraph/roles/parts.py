# SPDX-License-Identifier: GPL-3.0-or-later
"""What each part is for: evidence added up per role, the best role taken, with its reasons.

Evidence comes from the designator's letters, the value, the marking's family, words, the number
of pins, pin names, and from what the pins are joined to. On a partial board the pins known are
not all there are: that there are few proves nothing, that there are many still does. Weights were
chosen on the labelled boards of the tests; none is tied to one maker's part.
"""

from __future__ import annotations

import re
from collections import Counter
from functools import lru_cache

from netgraph.reasons import Reason, reason
from netgraph.roles.answer import PartRole, Role
from netgraph.roles.certainty import role_certainty
from netgraph.roles.families import find_family, word_rules
from netgraph.roles.values import PartText
from netgraph.roles.wiring import Wiring

LEAST_SCORE = 2.0
"""Below it a part's role is unknown."""

UNKNOWN_SURE = 0.2
MOST_OTHERS = 3
"""So many runner-up roles are kept with an answer."""

_PACKAGE_WORD = re.compile(
    r"(?<![A-Z0-9])[A-Z]{0,4}(?:BGA|QFN|QFP|LGA|CSP|SO[TPN]?|DFN|DIP|PLCC)-?\d+", re.I
)
"""Package names with a number that a marking may begin with as well: BGA64."""
SENSE_OHM = 0.2
LINK_OHM = 0.0
_PASSIVE: frozenset[Role] = frozenset(
    ("resistor", "capacitor", "inductor", "ferrite", "fuse", "thermistor", "diode", "tvs", "led",
     "sense-resistor", "link")
)  # fmt: skip
_CHIP: frozenset[Role] = frozenset(
    ("processor", "programmable-logic", "memory", "storage", "boot-flash", "eeprom",
     "secure-element", "power-manager", "charger", "fuel-gauge", "power-controller", "regulator",
     "load-switch", "esd-array", "oscillator", "radio", "network", "interface", "display-driver",
     "audio", "sensor", "haptic", "motor-driver", "analog-switch", "logic", "level-shifter",
     "amplifier", "optocoupler", "transformer", "slot", "bridge-rectifier")
)  # fmt: skip
_MANY_PINNED: frozenset[Role] = frozenset(
    ("processor", "memory", "programmable-logic", "storage", "power-manager")
)
_RESISTOR_LIKE: frozenset[Role] = frozenset(("resistor", "sense-resistor", "link", "thermistor"))
_CONVERTER_PIN = re.compile(
    r"(?:SW|LX|PH|PHASE|FB|VFB|BOOT|BST|CB|LX\d|SW\d|VOSNS|VSENSE)\d?", re.I
)
_OUT_PIN = re.compile(r"V?O(?:UT)?\d?|VOUT[A-Z0-9]*|OUTPUT|VO", re.I)
_IN_PIN = re.compile(r"V?IN\d?|VCC_?IN|PVIN\d?|AVIN|INPUT|VI|DC_?IN", re.I)
_FLASH_PIN = re.compile(
    r"(?:S?CLK|SCK|C|D[IO]|[SM]OSI|[SM]ISO|IO\d|~?\{?(?:CS|WP|HOLD|RESET)\}?.*)", re.I
)
_I2C_PIN = re.compile(r"SDA|SCL", re.I)
_ADDRESS_PIN = re.compile(r"A\d|WP|~?\{?WP\}?|E\d|NC", re.I)
_DRAM_PIN = re.compile(
    r"(?:[LU]?DQS?[0-9_LU#PNTC]*|DM[0-9UL]*|BA\d|RAS#?|CAS#?|CKE\d?|ODT\d?|[LU]?DQS.*)", re.I
)
_DRAM_CONTROL = re.compile(
    r"BA\d|~?\{?(?:RAS|CAS|WE|CS)\d?#?\}?|CKE\d?|ODT\d?|CK[_#PNTC]*\d?|CA\d|DQS.*", re.I
)
_AC_PIN = re.compile(r"~|AC\d?|A\.C\.", re.IGNORECASE)
_JUMPER = re.compile(r"(?<![A-Za-z])JUMPER", re.IGNORECASE)
_ROWS = re.compile(r"\d+x\d+|_\d{1,2}P$|\d+pin|^\d+-?pos", re.IGNORECASE)


class Evidence:
    """Scores of one part, with the reason behind each addition."""

    def __init__(self) -> None:
        self.score: dict[Role, float] = {}
        self.facts: list[tuple[float, Role, Reason]] = []

    def add(self, role: Role, weight: float, why: Reason) -> None:
        """Add weight to a role; a positive one keeps its reason."""
        self.score[role] = self.score.get(role, 0.0) + weight
        self.facts.append((weight, role, why))

    def best(self) -> tuple[Role, float, float]:
        """The best role, its score, and its lead over the next."""
        ranked = sorted(self.score.items(), key=lambda item: (-item[1], item[0]))
        if not ranked or ranked[0][1] < LEAST_SCORE:
            return "unknown", ranked[0][1] if ranked else 0.0, 0.0
        second = ranked[1][1] if len(ranked) > 1 else 0.0
        return ranked[0][0], ranked[0][1], ranked[0][1] - max(second, 0.0)

    def others(self, but: Role) -> tuple[tuple[Role, float], ...]:
        """The next best roles that anything speaks for, with their scores, best first."""
        ranked = sorted(self.score.items(), key=lambda item: (-item[1], item[0]))
        return tuple(
            (role, round(score, 2)) for role, score in ranked if role != but and score > 0
        )[:MOST_OTHERS]

    def reasons_for(self, role: Role) -> tuple[Reason, ...]:
        """Reasons that spoke for a role, strongest first, each once."""
        ordered = sorted(self.facts, key=lambda fact: -fact[0])
        return tuple(
            dict.fromkeys(why for weight, one, why in ordered if one == role and weight > 0)
        )


@lru_cache(maxsize=4096)
def words_of(value: str, package: str, description: str) -> tuple[tuple[Role, float, Reason], ...]:
    """What the words of a part say; remembered, since most parts of a board look alike.

    Per role and place (value, footprint, description) only growing weights are added.
    """
    where = {"value": value, "footprint": package, "text": description}
    said: dict[tuple[Role, str], float] = {}
    found: list[tuple[Role, float, Reason]] = []
    for rule in word_rules():
        source = where[rule.where]
        if not source:
            continue
        match = rule.pattern.search(source)
        if match and said.get((rule.role, rule.where), 0.0) < rule.weight:
            said[(rule.role, rule.where)] = rule.weight
            why = reason("word", where=rule.where, word=match.group(0), role=rule.role)
            found.append((rule.role, rule.weight, why))
    return tuple(found)


class PartJudge:
    """Judges all parts of one board; `grounds` and `rails` are net indices known so far."""

    def __init__(
        self,
        wiring: Wiring,
        texts: list[PartText],
        grounds: frozenset[int],
        supplies: frozenset[int],
    ) -> None:
        self.wiring = wiring
        self.texts = texts
        self.grounds = grounds
        self.supplies = supplies
        self.whole = not wiring.board.partial
        self.inductor_nets: Counter[int] = Counter()
        for part in wiring.board.parts:
            nets = wiring.nets[part.index]
            if len(nets) == 2 and wiring.fitted[part.index] and self._looks_like_coil(part.index):
                self.inductor_nets.update(nets)

    def _looks_like_coil(self, part: int) -> bool:
        letters, text = self.wiring.class_of[part], self.texts[part]
        if letters is None or "inductor" not in letters.roles:
            return False
        return text.henry is None or text.henry >= 0.2e-6

    def weigh(self, part: int) -> tuple[Role, Evidence]:
        """The role that the evidence points to, and all the evidence."""
        evidence = Evidence()
        text = self.texts[part]
        self._letters(part, evidence)
        self._words(text, evidence)
        self._family(text, evidence)
        self._quantity(part, text, evidence)
        self._pins(part, evidence)
        self._wired(part, evidence)
        self._connector_shape(part, evidence)
        return self._settle(part, evidence.best()[0], text, evidence), evidence

    def judge(self, part: int) -> PartRole:
        """Role of one part."""
        text = self.texts[part]
        role, evidence = self.weigh(part)
        first, score, lead = evidence.best()
        farad = text.farad if role == "capacitor" else None
        ohm = text.ohm if role in _RESISTOR_LIKE or role == "ferrite" else None
        henry = text.henry if role == "inductor" else None
        if role == "unknown":
            return PartRole(
                text.part.id,
                role,
                UNKNOWN_SURE,
                (reason("no-evidence", score=round(score, 1)),),
                others=evidence.others(role),
            )
        return PartRole(
            text.part.id,
            role,
            role_certainty(score, lead),
            evidence.reasons_for(role if role in evidence.score else first),
            ohm=ohm,
            farad=farad,
            henry=henry,
            others=evidence.others(role),
        )

    # -- evidence ------------------------------------------------------------------------------

    def _letters(self, part: int, evidence: Evidence) -> None:
        found = self.wiring.class_of[part]
        if found is None:
            return
        why = reason("letters", letters=found.letters, meaning=found.meaning)
        for rank, role in enumerate(found.roles):
            if role not in ("unknown", "other"):
                evidence.add(role, 2.5 if rank == 0 else 1.2, why)
        pins = len(self.wiring.pins[part])
        few = self.whole and len(self.wiring.nets[part]) <= 3 and 2 <= pins <= 3
        called = _JUMPER.search(self.texts[part].value) is not None
        if found.roles[:1] == ("link",) and (few or called):
            # A pin header called a jumper is one: its cap joins the pins.
            evidence.add("link", 4.0, why)

    def _words(self, text: PartText, evidence: Evidence) -> None:
        joined = len(self.wiring.nets[text.part.index]) >= 2
        for role, weight, why in words_of(text.value, text.package, text.description):
            if not (joined and role == "mechanical"):
                evidence.add(role, weight, why)

    def _family(self, text: PartText, evidence: Evidence) -> None:
        for rank, marking in enumerate(text.numbers[:3]):
            family = find_family(marking)
            if family is not None:
                weight = min(6.0, 2.2 + 0.5 * len(family.prefix)) - 0.5 * rank
                evidence.add(
                    family.role,
                    weight,
                    reason("family", prefix=family.prefix, what=family.what),
                )
                return
        family = find_family(_PACKAGE_WORD.sub(" ", text.package))
        if family is not None and family.role in _CHIP | {"led", "connector", "crystal", "slot"}:
            evidence.add(family.role, 2.5, reason("family", prefix=family.prefix, what=family.what))

    def _quantity(self, part: int, text: PartText, evidence: Evidence) -> None:
        letters = self.wiring.class_of[part]
        roles = letters.roles if letters else ()
        pins = len(self.wiring.nets[part])
        if text.farad is not None and ("capacitor" in roles or not roles):
            evidence.add("capacitor", 3.0, reason("value-farad", value=text.value))
        if text.henry is not None and pins <= 4:
            evidence.add("inductor", 3.5, reason("value-henry", value=text.value))
        if text.ohm is not None:
            if roles[:1] == ("resistor",) or (roles and roles[0] in _RESISTOR_LIKE):
                evidence.add("resistor", 3.0, reason("value-ohm", value=text.value))
            elif "resistor" in roles and "capacitor" not in roles:
                # RV, VR: a varistor or regulator has no ohms in its value, a trimmer has.
                evidence.add("resistor", 4.5, reason("value-ohm", value=text.value))
            elif (
                (pins == 2 or not self.whole)
                and text.henry is None
                and "inductor" in roles
                and "capacitor" not in roles
            ):
                # A coil whose value is an impedance is a bead.
                evidence.add("ferrite", 4.0, reason("value-impedance", value=text.value))
        if text.is_impedance and (pins == 2 or not self.whole):
            evidence.add("ferrite", 4.0, reason("value-impedance", value=text.value))
        hertz = text.hertz
        if hertz is not None and pins <= 6 and hertz >= 30e3:
            both = reason("value-hertz", value=text.value)
            evidence.add("crystal", 3.0, both)
            evidence.add("oscillator", 2.5, both)
        if (
            hertz is None
            and roles[:1] == ("crystal",)
            and re.fullmatch(r"\s*\d+(?:\.\d+)?\s*[MmKk].*", text.value)
        ):
            evidence.add("crystal", 2.0, reason("value-hertz", value=text.value))

    def _pins(self, part: int, evidence: Evidence) -> None:
        pins = self.wiring.pins[part]
        count = len(self.wiring.nets[part])
        numbers = len({pin.number for pin in pins if pin.number})
        if self.whole and (not pins or count == 0):
            evidence.add("mechanical", 3.0, reason("no-nets"))
            return
        if self.whole and numbers == 1:
            few = reason("pin-count", count=numbers)
            evidence.add("test-point", 2.0, few)
            evidence.add("mechanical", 1.0, few)
            for role in ("connector", *_CHIP, *_PASSIVE):
                evidence.add(role, -2.0, few)
            return
        self._pin_count(numbers, count, evidence)
        names = [pin.name for pin in pins if pin.name and pin.name != "~"]
        if names:
            self._pin_names(names, count, evidence)

    def _pin_count(self, numbers: int, count: int, evidence: Evidence) -> None:
        """What the number of pins and of nets says; few of them only on a whole board."""
        pins = reason("pin-count", count=numbers)
        if numbers >= 8 and count >= 4:
            for role in _PASSIVE - {"resistor", "led"}:
                evidence.add(role, -2.5, pins)
        if count >= 3:
            evidence.add("fuse", -1.5, pins)
            evidence.add("link", -1.0, pins)
        if not self.whole:
            return
        if numbers == 2 or count <= 2:
            for role in _CHIP - {"oscillator", "bridge-rectifier"}:
                evidence.add(role, -3.0, pins)
        if numbers < 20:
            for role in _MANY_PINNED:
                evidence.add(role, -1.0 if numbers >= 8 else -2.5, pins)
        if count >= 5:
            evidence.add("transformer", 1.5 if 6 <= numbers <= 16 else 0.0, pins)

    def _pin_names(self, names: list[str], pins: int, evidence: Evidence) -> None:
        def share(pattern: re.Pattern[str]) -> int:
            return sum(1 for name in names if pattern.fullmatch(name))

        has_in, has_out = share(_IN_PIN), share(_OUT_PIN)
        if share(_CONVERTER_PIN) >= 2 and has_in and len(names) <= 30:
            evidence.add("regulator", 2.5, reason("pin-names", names="switch, feedback, input"))
        elif has_in and has_out and len(names) <= 14:
            both = reason("pin-names", names="input, output")
            evidence.add("regulator", 1.5, both)
            evidence.add("load-switch", 0.8, both)
        if share(_DRAM_PIN) >= 12 and share(_DRAM_CONTROL) >= 3:
            evidence.add("memory", 4.0, reason("pin-names", names="data strobes, banks"))
        if share(_I2C_PIN) >= 2 and len(names) <= 9 and share(_ADDRESS_PIN) >= 3:
            evidence.add("eeprom", 3.0, reason("pin-names", names="two-wire bus, address"))
        if len(names) <= 12 and share(_FLASH_PIN) >= 6:
            evidence.add("boot-flash", 3.0, reason("pin-names", names="serial flash bus"))
        if {"ANODE", "A", "K", "CATHODE"} & {name.upper() for name in names} and len(names) == 2:
            evidence.add("diode", 1.0, reason("pin-names", names="anode, cathode"))
        ends = {name for name in names if not _AC_PIN.fullmatch(name)}
        if ends == {"+", "-"} and pins == 4:
            evidence.add("bridge-rectifier", 4.0, reason("pin-names", names="plus, minus"))
        if len(names) == 2 and {name.upper() for name in names} == {"A1", "A2"}:
            # Two anodes: it conducts neither way until it clamps.
            evidence.add("tvs", 2.5, reason("pin-names", names="two anodes"))
        if {"G", "D", "S"} <= {name.upper() for name in names} or {"B", "C", "E"} <= {
            name.upper() for name in names
        }:
            evidence.add("transistor", 4.0, reason("pin-names", names="three of a transistor"))

    def _wired(self, part: int, evidence: Evidence) -> None:
        wiring = self.wiring
        nets = wiring.nets[part]
        inside = [net for net in nets if net not in self.grounds]
        grounded = len(nets) > len(inside)
        supplies = [net for net in inside if net in self.supplies]
        coils = [net for net in inside if self.inductor_nets[net] and net not in self.supplies]
        pins = len({pin.number for pin in wiring.pins[part]})
        if coils and grounded and len(nets) >= 4 and not self._looks_like_coil(part):
            found = reason("drives-coil", count=len(coils))
            if len(coils) >= 3 and pins >= 20:
                evidence.add("power-manager", 4.0, found)
            elif pins <= 30:
                evidence.add("regulator", 1.5, found)
        if not self.whole:
            return  # what follows needs that no other pin is there
        if 3 <= pins <= 9 and len(nets) <= 7 and grounded and len(supplies) == 2 and not coils:
            evidence.add("regulator", 0.7, reason("two-supplies"))
            evidence.add("load-switch", 0.5, reason("two-supplies"))
        if pins in (2, 4) and len(inside) == 2 and not supplies and len(nets) <= 3:
            evidence.add("crystal", 0.7, reason("crystal-wiring"))
        if pins in (4, 6) and grounded and supplies and len(nets) <= 4:
            evidence.add("oscillator", 1.0, reason("oscillator-wiring"))
            evidence.add("crystal", -2.0, reason("oscillator-wiring"))
        if grounded and not supplies and len(inside) == 1 and pins == 2:
            evidence.add("ferrite", -0.5, reason("to-ground"))

    def _connector_shape(self, part: int, evidence: Evidence) -> None:
        """Rows of pins with many nets and no value that means something look like connectors."""
        text = self.texts[part]
        if (
            _ROWS.search(f"{text.value} {text.package}")
            and len(self.wiring.pins[part]) >= 2
            and evidence.score.get("resistor", 0) <= 2
        ):
            evidence.add("connector", 1.0, reason("rows-of-pins"))

    # -- the last word -------------------------------------------------------------------------

    def _settle(self, part: int, role: Role, text: PartText, evidence: Evidence) -> Role:
        """Roles that differ by one number or one count only."""
        nets = len(self.wiring.nets[part])
        letters = self.wiring.class_of[part]
        if role in ("resistor", "sense-resistor", "link") and text.ohm is not None and nets <= 2:
            if letters is not None and letters.roles[0] not in _RESISTOR_LIKE:
                return role
            if text.ohm == LINK_OHM:
                return "link"
            if text.ohm <= SENSE_OHM:
                return "sense-resistor"
            return "resistor"
        if role == "diode":
            told = {one for weight, one, _ in evidence.facts if weight >= 3.0}
            role = "led" if "led" in told else "tvs" if told & {"tvs", "esd-array"} else role
        if role == "inductor" and nets >= 5:
            return "transformer"
        if role in ("tvs", "esd-array") and (self.whole or nets > 2):
            return "tvs" if nets <= 2 else "esd-array"
        if role == "inductor" and text.henry is None and text.ohm is not None and nets == 2:
            return "ferrite"
        return role
