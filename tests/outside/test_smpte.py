"""SMPTE time at drop frame: the numbers that are skipped.

Source: computed with the library ``timecode`` (29.97 drop frame), as in the project's list
of outside values: frame 1800 is 00:01:00;02, 17982 is 00:10:00;00, 107892 is 01:00:00;00.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.errors import UsageError
from bridge.out.smpte import RATES, smpte
from tests import oracle


@pytest.mark.parametrize(
    ("frame", "time"),
    [
        (0, "00:00:00;00"),
        (1799, "00:00:59;29"),
        (1800, "00:01:00;02"),
        (17982, "00:10:00;00"),
        (107892, "01:00:00;00"),
    ],
)
def test_drop_frame_numbers(frame, time):
    assert smpte(frame / RATES["29.97df"], "29.97df") == time


@given(st.integers(0, 24 * 3600 * 24 - 1), st.sampled_from(sorted(RATES)))
def test_every_frame_has_the_number_that_another_library_gives_it(frame, rate):
    timecode = oracle("timecode")
    # its frames count from 1; its "29.97" is drop frame unless it is told otherwise
    name = {"23.976": "23.976", "29.97df": "29.97", "29.97": "29.97"}.get(rate, rate)
    theirs = timecode.Timecode(
        name, frames=frame + 1, **({"force_non_drop_frame": True} if rate == "29.97" else {})
    )
    assert smpte(frame / RATES[rate], rate) == str(theirs)


@given(st.fractions(0, 86400), st.sampled_from(sorted(RATES)))
def test_a_time_is_the_nearest_frame(seconds, rate):
    frame = round(seconds * RATES[rate])
    assert smpte(seconds, rate) == smpte(Fraction(frame) / RATES[rate], rate)


def test_a_count_beyond_a_day_goes_on():
    assert smpte(Fraction(25 * 3600), "25") == "25:00:00:00"


def test_an_unknown_rate_is_refused_with_those_there_are():
    with pytest.raises(UsageError, match="no SMPTE rate '26'") as caught:
        smpte(Fraction(0), "26")
    assert "29.97df" in str(caught.value)
