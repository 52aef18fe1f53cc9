"""Imports ``kiosk.job`` before numpy, so that linear algebra keeps to one core here too."""

from __future__ import annotations

import kiosk.job  # noqa: F401
