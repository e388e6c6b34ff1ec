# SPDX-License-Identifier: GPL-3.0-or-later
"""The steps of the ordered plan that are no lifts: before, between and after."""

from __future__ import annotations

from collections.abc import Sequence

from netgraph.advice.plan_types import Action, Stage, Step
from netgraph.diagnosis.bench_state import BenchState
from netgraph.plan import cautions
from netgraph.plan.backup import Backup
from netgraph.plan.inject_types import Injection
from netgraph.plan.keep_list import Keeps
from netgraph.plan.power_feed import LEAK_AMPS
from netgraph.plan.sites import Site
from netgraph.plan.storage_route import StorageRoute
from netgraph.plan.wiring import Wiring, name_list
from netgraph.reasons import Reason, reason

LOOKED_AT = 5
"""So many path sites are named for the look; `netgraph path` lists all."""


def _step(
    stage: Stage,
    action: Action,
    why: Reason,
    target: tuple[tuple[str, str | float], ...] = (),
    *,
    check: Reason | None = None,
    undo: Reason | None = None,
    stop: tuple[Reason, ...] = (),
    caution: str = "",
    minutes: float | None = None,
    vetoes: tuple[Reason, ...] = (),
    done: bool = False,
) -> Step:
    words = cautions.cautions_for(caution) if caution else ()
    return Step(
        stage,
        action,
        target,
        why,
        check,
        undo,
        stop,
        vetoes,
        words,
        minutes,
        done=done,
    )


def _cell_off(backups: Sequence[Backup]) -> Reason:
    if not backups:
        return reason("plan-cell")
    cells = name_list(one.cell for one in backups)
    chips = name_list(chip for one in backups for chip in one.chips)
    return reason("plan-cell-not-backup", cells=cells, chips=chips)


def opening_steps(
    net: str,
    sites: Sequence[Site],
    bench: BenchState,
    flexes: Sequence[str],
    cables: Sequence[str],
    route: StorageRoute,
    backups: Sequence[Backup] = (),
) -> list[Step]:
    """Triage, the questions that may make the work needless, unplugging, cleaning, looking."""
    off = bench.cell_connected is False
    found: list[Step] = []
    if bench.swollen_line is not None:
        found.append(_step("triage", "stop", reason("triage-cell-swollen"), caution="cell"))
    found += [
        _step(
            "triage",
            "unplug" if cables else "ask",
            reason("plan-no-charging"),
            tuple(("ref", one) for one in cables[:1]),
            stop=(reason("stop-swollen"),),
            done=off and not set(cables) - bench.unplugged,
        ),
        _step(
            "triage",
            "cell",
            _cell_off(backups),
            (("connected", "false"),),
            check=reason("check-cell-off"),
            caution="cell",
            minutes=2,
            done=off,
        ),
        _step("triage", "photo", reason("plan-photo"), minutes=3, done=bench.photographed),
        _step("ask", "ask", reason("plan-ask-elsewhere"), minutes=5),
        _step("ask", "ask", route.first, minutes=5),
        _step("ask", "ask", route.why),
        _step("ask", "ask", reason("plan-ask-unlock"), minutes=2),
        _step("ask", "ask", reason("plan-ask-authority"), minutes=2),
    ]
    found += [
        _step(
            "unplug",
            "unplug",
            reason("plan-unplug", part=one),
            (("ref", one),),
            check=reason("check-unplugged", net=net),
            undo=reason("undo-plug"),
            caution="unplug",
            minutes=1,
            done=one in bench.unplugged,
        )
        for one in flexes
    ]
    found += [
        _step(
            "unplug",
            "shield",
            reason("plan-shield"),
            (("off", "true"),),
            undo=reason("undo-shield"),
            minutes=3,
            done=bench.shields_off,
        ),
        _step("clean", "look", reason("plan-look"), minutes=5, done=bench.looked),
        _step(
            "clean",
            "clean",
            reason("plan-rinse"),
            (("at", "board"), ("method", "rinse, deionised water")),
            caution="clean",
            minutes=10,
            done=bench.cleaned,
        ),
        _step(
            "clean",
            "clean",
            reason("plan-clean"),
            (("at", "board"), ("method", "brush and cleaner")),
            caution="clean",
            minutes=15,
            done=bench.cleaned,
        ),
        _step(
            "clean",
            "dry",
            reason("plan-dry"),
            (("at", "board"), ("method", "60-70 °C")),
            check=reason("check-dry"),
            caution="dry",
            done=bench.dried and not bench.wet,
        ),
    ]
    found += [
        _step(
            "clean",
            "clean",
            reason("plan-clean-deposit", part=one),
            (("at", one),),
            caution="clean",
            minutes=5,
        )
        for one in sorted(bench.deposits)
    ]
    places = sites[:LOOKED_AT]
    for site in places:
        at = site.a.ref or site.b.ref or ""
        if not at:
            continue
        target: tuple[tuple[str, str | float], ...] = (
            ("at", f"{at}.{site.a.pin}" if site.a.pin and site.a.ref else at),
        )
        found.append(
            _step(
                "clean",
                "look",
                reason("plan-look-at", part=at, site=site.why.text),
                target,
                minutes=1,
                done=bench.looked_again,
            )
        )
    if not places:
        again = reason("plan-look-again")
        found.append(_step("clean", "look", again, minutes=3, done=bench.looked_again))
    return found


def measure_steps(wiring: Wiring, net: str, bench: BenchState, keeps: Keeps) -> list[Step]:
    """The net both ways round, then the supplies that hang on it."""
    read = bench.resistance(net) is not None
    found = [
        _step(
            "measure",
            "ohms",
            reason("plan-measure", net=net),
            (("at", net),),
            check=reason("check-measure"),
            caution="measure",
            minutes=1,
            done=read,
        )
    ]
    rail = wiring.tree.by_net.get(net)
    behind = sorted(
        {one.to_net for one in rail.series if one.part_id in wiring.fitted} if rail else set()
    )
    fed = sorted(
        {
            other.net
            for other, feeder in wiring.feeders()
            if feeder.from_net == net and other.net in keeps.rails
        }
        - set(behind)
    )
    found += [
        _step(
            "measure",
            "ohms",
            reason("plan-measure-beside", net=name, short=net),
            (("at", name),),
            caution="measure",
            minutes=1,
            done=bench.resistance(name) is not None,
        )
        for name in [*behind, *fed][:LOOKED_AT]
    ]
    return found


def inject_steps(plan: Injection, blocked: tuple[Reason, ...]) -> list[Step]:
    """The first step of injection with a frame before and after; refused where the plan says no."""
    if plan.verdict == "no":
        return [_step("inject", "stop", plan.why, (("net", plan.net),))]
    point = plan.points[0] if plan.points else None
    target: tuple[tuple[str, str | float], ...] = (
        ("at", f"{point.ref}.{point.pin}" if point else plan.net),
        ("set_volts", plan.first_volts),
        ("limit_amps", plan.max_amps),
    )
    high = tuple(one for one in plan.vetoes if one.code == "veto-high-voltage")
    return [
        _step(
            "inject",
            "image",
            reason(
                "plan-inject",
                net=plan.net,
                volts=plan.first_volts,
                amps=plan.max_amps,
                watts=plan.max_watts,
                seconds=plan.max_seconds,
            ),
            target,
            check=reason("check-warm"),
            undo=reason("undo-output-off"),
            stop=(
                reason("stop-volts", volts=plan.stop_volts),
                reason("stop-warm-kept"),
            ),
            vetoes=(*blocked, *high),
            caution="inject",
            minutes=5,
        ),
    ]


def verify_steps(
    net: str,
    plan: Injection,
    bench: BenchState,
    blocked: tuple[Reason, ...],
    *,
    cleared: bool,
) -> list[Step]:
    """Is the short gone: the meter, then the same injection, which must draw nearly nothing."""
    found = [
        _step(
            "verify",
            "ohms",
            reason("plan-verify-ohms", net=net),
            (("at", net),),
            check=reason("check-verify"),
            caution="measure",
            minutes=1,
            done=cleared,
        )
    ]
    if plan.verdict != "no":
        point = plan.points[0] if plan.points else None
        found.append(
            _step(
                "verify",
                "inject",
                reason("plan-verify-inject", net=net, volts=plan.first_volts),
                (
                    ("at", f"{point.ref}.{point.pin}" if point else net),
                    ("set_volts", plan.first_volts),
                    ("limit_amps", plan.max_amps),
                ),
                check=reason("check-quiet"),
                undo=reason("undo-output-off"),
                vetoes=blocked,
                caution="inject",
                minutes=2,
            )
        )
    if bench.opened:
        found.append(
            _step(
                "verify",
                "stop",
                reason("power-still-open", parts=name_list(bench.opened)),
                (("ref", min(bench.opened)),),
            )
        )
    return found


def closing_steps(goal: str, blocked: tuple[Reason, ...]) -> list[Step]:
    """The power gate, the first boot, and what follows: copy, verify, hand over, delete."""
    return [
        _step("power", "ask", reason("plan-gate", goal=goal), vetoes=blocked),
        _step("power", "ask", reason("boot-ready"), minutes=10),
        _step("power", "ask", reason("boot-list"), minutes=5),
        _step("power", "ask", reason("boot-quiet"), minutes=2),
        _step(
            "power",
            "power",
            reason("plan-first-boot"),
            (("on", "true"),),
            check=reason("check-first-boot"),
            undo=reason("undo-output-off"),
            stop=(
                reason("off-before-key", amps=LEAK_AMPS),
                reason("off-smoke"),
                reason("off-loop"),
            ),
            vetoes=blocked,
            caution="power",
            minutes=5,
        ),
        _step("copy", "ask", reason("boot-code")),
        _step("copy", "ask", reason("done-copy"), check=reason("check-copy")),
        _step("copy", "power", reason("done-stop"), (("on", "false"),)),
        _step("copy", "ask", reason("done-hand-over")),
    ]
