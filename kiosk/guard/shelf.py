"""Plans by digest, as their JSON: what get_plan hands out and the log keeps."""

from __future__ import annotations

import threading
from collections import OrderedDict

PLANS_KEPT = 4


class Shelf:
    """The last few plans, safe from any thread."""

    def __init__(self) -> None:
        self._plans: OrderedDict[str, str] = OrderedDict()
        self._lock = threading.Lock()

    def put(self, digest: str, plan_json: str) -> None:
        """Keep a plan; the oldest beyond the last few goes."""
        with self._lock:
            self._plans[digest] = plan_json
            self._plans.move_to_end(digest)
            while len(self._plans) > PLANS_KEPT:
                self._plans.popitem(last=False)

    def get(self, digest: str | None) -> str | None:
        """The plan's JSON, or None when it is not kept."""
        with self._lock:
            return None if digest is None else self._plans.get(digest)
