"""The shop's own numbers: friction and cutting force measured at the machine, and its materials.

They stand in a shop file, ``*.shop.toml``, and come before the numbers of the shipped table.
``load_shop`` reads one; a job then asks ``kiosk.shop.use`` what its numbers are.
"""

from __future__ import annotations

from kiosk.shop.cutting import CutTest
from kiosk.shop.friction import FrictionTest
from kiosk.shop.reader import Shop, load_shop
from kiosk.shop.repeats import Repeats
from kiosk.shop.use import Measured, Surroundings, with_shop_values

__all__ = [
    "CutTest",
    "FrictionTest",
    "Measured",
    "Repeats",
    "Shop",
    "Surroundings",
    "load_shop",
    "with_shop_values",
]
