"""Whether a fault that a sidecar lists really is in the log beside it, looked at in the file alone."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

TIME = "time_s"
_BRAKING = 8.0  # %
_USUALLY_LATE = 15.0  # ms; a sound bus tells every 20 ms, and what happened up to then
_MOST_LOST = 3e-3  # share of a column's samples
_ROUNDED = 1e-3  # s; times are told to the millisecond


def read(path: Path) -> pd.DataFrame:
    """A log as text, or as Parquet."""
    return pd.read_parquet(path) if path.suffix == ".parquet" else pd.read_csv(path, comment="#")


def is_seen(fault: dict[str, Any], log: pd.DataFrame) -> bool:
    """Whether the log shows it."""
    stamps = log[TIME].to_numpy()
    inside = (stamps >= fault["start_s"] + _ROUNDED) & (stamps < fault["end_s"] - _ROUNDED)
    return bool(_LOOKS[fault["kind"]](fault, log, inside))


def _dropout(fault: dict[str, Any], log: pd.DataFrame, inside: np.ndarray) -> Any:
    values = log[fault["channel"]].to_numpy()
    after = values[np.flatnonzero(inside)[-1] + 1 :][:8]
    return inside.sum() > 15 and np.isnan(values[inside]).all() and np.isfinite(after).any()


def _lost_samples(fault: dict[str, Any], log: pd.DataFrame, *_: Any) -> Any:
    blank = log[fault["channel"]].isna().to_numpy()
    alone = blank[1:-1] & ~blank[:-2] & ~blank[2:]
    return 3 <= fault["samples"] < _MOST_LOST * len(log) + 4 and alone.sum() >= min(3, fault["samples"]) - 1


def _logger_gap(fault: dict[str, Any], log: pd.DataFrame, inside: np.ndarray) -> Any:
    step = np.diff(log[TIME].to_numpy())
    widest = step[np.abs(log[TIME].to_numpy()[:-1] - fault["start_s"]) < 0.02].max(initial=0.0)
    return not inside.any() and abs(widest - (fault["end_s"] - fault["start_s"])) < 0.02


def _stuck(fault: dict[str, Any], log: pd.DataFrame, inside: np.ndarray) -> Any:
    values = log.loc[inside, fault["channel"]].dropna()
    return len(values) > 200 and bool((values == fault["value"]).all())


def _spikes(fault: dict[str, Any], log: pd.DataFrame, *_: Any) -> Any:
    at = np.searchsorted(log[TIME].to_numpy(), np.array(fault["moments_s"]) - 1e-3)
    values = log[fault["channel"]].to_numpy()
    beside = 0.5 * (values[at - 1] + values[at + 1])
    return len(at) >= 2 and bool((np.abs(values[at] - beside) > 0.6 * fault["size"]).all())


def _saturation(fault: dict[str, Any], log: pd.DataFrame, *_: Any) -> Any:
    values = log[fault["channel"]].to_numpy()
    at_limit = np.isin(values, (fault["low"], fault["high"])).sum()
    return np.nanmax(values) == fault["high"] and np.nanmin(values) >= fault["low"] and 0.5 * fault["samples"] <= at_limit


def _offset(fault: dict[str, Any], log: pd.DataFrame, *_: Any) -> Any:
    front_left, front_right = (log[name].median() for name in (fault["channel"], "travel_fr_mm"))
    return abs(front_left - front_right - fault["size"]) < 5.0  # mm; the two sides of an axle stand alike to a few


def _quantised(fault: dict[str, Any], log: pd.DataFrame, *_: Any) -> Any:
    values = log[fault["channel"]].dropna().to_numpy() / fault["grid"]
    return np.abs(values - np.round(values)).max() < 1e-6 and len(np.unique(values)) > 10


def _latency(fault: dict[str, Any], log: pd.DataFrame, *_: Any) -> Any:
    """The brake of the bus passes the threshold of `braking` so much later than the controller said so."""
    braking = log["state_braking"].to_numpy()
    opened = log[TIME].to_numpy()[1:][(braking[1:] == 1) & (braking[:-1] == 0)]
    brake = log[[TIME, "brake_pct"]].dropna().to_numpy()
    passed = brake[1:, 0][(brake[1:, 1] > _BRAKING) & (brake[:-1, 1] <= _BRAKING)]
    late = np.array([passed[np.argmin(np.abs(passed - moment))] - moment for moment in opened])
    return abs(1e3 * np.median(late[np.abs(late) < 0.3]) - _USUALLY_LATE - fault["latency_ms"]) < _USUALLY_LATE


def _duplicated(fault: dict[str, Any], log: pd.DataFrame, *_: Any) -> Any:
    stamps = log[TIME].to_numpy()
    return fault["stamp_s"] in stamps[1:][np.diff(stamps) == 0.0]


def _backward(fault: dict[str, Any], log: pd.DataFrame, *_: Any) -> Any:
    stamps = log[TIME].to_numpy()
    return fault["stamp_s"] in stamps[1:][np.diff(stamps) < 0.0]


def _turned(_: Any, log: pd.DataFrame, *__: Any) -> Any:
    """What the wheels gain in speed is felt ahead; here it shows to the left, and the other way round."""
    gain = np.gradient(_slow(log["wheel_speed_rr_km_h"].interpolate()))
    ahead, left = (np.corrcoef(gain, _slow(log[name]))[0, 1] for name in ("accel_x_g", "accel_y_g"))
    return bool(left < -0.5 and abs(ahead) < 0.5)


def _slow(values: pd.Series) -> np.ndarray:
    return values.rolling(200, center=True).mean().bfill().ffill().to_numpy()


def _inverted(fault: dict[str, Any], log: pd.DataFrame, *_: Any) -> Any:
    return bool(log["travel_fl_mm"].corr(log["travel_fr_mm"]) > 0.0 > log[fault["channel"]].corr(fault["span_mm"] - log["travel_rr_mm"]))


_LOOKS = {
    "dropout": _dropout, "lost_samples": _lost_samples, "logger_gap": _logger_gap, "stuck": _stuck, "spikes": _spikes,
    "saturation": _saturation, "offset": _offset, "quantised": _quantised, "latency": _latency, "duplicated_stamp": _duplicated,
    "backward_stamp": _backward, "turned": _turned, "inverted": _inverted,
}  # fmt: skip
