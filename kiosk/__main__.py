"""``python -m kiosk`` is the ``holdpoint`` command."""

import sys

if __name__ == "__main__":
    try:
        from kiosk.cli import main

        status = main()
    except KeyboardInterrupt:  # while the command was still being loaded
        status = 130
    sys.exit(status)
