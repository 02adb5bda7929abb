"""What goes to the damper group: a page of words and numbers, the asked maps as CSV, and a picture."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from dualduty.dyno.common_grid import sample
from dualduty.dyno.map_file import write_damper_map
from dualduty.dyno.regions import say_speed
from dualduty.dyno.request import Request
from dualduty.dyno.request_target import Target
from dualduty.files import result_folder, write_text


def write_request(request: Request, targets: Sequence[Target], out: Path) -> None:
    """Write request.md, asked_NAME.csv for each map that a wish changes, and request.png."""
    from dualduty.report.dampers.request_picture import draw_request
    from dualduty.report.figure_file import write_figure

    changed = [target for target in targets if target.wishes]
    with result_folder(out) as draft:
        write_text(draft / "request.md", "\n".join(_page(request, targets)) + "\n")
        for target in changed:
            write_damper_map(draft / f"asked_{target.base.name}.csv", target.map, _remarks(request, target))
        write_figure(draw_request(request.name, changed), draft / "request.png")


def _remarks(request: Request, target: Target) -> list[str]:
    wishes = "; ".join(wish.asked for wish in target.wishes)
    return [f"asked: {request.name}, {target.base.label}; base: {target.base.origin}", wishes, request.provenance or "no provenance given"]


def _page(request: Request, targets: Sequence[Target]) -> Iterator[str]:
    yield f"# Request: {request.name}\n"
    yield from (
        f"{word}: {text}\n" for word, text in (("To", request.to), ("Provenance", request.provenance), ("Note", request.note)) if text
    )
    yield "Force is that of the damper alone, against the motion, gas and friction taken out. Duty 0 % is soft, 100 % firm.\n"
    yield "## Wishes\n"
    for wish in request.wishes:
        why = f" Why: {wish.why}" if wish.why else ""
        yield f"{wish.number}. {wish.asked}; tolerance {100 * wish.tolerance:g} %.{why}"
    yield f"\nAll that is not asked for stays within {100 * request.unasked:g} %: " + _kept(targets) + "\n"
    for notice in dict.fromkeys(notice for target in targets for notice in target.notices):
        yield f"Noticed: {notice}.\n"
    for target in targets:
        if target.wishes:
            yield from _table(target)
    yield "![asked against base](request.png)"


def _kept(targets: Sequence[Target]) -> str:
    names = [target.base.label for target in targets if not target.wishes]
    return (", ".join(names) + " whole, and the other speeds and duties of the maps below.") if names else "other speeds and duties."


def _table(target: Target) -> Iterator[str]:
    """Asked forces; what differs from the base is bold, with the base's force beside it."""
    speeds, duties = target.map.speeds[1:], target.map.duties
    base, asked = (sample(each, speeds, duties) for each in (target.base.map, target.map))
    yield f"## {target.base.label}, asked force in N (base: {target.base.origin})\n"
    yield "| shaft speed [m/s] | " + " | ".join(f"{100 * duty:g} % duty" for duty in duties) + " |"
    yield "|---" * (duties.size + 1) + "|"
    for row, speed in enumerate(speeds):
        cells = [
            f"**{force:.0f}** (base {plain:.0f})" if abs(force - plain) > 0.5 else f"{force:.0f}"  # noqa: PLR2004 - rounding
            for force, plain in zip(asked[row], base[row], strict=True)
        ]
        yield f"| {say_speed(speed)} | " + " | ".join(cells) + " |"
    yield ""
