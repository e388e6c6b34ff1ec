# SPDX-License-Identifier: GPL-3.0-or-later
"""Slow work: a small pool of child processes with a queue, progress, and a way to stop.

Each worker thread only waits for its child; the work itself is done there, so that a page stays
quick and a hostile file can take no more than its limits.
"""

from __future__ import annotations

import os
import secrets
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import Final, Literal

from netgraph import limits
from netgraph.errors import NetgraphError, ServiceError
from netgraph.formats.isolated import ReadingStoppedError

State = Literal["waiting", "running", "done", "failed", "stopped"]
STAGES: Final = ("waiting", "reading", "keeping", "roles", "done")
"""What a job does at the moment, in this order; `done` of STAGES is its progress."""

MOST_JOBS: Final = 200
Work = Callable[["Job"], str]


@dataclass
class Job:
    """One piece of slow work; `result` is the SHA-256 of the board it has made."""

    id: str
    what: str
    state: State = "waiting"
    stage: str = "waiting"
    result: str | None = None
    error: Exception | None = None
    started: float = field(default_factory=time.monotonic)
    ended: float | None = None
    _stop: threading.Event = field(default_factory=threading.Event)
    _ready: threading.Event = field(default_factory=threading.Event)

    def stop_asked(self) -> bool:
        """Whether somebody wants it stopped."""
        return self._stop.is_set()

    def go_to(self, stage: str) -> None:
        """Say what it does now.

        Raises
        ------
        ReadingStoppedError
            Somebody wants it stopped.
        """
        if self.stop_asked():
            raise ReadingStoppedError
        self.stage = stage

    def wait(self, seconds: float) -> bool:
        """Wait until it has ended, at most so long; whether it has."""
        return self._ready.wait(seconds)

    @property
    def seconds(self) -> float:
        """How long it has been there."""
        return (self.ended or time.monotonic()) - self.started

    @property
    def done_share(self) -> float:
        """Progress, 0 to 1."""
        return STAGES.index(self.stage) / (len(STAGES) - 1)


class JobPool:
    """Runs jobs, as many at once as there are processors; the others wait in line."""

    def __init__(self, workers: int | None = None) -> None:
        self.workers = workers or max(1, min(4, os.cpu_count() or 1))
        self._pool = ThreadPoolExecutor(self.workers, thread_name_prefix="job")
        self._jobs: OrderedDict[str, Job] = OrderedDict()
        self._lock = threading.Lock()

    def start(self, what: str, work: Work) -> Job:
        """Put a job in line.

        Raises
        ------
        ServiceError
            ``too-busy``: too many are waiting already.
        """
        job = Job(secrets.token_hex(8), what)
        with self._lock:
            waiting = sum(one.state == "waiting" for one in self._jobs.values())
            if waiting >= limits.MAX_WAITING_JOBS:
                raise ServiceError(
                    "too-busy", 503, f"{waiting} jobs are waiting already", hint="try again later"
                )
            self._jobs[job.id] = job
            ended = [one.id for one in self._jobs.values() if one.ended is not None]
            for old in ended[: max(0, len(self._jobs) - MOST_JOBS)]:
                del self._jobs[old]
        self._pool.submit(self._run, job, work)
        return job

    def _run(self, job: Job, work: Work) -> None:
        try:
            if job.stop_asked():
                raise ReadingStoppedError
            job.state = "running"
            job.result = work(job)
            job.stage = "done"
            job.state = "done"
        except ReadingStoppedError:
            job.state = "stopped"
        except NetgraphError as error:
            job.error, job.state = error, "failed"
        except Exception as error:  # noqa: BLE001 - told to whoever asks for the job
            job.error, job.state = error, "failed"
        finally:
            job.ended = time.monotonic()
            job._ready.set()

    def job(self, job_id: str) -> Job:
        """The job with this name.

        Raises
        ------
        ServiceError
            ``job-unknown``.
        """
        with self._lock:
            if job_id in self._jobs:
                return self._jobs[job_id]
        raise ServiceError("job-unknown", 404, f"no job {job_id[:80]!r} is known")

    def stop(self, job_id: str) -> Job:
        """Ask a job to stop; one that has ended stays as it is."""
        job = self.job(job_id)
        job._stop.set()
        return job

    def close(self) -> None:
        """Stop all jobs and wait for them."""
        with self._lock:
            for job in self._jobs.values():
                job._stop.set()
        self._pool.shutdown(wait=True, cancel_futures=True)
