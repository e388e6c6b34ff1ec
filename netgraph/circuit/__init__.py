# SPDX-License-Identifier: GPL-3.0-or-later
"""Direct currents and voltages of a dead board; knows parts and nets, never probabilities.

Ground is node -1 everywhere. Amperes, volts, ohms, siemens, kelvin; readings come from `predict`.
"""
