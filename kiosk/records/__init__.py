"""The log of one machine: one SQLite file that says what was asked, proved, lost and done.

One thread of the guard writes it (``writer``); everyone else reads it with ``mode=ro``
(``review``, ``verify``, ``export``).  Nothing here decides anything about the machine.
"""
