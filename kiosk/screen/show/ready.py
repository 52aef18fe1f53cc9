"""Ready board: where we are, and which job is next."""

from __future__ import annotations

from kiosk.interlock.snapshot import JobShown, Snapshot
from kiosk.screen.show import numbers
from kiosk.screen.show.shown import Button, Desk, ReadyShown, Row
from kiosk.words import Words

PAGE_ALONE = 6  # job places on one page, each at least 25 mm high: three columns of two
PAGE_BESIDE = 4  # two columns, when refusals or bad files stand beside them
BAD_ROWS = 3  # one when a refusal stands above


def body(words: Words, snapshot: Snapshot, desk: Desk) -> ReadyShown:
    """STARTING, planning, or the list of jobs."""
    if snapshot.state == "STARTING":
        return _starting(words, snapshot)
    if snapshot.planning is not None:
        return ReadyShown(
            title=words.say("ready.planning", job=_named(snapshot, snapshot.planning)),
            detail=words.say("ready.planning_detail"),
            busy=True,
        )
    return _choose(words, snapshot, desk)


def _named(snapshot: Snapshot, asked: str) -> str:
    """A job as the list names it; the guard says its file."""
    offers = [job for job in snapshot.jobs if asked in (job.file, job.id)]
    return f"{offers[0].id}  {offers[0].title}".strip() if offers else asked


def _starting(words: Words, snapshot: Snapshot) -> ReadyShown:
    rows = [Row(_waiting(words, code), "wait") for code in snapshot.waiting_for]
    return ReadyShown(
        title=words.say("ready.starting"),
        rows=tuple(rows) or (Row(words.say("ready.starting_none"), "wait"),),
        busy=True,
    )


def _waiting(words: Words, code: str) -> str:
    """A fact by its code; ``gauge:NAME`` and the like name the device after the colon."""
    kind, _, name = code.partition(":")
    what = words.say(f"waiting.{kind}")
    return words.say("ready.starting_row", what=f"{what} {name}".strip())


def page_size(snapshot: Snapshot) -> int:
    """Job places on one page."""
    beside = snapshot.refusal or any(job.error is not None for job in snapshot.jobs)
    return PAGE_BESIDE if beside else PAGE_ALONE


def pages(snapshot: Snapshot) -> int:
    """Pages of jobs that can be chosen."""
    good = sum(1 for job in snapshot.jobs if job.error is None)
    return max(1, -(-good // page_size(snapshot)))


def _choose(words: Words, snapshot: Snapshot, desk: Desk) -> ReadyShown:
    good = [job for job in snapshot.jobs if job.error is None]
    bad = [job for job in snapshot.jobs if job.error is not None]
    page = desk.page % pages(snapshot)
    size = page_size(snapshot)
    shown = good[page * size : (page + 1) * size]
    none = not snapshot.jobs
    return ReadyShown(
        title=words.say("ready.none") if none else "",
        detail=words.say("ready.none_detail") if none else "",
        jobs=tuple(_job(words, snapshot, job) for job in shown),
        rows=_bad_rows(words, bad, 1 if snapshot.refusal else BAD_ROWS),
        refused=words.say("ready.refused") if snapshot.refusal else "",
        refused_text=snapshot.refusal or "",
        refused_do=words.say("ready.refused_do") if snapshot.refusal else "",
    )


def _job(words: Words, snapshot: Snapshot, job: JobShown) -> Row:
    revision = numbers.tied(words.say("ready.revision", revision=job.revision or "-"))
    revision = revision if job.revision else ""
    button = Button(
        words=job.id,
        detail="\n".join(part for part in (job.title, revision) if part),
        command="select_job",
        arguments=(("job", job.file),),
        enabled="select_job" in snapshot.allowed,
    )
    return Row(job.id, button=button)


def _bad_rows(words: Words, bad: list[JobShown], most: int) -> tuple[Row, ...]:
    """Files that cannot be used, with the reason; the last row counts the rest."""
    if len(bad) > most:
        rest = words.say("ready.bad_more", count=len(bad) - most)
        return (*(_bad(words, job) for job in bad[:most]), Row(rest, ""))
    return tuple(_bad(words, job) for job in bad)


def _bad(words: Words, job: JobShown) -> Row:
    return Row(job.file, "bad", _reason(words, job))


def _reason(words: Words, job: JobShown) -> str:
    """Why it cannot be used; the file's name is not said twice."""
    error = job.error or ""
    head, _, rest = error.removeprefix(f"{job.file}:").partition(":")
    if error.startswith(f"{job.file}:") and head.isdigit():
        return words.say("ready.bad_line", line=head, text=rest.strip())
    return error.removeprefix(f"{job.file}:").strip()


def buttons(words: Words, snapshot: Snapshot, desk: Desk) -> tuple[Button, ...]:
    """The next page, where there is more than one."""
    count = pages(snapshot)
    if snapshot.state == "STARTING" or snapshot.planning is not None or count < 2:
        return ()
    page = words.say("ready.page", page=desk.page % count + 1, pages=count)
    return (Button(words.say("ready.more"), page, opens="page"),)
