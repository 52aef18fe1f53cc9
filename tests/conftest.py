"""What every test's process needs before the first import of a numeric library."""

import os
import signal
import sys
import tempfile
from pathlib import Path

import pytest
from hypothesis import settings

import kiosk.job  # noqa: F401  (keeps the linear algebra to one core, before numpy is loaded)

# What is the user's own, and what another run holds, is never touched.
_DATA_HOME = tempfile.TemporaryDirectory(prefix="holdpoint-tests-")
os.environ["XDG_DATA_HOME"] = _DATA_HOME.name

# Every process that a test starts reads some hundred modules.  Where nothing may be written beside
# the sources, what is compiled is kept for this run.
if os.environ.pop("PYTHONDONTWRITEBYTECODE", None):
    sys.dont_write_bytecode = False
    _COMPILED = tempfile.TemporaryDirectory(prefix="holdpoint-compiled-")
    os.environ["PYTHONPYCACHEPREFIX"] = sys.pycache_prefix = _COMPILED.name

# A shell starts its background jobs with Ctrl-C ignored, and children inherit that.  The tests of
# Ctrl-C start processes that must hear it.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)

# A slow computer is no failure: no test asks how long one example took.  The quick suite draws the
# same examples each time, the long runs draw others.
settings.register_profile("quick", deadline=None, derandomize=True)
settings.register_profile("long", deadline=None, derandomize=False)


def pytest_configure(config: pytest.Config) -> None:
    """Say which examples are drawn, and let each worker of a whole run begin with other tests: it
    finds compiled what others read."""
    settings.load_profile("quick" if config.option.markexpr == "not long" else "long")
    here = Path(__file__).parent
    worker = os.environ.get("PYTEST_XDIST_WORKER", "")
    if worker and [Path(arg).resolve() for arg in config.args] == [here]:
        parts = sorted(str(part) for part in here.iterdir() if part.name.isidentifier())
        parts += sorted(str(part) for part in here.glob("test_*.py"))
        workers = int(os.environ["PYTEST_XDIST_WORKER_COUNT"])
        first = int(worker.removeprefix("gw")) * len(parts) // workers
        config.args = parts[first:] + parts[:first]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Workers must agree on the order."""
    items.sort(key=lambda item: str(item.path))
