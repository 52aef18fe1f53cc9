"""``holdpoint measure``: the shop's own friction and cutting force, from tests a person makes.

Walks through a test, shows every result, and keeps what may be kept in the shop file.  Moves
nothing on the machine and reads no gauge: the person reads, the program reckons.
"""
