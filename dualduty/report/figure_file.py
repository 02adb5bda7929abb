"""Figures as PNG: the same bytes for the same picture, and never half a file."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from dualduty.files import whole_file


def png_bytes(figure: Figure) -> bytes:
    """The figure as PNG, without transparency, date or version, so that the same picture has the same bytes."""
    from PIL import Image

    canvas = figure.canvas if isinstance(figure.canvas, FigureCanvasAgg) else FigureCanvasAgg(figure)
    canvas.draw()
    pixels = np.ascontiguousarray(np.asarray(canvas.buffer_rgba())[:, :, :3])
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, format="png", compress_level=2, dpi=(figure.dpi, figure.dpi))
    return out.getvalue()


def write_figure(figure: Figure, path: Path) -> None:
    """Write a figure as PNG in one step: the old file stays until the new one is whole."""
    with whole_file(path) as draft:
        draft.write_bytes(png_bytes(figure))
