"""Intervals of a check's figures beside other implementations, closed forms, and what they promise: to hold the truth."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from replay.check.comparison import compare_checks
from replay.check.confidence import confidence
from replay.check.detector_check import CheckResult, check
from replay.check.reference import KeptLog, Reference
from replay.check.resampling import hull, median_between, share_between, weights_of
from replay.marks.mark import Mark
from tests.replay.hand_made_trace import trace_of

SECONDS = 600.0


def log_of(found: list[bool], false: int = 0, late: float = 0.04, seconds: float = SECONDS) -> CheckResult:
    """A log with marks every 2 s, found or not, and false ones between them."""
    marks = [Mark("landing", 2.0 * index + 1.0, 2.0 * index + 1.2) for index in range(len(found))]
    seen = [(mark.start + late, mark.end) for mark, is_found in zip(marks, found, strict=True) if is_found]
    wrong = [(2.0 * index + 2.0, 2.0 * index + 2.1) for index in range(false)]
    return check(trace_of({"landing": {0: sorted(seen + wrong)}}, seconds), marks)


@pytest.mark.validates("scipy 1.x, stats.bootstrap, percentile method, over the same events")
def test_one_log_is_the_plain_bootstrap_of_its_events() -> None:
    random = np.random.default_rng(7)
    late = random.normal(0.05, 0.02, 41)
    ours = median_between(late, weights_of([41], draws=20_000))
    theirs = stats.bootstrap((late,), np.median, n_resamples=20_000, method="percentile", rng=np.random.default_rng(8))
    # two runs of 20,000 draws differ by 0.3 ms at most in ten seeds; the interval is 15 ms wide
    np.testing.assert_allclose(ours, theirs.confidence_interval, atol=1e-3)
    hits = np.array([1.0] * 27 + [0.0] * 14)
    shares = stats.bootstrap((hits,), np.mean, n_resamples=20_000, method="percentile", rng=np.random.default_rng(8))
    np.testing.assert_allclose(share_between([27], [41], draws=20_000), shares.confidence_interval, atol=1 / 41 + 1e-9)  # one event


@pytest.mark.validates("closed form: a share of a share; with logs all right or all wrong only the draw of logs matters")
def test_logs_are_drawn_before_their_events() -> None:
    low, high = share_between([20, 20, 20, 0, 0, 0], [20] * 6, draws=20_000)
    by_log = stats.binom.ppf([0.025, 0.975], 6, 0.5) / 6
    np.testing.assert_allclose((low, high), by_log, atol=1e-12)
    alone = share_between([60], [120], draws=20_000)
    assert high - low > 3.0 * (alone[1] - alone[0])  # as one log the same marks would seem five times as sure


@pytest.mark.validates(
    "closed form: of five logs, two late ones; three or more late ones are drawn with chance 0.317, of 200 events with 0.002"
)
def test_medians_too_draw_logs_before_their_events() -> None:
    late = np.repeat([0.02, 0.08, 0.02, 0.08, 0.02], 40)
    assert median_between(late, weights_of([40] * 5)) == (0.02, 0.08)
    assert median_between(late, weights_of([200])) == (0.02, 0.02)


@pytest.mark.validates("Clopper and Pearson 1934 and Garwood 1936, as scipy has them; closed forms at the ends: 0.025^(1/n), -ln 0.025 / T")
def test_all_found_and_none_false_is_not_for_sure() -> None:
    sure = confidence([log_of([True] * 5)], "landing")
    assert sure.recall[0] == pytest.approx(0.025**0.2)  # (alpha/2)^(1/n)
    assert sure.recall[1] == 1.0
    minutes = (SECONDS - 5 * 0.24) / 60
    assert sure.false_per_minute == pytest.approx((0.0, -np.log(0.025) / minutes))
    assert sure.onset_median == pytest.approx((0.04, 0.04))


@pytest.mark.validates(
    "Garwood 1936: 95 % limits of a mean of which 4 were seen are 1.090 and 10.242 (table of Poisson limits, from memory)"
)
def test_four_false_ones_in_ten_minutes() -> None:
    result = log_of([True] * 5, false=4)
    minutes = result.of("landing").non_event_time / 60
    low, high = confidence([result], "landing").false_per_minute
    assert low <= 1.0899 / minutes + 1e-4
    assert high >= 10.2416 / minutes - 1e-3
    assert high < 20.0 / minutes  # all four lie in one minute: the bootstrap is the wider one


@pytest.mark.validates("what a 95 % interval promises, summed in closed form over every count that may come up")
def test_intervals_hold_the_truth_as_often_as_they_say() -> None:
    between = []
    for hits in range(32):
        exact = stats.binomtest(hits, 31).proportion_ci(0.95)
        between.append(hull(share_between([hits], [31]), (exact.low, exact.high)))
    for truth in (0.3, 0.5, 0.9, 0.98):
        chances = stats.binom.pmf(np.arange(32), 31, truth)
        held = sum(chance for chance, (low, high) in zip(chances, between, strict=True) if low <= truth <= high)
        assert 0.95 <= held < 0.998  # of use, too: not everything is held


@pytest.mark.validates("closed form: intervals without marks, detections or quiet time don't exist")
def test_nothing_to_judge_by_is_told_as_not_known() -> None:
    sure = confidence([check(trace_of({"landing": {0: []}}), [Mark("watched", 1.0, 1.1)], states=("landing",))], "landing")
    assert np.isnan([*sure.recall, *sure.precision, *sure.onset_median]).all()
    assert sure.false_per_minute[0] == 0.0


@pytest.mark.validates("McNemar 1947, exact: a sign test; closed form for 1 lost and 5 gained: 2 (1 + 6) / 2^6")
def test_lost_against_gained_is_a_sign_test() -> None:
    before = log_of([True] + [False] * 5 + [True] * 20)
    now = log_of([False] + [True] * 5 + [True] * 20, late=0.046)
    reference = Reference("baseline", "", (KeptLog("loop", "d", before),))
    compared = compare_checks(reference, [KeptLog("loop", "d", now)])
    state = compared.states[0]
    assert (state.paired, state.lost, state.gained) == (26, 1, 5)
    assert state.p_value == pytest.approx(2 * (1 + 6) / 2**6)
    # ticks of 10 ms: 46 ms is seen at 50 ms
    assert state.latency_change == pytest.approx(0.01)
    assert state.latency_between == pytest.approx((0.01, 0.01))
