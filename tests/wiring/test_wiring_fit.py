"""Which layouts agree with a dial: registers typed from IEEE 754 and two's complement.

60.0 is 42 70 00 00 and 0.0 is 00 00 00 00 in single precision; 600 is 02 58; 20.5 is 41 A4 00 00.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from test_layout_rows import AIR_KPA, TYPED

from kiosk.site import TextForm
from kiosk.site.layouts import shipped_layouts
from kiosk.wiring import fit
from kiosk.wiring.find import advice, alike, dial_kpa
from kiosk.wiring.fit import Candidate, Dial, Seen

LAYOUTS = shipped_layouts()
ROWS = tuple(LAYOUTS.values())


def seen(typed: str, first: int = 0, function: int = 3) -> Seen:
    words = [int(word, 16) for word in typed.split()]
    return Seen({function: dict(enumerate(words, first))})


def names(stay: tuple[Candidate, ...]) -> set[str]:
    return {candidate.layout.name for candidate in stay}


def left(*dials: tuple[str, float], tolerance_kpa: float = 2.0) -> tuple[Candidate, ...]:
    read = [Dial(seen(typed), vacuum_kpa) for typed, vacuum_kpa in dials]
    return fit.fitting(fit.candidates(ROWS, read[0].seen), read, AIR_KPA, tolerance_kpa)


@pytest.mark.parametrize("name", TYPED)
def test_what_a_row_sends_is_what_is_typed_by_hand(name: str) -> None:
    typed, vacuum_kpa = TYPED[name]
    sent = fit.sent_by(Candidate(LAYOUTS[name]), vacuum_kpa, AIR_KPA)
    assert sent is not None
    row = LAYOUTS[name]
    wire = b"".join(word.to_bytes(2, "big") for word in sent.blocks[row.function].values())
    assert sent.blocks[row.function].keys() == {
        row.register + at for at in range(len(bytes.fromhex(typed)) // 2)
    }
    if name == "vacuum-int16-0.1inHg":  # 17.7 inHg is 59.939 kPa: the typed vacuum is rounded
        assert int.from_bytes(wire, "big") == 177
    else:
        assert wire == bytes.fromhex(typed)


def test_a_vented_table_proves_nothing() -> None:
    """All zero: every vacuum and gauge row makes 0 kPa of it."""
    stay = left(("0000 0000", 0.0))
    assert len(stay) > 10
    assert not fit.told([Dial(seen("0000 0000"), 0.0)])


def test_two_readings_leave_one_order_of_words() -> None:
    stay = left(("0000 0000 0000", 0.0), ("0000 4270 0000", 60.0))
    places = {(c.layout.word_order, c.layout.register) for c in stay}
    assert places == {("ABCD", 1), ("CDAB", 0)}  # both read 42 70 00 00 from these registers
    told = left(("0001 41A4 8000", 20.56), ("0002 4270 8000", 60.125), tolerance_kpa=0.02)
    assert {(c.layout.word_order, c.layout.register) for c in told} == {("ABCD", 1)}


def test_a_number_of_one_register_below_the_air_is_told_by_its_sign() -> None:
    assert names(left(("0000", 0.0), ("FDA8", 60.0))) == {"gauge-int16-0.1kPa"}
    assert names(left(("0000", 0.0), ("0258", 60.0))) == {"vacuum-int16-0.1kPa"}


def test_a_number_that_stands_still_never_stays() -> None:
    assert left(("0258", 60.0), ("0258", 20.0)) == ()


@pytest.mark.parametrize(("readings", "told"), [((0, 19.9), False), ((0, 20), True),
                                                ((60,), False), ((60, 30, 61), True)])  # fmt: skip
def test_readings_must_lie_apart_to_prove_anything(readings: tuple[float, ...], told: bool) -> None:
    assert fit.told([Dial(seen("0000"), float(kpa)) for kpa in readings]) == told


def test_hundredths_and_tenths_differ_most_at_a_deep_vacuum() -> None:
    """9000 hundredths read as tenths are 900 kPa: no gauge gives that."""
    deep = fit.best_reading(
        Candidate(LAYOUTS["vacuum-int16-0.01kPa"]), Candidate(LAYOUTS["vacuum-int16-0.1kPa"]),
        AIR_KPA,
    )  # fmt: skip
    assert deep is not None
    assert deep[0] >= 10.0
    assert deep[1] >= 50.0


def test_an_inch_of_mercury_is_told_from_tenths_of_a_kilopascal() -> None:
    """1 inHg = 3.386389 kPa (NIST SP 811): at 30 kPa its tenths read 0.1 x 88.6 = 8.9 kPa."""
    apart = fit.best_reading(
        Candidate(LAYOUTS["vacuum-int16-0.1inHg"]), Candidate(LAYOUTS["vacuum-int16-0.1kPa"]),
        AIR_KPA,
    )  # fmt: skip
    assert apart == (90.0, pytest.approx(90.0 * (1 - 1 / 3.386389), abs=0.06))


def test_several_are_never_chosen_among_but_told_apart() -> None:
    both = [Candidate(LAYOUTS["vacuum-int16-0.1kPa"]), Candidate(LAYOUTS["vacuum-int16-0.1inHg"])]
    words = " ".join(advice(both, AIR_KPA, 2.0))
    assert "a reading near 40 kPa" in words  # 40.0 inHg are 135 kPa, more than there is air
    apart = [Candidate(LAYOUTS["vacuum-float32-kPa"]), Candidate(LAYOUTS["vacuum-int32-Pa"])]
    assert "the maker's list names" in " ".join(advice(apart, AIR_KPA, 2.0))


def test_one_form_by_both_functions_is_one() -> None:
    blocks = {3: {0: 600}, 4: {0: 600}}
    tried = fit.candidates([LAYOUTS["vacuum-int16-0.1kPa"]], Seen(blocks))
    assert len(tried) == 2
    assert [len(group) for group in alike(tried, AIR_KPA)] == [2]


def test_units_of_text_that_are_one_are_told_as_one() -> None:
    """1 hPa = 1 mbar, exactly; 1 Torr is 1 mmHg to 1 in 7 million (NIST SP 811)."""
    dials = [Dial(Seen({}, b"0.0"), 0.0), Dial(Seen({}, b"600.0"), 60.0)]
    stay = fit.fitting(fit.text_candidates((), TextForm()), dials, AIR_KPA, 2.0)
    groups = alike(stay, AIR_KPA)
    assert [{c.layout.unit for c in group} for group in groups] == [{"hPa", "mbar"}]


def test_a_unit_on_the_line_leaves_only_itself() -> None:
    dials = [Dial(Seen({}, b"-0.1 kPa"), 0.0), Dial(Seen({}, b"-60.2 kPa"), 60.0)]
    stay = fit.fitting(fit.text_candidates((), TextForm()), dials, AIR_KPA, 2.0)
    assert names(stay) == {"text-gauge-kPa"}


def test_an_absolute_gauge_stays_in_any_weather() -> None:
    """983 mbar where ISO 2533 says 1013.25: 3 kPa below the mean, as low pressure brings."""
    stay = left(("03F5", 0.0), ("0190", 60.0))  # 1013 and 400 mbar
    assert "absolute-uint16-mbar-f3-at-0" in names(stay)
    assert "absolute-uint16-mbar-f3-at-0" in names(left(("03D7", 0.0), ("017F", 60.0)))


@pytest.mark.parametrize(
    ("typed", "vacuum_kpa"),
    [("60", 60.0), ("-60 kPa", 60.0), ("17.7 inHg", 59.93908), ("600mbar", 60.0), ("0,6 bar", 60.0),
     ("450 Torr", 450 * 101.325 / 760), ("", None), ("sixty", None), ("60 apples", None),
     ("1e3", None), ("60 70", None)],
)  # fmt: skip
def test_what_a_person_reads_on_a_dial(typed: str, vacuum_kpa: float | None) -> None:
    """Factors: NIST SP 811; 760 Torr = 101.325 kPa."""
    got = dial_kpa(typed)
    assert got == (None if vacuum_kpa is None else pytest.approx(vacuum_kpa, rel=1e-5))


@given(name=st.sampled_from(sorted(LAYOUTS)), low=st.floats(0.0, 30.0), up=st.floats(25.0, 45.0))
def test_the_right_row_always_stays(name: str, low: float, up: float) -> None:
    """Whatever a device sends, the row by which it sends agrees with a true dial."""
    right = Candidate(LAYOUTS[name])
    dials = []
    for vacuum_kpa in (low, low + up):
        sent = fit.sent_by(right, vacuum_kpa, AIR_KPA)
        assert sent is not None
        dials.append(Dial(sent, vacuum_kpa))
    stay = fit.fitting(fit.candidates(ROWS, dials[0].seen), dials, AIR_KPA, 2.0)
    assert name in names(stay)
