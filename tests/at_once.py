"""Programs that use one record at the same time: each a process of its own, forked from one that has imported all."""

import os
import random
import signal
import sqlite3
import sys
import time
from contextlib import closing, contextmanager
from multiprocessing import get_context
from types import ModuleType

from filled import draft, jpeg

from measure.record.entries import Kind, Side, Site, What
from measure.record.store import open_record

FORKS = get_context("forkserver")
FORKS.set_forkserver_preload(["at_once"])

WAIT_S = 120


def at_once(work, *arguments):
    """Call a function of this module in several processes at the same moment.

    Parameters
    ----------
    work : callable
        Takes a function that waits for the others, and one of the arguments.
    *arguments
        One a process.

    Returns
    -------
    list
        What they returned, or the exceptions' classes and sentences, in the order of the arguments.
    """
    start, answers = FORKS.Barrier(len(arguments)), FORKS.Queue()
    programs = [
        FORKS.Process(target=_run, args=(work, start, answers, number, argument))
        for number, argument in enumerate(arguments)
    ]
    with _no_main():
        for program in programs:
            program.start()
    told = dict(answers.get(timeout=WAIT_S) for _ in programs)
    for program in programs:
        program.join()
    return [told[number] for number in range(len(arguments))]


@contextmanager
def _no_main():
    """Hide the main module: a page's tester leaves the page there, and each program would run it first."""
    main = sys.modules["__main__"]
    sys.modules["__main__"] = ModuleType("__main__")
    try:
        yield
    finally:
        sys.modules["__main__"] = main


def _run(work, start, answers, number, argument):
    try:
        answers.put((number, work(lambda: start.wait(WAIT_S), argument)))
    except Exception as error:  # noqa: BLE001 - told to the test
        answers.put((number, (type(error).__name__, str(error))))


def opens(wait, where):
    """Open the record and count its people."""
    wait()
    with closing(open_record(where)) as record:
        return len(record.people())


def saves(wait, argument):
    """Save five visits to the first wound, whose page was drawn before anyone saved; return what was told of others."""
    where, by = argument
    with closing(open_record(where)) as record:
        wound = record.wounds()[0]
        photo = record.put_photo(jpeg(), "photo.jpg")
        seen = len(record.visits(wound.id))
        wait()
        saved = [record.save_visit(draft(wound, photo, by=by), seen=seen) for _ in range(5)]
    return [(each.visit.id, [other.id for other in each.others]) for each in saved]


def opens_wounds(wait, argument):
    """Open five wounds of a person who is new; return their numbers."""
    where, by = argument
    with closing(open_record(where)) as record:
        wait()
        place = Site(Side.LEFT, "heel")
        return [record.open_wound("P1", place, Kind.PRESSURE, by).number for _ in range(5)]


def marks(wait, argument):
    """Mark the first wound as the page shows it."""
    where, by, what, seen = argument
    with closing(open_record(where)) as record:
        wound = record.wounds()[0]
        wait()
        return record.mark(wound.id, What(what), by, seen=seen).status.value


def saves_until_killed(_, argument):
    """Let a fork save visits and kill it, time and again; return what each fork noted and what was found after it.

    A fork of a program that has saved before needs no time to warm up, so that kills come while it saves.

    Returns
    -------
    list of tuple
        For each kill: (number of the visit, number in its note) of those whose saving had returned, how many visits the
        record then holds, what SQLite's check of the file says.
    """
    where, kills, seed = argument
    rng = random.Random(seed)
    with closing(open_record(where)) as record:
        wound = record.wounds()[0]
        record.save_visit(draft(wound, record.put_photo(jpeg(), "photo.jpg"), note="0"))
        return [_killed(record, wound, 1000 * (1 + kill), rng.uniform(0, 1)) for kill in range(kills)]


def _killed(record, wound, first, after):
    """Kill a fork when it has saved a visit, and has then gone on for a part of the time that this took."""
    record.close()  # a connection must not be used on both sides of a fork
    reading, writing = os.pipe()
    began = time.monotonic()
    fork = os.fork()
    if not fork:
        _save_on(record, wound, first, writing)
    os.close(writing)
    with os.fdopen(reading, "rb") as notes:
        noted = [notes.readline()]
        time.sleep(after * (time.monotonic() - began))
        os.kill(fork, signal.SIGKILL)
        os.waitpid(fork, 0)
        noted += notes.readlines()
    with closing(sqlite3.connect(record.place.file)) as database:
        check = database.execute("PRAGMA integrity_check").fetchall()
        ((count,),) = database.execute("SELECT count(*) FROM visit").fetchall()
    return [tuple(map(int, line.split())) for line in noted], count, check


def _save_on(record, wound, number, notes):
    """Note each visit once its saving has returned; what lies in a pipe outlives who wrote it."""
    try:
        while True:
            photo = record.put_photo(jpeg(number), "photo.jpg")
            visit = record.save_visit(draft(wound, photo, number % 30, note=str(number))).visit
            os.write(notes, f"{visit.id} {number}\n".encode())
            number += 1
    finally:
        os._exit(1)  # the rest of the program is the other side's
