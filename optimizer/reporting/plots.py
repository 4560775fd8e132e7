"""Pictures of curves by matplotlib (extra `plot`), which is loaded only when one is drawn."""

from __future__ import annotations

from io import StringIO
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def report_subplots(rows: int, columns: int, **options: Any) -> tuple[Figure, Any]:
    """Return a figure and its axes, as `matplotlib.pyplot.subplots` does, for SVG of the same bytes."""
    import matplotlib as mpl

    mpl.use("svg")
    mpl.rcParams["svg.hashsalt"] = "ringset"
    from matplotlib import pyplot as plt

    return plt.subplots(rows, columns, layout="constrained", **options)


def report_plot_as_svg(figure: Figure) -> str:
    """Return a figure as SVG text without any date, and let go of it."""
    from matplotlib import pyplot as plt

    text = StringIO()
    figure.savefig(text, format="svg", metadata={"Date": None, "Creator": "ringset"})
    plt.close(figure)
    return text.getvalue()
