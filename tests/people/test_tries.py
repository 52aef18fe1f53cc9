"""The wait after wrong PINs, and the lock."""

from __future__ import annotations

import pytest

from kiosk.people.tries import Tries, after_restart, wait_s


@pytest.mark.parametrize(
    ("wrong", "seconds"),
    [(0, 0), (1, 0), (2, 0), (3, 30), (4, 60), (5, 120), (6, 240), (7, 480), (8, 960), (9, 1920),
     (10, 3600), (50, 3600)],
)  # fmt: skip
def test_three_are_30_s_and_each_more_doubles_it_to_an_hour(wrong: int, seconds: float) -> None:
    """Bounds of NIST SP 800-63B, section 3.2.2 (from memory): 30 s up to an hour."""
    assert wait_s(wrong) == seconds


def after(count: int, now_s: float = 0.0) -> Tries:
    tries = Tries()
    for _ in range(count):
        tries = tries.failed("m", now_s)
    return tries


def test_the_wait_ends_by_time_and_only_for_the_one_who_was_wrong() -> None:
    tries = after(3, 100.0)
    assert tries.left_s("m", 100.0) == 30.0
    assert tries.left_s("m", 129.9) == pytest.approx(0.1)
    assert tries.left_s("m", 130.0) == 0.0
    assert tries.left_s("another", 100.0) == 0.0


def test_ten_lock_and_nine_do_not() -> None:
    assert not after(9).is_locked("m")
    assert after(10).is_locked("m")
    assert not after(10).is_locked("another")


def test_a_right_try_or_an_unlocking_forgives() -> None:
    tries = after(10).forgiven("m")
    assert (tries.is_locked("m"), tries.left_s("m", 0.0), dict(tries.wrong)) == (False, 0.0, {})


def test_a_restart_shortens_nothing() -> None:
    tries = after_restart({"m": 4, "n": 10}, 1000.0)
    assert tries.left_s("m", 1000.0) == 60.0
    assert tries.is_locked("n")
    assert tries.failed("m", 1060.0).left_s("m", 1060.0) == 120.0


@pytest.mark.parametrize("wrong", [11, 1027, 2000, 10**400])
def test_any_count_of_a_damaged_file_is_a_lock_and_the_longest_wait(wrong: int) -> None:
    assert wait_s(wrong) == 3600.0
    tries = after_restart({"m": wrong}, 100.0)
    assert (tries.is_locked("m"), tries.left_s("m", 100.0)) == (True, 3600.0)
    assert tries.failed("m", 100.0).left_s("m", 100.0) == 3600.0
    assert tries.wrong == {"m": 10}
