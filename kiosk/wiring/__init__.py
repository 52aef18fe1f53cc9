"""``holdpoint wiring``: connects a gauge and the contacts of a machine, beside the machine.

It may know the site file and the hardware.  It knows no plan and no state, and gives no permit.
"""
