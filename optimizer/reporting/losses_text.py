"""The losses of an answer for people: what is lost, what for it was, and what it costs to do without it."""

from __future__ import annotations

from collections.abc import Iterator

from ringset.analysis.losses.models import Loss, Losses
from ringset.analysis.losses.words import lost_joints_words
from ringset.reporting.pieces_text import counted_note
from ringset.wording import wording_bullets, wording_wrapped

_TITLES = {
    "Without a cutter": ("cutter",),
    "Without a head": ("head",),
    "Without a ring part": ("ring part",),
    "Without a stock size (wishes count turned blanks, from whatever stock)": (
        "bar",
        "tube",
        "plate",
    ),
}
_SURE = {
    "proven": "each cost is proven to be the least unless it is said",
    "agreed": "this answer is agreed on by the search engines, not proven",
    "found": "this answer itself is not known to be best",
}


def losses_text(losses: Losses) -> str:
    """Return what the loss of each thing costs, as text for a terminal."""
    blocks = ["\n".join(_headline(losses))]
    for title, kinds in _TITLES.items():
        lines = [_line(loss) for loss in losses.losses if loss.kind in kinds]
        blocks += [wording_bullets(title, lines)] if lines else []
    blocks += [wording_bullets("Open", losses.open)] if losses.open else []
    return "\n\n".join(blocks) + "\n"


def _headline(losses: Losses) -> Iterator[str]:
    if losses.title:
        yield losses.title
    if losses.status in _SURE:
        text = "What it costs to lose a thing of this answer: the best answer of the study without it, "
        yield wording_wrapped(f"{text}beside this one; {_SURE[losses.status]}.", "")
        note = counted_note(losses.counted)
        if note is not None:
            yield wording_wrapped(note, "")
    else:
        yield f"There is no answer of which something could be lost: it is {losses.status}."


def _line(loss: Loss) -> str:
    name = loss.thing if loss.kind not in ("cutter", "ring part") else f"{loss.name}, {loss.thing}"
    used = "" if loss.kind == "head" else f" (for {lost_joints_words(loss.joints)})"
    return f"{name}{used}: {loss.text}"
