"""Two threads that wait for planner processes: one makes plans, one lists the jobs folder."""

from __future__ import annotations

import json
import threading
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from kiosk.guard.child import Child
from kiosk.guard.gather import job_offers, planner_answer
from kiosk.guard.looker import Looker
from kiosk.guard.shelf import Shelf
from kiosk.guard.wire import PLAN_CAP
from kiosk.guard.worker import Shared, Worker, mark_of
from kiosk.interlock.decision import PlanRequest
from kiosk.interlock.facts import JobOffer, PlannerAnswer
from kiosk.job import plan as plans
from kiosk.limits import PLANNER_S
from kiosk.places import shop_file_if_any
from kiosk.site import Site


class Lister(Looker):
    """``jobs`` is what the folder offers; looked at again when a file in it changed."""

    def __init__(self, folder: Path, shared: Shared) -> None:
        super().__init__("jobs folder", shared)
        self.jobs: tuple[JobOffer, ...] = ()
        self.folder = folder

    def mark(self) -> object:
        """The marks of all its files."""
        return _marks(self.folder)

    def request(self) -> dict[str, object]:
        """The list of the folder."""
        return {"do": "list", "folder": str(self.folder)}

    def keep(self, answer: dict[str, Any] | None) -> None:
        """The offers."""
        self.jobs = job_offers(() if answer is None else answer["jobs"])
        self.shared.bell.ring()

    def path_of(self, job: str) -> Path | None:
        """The file of that name, else the only good one of that id; None when not offered."""
        jobs = self.jobs
        by_id = [offer for offer in jobs if offer.id == job and offer.error is None]
        found = [offer for offer in jobs if offer.file == job] or by_id
        if len(found) != 1 or found[0].error is not None:
            return None
        return self.folder / found[0].file


def _marks(folder: Path) -> object:
    """Something that differs when a file of the folder was changed, came or went; None without a
    folder.
    """
    try:
        return {file.name: mark_of(file) for file in folder.iterdir()}
    except OSError:
        return None


@dataclass(frozen=True, slots=True)
class OwnFiles:
    """Where the shop's own numbers are: looked for again at each plan."""

    data: Path | None = None
    shop: str | None = None
    materials: str | None = None

    def named(self) -> dict[str, str | None]:
        """Paths for the planner's process; None for a file that nobody named and is not there."""
        path = None if self.data is None else shop_file_if_any(self.data, self.shop)
        materials = (
            None if self.materials is None else str(Path(self.materials).expanduser().resolve())
        )
        return {"shop": None if path is None else str(path), "materials": materials}


class Planner(Worker):
    """Makes one plan at a time; the latest request wins and ends the one before."""

    def __init__(
        self,
        site: Site,
        lister: Lister,
        shelf: Shelf,
        shared: Shared,
        own: OwnFiles = OwnFiles(),
    ) -> None:
        super().__init__("planner", shared)
        self._own = own
        self._site = site
        self._lister = lister
        self._shelf = shelf
        self._lock = threading.Lock()
        self._asked = threading.Event()
        self._request: PlanRequest | None = None
        self._answer: PlannerAnswer | None = None
        self._child = Child()

    # What the loop calls; each returns at once.
    def ask(self, request: PlanRequest) -> None:
        """Make this plan instead of any other."""
        with self._lock:
            self._request = request
            self._answer = None
            self._child.end()
        self._asked.set()

    def drop(self) -> None:
        """End what runs; its answer is not wanted."""
        with self._lock:
            self._request = None
            self._answer = None
            self._child.end()

    def answer(self) -> PlannerAnswer | None:
        """The newest answer, once."""
        with self._lock:
            answer, self._answer = self._answer, None
            return answer

    def stop(self) -> None:
        """Ask the thread to end, and its child."""
        super().stop()
        self.drop()
        self._asked.set()

    # The thread.
    def work(self) -> None:
        """Plan what is asked until stopped."""
        while not self.stopping.is_set():
            self._asked.wait()
            self._asked.clear()
            with self._lock:
                request, self._child = self._request, Child()
                child = self._child
            if request is not None:
                self._give(request, self._made(request, child))

    def _made(self, request: PlanRequest, child: Child) -> PlannerAnswer:
        path = self._lister.path_of(request.job)
        if path is None:
            return PlannerAnswer(request.command_id, None, f"{request.job} is not offered.")
        files = {"job": str(path), "site": str(self._site.file), **self._own.named()}
        answer = child.ask({"do": "plan", **files}, PLANNER_S)
        if isinstance(answer, str):
            return PlannerAnswer(request.command_id, None, f"No plan: {answer}.")
        return self._read(request, answer)

    def _read(self, request: PlanRequest, answer: dict[str, Any]) -> PlannerAnswer:
        if "refused" in answer:
            return PlannerAnswer(request.command_id, None, str(answer["refused"]))
        try:
            text = json.dumps(answer["plan"], separators=(",", ":"))
            plan = plans.from_json(text)
        except (ValueError, KeyError, TypeError) as damage:
            return PlannerAnswer(request.command_id, None, f"The plan is damaged: {damage!r}.")
        if len(text) > PLAN_CAP:
            return PlannerAnswer(request.command_id, None, "The drawing or program is too large.")
        self._shelf.put(plan.digest, text)
        return planner_answer(request.command_id, plan, self._site)

    def _give(self, request: PlanRequest, answer: PlannerAnswer) -> None:
        with self._lock:
            if self._request == request:
                self._request, self._answer = None, answer
        self.shared.bell.ring()
