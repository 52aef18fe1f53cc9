"""What every test's process needs before the first import of a numeric library."""

import signal

import kiosk.job  # noqa: F401  (keeps the linear algebra to one core, before numpy is loaded)

# A shell starts its background jobs with Ctrl-C ignored, and children inherit that.  The tests of
# Ctrl-C start processes that must hear it.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)
