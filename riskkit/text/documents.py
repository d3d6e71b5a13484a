"""All files of a register become documents; large registers are read by two processes at once."""

from __future__ import annotations

import marshal
import os
import threading
from array import array

from riskkit.text.positions import Document
from riskkit.text.snapshot import Snapshot
from riskkit.text.syntax import parse_file

WORTH_A_PROCESS = 1_500_000
"""Bytes from which a second process saves more time than it costs (measured: forking and handing over take 20 ms)."""

Files = list[tuple[str, bytes]]


def parse_snapshot(snapshot: Snapshot) -> tuple[Document, ...]:
    """Every file as a document, in the order of the snapshot."""
    files = list(snapshot.files.items())
    total = sum(len(content) for _, content in files)
    if total < WORTH_A_PROCESS or len(files) < 2 or not _may_fork():
        return tuple(parse_file(name, content) for name, content in files)
    middle = _middle(files, total)
    return _in_two_processes(files[:middle], files[middle:])


def _may_fork() -> bool:
    """Forking is for systems that can, machines with a second processor, and programs without threads."""
    usable = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else 1
    return hasattr(os, "fork") and usable > 1 and threading.active_count() == 1


def _middle(files: Files, total: int) -> int:
    """Where to cut so that both halves have about the same size; the first, which also collects, gets a little less."""
    seen = 0
    for place, (_, content) in enumerate(files):
        seen += len(content)
        if seen >= total * 0.48:
            return max(1, min(place + 1, len(files) - 1))
    return len(files) - 1


def _in_two_processes(mine: Files, others: Files) -> tuple[Document, ...]:
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        _serve(writing, others)
    os.close(writing)
    pieces: list[bytes] = []
    with os.fdopen(reading, "rb") as pipe:
        collector = threading.Thread(target=lambda: pieces.append(pipe.read()))
        collector.start()
        documents = [parse_file(name, content) for name, content in mine]
        collector.join()
    _, status = os.waitpid(child, 0)
    handed = pieces[0] if pieces else b""
    if status != 0 or not handed:  # it died on the way: nothing of it is believed
        return (*documents, *(parse_file(name, content) for name, content in others))
    for (name, content), (data, marks, heads, words) in zip(others, marshal.loads(handed), strict=True):
        if marks is None:
            documents.append(parse_file(name, content))
        else:
            positions: array[int] = array("Q")
            positions.frombytes(marks)
            documents.append(Document(name, data, marks=positions, heads=heads, words=words))
    return tuple(documents)


def _serve(writing: int, files: Files) -> None:
    """In the second process: hand over plain data and positions; a file with findings is read again by the first."""
    status = 1
    try:
        handed = []
        for name, content in files:
            document = parse_file(name, content)
            clean = not document.diagnostics and not document.lost
            handed.append(
                (document.data, document.marks.tobytes(), document.heads, document.words) if clean else (None,) * 4
            )
        with os.fdopen(writing, "wb") as pipe:
            pipe.write(marshal.dumps(handed))
        status = 0
    finally:
        os._exit(status)
