"""What is told of travels that belong elsewhere or run the wrong way, and of an inertial unit that points elsewhere."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from dualduty.signals import CORNER_LABELS
from replay.health.channels import Channels
from replay.health.effects import carries
from replay.health.finding import IMPAIRS, SPOILS, Finding
from replay.health.mend_lines import travel_line, unit_line
from replay.health.mounting_identity import MountingIdentity
from replay.health.mounting_identity import in_words as mounting_words
from replay.health.travel_identity import EXPECTED, TravelIdentity

if TYPE_CHECKING:
    from replay.channels.channel_map import ChannelMap
    from replay.channels.mounting import Mounting

Array = NDArray[np.float64]
TOLD: Final = 0.8  # probability from which another assignment than the map's is told
SURE: Final = 0.9  # from which it is taken as so, and put right in memory for what is worked out afterwards
_SEEN: Final = 0.1  # correlation below which a witness has nothing to say
_TOLD_APART: Final = 0.001  # probability; less of it is told together
_DOES: Final = ("left turns", "speeding up and braking", "the felt vertical force")


def travel_findings(identity: TravelIdentity | None, channels: Channels, zeros: Array, channel_map: ChannelMap) -> list[Finding]:
    """One finding for each channel that belongs elsewhere or runs the wrong way.

    zeros : (4,) array
        What a turned channel's value, as mapped, is to be taken from; NaN unknown. [m]
    """
    if identity is None or not identity.differs or identity.sure < TOLD:
        return []
    findings = []
    for row in channels.of("shaft_travel"):
        corner, sign = identity.corner[row.corner], identity.sign[row.corner]
        if corner == row.corner and sign > 0.0:
            continue
        what = [] if corner == row.corner else [f"moves as {CORNER_LABELS[corner]} does"]
        what += ["runs the wrong way round"] if sign < 0.0 else []
        after = _next(identity.next_best, identity.next_sure, identity.as_mapped)
        text = f"{row.label} {' and '.join(what)}"
        reasons = f"{_reasons(identity, row.corner, sign)}; {after}"
        effect = f"not to be trusted as mapped: {carries('shaft_travel')}"
        mend = travel_line(channel_map, row.corner, corner, sign, float(zeros[row.corner]))
        kind = "inverted travel" if sign < 0.0 else "swapped travel"
        severity = SPOILS if identity.sure >= SURE else IMPAIRS
        brief = f"{row.label} {'inverted' if sign < 0.0 else 'swapped'}"
        words = (brief, "put the map right", mend, (row.index,), reasons)
        findings.append(Finding(kind, row.label, np.nan, np.nan, identity.sure, severity, text, effect, *words))
    return findings


def _reasons(identity: TravelIdentity, channel: int, sign: float) -> str:
    """What the channel does that the corner it is mapped to would not do."""
    said = []
    for k, does in enumerate(_DOES):
        follows = identity.follows[channel, k]
        if abs(follows) > _SEEN and follows * EXPECTED[channel, k] < 0.0:
            said.append(f"against its corner in {does} (r {follows * EXPECTED[channel, k]:+.2f})")
    if identity.flights and np.isfinite(identity.out[channel]) and identity.out[channel] * sign > 0.0 and sign < 0.0:
        said.append(f"compressed at the end of {identity.flights} flight{'s' if identity.flights > 1 else ''}, where it must hang out")
    partner = (channel + 2) % 4
    rolled = identity.ground[(channel, partner) if channel < 2 else (partner, channel)]  # noqa: PLR2004 - two front corners
    if sign < 0.0 and rolled < -_SEEN:
        said.append(f"mirrors what the {'rear' if channel < 2 else 'front'} wheel of its side does over the same ground (r {rolled:+.2f})")  # noqa: PLR2004
    return "; ".join(said) or "no other assignment of the four fits as well"


def _next(words: str, sure: float, as_mapped: float) -> str:
    """How likely the other readings are, the likeliest of them told."""
    if sure < _TOLD_APART:
        return "any other reading, the map's among them, under 0.1 %"
    return f"next best: {words} ({_percent(sure)}); as mapped {_percent(as_mapped)}"


def _percent(share: float) -> str:
    return f"{100.0 * share:.1f} %" if share >= _TOLD_APART else "under 0.1 %"


def mounting_findings(identity: MountingIdentity | None, channels: Channels, mounting: Mounting | None) -> list[Finding]:
    """At most two: the unit points elsewhere; one signal of it is turned round."""
    if identity is None or not identity.differs or identity.sure < TOLD:
        return []
    rows = tuple(row.index for name in _UNIT for row in channels.of(name))
    severity = SPOILS if identity.sure >= SURE else IMPAIRS
    after = _next(identity.next_best, identity.next_sure, identity.as_mapped)
    effect = f"not to be trusted as mapped: {carries('specific_force_y')}; {carries('specific_force_x')}; {carries('roll_rate')}"
    findings = []
    if identity.turned:
        text = f"inertial unit points elsewhere than mapped: {mounting_words(identity.axes, '')}"
        reasons = f"{_unit_reasons(identity)}; {after}"
        mend = unit_line(identity.axes, mounting)
        words = (f"inertial unit turned {_turn_words(identity)}", "put the map right", mend, rows, reasons)
        findings.append(Finding("turned unit", "inertial unit", np.nan, np.nan, identity.sure, severity, text, effect, *words))
    if identity.flipped:
        name = identity.flipped
        label = channels.of(name)[0].label if channels.of(name) else name.replace("_", " ")
        text = f"{label} runs the wrong way round"
        only = tuple(row.index for row in channels.of(name))
        mend = f"[signals.{name}] sign turned round"
        found = (f"not to be trusted as mapped: {carries(name)}", f"{label} inverted", "put the map right", mend, only, after)
        findings.append(Finding("inverted axis", label, np.nan, np.nan, identity.sure, severity, text, *found))
    return findings


_UNIT: Final = ("specific_force_x", "specific_force_y", "specific_force_z", "roll_rate", "pitch_rate", "yaw_rate")


def _unit_reasons(identity: MountingIdentity) -> str:
    """Where gravity, acceleration and turns are found."""
    size = float(np.linalg.norm(identity.gravity))
    said = []
    if size > 0.0:
        at = int(np.argmax(np.abs(identity.gravity)))
        said.append(f"gravity lies along {'-' if identity.gravity[at] < 0 else ''}{'xyz'[at]}")
    told = (("acceleration by the wheels", identity.force_follows[0]), ("turns by steering or wheels", identity.force_follows[1]),
            ("roll of the travels", identity.rate_follows[0]), ("pitch of the travels", identity.rate_follows[1]),
            ("yaw by steering or wheels", identity.rate_follows[2]))  # fmt: skip
    for word, follows in told:
        at = int(np.argmax(np.abs(follows)))
        if abs(follows[at]) > 2.0 * _SEEN:
            said.append(f"{word} along {'-' if follows[at] < 0 else ''}{'xyz'[at]} (r {follows[at]:+.2f})")
    return "; ".join(said)


def _turn_words(identity: MountingIdentity) -> str:
    """How far, about which axis of the vehicle."""
    axes = np.array(identity.axes)
    angle = float(np.rad2deg(np.arccos(np.clip((np.trace(axes) - 1.0) / 2.0, -1.0, 1.0))))
    values = np.array([axes[2, 1] - axes[1, 2], axes[0, 2] - axes[2, 0], axes[1, 0] - axes[0, 1]])
    named = [word for word, part in zip(("x", "y", "z"), values, strict=True) if abs(part) > 0.5]  # noqa: PLR2004 - half of what it is
    return f"{angle:.0f} degrees" + (f" about {named[0]}" if len(named) == 1 else "")
