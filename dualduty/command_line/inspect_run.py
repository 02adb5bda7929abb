"""What `inspect` does, with everything imported."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from rich.table import Table

from dualduty.calibration.model import Calibration
from dualduty.calibration.read import read_calibration
from dualduty.command_line.console import console, counted, progress
from dualduty.command_line.noticed import tell_noticed
from dualduty.discovery import PlugIns, discover
from dualduty.errors import BadInput
from dualduty.files import check_result_file, write_text
from dualduty.trial.folder import WorkFolder, here_or_shipped
from dualduty.trial.looked_at import Looked, look_and_suggest, look_through
from dualduty.trial.run_sheet import read_run_sheet
from dualduty.trial.within_reach import stopped
from replay.channels.channel_map_file import read_channel_map
from replay.suggestion.inspection import ChannelSeen, GroupSeen
from replay.suggestion.suggest_weigh import LIKELY, SURE, UNSURE
from replay.suggestion.suggested_file import suggested_file

MOST_WORDS = 4
ALMOST = 0.99  # of the samples have no value: two digits would soon say all


def run(  # noqa: PLR0913 - as the command
    log: str,
    channel_map: Path | None,
    write_map: Path | None,
    *,
    calibration: str | None,
    out: Path | None,
    folder: Path | None,
    plugins: tuple[Path, ...],
    quiet: bool,
) -> None:
    """Look, print, and write what was asked for."""
    if write_map is not None:
        check_result_file(write_map)
    plug_ins = discover(plugins)
    work = here_or_shipped(folder)
    read = read_calibration(work.calibration(calibration), plug_ins) if calibration else None
    if read is not None:
        tell_noticed(read)
    path, of_the_run = _recording(log, work)
    chosen = channel_map or (of_the_run if write_map is None else None)
    known = read_channel_map(chosen) if chosen is not None else None
    with progress(f"looking through {path.name}", quiet=quiet) as step:
        looked = look_and_suggest(path, step) if known is None else look_through(path, known, step)
    _tell(looked, path)
    _tell_map(looked, chosen)
    _tell_reach(looked, plug_ins, read)
    if write_map is not None:
        write_text(write_map, suggested_file(looked.seen, looked.guesses, _modes(read, work, plug_ins)))
        console().print(f"wrote {write_map}", markup=False)
    if out is not None:
        from dualduty.report.channels_picture import draw_channels
        from dualduty.report.figure_file import write_figure

        write_figure(draw_channels(looked.seen, looked.taken), out / f"channels_{path.stem}.png")
        console().print(f"picture in {out}", markup=False)


def _recording(log: str, work: WorkFolder) -> tuple[Path, Path | None]:
    """The recording, and the channel map of its run sheet where it was named by one."""
    path = Path(log)
    if path.exists() and path.suffix != ".toml":
        return path, None
    if path.suffix and path.suffix != ".toml":
        raise BadInput(path, "expected a recording, found no file")
    sheet = read_run_sheet(path if path.exists() else work.log_files((log,))[0])
    return sheet.log, sheet.channel_map


def _tell(looked: Looked, path: Path) -> None:
    out = console()
    several = len(looked.seen.groups) > 1
    for group in looked.seen.groups:
        out.print(_group_line(group, path.name, several), markup=False)
    for line in looked.seen.notices:
        out.print(f"  noticed: {line}", markup=False)
    heads = (["group"] if several else []) + ["channel", "unit", "rate", "1 to 99 %", "least", "most", "no value", "step", "taken for"]
    table = Table(box=None, pad_edge=False, show_edge=False)
    for head in heads:
        table.add_column(head, overflow="fold")
    for channel in looked.seen.channels:
        first = [looked.seen.groups[channel.group].name] if several else []
        table.add_row(*first, *_cells(channel), looked.taken.get((channel.group, channel.name), _otherwise(channel, looked)))
    out.print(table, markup=False)


def _group_line(group: GroupSeen, name: str, several: bool) -> str:
    clock = (
        "its own clock" if group.own_clock and not group.clock else f"stamps in {group.clock!r} [{group.time_unit}]" if group.clock else ""
    )
    said = "" if group.unit_is_said else ", a guess: the log says no unit"
    unknown = "no rate can be told" if clock else "no stamps: its rate must be said, rate_hz"
    rate = f"{group.rate:.4g} samples a second, {group.lasts:.1f} s" if group.rate > 0.0 else unknown
    none = "no gaps" if group.rate > 0.0 else ""
    gaps = f"{counted(group.gaps, 'gap')}, longest {1e3 * group.longest_gap:.0f} ms" if group.gaps else none
    odd = [f"{counted(count, 'stamp')} {what}" for count, what in ((group.back, "backward"), (group.repeated, "repeated")) if count]
    parts = [counted(group.samples, "sample"), rate, clock + said, gaps, *odd]
    return f"{f'group {group.name!r}' if several else name}: {', '.join(part for part in parts if part)}"


def _cells(channel: ChannelSeen) -> list[str]:
    unit = channel.unit or "-"
    if channel.text or channel.twice or not channel.samples:
        return [channel.name, unit, "-", _words(channel), "-", "-", "-", "-"]
    rate = f"{channel.rate:.3g}" if channel.rate > 0.0 else "-"
    blank = _share_blank(channel.blank)
    if np.isnan(channel.least):
        return [channel.name, unit, rate, "-", "-", "-", blank, "-"]
    span = f"{channel.low:.4g} to {channel.high:.4g}"
    return [
        channel.name,
        unit,
        rate,
        span,
        f"{channel.least:.4g}",
        f"{channel.most:.4g}",
        blank,
        f"{channel.step:.3g}" if channel.step > 0.0 else "-",
    ]


def _share_blank(share: float) -> str:
    if share >= ALMOST:
        return "all" if share == 1.0 else "> 99 %"
    return f"{100 * share:.2g} %" if share else "-"


def _words(channel: ChannelSeen) -> str:
    more = ", ..." if len(channel.words) > MOST_WORDS else ""
    return ", ".join(channel.words[:MOST_WORDS]) + more or "-"


def _otherwise(channel: ChannelSeen, looked: Looked) -> str:
    if channel.twice:
        return "left out: several columns have this name"
    return "time" if channel.name == looked.seen.groups[channel.group].clock else "words" if channel.text else ""


def _tell_map(looked: Looked, chosen: Path | None) -> None:
    out = console()
    if chosen is not None:
        out.print(f"{chosen.name}: {counted(looked.found, 'channel')} found", markup=False)
        for line in looked.wrong:
            out.print(f"  missing: {line}", markup=False)
        return
    grades = [guess.grade for guess in looked.guesses]
    out.print(f"suggested map: {', '.join(f'{grades.count(grade)} {grade}' for grade in (SURE, LIKELY, UNSURE))}", markup=False)
    for guess in looked.guesses:
        if guess.doubt:
            out.print(f"  {guess.grade}: {guess.target.label} from {guess.channel.name!r}: {guess.doubt}", markup=False)


def _tell_reach(looked: Looked, plug_ins: PlugIns, calibration: Calibration | None) -> None:
    lines = stopped(looked.lacking, plug_ins, calibration)
    whose = calibration.name if calibration is not None else "any detector or law"
    if not lines:
        console().print(f"nothing is missing for {whose}", markup=False)
    for line in lines:
        console().print(line, markup=False)


def _modes(calibration: Calibration | None, work: WorkFolder, plug_ins: PlugIns) -> tuple[str, ...]:
    """Drive modes of the calibration, or of the first in the working folder."""
    if calibration is not None:
        return calibration.modes
    files = sorted(work.strategies.glob("*.toml")) if work.strategies.is_dir() else []
    return read_calibration(files[0], plug_ins).modes if files else ()
