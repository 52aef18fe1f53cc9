"""A copy of what the quick tests of the decision need, and pytest on it."""

from __future__ import annotations

import compileall
import hashlib
import os
import shutil
import sys
import tempfile
from collections.abc import Iterable
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
SCRATCH = tempfile.TemporaryDirectory(prefix="mutants-")
COPY = Path(SCRATCH.name).resolve()


def take_copy() -> None:
    """What the tests need, in a folder of its own, compiled once."""
    for name in ("kiosk", "tests/interlock", "docs"):
        shutil.copytree(ROOT / name, COPY / name, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", COPY)
    compileall.compile_dir(str(COPY / "kiosk"), quiet=2)


def warm_up() -> None:
    """Import everything heavy once, so that each child starts at once; nothing of ours.

    Of drawn examples one that fails is enough: no smaller one is looked for.
    """
    import hypothesis.stateful  # noqa: F401
    import numpy as np  # noqa: F401
    import pytest  # noqa: F401
    import scipy.stats  # noqa: F401
    from hypothesis import Phase, settings

    phases = (Phase.explicit, Phase.generate)
    settings.register_profile("once", deadline=None, database=None, phases=phases)
    settings.load_profile("once")
    os.chdir(COPY)
    sys.path[:] = [
        str(COPY),
        str(COPY / "tests" / "interlock"),
        *(p for p in sys.path if Path(p or ".").resolve() not in (ROOT, HERE)),
    ]
    assert not any(name.startswith("kiosk.interlock") for name in sys.modules)


def pytest_run(targets: list[str], *plugins: object) -> int:
    """The exit status of pytest on these.  Why a test fails is not told: that takes its time."""
    import pytest

    options = ["-x", "-q", "-p", "no:cacheprovider", "-p", "no:randomly", "--rootdir", str(COPY)]
    options += ["--assert=plain", "--tb=native"]
    return int(pytest.main([*options, *targets], plugins=list(plugins)))


def files_of(names: Iterable[str]) -> list[str]:
    """The files of tests by name."""
    return [str(COPY / f"tests/interlock/test_{name}.py") for name in names]


def print_of_copy(files: list[str]) -> str:
    """A fingerprint of everything that was copied, and of which tests are asked for."""
    digest = hashlib.sha256("\n".join(Path(file).name for file in files).encode())
    for path in sorted(path for path in COPY.rglob("*") if path.suffix in (".py", ".md", ".toml")):
        digest.update(str(path.relative_to(COPY)).encode() + path.read_bytes())
    return digest.hexdigest()
