"""Numbers of the decision that no shop may set, beside those in ``kiosk.limits``.

Least counts of samples stand beside a delay of ``kiosk.limits``: both must be full, so that a
gauge that slows down makes a judgement later, never sooner.  Counts without a source named are
our own choice (common practice, no source).
"""

from __future__ import annotations

START_SAMPLES = 10  # beside the 3 s at the start level
SETTLE_SAMPLES = 10  # beside settle_s
VENTED_SAMPLES = 10  # beside the 3 s of vented
FALL_SAMPLES = 3  # beside the 250 ms of the fast fall
ROBUST_SAMPLES = 6  # from here on one wild sample, first or last, does not move the median slope
SOUND_S = 3.0  # before the proof: for how long gauges must be good, plausible and agree
APART_SAMPLES = 3  # beside the delays of two gauges that disagree

TINY_S = 1e-6  # so that 0.15 s in floats is 0.15 s
FUTURE_S = 0.1  # a sample dated further ahead than this is doubted
PLAUSIBLE_KPA = 2.0  # a gauge may read this much below 0 and above local air
JUMP_KPA, JUMP_S, JUMPS, JUMPS_WITHIN_S = 30.0, 0.1, 2, 1.0  # electrical noise
NEVER_THINNER_S = 0.01  # samples nearer than this add nothing to a slope

HOLD_ANSWER_S = 1.0  # for the machine to come to rest after feed hold was asked for
LOOP_LATE_S = 0.5  # a step later than this is no check of anything
LINK_BACK_S = 5.0  # off-delay of the lost-link alarm
LEAK_RATIO = 2.0  # of a zone in a leak test, to its baseline
FILL_KPA, PULL_RATIO, SLOW_PULLS = 60.0, 1.5, 3  # pull-down: to where, of its baseline, of five
IDLE_S, IDLE_KPA = 30.0, 10.0  # pump off and valve closed, and still a vacuum
VENTING_S, ZERO_S, ZERO_SAMPLES = 10.0, 10.0, 10  # before the zero is looked at, and for how long
ZERO_KPA, ZERO_OFF_KPA, ZERO_STILL_KPA_PER_S = 2.0, 5.0, 0.05
NOISE_KPA, NOISE_SAMPLES, SCATTER_S = 3.0, 20, 5.0  # scatter about the trend
CALIBRATION_SOON_D, CALIBRATION_OVER_D = 30, 30  # said before the date; no permit after it
INSPECTION_D = 335  # since the last yearly inspection of the lockout procedure
DISK_LOW_SHARE = 0.15
UNSYNCED_S = 24 * 3600.0
SHIFT_S = 12 * 3600.0  # no shift is longer: the cautions of it are read once
