"""What `keep` does, with everything imported."""

from __future__ import annotations

from pathlib import Path

from dualduty.command_line.console import console, counted, progress
from dualduty.discovery import discover
from dualduty.files import check_result_folder, result_folder, write_text
from dualduty.trial.keep import Asked, Kept, keep, summary
from replay.health.finding import Finding


def run(asked: Asked, out: Path | None, plugins: tuple[Path, ...], *, quiet: bool) -> int:
    """1 where the run must be driven again."""
    if out is not None:
        check_result_folder(out)
    with progress("reading the log", quiet=quiet) as step:
        kept = keep(asked, discover(plugins), step)
    if out is not None:
        _write(kept, out)
    _tell(kept, out)
    return 0 if kept.verdict.keep else 1


def _write(kept: Kept, out: Path) -> None:
    from dualduty.report.figure_file import write_figure
    from dualduty.report.health_picture import draw_health

    with result_folder(out) as draft:
        write_text(draft / "findings.json", kept.to_json())
        write_figure(draw_health(kept.health, kept.sections, kept.verdict.line, kept.name), draft / "health.png")


def _tell(kept: Kept, out: Path | None) -> None:
    lines = [*summary(kept), *(line for found in kept.health.findings for line in finding_lines(found))]
    against = f" against {kept.against}" if kept.against else ", no vehicle to hold it against (--vehicle)"
    sections = f"{kept.told_by}: {counted(len(kept.sections), 'section')}" if kept.sections else kept.told_by
    lines.append(f"{kept.name}: {kept.health.lasts:.1f} s{against}; {sections}; nothing in the log was changed")
    if out is not None:
        lines.append(f"health.png and findings.json in {out}")
    for line in lines:
        console().print(line, markup=False, soft_wrap=True)


def finding_lines(found: Finding) -> list[str]:
    """A finding in words: what and how sure, what it does, what to do, and what it stands on."""
    do = "; ".join(part for part in (found.remedy, found.mend) if part)
    lines = [f"{found.severity}, {100 * found.sure:.1f} % sure: {found.text}", f"    does: {found.effect}"]
    return [*lines, *([f"    do:   {do}"] if do else []), *([f"    seen: {found.reasons}"] if found.reasons else [])]
