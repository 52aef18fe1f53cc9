"""The bar codes of a printed sheet, read by a decoder that shares nothing with their maker.

Decoder: ZXing-C++ (ISO/IEC 15417 Code 128, ISO/IEC 18004 QR), on the page at 200 dpi.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jobs import DEMO_JOBS, DEMO_SITE, plan_of
from PIL import Image, ImageFilter
from sheet_reading import codes_in, picture

from kiosk.job.checking import plan_of as plan_of_files
from kiosk.job.plan import Plan
from kiosk.job.sheet import sheet_pdf

PLAIN = ("SR-210", "a", "0012345678", "7A 12/3-b", "Ab12cd345", '"\\{%n}$~`|', "]C1FNC^", " lead ")
STRANGE = ("Brückenträger Ä7", "ñandú-12", "Деталь №7", "棚板-12", "Ω≤½", "ÿòóô")


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    return plan_of(tmp_path_factory.mktemp("codes"))


def read(plan: Plan, job_id: str, paper: str = "a4") -> list[tuple[str, str]]:
    return codes_in(picture(sheet_pdf(replace(plan, job_id=job_id), "Bench", paper=paper)))


@pytest.mark.parametrize("job_id", PLAIN)
def test_both_codes_give_the_id_letter_for_letter(plan: Plan, job_id: str) -> None:
    assert read(plan, job_id) == [("Code128", job_id), ("QRCode", job_id)]


@pytest.mark.parametrize("job_id", STRANGE)
def test_letters_beyond_ascii_go_into_the_square_code_alone(plan: Plan, job_id: str) -> None:
    """Code 128 holds ISO 646; scanners differ over what FNC4 adds: common practice, no source."""
    assert read(plan, job_id) == [("QRCode", job_id)]


@pytest.mark.parametrize("job_id", ["x" * 64, "棚" * 64], ids=["ascii", "three bytes each"])
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_longest_id_is_read_on_either_paper(plan: Plan, job_id: str, paper: str) -> None:
    assert read(plan, job_id, paper) == [("QRCode", job_id)]


def test_a_line_code_is_there_as_long_as_its_bars_are_wide_enough(plan: Plan) -> None:
    """11 modules a letter, 35 more for start, check and stop, 20 of quiet zone, 0.254 mm each."""
    fitting = int((104.0 / 0.254 - 55.0) / 11.0)
    kinds = [[kind for kind, _ in read(plan, "x" * n)] for n in (fitting, fitting + 1)]
    assert kinds == [["Code128", "QRCode"], ["QRCode"]]


def test_codes_are_read_from_a_crooked_and_blurred_print(plan: Plan) -> None:
    flat = picture(sheet_pdf(replace(plan, job_id="SR-210/B 7"), "Bench"))
    worn = flat.rotate(3.0, Image.Resampling.BICUBIC, fillcolor=255)
    worn = worn.filter(ImageFilter.GaussianBlur(1.0))
    assert codes_in(worn) == [("Code128", "SR-210/B 7"), ("QRCode", "SR-210/B 7")]


printable = st.text(st.characters(exclude_categories=("C", "Z"), include_characters=" "),
                    min_size=1, max_size=64)  # fmt: skip


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(printable)
def test_any_id_that_a_job_file_may_have_comes_back(plan: Plan, job_id: str) -> None:
    found = read(plan, job_id)
    assert ("QRCode", job_id) in found
    assert {text for _, text in found} == {job_id}


@pytest.mark.parametrize("name", ["shelf-rail", "cover-panel"])
def test_the_demonstration_jobs_carry_both_codes(name: str) -> None:
    plan = plan_of_files(DEMO_JOBS / f"{name}.job.toml", Path(DEMO_SITE))
    found = codes_in(picture(sheet_pdf(plan, "Bench")))
    assert found == [("Code128", plan.job_id), ("QRCode", plan.job_id)]


def test_a_refused_job_has_no_code_to_choose_it_by(plan: Plan) -> None:
    assert codes_in(picture(sheet_pdf(replace(plan, verdict="does not hold"), "Bench"))) == []
