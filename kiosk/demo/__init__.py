"""``holdpoint demo``: everything on this computer, with a simulated machine and no hardware.

It starts plant, guard and screen as processes of their own and speaks to them over their public
faces only.  The terminal is the machine: the kiosk has no such buttons and must not have them.
"""

from kiosk.demo.main import arguments, main

__all__ = ["arguments", "main"]
