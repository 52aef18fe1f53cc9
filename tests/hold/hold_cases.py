"""Short ways to write cups and loads in tests."""

import numpy as np

from kiosk.hold.minimum import Cases, Cups


def cups_of(cups):
    """``Cups`` of (x, y, r, friction)."""
    x, y, r, friction = cups
    return Cups(np.asarray(x, float), np.asarray(y, float), np.asarray(r, float), friction)


def cases_of(loads, any_n=0.0, factor=1.0):
    """``Cases`` of rows (x, y, z, fx, fy, fz, torque)."""
    table = np.array(loads, dtype=float).reshape(-1, 7)
    x, y, z, fx, fy, fz, torque = table.T
    size = np.full(len(table), float(any_n))
    return Cases(x, y, z, fx, fy, fz, size, torque, np.full(len(table), float(factor)))
