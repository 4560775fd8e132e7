"""An explanation for people: what collides and what would free it, or prices and room to move."""

from __future__ import annotations

from math import comb

from ringset.analysis.explanation.models import Collision, Explanation, Price, Room, Way
from ringset.analysis.explanation.words import explained_names
from ringset.reporting.plots import report_plot_as_svg, report_subplots
from ringset.wording import count, wording_bullets, wording_table, wording_wrapped

#: Most lines of each list; the rest is in the JSON.
COLLISIONS, PRICES, ROOMS = 6, 20, 15
_UNITS = {"ring_parts": "ring parts", "material": "material kg"}


def explanation_text(why: Explanation) -> str:
    """Return the whole explanation as text for a terminal."""
    blocks = [why.title] if why.title else []
    if why.status == "undecided":
        blocks.append("Undecided: the search ended before it knew.")
    elif why.status == "impossible":
        blocks += _impossible(why)
    else:
        blocks += ["Possible. What its limits cost, and how far its inputs may drift."]
        blocks += [wording_wrapped(f"Open: {text}.", "") for text in why.open]
        blocks += [] if why.open else [_prices(why)]
        blocks.append(_rooms(why.rooms))
    return "\n\n".join(blocks) + "\n"


# -- impossible ---------------------------------------------------------------------------------------------


def _impossible(why: Explanation) -> list[str]:
    texts = _merged(why.blockers, not (why.singles or why.fronts or why.together))
    shown = texts[:COLLISIONS]
    rest = len(texts) - len(shown)
    if rest or not why.complete:
        shown.append(f"{rest or 'perhaps'} more" + ("" if rest else "; the list may go on"))
    alone = "What cannot hold together (all of a line; drop any one of it, and the rest can)"
    blocks = ["Impossible as stated.", wording_bullets(alone, shown)]
    if why.singles:
        title = "Least changes that free it, any one of them will do"
        blocks.append(wording_bullets(title, map(_way, why.singles)))
    if why.fronts:
        title = "Or two at once" if why.singles else "Least changes that free it, two at once"
        ways = [way for front in why.fronts for way in front]
        blocks.append(wording_bullets(title, map(_way, ways)))
    if why.together is not None:
        blocks.append(wording_bullets("Changes that free it, all of them", [_way(why.together)]))
    if why.free_without_kept_parts is not None:
        text = "If no joint kept a part (keeps_part), the study would "
        text += "be possible." if why.free_without_kept_parts else "still be impossible."
        blocks.append(wording_wrapped(text, ""))
    if why.singles or why.fronts or why.together:
        text = "Every change was solved; one step less is impossible again."
    else:
        text = "No change of a number was found that frees it: no limit alone, widened up to"
        text += f" {100.0 * why.margin:.3g} % (one head more), nor any pair that was tried. More heads on"
        text += " several joints, or a better class, are no single limits: try them as studies."
    return [*blocks, wording_wrapped(text, "")]


def _merged(blockers: list[Collision], alone: bool) -> list[str]:
    """Return a line per blocker; those that fail by the same limits share one.

    Where several joints are stuck, or nothing is found that frees the study (`alone`), each limit has the
    value that would do for its joint.
    """
    groups: dict[tuple[str, ...], list[Collision]] = {}
    several = len({blocker.joint for blocker in blockers} - {None}) > 1
    for blocker in blockers:
        limits = tuple(m.told for m in blocker.members if not m.whole_joint)
        groups.setdefault((str(blocker.joint is None), *limits), []).append(blocker)
    texts = []
    for same in groups.values():
        if same[0].joint is not None:
            joints = ", ".join(str(blocker.joint) for blocker in same)
            told = _with_best(same) if several or alone else [m.told for m in same[0].members]
            texts.append(f"{joints}: {', '.join(told)}")
            continue
        shared = " and ".join(m.text for m in same[0].members if not m.whole_joint)
        sets = [[m.text for m in blocker.members if m.whole_joint] for blocker in same]
        if any(sets):
            texts += [f"{shared} with {words}" for words in joint_sets_text(sets)]
        else:
            texts.append(shared)  # whatever the rings, as with polling
    return texts


def _with_best(same: list[Collision]) -> list[str]:
    """Return the limits of blockers that differ in their joint only, each with the value that would do."""
    texts = []
    for members in zip(*(blocker.members for blocker in same), strict=True):
        best = sorted({m.best for m in members if m.best is not None})
        words = " to ".join(f"{value:.10g}" for value in {best[0]: 0, best[-1]: 0}) if best else ""
        texts.append(f"{members[0].text} ({words} would do)" if words else members[0].told)
    return texts


def joint_sets_text(sets: list[list[str]]) -> list[str]:
    """Return sets of joints in few words: what all have in common, and how many of the others.

    Sets that share all but one of their joints are told together, as many as possible at a time.
    """
    names = list(dict.fromkeys(name for one in sets for name in one))
    left = [frozenset(one) for one in sets]
    common = frozenset.intersection(*left) if left else frozenset()
    others = [name for name in names if name not in common]
    fewest = len(left[0] - common) if left else 0
    whole = all(len(one - common) == fewest for one in left)
    if fewest > 1 and whole and len(set(left)) == comb(len(others), fewest):
        first = "".join(f"{name}, " for name in names if name in common)
        return [f"{first}any {fewest} of {explained_names(others)}"]
    words = []
    while left:
        stems = {one - {name} for one in left for name in one} if len(left) > 1 else set()
        told = {
            stem: [one for one in left if stem < one and len(one) == len(stem) + 1]
            for stem in stems
        }
        stem = max(sorted(told, key=lambda s: [names.index(n) for n in names if n in s]),
                   key=lambda s: len(told[s]), default=None)  # fmt: skip
        if stem is None or len(told[stem]) < 2:
            words += [explained_names([n for n in names if n in one]) for one in left]
            break
        ends = [name for name in names if any(one - stem == {name} for one in left)]
        fixed = [name for name in names if name in stem]
        words.append(
            explained_names([*fixed, f"one of {explained_names(ends)}"])
            if fixed
            else f"one of {explained_names(ends)}"
        )
        left = [one for one in left if one not in told[stem]]
    return words


def _way(way: Way) -> str:
    parts = [change.text for change in way.changes]
    return f"{' and '.join(parts)} ({100.0 * way.asks:.3g} %)"


# -- possible -----------------------------------------------------------------------------------------------


def _prices(why: Explanation) -> str:
    told = [p for p in why.prices if _tells(p)]
    unknown = sum(not p.solved for p in why.prices)
    silent = len(why.prices) - len(told) - unknown
    names = [name for name in _quantities(why) if any(_moves(p, name) for p in told)]
    title = "Prices of limits: what changes with the limit loosened, and tightened"
    if not told and not unknown:
        return wording_wrapped(f"{title}: nothing for any of {count(silent, 'limit')}.", "")
    heads = ["limit", "loosened"] + [_UNITS.get(n, n) for n in names]
    heads += ["tightened"] + [_UNITS.get(n, n) for n in names]
    rows = [_price_row(price, names) for price in told[:PRICES]]
    lines = [title, wording_table(heads, rows)]
    if len(told) > PRICES:
        lines.append(f"  {len(told) - PRICES} more in --json")
    if silent:
        lines.append(f"  {count(silent, 'limit')} could move either way without any change")
    if unknown:
        lines.append(f"  open for {count(unknown, 'limit')}: the search ended before it knew")
    return "\n".join(lines)


def _quantities(why: Explanation) -> list[str]:
    names = dict.fromkeys(name for price in why.prices for name in (*price.gain, *price.loss))
    return list(names)


def _moves(price: Price, name: str) -> bool:
    return any(abs(side.get(name, 0.0)) > 1e-9 for side in (price.gain, price.loss))


def _tells(price: Price) -> bool:
    changes = [*price.gain.values(), *price.loss.values()]
    return price.tightened_impossible or any(abs(change) > 1e-9 for change in changes)


def _price_row(price: Price, names: list[str]) -> list[str]:
    def cells(value: float | None, changes: dict[str, float]) -> list[str]:
        if value is None:
            return ["-", *("" for _ in names)]
        return [f"{value:.6g}", *(_signed(changes.get(name, 0.0)) for name in names)]

    tight = cells(price.tightened, price.loss)
    if price.tightened_impossible:
        tight = [tight[0], "impossible", *("" for _ in names[1:])]
    return [price.text, *cells(price.loosened, price.gain), *tight]


def _signed(change: float) -> str:
    return "." if abs(change) < 1e-9 else f"{change:+.4g}"


def _rooms(rooms: list[Room]) -> str:
    if not rooms:
        return "Room to move: no input of the answer is bounded."
    eaten = any(room.target_holds_to is not None for room in rooms)
    heads = ["input", "given", "holds to", "room", "fails first", "limit"]
    heads += ["breaks the target at"] if eaten else []
    rows = [
        [
            room.path,
            f"{room.given:.6g}",
            f"{room.holds_to:.6g}",
            f"{'+' if room.direction == 'up' else '-'}{abs(room.holds_to - room.given):.3g}",
            room.first or "",
            room.limit or "",
            *([_whole_target(room)] if eaten else []),
        ]
        for room in rooms[:ROOMS]
    ]
    lines = ["Room to move for this answer, least first", wording_table(heads, rows)]
    if eaten:
        text = "Where an accuracy target fails first, the input eats the reserve from `holds to` on; the "
        text += "target itself breaks at the last column (by another limit where that is named)."
        lines.append(wording_wrapped(text, "  "))
    if len(rooms) > ROOMS:
        lines.append(f"  {len(rooms) - ROOMS} more in --json")
    return "\n".join(lines)


def _whole_target(room: Room) -> str:
    """Return where the target itself breaks, and by what if another limit comes first."""
    if room.target_holds_to is None:
        return "-"
    other = "" if room.target_limit == room.limit else f" ({room.target_limit})"
    return f"{room.target_holds_to:.6g}{other}"


def report_prices_plot(why: Explanation) -> str:
    """Return an SVG of the prices: per limit and quantity, the change loosened and tightened.

    Needs matplotlib (extra `plot`). Equal inputs give equal bytes.
    """
    told = [p for p in why.prices if _tells(p)][:PRICES][::-1]
    names = [name for name in _quantities(why) if any(_moves(p, name) for p in told)] or [
        "material"
    ]
    height = 1.5 + 0.3 * max(1, len(told))
    figure, axes = report_subplots(
        1, len(names), figsize=(4.0 + 2.4 * len(names), height), sharey=True, squeeze=False
    )
    places = list(range(len(told)))
    for axis, name in zip(axes[0], names, strict=True):
        axis.barh(
            places, [p.gain.get(name, 0.0) for p in told], 0.6, color="0.25", label="loosened"
        )
        axis.barh(
            places, [p.loss.get(name, 0.0) for p in told], 0.3, color="0.7", label="tightened"
        )
        axis.axvline(0.0, color="black", linewidth=0.8)
        axis.set_xlabel(f"change of {_UNITS.get(name, name)}", fontsize=8)
        axis.set_yticks(places, [_marked(price) for price in told], fontsize=8)
        axis.tick_params(axis="x", labelsize=8)
    axes[0][0].legend(fontsize=8)
    figure.suptitle(
        f"Prices of limits: {why.title}" if why.title else "Prices of limits", fontsize=10
    )
    return report_plot_as_svg(figure)


def _marked(price: Price) -> str:
    return f"{price.text} (tighter: impossible)" if price.tightened_impossible else price.text
