"""The decision: pure, standard library only, no clock, file, socket or thread.

``step(memory, facts) -> (memory, decision)`` is the only way in.  Time and everything known
about the world come in as ``Facts``; outputs, the snapshot, replies and notes go out as
``Decision``.  Absent, stale, doubtful and unreadable all read as "no".
"""
