"""The connections a simulated server has open, and how it lets go of them."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from contextlib import contextmanager


class Connections:
    """Open connections with the task that serves each."""

    def __init__(self) -> None:
        self._served: dict[asyncio.Task[None], asyncio.StreamWriter] = {}

    @contextmanager
    def serving(self, writer: asyncio.StreamWriter) -> Iterator[None]:
        """Count a connection as open while the task that calls this serves it."""
        task = asyncio.current_task()
        assert task is not None
        self._served[task] = writer
        try:
            yield
        finally:
            del self._served[task]
            writer.close()

    def drop(self) -> None:
        """Break every connection off."""
        for writer in self._served.values():
            writer.transport.abort()

    async def end(self, limit_s: float = 1.0) -> None:
        """Break every connection off and wait until its task has ended."""
        self.drop()
        if self._served:
            await asyncio.wait(list(self._served), timeout=limit_s)
