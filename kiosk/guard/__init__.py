"""The guard: one headless process for one machine, which alone may give or withdraw contacts.

Fixed order, at least every 50 ms: gather -> step -> act -> publish -> record.  Threads bring the
newest facts in and take the newest outputs out; none of them decides anything.
"""
