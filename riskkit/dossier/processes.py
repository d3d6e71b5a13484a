"""Jobs in worker processes, one job per process life, so that memory stays flat however many there are.

A process ends after its job and gives all its memory back. There are no threads: the layout engine is
loaded before forking, and forking a program with threads is asking for trouble.
"""

from __future__ import annotations

import multiprocessing
import multiprocessing.connection
import traceback
from collections.abc import Callable, Sequence
from typing import Any, TypeVar

Result = TypeVar("Result")


class WorkerFailed(RuntimeError):
    """A job ended with an error; the message is its traceback."""


def run_all(
    job: Callable[..., Result],
    arguments: Sequence[tuple[Any, ...]],
    workers: int,
    on_done: Callable[[int], None] | None = None,
) -> list[Result]:
    """Run one job per tuple of arguments, at most `workers` at a time; results in the order of the arguments.

    Raises:
        WorkerFailed: where a job raised or its process died.
    """
    methods = multiprocessing.get_all_start_methods()
    context = multiprocessing.get_context("fork" if "fork" in methods else "spawn")
    results: dict[int, Result] = {}
    running: dict[Any, tuple[int, Any]] = {}
    waiting = list(enumerate(arguments))[::-1]
    try:
        while waiting or running:
            while waiting and len(running) < workers:
                number, given = waiting.pop()
                ours, theirs = context.Pipe(duplex=False)
                process = context.Process(target=_work, args=(job, given, theirs))  # type: ignore[attr-defined]
                process.start()
                theirs.close()
                running[ours] = (number, process)
            for pipe in multiprocessing.connection.wait(list(running)):
                number, process = running.pop(pipe)
                results[number] = _received(pipe, process)
                if on_done is not None:
                    on_done(len(results))
    finally:
        for pipe, (_, process) in running.items():
            process.kill()
            process.join()
            pipe.close()
    return [results[number] for number in range(len(arguments))]


def _received(pipe: Any, process: Any) -> Any:
    try:
        done, answer = pipe.recv()
    except EOFError:
        process.join()
        raise WorkerFailed(f"a printing process ended early with status {process.exitcode}") from None
    finally:
        pipe.close()
    process.join()
    if not done:
        raise WorkerFailed(answer)
    return answer


def _work(job: Callable[..., Any], given: tuple[Any, ...], pipe: Any) -> None:
    try:
        pipe.send((True, job(*given)))
    except KeyboardInterrupt:
        raise
    except BaseException:
        pipe.send((False, traceback.format_exc()))
