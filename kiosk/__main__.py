"""``python -m kiosk`` is the ``holdpoint`` command."""

import sys

from kiosk.cli import main

sys.exit(main())
