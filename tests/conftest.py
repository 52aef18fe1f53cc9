"""What every test's process needs before the first import of a numeric library."""

import signal

from hypothesis import settings

import kiosk.job  # noqa: F401  (keeps the linear algebra to one core, before numpy is loaded)

# A shell starts its background jobs with Ctrl-C ignored, and children inherit that.  The tests of
# Ctrl-C start processes that must hear it.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)

# A slow computer is no failure: no test asks how long one example took.
settings.register_profile("no clock", deadline=None)
settings.load_profile("no clock")
