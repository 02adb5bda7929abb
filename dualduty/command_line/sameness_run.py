"""What `sameness` does, with everything imported."""

from __future__ import annotations

from math import isnan
from pathlib import Path
from typing import Any

import click
from rich.table import Table

from dualduty.calibration.model import Calibration
from dualduty.calibration.read import read_calibration
from dualduty.command_line.console import console, counted, progress
from dualduty.command_line.noticed import tell_noticed
from dualduty.discovery import discover
from dualduty.files import check_result_folder, result_folder, write_text
from dualduty.report.figure_file import write_figure
from dualduty.report.sameness_picture import draw_agreement, draw_partings
from dualduty.signals import CORNER_LABELS, SIDES
from dualduty.trace import Trace
from dualduty.trial.folder import here_or_shipped
from dualduty.trial.logs import replay_run
from dualduty.trial.run_sheet import RunSheet, read_run_sheet
from dualduty.trial.sameness import Ranked, calibration_files, driver_file, named_driver, ranked, sameness_of, verdict
from dualduty.trial.sameness_parting import Stretch, partings
from dualduty.trial.sameness_rows import agreement_csv, events_csv, partings_csv
from replay.sameness.grounding import explained, judge
from replay.sameness.sameness import Sameness, SamenessRules, ratio


def run(given: dict[str, Any]) -> int:
    """1 where the log is not grounded."""
    plug_ins = discover(given["plugins"])
    work = here_or_shipped(given["folder"])
    log = given["log"]
    sheet = read_run_sheet(Path(log) if Path(log).suffix == ".toml" else work.log_files((log,))[0])
    target = given["out"] or Path("results") / f"sameness_{sheet.name}"
    check_result_folder(target)
    driver = read_calibration(driver_file(sheet, work), plug_ins)
    candidate = read_calibration(work.calibration(given["candidate"]), plug_ins) if given["candidate"] else None
    tell_noticed(driver, *([candidate] if candidate else []))
    rules = SamenessRules(tolerance=given["tolerance"] / 100.0)
    with progress(f"replaying {sheet.name}", quiet=given["quiet"]) as step:
        replayed, found = sameness_of(sheet, driver, plug_ins, rules, step)
    judged = judge(found, given["agree"] / 100.0)
    apart: list[Stretch] = []
    if candidate is not None and found.has_duties:
        theirs = replay_run(replayed.sheet, [candidate], plug_ins).traces[0]
        apart = partings(found, (driver, replayed.traces[0]), (candidate, theirs), plug_ins, given["window"])
        _write(target, sheet, found, apart, (driver, replayed.traces[0], candidate, theirs))
    else:
        _write(target, sheet, found, apart, None)
    click.echo(f"{sheet.name}: {judged.text}")
    _tell(sheet, found)
    if candidate is not None:
        _tell_partings(candidate, found, apart)
    if given["which"]:
        order, unfit = ranked(sheet, calibration_files(work), driver, plug_ins, rules, given["agree"] / 100.0)
        _tell_which(order, sheet, driver)
        for line in unfit:
            click.echo(f"  {line.splitlines()[0]}")
    elif judged.told and not judged.grounded:
        click.echo("  another calibration may have driven: --which tries those of the folder")
    click.echo(f"tables and pictures in {target}")
    return 0 if judged.grounded else 1


def _write(
    target: Path, sheet: RunSheet, found: Sameness, apart: list[Stretch], runs: tuple[Calibration, Trace, Calibration, Trace] | None
) -> None:
    with result_folder(target) as draft:
        write_text(draft / "agreement.csv", agreement_csv(found))
        if found.states:
            write_text(draft / "events.csv", events_csv(found))
        if found.has_duties:
            under = f"{sheet.name}, replayed through {found.candidate}; {found.offset}"
            write_figure(draw_agreement(found.tally.windows, found.tally.window, under), draft / "agreement.png")
        if runs is None or not apart:
            return
        driver, driver_trace, candidate, trace = runs
        write_text(draft / "partings.csv", partings_csv(apart))
        under = f"{sheet.name}, driven by {named_driver(sheet)}; shaded: the second in which they part"
        figure = draw_partings(apart, (driver_trace.header.layers, trace.header.layers), (driver.name, candidate.name), under)
        write_figure(figure, draft / "partings.png")


def _tell(sheet: RunSheet, found: Sameness) -> None:
    out = console()
    if found.has_duties:
        out.print(_agreement(found))
    click.echo(f"  {found.offset}")
    left = ", ".join(f"{reason} {seconds:.1f} s" for reason, seconds in found.left_out.items())
    click.echo(f"  compared {found.compared_seconds:.1f} s of {found.seconds:.1f} s" + (f"; left out: {left}" if left else ""))
    for state in found.states:
        agree = f"{100 * state.share:.1f} % of ticks agree" if state.compared else "nothing to compare"
        click.echo(f"  state {state.state}: {agree}, {counted(len(state.events), 'event')}")
    for line in explained(found):
        click.echo(f"  differs: {line}")
    if not sheet.driven_by:
        click.echo(f"  the run file names {named_driver(sheet)} by its file only")


def _agreement(found: Sameness) -> Table:
    table = Table("ticks that agree", *CORNER_LABELS, "all", "while duty moves", "mean apart", box=None, pad_edge=False)
    tally = found.tally
    for row, side in enumerate(SIDES):
        if side not in found.logged.sides:
            continue
        shares = [ratio(tally.agreeing[row, corner].sum(), tally.compared[row, corner].sum()) for corner in range(len(CORNER_LABELS))]
        moving = ratio(tally.moving_agreeing[row], tally.moving[row])
        mean = ratio(tally.apart[row].sum(), tally.compared[row].sum())
        cells = [_percent(share) for share in (*shares, found.share(side), moving)]
        table.add_row(side, *cells, "-" if isnan(mean) else f"{100 * mean:.2f} points")
    return table


def _percent(share: float) -> str:
    return "-" if isnan(share) else f"{100 * share:.1f} %"


def _tell_partings(candidate: Calibration, found: Sameness, apart: list[Stretch]) -> None:
    out = console()
    if not found.has_duties:
        click.echo(f"{candidate.name}: the log records no duties to compare with")
        return
    if not apart:
        click.echo(f"{candidate.name} lies no further from the log than the replay of what drove it, in any second looked at")
        return
    table = Table("from", "corner and side", "mode", "apart", "driver's replay", "decided", "was", "states", box=None, pad_edge=False,
                  title=f"{candidate.name} parts from the log", title_justify="left")  # fmt: skip
    for one in apart:
        where = f"{CORNER_LABELS[one.corner]} {one.side}"
        numbers = [f"{100 * value:.1f} points" for value in (one.apart, one.driver_apart)]
        table.add_row(f"{one.start:.0f} s", where, one.mode, *numbers, one.layer, one.driver_layer, ", ".join(one.states).replace("_", " "))
    out.print(table)
    for one in apart:
        click.echo(f"  {CORNER_LABELS[one.corner]} {one.side} {' '.join(one.words[:2])}")
        for line in one.words[2:]:
            click.echo(f"    {line}")


def _tell_which(order: list[Ranked], sheet: RunSheet, driver: Calibration) -> None:
    out = console()
    table = Table("calibration", "worse side", "mean apart", "verdict", box=None, pad_edge=False)
    for one in order:
        tally = one.found.tally
        mean = ratio(tally.apart.sum(), tally.compared.sum())
        word = "grounded" if one.grounding.grounded else "not grounded"
        table.add_row(one.name, _percent(one.grounding.agreement), "-" if isnan(mean) else f"{100 * mean:.3f} points", word)
    out.print(table)
    click.echo(f"{sheet.name}: {verdict(order, driver.name)}")
