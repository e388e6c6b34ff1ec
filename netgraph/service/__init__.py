# SPDX-License-Identifier: GPL-3.0-or-later
"""The page and the JSON for other programs, on this computer alone.

A thin shell: each address parses its question, calls one core function and sends the answer of
`contract.answers`. No rule of its own about boards may enter here.
"""
