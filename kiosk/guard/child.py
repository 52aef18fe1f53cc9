"""One request to a planner process: started, fed, awaited with a deadline, ended when unwanted."""

from __future__ import annotations

import contextlib
import json
import subprocess
import sys
import threading
from typing import Any

COMMAND = (sys.executable, "-m", "kiosk.guard.planner_child")


class Child:
    """A planner process for one request.  ``end`` may be called from any thread."""

    def __init__(self) -> None:
        self._process: subprocess.Popen[str] | None = None
        self._ended = False
        self._lock = threading.Lock()

    def ask(self, request: dict[str, object], timeout_s: float) -> dict[str, Any] | str:
        """The answer's object, or words of why there is none.  Waits; not for the loop."""
        try:
            process = self._start()
        except OSError as trouble:
            return f"the planner could not be started: {trouble}"
        if process is None:
            return "the planner was not wanted any more"
        try:
            text, _ = process.communicate(json.dumps(request), timeout=timeout_s)
        except subprocess.TimeoutExpired:
            return f"the planner did not answer within {timeout_s:.0f} s"
        finally:
            self.end()
            process.wait()
        return _parsed(text, process.returncode)

    def _start(self) -> subprocess.Popen[str] | None:
        with self._lock:
            if self._ended:
                return None
            pipe = subprocess.PIPE
            self._process = subprocess.Popen(COMMAND, stdin=pipe, stdout=pipe, text=True)
            return self._process

    def end(self) -> None:
        """Kill the process when it still runs; a later ``ask`` does nothing."""
        with self._lock:
            self._ended = True
            if self._process is not None:
                with contextlib.suppress(OSError):
                    self._process.kill()


def _parsed(text: str, status: int) -> dict[str, Any] | str:
    try:
        answer = json.loads(text)
    except ValueError:
        return f"the planner ended with status {status} and without an answer"
    return answer if isinstance(answer, dict) else "the planner's answer is no object"
