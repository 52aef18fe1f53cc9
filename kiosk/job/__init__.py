"""Jobs: from the files that people write to a Plan.

Planning shares a small computer with the guard, whose step may not wait for it: linear algebra
here keeps to one core.  (The libraries read these names once, when they are first imported.)
"""

from __future__ import annotations

import os

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")
