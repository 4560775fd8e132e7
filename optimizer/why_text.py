"""An explanation for people: what collides and what would free it, or prices and room to move."""

from __future__ import annotations

from io import StringIO

from optimizer.explanation import Collision, Explanation, Price, Room, Way
from optimizer.text import bullets, count, table, wrap

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
        blocks += [_prices(why), _rooms(why.rooms)]
    return "\n\n".join(blocks) + "\n"


# -- impossible ---------------------------------------------------------------------------------------------


def _impossible(why: Explanation) -> list[str]:
    texts = _merged(why.blockers)
    shown = texts[:COLLISIONS]
    rest = len(texts) - len(shown)
    if rest or not why.complete:
        shown.append(f"{rest or 'perhaps'} more" + ("" if rest else "; the list may go on"))
    alone = "What cannot hold together (without any one of a line, the rest of it can)"
    blocks = ["Impossible as stated.", bullets(alone, shown)]
    if why.singles:
        title = "Least changes that free it, any one of them will do"
        blocks.append(bullets(title, map(_way, why.singles)))
    if why.fronts:
        title = "Or two at once" if why.singles else "Least changes that free it, two at once"
        ways = [way for front in why.fronts for way in front]
        blocks.append(bullets(title, map(_way, ways)))
    if why.together is not None:
        blocks.append(bullets("Changes that free it, all of them", [_way(why.together)]))
    if why.singles or why.fronts or why.together:
        text = "Every change was solved; one step less is impossible again."
    else:
        text = "No change of one or two limits that are not fixed frees it"
        text += f" within {100.0 * why.margin:.3g} % of the values given."
    return [*blocks, wrap(text, "")]


def _merged(blockers: list[Collision]) -> list[str]:
    """Return a line per blocker; joints that fail by the same limits share one."""
    groups: dict[tuple[str, ...], list[Collision]] = {}
    for blocker in blockers:
        groups.setdefault(tuple(m.text for m in blocker.members), []).append(blocker)
    texts = []
    for key, same in groups.items():
        joints = [blocker.joint for blocker in same if blocker.joint is not None]
        texts.append(f"{', '.join(joints)}: {', '.join(key)}" if len(joints) > 1 else same[0].text)
    return texts


def _way(way: Way) -> str:
    parts = [change.text for change in way.changes]
    return f"{' and '.join(parts)} ({100.0 * way.asks:.3g} %)"


# -- possible -----------------------------------------------------------------------------------------------


def _prices(why: Explanation) -> str:
    told = [p for p in why.prices if _tells(p)]
    silent = len(why.prices) - len(told)
    names = [name for name in _quantities(why) if any(_moves(p, name) for p in told)]
    title = "Prices of limits: what changes with the limit loosened, and tightened"
    if not told:
        return wrap(f"{title}: nothing for any of {count(silent, 'limit')}.", "")
    heads = ["limit", "loosened"] + [_UNITS.get(n, n) for n in names]
    heads += ["tightened"] + [_UNITS.get(n, n) for n in names]
    rows = [_price_row(price, names) for price in told[:PRICES]]
    lines = [title, table(heads, rows)]
    if len(told) > PRICES:
        lines.append(f"  {len(told) - PRICES} more in --json")
    if silent:
        lines.append(f"  {count(silent, 'limit')} could move either way without any change")
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
    heads = ["input", "given", "holds to", "room", "fails first", "limit"]
    rows = [
        [
            room.path,
            f"{room.given:.6g}",
            f"{room.holds_to:.6g}",
            f"{room.holds_to - room.given:+.3g}",
            room.first or "",
            room.limit or "",
        ]
        for room in rooms[:ROOMS]
    ]
    lines = ["Room to move for this answer, least first", table(heads, rows)]
    if len(rooms) > ROOMS:
        lines.append(f"  {len(rooms) - ROOMS} more in --json")
    return "\n".join(lines)


def draw_prices(why: Explanation) -> str:
    """Return an SVG of the prices: per limit and quantity, the change loosened and tightened.

    Needs matplotlib (extra `plot`). Equal inputs give equal bytes.
    """
    import matplotlib as mpl

    mpl.use("svg")
    mpl.rcParams["svg.hashsalt"] = "ringset"
    from matplotlib import pyplot as plt

    told = [p for p in why.prices if _tells(p)][:PRICES][::-1]
    names = [name for name in _quantities(why) if any(_moves(p, name) for p in told)] or [
        "material"
    ]
    height = 1.5 + 0.3 * max(1, len(told))
    figure, axes = plt.subplots(
        1, len(names), figsize=(4.0 + 2.4 * len(names), height), sharey=True, squeeze=False,
        layout="constrained",
    )  # fmt: skip
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
    text = StringIO()
    figure.savefig(text, format="svg", metadata={"Date": None, "Creator": "ringset"})
    plt.close(figure)
    return text.getvalue()


def _marked(price: Price) -> str:
    return f"{price.text} (tighter: impossible)" if price.tightened_impossible else price.text
