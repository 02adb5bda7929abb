"""What happens to samples between the run and the figure: filters that carry their state from chunk to chunk."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.signal import cont2discrete, sosfilt, sosfilt_zi

from dualduty.kernels import IN3, OUT3, kernel
from dualduty.scoring import channel_class, weighting
from dualduty.scoring.reading import Reading

Array = NDArray[np.float64]


class Stage(Protocol):
    """Maps readings to readings, in order; may hold some back until the end."""

    def refusal(self, dt: float) -> str:
        """Why samples at this step can't be used; "" when they can."""

    def note(self, dt: float) -> str:
        """What to tell the reader about samples at this step."""

    def push(self, reading: Reading) -> Reading:
        """The next samples, changed."""

    def end(self) -> Reading | None:
        """What was held back."""


class Mapped:
    """A function of the values alone; `combine` says that it makes one row out of four corners."""

    def __init__(self, function: Callable[[Array], Array], *, combine: bool = False) -> None:
        self._function = function
        self._combine = combine

    def refusal(self, dt: float) -> str:
        """Takes any rate."""
        return ""

    def note(self, dt: float) -> str:
        """Nothing to tell."""
        return ""

    def push(self, reading: Reading) -> Reading:
        """The values through the function; a row made of corners counts where all of them do."""
        counts = reading.counts.min(axis=0, keepdims=True) if self._combine else reading.counts
        return Reading(np.ascontiguousarray(self._function(reading.values)), counts, reading.dt)

    def end(self) -> Reading | None:
        """Nothing is held back."""
        return None


@kernel(IN3, IN3, OUT3, OUT3)
def _hold(values: Array, counts: Array, last: Array, held: Array) -> None:
    for corner in range(values.shape[0]):
        for sample in range(values.shape[1]):
            for case in range(values.shape[2]):
                if counts[corner, sample, case] > 0.0:
                    last[corner, 0, case] = values[corner, sample, case]
                held[corner, sample, case] = last[corner, 0, case]


class Held:
    """Samples that don't count are replaced by the last that did, 0 before the first.

    So a filter neither sees what a padded section carries after its end, nor a gap in a log.
    """

    def __init__(self) -> None:
        self.last = np.empty((0, 1, 0))

    def push(self, reading: Reading) -> Array:
        """Values without what doesn't count."""
        corners, _, cases = reading.values.shape
        if not self.last.size:
            self.last = np.zeros((corners, 1, cases))
        held = np.empty_like(reading.values)
        _hold(reading.values, reading.counts, self.last, held)
        return held


class Filtered:
    """Second-order sections `(section, 6)` chosen by the step, at rest before the first sample."""

    def __init__(self, sections: Callable[[float], Array]) -> None:
        self._sections = sections
        self._held = Held()
        self._memory: Array | None = None

    def refusal(self, dt: float) -> str:
        """Takes any rate."""
        return ""

    def note(self, dt: float) -> str:
        """Nothing to tell."""
        return ""

    def push(self, reading: Reading) -> Reading:
        """The values through the filter."""
        sections = self._sections(reading.dt)
        held = self._held.push(reading)
        if self._memory is None:
            self._memory = np.zeros((len(sections), held.shape[0], 2, held.shape[2]))
        if held.shape[1]:
            held, self._memory = sosfilt(sections, held, axis=1, zi=self._memory)
        return Reading(np.ascontiguousarray(held), reading.counts, reading.dt)

    def end(self) -> Reading | None:
        """Nothing is held back."""
        return None


class Weighted(Filtered):
    """Frequency-weighted acceleration."""

    def __init__(self, chosen: weighting.Weighting) -> None:
        super().__init__(lambda dt: weighting.digital_sections(chosen, dt))
        self._chosen = chosen

    def refusal(self, dt: float) -> str:
        """Too slow a rate bends the weighting."""
        rate = 1 / dt
        if rate >= weighting.LOWEST_RATE * (1 - 1e-9):
            return ""
        return f"the weighting needs {weighting.LOWEST_RATE:g} Hz or more; this is {rate:.4g} Hz"

    def note(self, dt: float) -> str:
        """How far the digital weighting is off at 40 Hz, where that is more than a tenth of a decibel."""
        error = weighting.error_db(self._chosen, dt, 40.0)
        return f"weighting {error:+.1f} dB at 40 Hz, from {1 / dt:.4g} Hz data" if abs(error) > 0.1 else ""  # noqa: PLR2004 - said above


class Oscillator(Filtered):
    """Deflection of a base-driven mass on a spring, as an acceleration: w² x; exact for input straight between samples."""

    def __init__(self, frequency: float, damping: float) -> None:
        super().__init__(lambda dt: _oscillator(frequency, damping, dt))


@functools.lru_cache(maxsize=16)
def _oscillator(frequency: float, damping: float, dt: float) -> Array:
    system = (np.array([frequency**2]), np.array([1.0, 2 * damping * frequency, frequency**2]))
    numerator, denominator, _ = cont2discrete(system, dt, method="foh")
    return np.concatenate([np.ravel(numerator), np.ravel(denominator)])[None, :]


class TwoPass:
    """Channel frequency class: forward and backward, with as much overlap as the backward pass needs to forget its start.

    The run is at rest before its first sample, and holds its last value after its end.
    """

    def __init__(self, chosen: float) -> None:
        self._class = chosen
        self._held = Held()
        self._forward: Array | None = None
        self._pending = Reading(np.empty((0, 0, 0)), np.empty((0, 0, 0)), 0.0)

    def refusal(self, dt: float) -> str:
        """Below its lowest rate the class can't be made."""
        lowest = channel_class.lowest_rate(self._class)
        return "" if 1 / dt >= lowest * (1 - 1e-9) else f"CFC {self._class:g} needs {lowest:g} Hz or more; this is {1 / dt:.4g} Hz"

    def note(self, dt: float) -> str:
        """Nothing to tell."""
        return ""

    def push(self, reading: Reading) -> Reading:
        """Those samples that the future can't change any more; four overlaps at a time, to keep the repeated work small."""
        self._take(reading)
        keep = channel_class.overlap(self._class, reading.dt)
        return self._release(keep if self._pending.values.shape[1] >= 4 * keep else None)

    def end(self) -> Reading | None:
        """The rest of the run."""
        if self._forward is None:
            return None
        dt = self._pending.dt
        after = np.repeat(self._held.last, channel_class.overlap(self._class, dt), axis=1)
        self._take(Reading(after, np.zeros_like(after), dt))
        return self._release(0)

    def _take(self, reading: Reading) -> None:
        section = channel_class.one_pass(self._class, reading.dt)
        held = self._held.push(reading)
        if self._forward is None:
            self._forward = np.zeros((1, held.shape[0], 2, held.shape[2]))
            self._pending = Reading(held[:, :0], held[:, :0], reading.dt)
        if held.shape[1]:
            held, self._forward = sosfilt(section, held, axis=1, zi=self._forward)
        joined = [np.concatenate(pair, axis=1) for pair in ((self._pending.values, held), (self._pending.counts, reading.counts))]
        self._pending = Reading(joined[0], joined[1], reading.dt)

    def _release(self, keep: int | None) -> Reading:
        """Run backward over what is pending and give all but the newest `keep` samples; None gives nothing."""
        pending = self._pending
        ready = 0 if keep is None else pending.values.shape[1] - keep
        self._pending = Reading(pending.values[:, ready:], pending.counts[:, ready:], pending.dt)
        if not ready:
            return Reading(pending.values[:, :0], pending.counts[:, :0], pending.dt)
        section = channel_class.one_pass(self._class, pending.dt)
        settled = sosfilt_zi(section)[:, None, :, None] * pending.values[None, :, -1:, :]
        backward, _ = sosfilt(section, pending.values[:, ::-1], axis=1, zi=settled)
        return Reading(np.ascontiguousarray(backward[:, ::-1][:, :ready]), np.ascontiguousarray(pending.counts[:, :ready]), pending.dt)
