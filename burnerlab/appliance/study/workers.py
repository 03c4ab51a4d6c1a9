"""Who computes the chunks of a study: processes of this machine that end with their parent, or a running cluster.

A cluster is an ordinary ``Executor``. Whoever waits for its results learns when the scheduler or all workers are lost,
and which piece of work its worker died of, instead of waiting for ever.
"""

from __future__ import annotations

import logging
import os
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from multiprocessing import connection, parent_process
from multiprocessing.context import BaseContext
from threading import Event, Lock, Thread
from time import monotonic
from typing import Any, TypeVar

from burnerlab.tables.problem import Problem, UserError

T = TypeVar("T")

LOOK_s = 1.0  # between looks at a cluster
PATIENCE_s = (
    20.0  # without any worker before a cluster counts as lost: a process that starts again needs a few
)
CONNECT_s = 10  # to reach a scheduler
ANSWER_s = 5.0  # a scheduler takes to a question; longer, and it is called silent
CLOSE_s = 5  # to take leave of a scheduler
UNREADABLE = "Error during deserialization"  # how the message of a scheduler that lacks a module begins
ORPHANED = 1  # exit status of a worker without a parent


class WorkerDiedError(RuntimeError):
    """A worker of a cluster died while it had this piece of work, as often as the cluster tries one."""


DEATHS = (WorkerDiedError, BrokenProcessPool)


def local_pool(workers: int | None, context: BaseContext | None = None) -> ProcessPoolExecutor:
    """Processes of this machine that end when their parent does, however it ends.

    workers : None takes one for each core; context : how processes start, as ``multiprocessing`` has it

    >>> with local_pool(1) as pool:
    ...     pool.submit(abs, -2).result()
    2
    """
    return ProcessPoolExecutor(workers or None, mp_context=context, initializer=end_with_parent)


def end_with_parent() -> None:
    """End this process when its parent does: a killed parent cannot say so, and its workers would wait for ever."""
    parent = parent_process()
    if parent is not None:
        Thread(target=_end_after, args=(parent.sentinel,), name="end with parent", daemon=True).start()


def _end_after(sentinel: int) -> None:
    """Waits for the end of a pipe, on Windows for a handle: the same on every system, and before any signal."""
    connection.wait([sentinel])
    os._exit(ORPHANED)


@contextmanager
def cluster_executor(address: str) -> Iterator[ClusterExecutor]:
    """The workers of the dask cluster whose scheduler has an address.

    Raises UserError where it cannot be had; its results raise UserError once the scheduler or all workers are lost.
    """
    try:
        from distributed import Client
    except ImportError:
        fix = 'pip install "burnerlab[sweep]", or leave --cluster out'
        raise UserError(Problem("a cluster needs dask and distributed", key="--cluster", fix=fix)) from None
    with _quiet("distributed"):
        try:
            client = Client(address, timeout=CONNECT_s)
        except (OSError, ValueError) as error:
            fix = "start the scheduler and its workers, check the address and the way to it, or leave --cluster out"
            why = f"cannot be reached ({str(error)[:100]})"
            raise UserError(Problem(why, address, "--cluster", fix=fix)) from None
        executor = ClusterExecutor(client, address)
        try:
            yield executor
        finally:
            executor.shutdown(wait=False)
            client.close(timeout=CLOSE_s)  # a frozen scheduler answers no farewell


@contextmanager
def _quiet(library: str) -> Iterator[None]:
    """Without the log of a library, which writes a lost connection as a traceback."""
    names = [name for name in logging.root.manager.loggerDict if name.split(".")[0] == library]
    loggers = [logging.getLogger(name) for name in names]
    before = [logger.level for logger in loggers]
    for logger in loggers:
        logger.setLevel(logging.CRITICAL + 1)
    try:
        yield
    finally:
        for logger, level in zip(loggers, before, strict=True):
            logger.setLevel(level)


class ClusterExecutor(Executor):
    """The executor of a dask client with futures of our own, which a lost cluster ends in words."""

    def __init__(self, client: Any, address: str) -> None:
        self._client, self._address = client, address
        self._inner = client.get_executor(pure=False)  # a piece that failed is computed anew, not looked up
        self._lock, self._closed = Lock(), Event()
        self._unfinished: set[Future[Any]] = set()
        self._answered_s = monotonic()  # when the scheduler last did
        self._count = 0  # of workers, by its last answer
        self._watch = Thread(target=self._look_after, name="look after the cluster", daemon=True)
        self._watch.start()

    def state(self) -> str:
        """What the cluster is known to do: silent, or at work with so many workers."""
        silent_s = monotonic() - self._answered_s
        if silent_s > ANSWER_s + 2 * LOOK_s:
            return (
                f"the scheduler {self._address} has not answered for {silent_s:.0f} s (stopped, or cut off?)"
            )
        return f"the scheduler answers, with {self._count} worker{'s' * (self._count != 1)}"

    def submit(self, fn: Callable[..., T], /, *args: Any, **kwargs: Any) -> Future[T]:
        future: Future[T] = Future()
        future.set_running_or_notify_cancel()
        with self._lock:
            self._unfinished.add(future)
        if self._client.status == "running":
            self._inner.submit(fn, *args, **kwargs).add_done_callback(
                lambda inner: self._pass_on(inner, future)
            )
        else:
            self._end(future, self._lost_scheduler())
        return future

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """Let go of the cluster, which goes on for others."""
        del cancel_futures
        self._closed.set()
        self._inner.shutdown(wait=wait)

    def _pass_on(self, inner: Future[Any], future: Future[Any]) -> None:
        from distributed.scheduler import KilledWorker

        if inner.cancelled():  # by the client, when its connection is lost
            self._end(future, self._lost_scheduler())
            return
        error = inner.exception()
        if isinstance(error, KilledWorker):
            error = WorkerDiedError("the worker of the cluster died of it")
        elif isinstance(error, ImportError) or str(error).startswith(UNREADABLE):
            what = "the cluster cannot import what it is to compute"
            fix = "install the same version of burnerlab for its scheduler and workers"
            error = UserError(Problem(what, self._address, "--cluster", fix=fix))
        if error is not None:
            self._end(future, error)
        elif self._release(future):
            future.set_result(inner.result())

    def _release(self, future: Future[Any]) -> bool:
        """Take a future off the list; True for the one thread that then finishes it."""
        with self._lock:
            is_first = future in self._unfinished
            self._unfinished.discard(future)
        return is_first

    def _end(self, future: Future[Any], error: BaseException) -> None:
        if self._release(future):
            future.set_exception(error)

    def _look_after(self) -> None:
        """End every future once the scheduler is lost, or no worker was seen for a while."""
        without_s = 0.0
        while not self._closed.wait(LOOK_s):
            error = None
            if self._client.status != "running":
                error = self._lost_scheduler()
            elif self._ask():
                without_s = 0.0 if self._count else without_s + LOOK_s
                if without_s >= PATIENCE_s:
                    error = self._lost_workers()
            if error is not None:
                with self._lock:
                    lost = list(self._unfinished)
                for future in lost:
                    self._end(future, error)

    def _ask(self) -> bool:
        """Ask the scheduler for its workers; False where it gives no answer, as when it is frozen."""
        try:
            known = self._client.sync(self._client.scheduler.identity, callback_timeout=ANSWER_s)
            self._count = len(known["workers"])
        except Exception:  # a timeout, or whatever a connection that is just closing raises
            return False
        self._answered_s = monotonic()
        return True

    def _lost_scheduler(self) -> UserError:
        return self._loss(
            "the connection to the scheduler of the cluster is lost", "start the scheduler again"
        )

    def _lost_workers(self) -> UserError:
        return self._loss(
            f"the cluster has had no worker for {PATIENCE_s:g} s", "start workers again with more memory"
        )

    def _loss(self, what: str, fix: str) -> UserError:
        rest = "then repeat the command, or without --cluster: what is finished is kept"
        return UserError(Problem(what, self._address, "--cluster", fix=f"{fix}, {rest}"))
