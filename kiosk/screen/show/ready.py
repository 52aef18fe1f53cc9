"""Ready board: where we are, and which job is next."""

from __future__ import annotations

import re

from kiosk.interlock.snapshot import JobShown, Snapshot
from kiosk.screen.show import cautions, cycles, numbers, people
from kiosk.screen.show.shown import Button, Desk, Note, Overlay, ReadyShown, Row
from kiosk.words import Words

PAGE_ALONE = 6  # job places on one page, each at least 25 mm high: three columns of two
PAGE_BESIDE = 4  # two columns, when refusals or bad files stand beside them
BAD_PLACES = 2  # beside the jobs; under a refusal one among the jobs
BAD_PAGE = 3  # bad files with their whole reasons on one page of the sheet
OLDER = 3  # older revisions named


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
    if snapshot.refusal and bad(snapshot):
        return PAGE_BESIDE - 1
    return PAGE_BESIDE if snapshot.refusal or bad(snapshot) else PAGE_ALONE


def pages(snapshot: Snapshot) -> int:
    """Pages of jobs that can be chosen."""
    return max(1, -(-len(offered(snapshot)) // page_size(snapshot)))


def offered(snapshot: Snapshot) -> list[JobShown]:
    """Jobs that can be chosen, by id: PL-2 before PL-10, whatever their files are called."""
    good = [job for job in snapshot.jobs if job.error is None]
    return sorted(good, key=lambda job: _by_numbers(job.id))


def _by_numbers(ident: str) -> list[str | int]:
    parts = re.split("([0-9]+)", ident.casefold())
    return [int(part) if at % 2 else part for at, part in enumerate(parts)]


def older(snapshot: Snapshot) -> list[JobShown]:
    """Files that only stand back behind a newer revision of the same job: nothing to mend."""
    ids = {job.id for job in offered(snapshot)}
    return [job for job in snapshot.jobs if job.error is not None and job.id in ids]


def bad(snapshot: Snapshot) -> list[JobShown]:
    """Files that cannot be used until somebody mends them."""
    behind = older(snapshot)
    return [job for job in snapshot.jobs if job.error is not None and job not in behind]


def chooses(snapshot: Snapshot) -> bool:
    """True while a job may be chosen at this screen."""
    here = snapshot.state == "SELECT JOB" and snapshot.planning is None
    return here and "select_job" in snapshot.allowed


def scanned(words: Words, snapshot: Snapshot, code: str) -> tuple[str, JobShown | None]:
    """What to say of a scanned id, and the job on offer that it names."""
    found = _of_id(offered(snapshot), code)
    if found is not None:
        return words.say("ready.scanned", job=found.id), found
    name = "ready.scanned_bad" if _of_id(list(snapshot.jobs), code) else "ready.scanned_unknown"
    return words.say(name, job=code), None


def _of_id(jobs: list[JobShown], code: str) -> JobShown | None:
    """The job with exactly this id; else the only one that differs in capitals alone."""
    exact = [job for job in jobs if job.id == code]
    alike = [job for job in jobs if job.id.casefold() == code.casefold()]
    return exact[0] if exact else alike[0] if len(alike) == 1 else None


def note(words: Words, snapshot: Snapshot) -> Note | None:
    """What to do here, and which files stand back."""
    if not chooses(snapshot) or not offered(snapshot):
        return None
    behind = older(snapshot)
    if not behind:
        return Note(words.say("ready.choose"), words.say("ready.choose_do"))
    names = [numbers.tied(f"{job.id} {_revision(words, job)}".strip()) for job in behind[:OLDER]]
    rest = len(behind) - OLDER
    name = "ready.older_more" if rest > 0 else "ready.older"
    text = words.say(name, jobs=", ".join(names), count=rest)
    return Note(words.say("ready.choose"), text)


def _choose(words: Words, snapshot: Snapshot, desk: Desk) -> ReadyShown:
    good, unusable = offered(snapshot), _bad_places(words, snapshot)
    page = desk.page % pages(snapshot)
    size = page_size(snapshot)
    shown = good[page * size : (page + 1) * size]
    jobs = tuple(_job(words, snapshot, job) for job in shown)
    none = not snapshot.jobs
    return ReadyShown(
        title=words.say("ready.none") if none else "",
        detail=words.say("ready.none_detail") if none else "",
        jobs=(*jobs, *unusable) if snapshot.refusal else jobs,
        unusable=() if snapshot.refusal else unusable,
        refused=_refused(words, snapshot) if snapshot.refusal else "",
        refused_text=snapshot.refusal or "",
        refused_do=words.say("ready.refused_do") if snapshot.refusal else "",
    )


def _refused(words: Words, snapshot: Snapshot) -> str:
    """Which job came to nothing, by its id, or its file's name where it is no longer on offer."""
    file = snapshot.details.get("refused_job")
    if not isinstance(file, str):
        return words.say("ready.refused")
    job = next((job.id for job in snapshot.jobs if job.file == file and job.id), file)
    return words.say("ready.refused_job", job=job)


def select(job: JobShown, words: str = "", detail: str = "", enabled: bool = True) -> Button:
    """The touch place that chooses a job."""
    return Button(
        words, detail, command="select_job", arguments=(("job", job.file),), enabled=enabled
    )


def _revision(words: Words, job: JobShown) -> str:
    if not job.revision:
        return ""
    return numbers.tied(words.say("ready.revision", revision=job.revision))


def _job(words: Words, snapshot: Snapshot, job: JobShown) -> Row:
    detail = "\n".join(part for part in (job.title, _revision(words, job)) if part)
    return Row(job.id, button=select(job, job.id, detail, "select_job" in snapshot.allowed))


def _bad_places(words: Words, snapshot: Snapshot) -> tuple[Row, ...]:
    """Places to touch for the files that cannot be used; the last one counts the rest.

    Among the jobs there is no room for a reason.
    """
    files = bad(snapshot)
    told = files if len(files) <= BAD_PLACES else files[: BAD_PLACES - 1]
    told = [] if snapshot.refusal else told
    rows = [_bad_place(job.file, _reason(words, job)) for job in told]
    rest = len(files) - len(told)
    if rest:
        name = "ready.bad_more" if told else "ready.bad_all" if rest > 1 else "ready.bad_one"
        rows.append(_bad_place(words.say(name, count=rest), words.say("ready.bad_touch")))
    return tuple(rows)


def _bad_place(said: str, detail: str) -> Row:
    return Row(said, "bad", button=Button(said, detail, opens="unusable"))


def unusable(words: Words, snapshot: Snapshot, desk: Desk, back: Button) -> Overlay:
    """The sheet of files that cannot be used: each with its whole reason, page by page."""
    files = bad(snapshot)
    count = max(1, -(-len(files) // BAD_PAGE))
    page = desk.page % count
    told = files[page * BAD_PAGE : (page + 1) * BAD_PAGE]
    said = words.say("alarms.page", page=page + 1, pages=count)
    return Overlay(
        kind="unusable",
        title=words.say("ready.bad_title" if files else "ready.bad_none"),
        lines=tuple((job.file, _reason(words, job)) for job in told),
        buttons=(Button(words.say("alarms.more"), said, opens="page"),) if count > 1 else (),
        back=back,
    )


def _reason(words: Words, job: JobShown) -> str:
    """Why it cannot be used; the file's name is not said twice."""
    error = job.error or ""
    head, _, rest = error.removeprefix(f"{job.file}:").partition(":")
    if error.startswith(f"{job.file}:") and head.isdigit():
        return words.say("ready.bad_line", line=head, text=rest.strip())
    return error.removeprefix(f"{job.file}:").strip()


def buttons(words: Words, snapshot: Snapshot, desk: Desk) -> tuple[Button, ...]:
    """Past cycles, signing on while nobody is, cautions to read, and the next page of several."""
    count = pages(snapshot)
    if snapshot.state == "STARTING" or snapshot.planning is not None:
        return ()
    unsigned = people.set_up(snapshot) and snapshot.role is None
    first: tuple[Button, ...] = (cycles.button(words),) if desk.has_book else ()
    first += (people.button(words, snapshot),) if unsigned else ()
    first += (cautions.button(words, snapshot),) if cautions.wanted(snapshot) else ()
    if count < 2:
        return first
    page = words.say("ready.page", page=desk.page % count + 1, pages=count)
    return (*first, Button(words.say("ready.more"), page, opens="page"))
