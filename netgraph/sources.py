# SPDX-License-Identifier: GPL-3.0-or-later
"""Short keys for where a constant or a rule comes from; numbers without a key do not enter.

A test asserts that each key used in ``netgraph`` stands here. "common practice" means: usual in
the trade, no published source; "from memory" means: recalled, the text itself was not read.
"""

from __future__ import annotations

SOURCES: dict[str, str] = {
    "iec60062": "IEC 60062:2016, marking codes for resistors and capacitors "
    "(restated publicly; the standard's text was not read)",
    "iec60063": "IEC 60063:2015, preferred number series (values recomputed)",
    "ieee315": "IEEE 315-1975 clause 22.4 and ASME Y14.44-2008, class designation letters "
    "(restated publicly; the standards' texts were not read)",
    "kicad": "KiCad source repository, board file reader and writer (formats 4 to 20260206)",
    "kicad-lexer": "KiCad source repository, common/dsnlexer.cpp",
    "ipc-d356": "IPC-D-356A/B column rules as restated in KiCad's exporter and in public readers "
    "(the standard's text was not read)",
    "kicad-netlist": "KiCad source repository, netlist exporters: D and E, and before 2013",
    "graphml": "GraphML 1.0, graphml.graphdrawing.org (restated publicly)",
    "ipc2221": "IPC-2221, I = k dT^0.44 A^0.725, k 0.048 outer and 0.024 inner layers",
    "usb": "IEC 63002 clause 4.4 extract: USB default supply 5 V, 0.5 A or 0.9 A",
    "cells": "cell voltages by chemistry, makers' public pages; classes above 4.2 V from memory",
    "lpddr4x": "AMD UG863: LPDDR4X input/output supply 0.6 V",
    "solder-alloys": "solidus and liquidus by alloy as solder makers list them after J-STD-006 "
    "(restated publicly; the standard's text was not read)",
    "codata": "CODATA 2018 values of the fundamental constants",
    "kicad-symbols": "KiCad symbol libraries 6.0.10: which library holds a part (facts only)",
    "okabe-ito": "Okabe and Ito, colour-universal palette",
    "si": "SI 2019: k = 1.380649e-23 J/K and e = 1.602176634e-19 C, exact",
    "diode-law": "Shockley's law; emission factors and saturation currents of model diodes at "
    "300 K are our own choice, so that 1 mA gives the volts of meter manuals",
    "diode-window": "hand-meter manuals: 0.5 to 0.7 V silicon, 0.2 to 0.35 V Schottky at 1 mA; "
    "test current 0.5 to 1.5 mA, open 2 to 4 V",
    "mlcc": "capacitor makers' data sheets and answers: insulation of 50 to 1000 ohm farad, at "
    "most 10 to 100 Gohm",
    "omega": "Lawrence, Corless, Jeffrey 2012, algorithm 917, complex Wright omega function",
    "lhs": "McKay, Beckman, Conover 1979, Latin hypercube sampling (from memory)",
    "mna": "Ho, Ruehli, Brennan 1975, modified nodal approach to network analysis (from memory)",
    "spice2": "Nagel 1975, SPICE2, limiting of junction steps (from memory)",
    "woodbury": "Sherman and Morrison 1950, Woodbury 1950: inverse of a matrix changed by low rank",
    "layered-drawing": "Sugiyama, Tagawa, Toda 1981, layered drawings with few crossings "
    "(from memory)",
    "iacs": "IEC 60028, annealed copper: 1/58 ohm mm2/m at 20 C (restated publicly; the standard's "
    "text was not read)",
    "lattice": "Cserti 2000, resistance of the infinite square lattice far apart: "
    "(ln r + Euler's constant + 3/2 ln 2) / pi",
    "practice": "common practice, no source",
    "memory": "from memory",
}
