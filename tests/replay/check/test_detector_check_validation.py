"""The check of the detectors beside an independent implementation of event scoring."""

from __future__ import annotations

import mir_eval
import numpy as np
import pytest

from replay.check.detector_check import Rule, check
from replay.check.interval_sets import covered, intersection, length, touched
from replay.check.matching import match
from replay.marks.marks import Mark
from tests.replay.hand_made_trace import DT, trace_of

Intervals = list[tuple[float, float]]
COLLAR = 0.05


def made_up_events(seed: int) -> tuple[Intervals, Intervals]:
    """Events some 0.4 s apart, and what a poor detector made of them: shifted, lost, added; all on ticks."""
    random = np.random.default_rng(seed)
    starts = np.cumsum(random.integers(20, 60, 80)) * DT
    marks = [(float(s), float(s + random.integers(5, 20) * DT)) for s in starts]
    kept = [mark for mark in marks if random.random() < 0.85]
    shifted = [(start + random.integers(-9, 10) * DT, end + random.integers(0, 4) * DT) for start, end in kept]
    added = [(float(s), float(s + 0.03)) for s in random.choice(np.arange(0, 3000), 12, replace=False) * DT]
    detections: Intervals = []
    for start, end in sorted([*shifted, *added]):
        if not detections or start > detections[-1][1] + DT / 2:
            detections.append((start, max(end, start + DT)))
    return marks, detections


def onset_only(mark: tuple[float, float], detection: tuple[float, float]) -> bool:
    return abs(mark[0] - detection[0]) <= COLLAR + 1e-9


@pytest.mark.validates("mir_eval 0.8 (Raffel et al., ISMIR 2014), util.match_events: maximum bipartite matching of onsets within a window")
@pytest.mark.parametrize("seed", range(20))
def test_as_many_pairs_as_a_maximum_matching_of_onsets(seed: int) -> None:
    marks, detections = made_up_events(seed)
    ours = match(marks, detections, onset_only, COLLAR)
    # the window is opened by the rounding of ticks, as in ours
    theirs = mir_eval.util.match_events(np.array([m[0] for m in marks]), np.array([d[0] for d in detections]), COLLAR + 1e-9)
    assert len(ours) == len(theirs)
    assert 0 < len(ours) < len(marks)


@pytest.mark.validates("mir_eval 0.8, transcription.precision_recall_f1_overlap without offsets: onset collar 50 ms")
@pytest.mark.parametrize("seed", range(5))
def test_recall_and_precision_are_those_of_onset_scoring_where_nothing_overlaps_enough(seed: int) -> None:
    """Ours has a second way to find a mark, by overlap; on those found by their onset alone both agree."""
    marks, detections = made_up_events(seed)
    trace = trace_of({"landing": {0: detections}}, seconds=60.0)
    result = check(trace, [Mark("landing", *mark) for mark in marks], {"landing": Rule(COLLAR)})
    found = [event for event in result.events if event.outcome == "found"]
    by_onset = [event for event in found if abs(event.onset_latency) <= COLLAR + 1e-9]
    pitch_marks, pitch_detections = np.full(len(marks), 440.0), np.full(len(detections), 440.0)
    precision, recall, _, _ = mir_eval.transcription.precision_recall_f1_overlap(
        np.array(marks), pitch_marks, np.array(detections), pitch_detections, onset_tolerance=COLLAR + 1e-9, offset_ratio=None
    )
    assert len(by_onset) <= recall * len(marks) + 1e-9 <= len(found) + 1e-9
    assert result.of("landing").recall >= recall - 1e-12
    assert result.of("landing").precision >= precision - 1e-12
    beyond = len(found) - len(by_onset)
    assert len(found) - beyond <= round(recall * len(marks))


@pytest.mark.validates("mir_eval 0.8, transcription.match_notes with offsets: max(50 ms, 20 % of the reference), their default")
def test_an_offset_condition_would_call_a_latched_landing_missed() -> None:
    """Why the offset decides nothing here: seen 20 ms after touchdown and latched for half a second is what was asked for."""
    marks, detections = [(10.0, 10.2)], [(10.02, 10.6)]
    ours = check(trace_of({"landing": {0: detections}}), [Mark("landing", *marks[0])]).of("landing")
    pitch = np.array([440.0])
    theirs = mir_eval.transcription.match_notes(np.array(marks), pitch, np.array(detections), pitch)
    assert theirs == []
    assert (ours.found, ours.missed, ours.false) == (1, 0, 0)
    assert ours.offset[0] == pytest.approx(0.4)


@pytest.mark.validates("mir_eval 0.8, onset.f_measure: F, precision and recall by a maximum matching of onsets within a window")
@pytest.mark.parametrize("seed", range(10))
def test_by_onsets_alone_figures_are_those_of_onset_scoring(seed: int) -> None:
    marks, detections = made_up_events(seed)
    rule = Rule(COLLAR, match="onset")
    ours = check(trace_of({"landing": {0: detections}}), [Mark("landing", *mark) for mark in marks], {"landing": rule}).of("landing")
    starts = [np.array([interval[0] for interval in group]) for group in (marks, detections)]
    f1, precision, recall = mir_eval.onset.f_measure(*starts, window=COLLAR + 1e-9)
    # but for the last bits: both count the same pairs
    np.testing.assert_allclose((ours.f1, ours.precision, ours.recall), (f1, precision, recall), rtol=1e-12)
    assert 0.2 < recall < 0.95


@pytest.mark.validates("mir_eval 0.8, transcription.precision_recall_f1_overlap: onset within 50 ms, offset within max(50 ms, 50 %)")
@pytest.mark.parametrize("seed", range(10))
def test_by_onset_and_offset_figures_are_those_of_note_scoring(seed: int) -> None:
    marks, detections = made_up_events(seed)
    rule = Rule(COLLAR, match="onset and offset")
    ours = check(trace_of({"landing": {0: detections}}), [Mark("landing", *mark) for mark in marks], {"landing": rule}).of("landing")
    same = [np.full(len(group), 440.0) for group in (marks, detections)]
    precision, recall, f1, _ = mir_eval.transcription.precision_recall_f1_overlap(
        np.array(marks), same[0], np.array(detections), same[1], onset_tolerance=COLLAR + 1e-9, offset_ratio=0.5,
        offset_min_tolerance=COLLAR + 1e-9,
    )  # fmt: skip
    # but for the last bits: both count the same pairs
    np.testing.assert_allclose((ours.f1, ours.precision, ours.recall), (f1, precision, recall), rtol=1e-12)
    assert 0.1 < recall < 0.95


@pytest.mark.validates("closed form: time shared by sets of intervals on a grid, counted sample by sample")
@pytest.mark.parametrize("seed", range(5))
def test_union_intersection_and_cover_are_those_of_samples(seed: int) -> None:
    random = np.random.default_rng(seed)
    groups = [np.sort(random.integers(0, 3000, (40, 2)), axis=1) for _ in "ab"]
    groups = [group[group[:, 1] > group[:, 0]] for group in groups]
    masks = [np.zeros(3000, dtype=bool) for _ in groups]
    for group, mask in zip(groups, masks, strict=True):
        for start, end in group[:6]:
            mask[start:end] = True
    first, second = (np.asarray(group[:6] * DT, dtype=np.float64) for group in groups)
    assert length(first) == pytest.approx(masks[0].sum() * DT)
    assert length(intersection(first, second)) == pytest.approx((masks[0] & masks[1]).sum() * DT)
    inside = np.array([masks[1][start:end].sum() * DT for start, end in groups[0][:6]])
    np.testing.assert_allclose(covered(first, second), inside, atol=1e-9)  # sums of some thousand steps of 10 ms
    np.testing.assert_array_equal(touched(first, second), inside > 0)
