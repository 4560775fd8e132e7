"""Every tuning constant of the search, in one table: what it does and what was measured of it.

No value here decides what an answer is: they decide how soon it is found and proven, and, of very large
studies, whether it is proven in the time. Limits of the arithmetic (`constraints.ROW_TOTAL_MAX`,
`lagrangian.LARGEST`, ...) and tolerances are no tuning; they stand where they are used.

Strategies are switched off, and values changed, for tests and benches only:

    with tuned(without=frozenset({"components", "boxstep"}), listed_max=1000):
        choose(table, units, order, ceilings, search)

Each of `STRATEGIES` can be switched off by itself or with others; with all of them off CP-SAT and HiGHS
search all rows. What is tuned holds for the whole process, all threads included.

"Not measured alone" says that a value was set together with others, by the whole bench
(`tests/bench/bench_search.py`).
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Any, Literal, get_args

Strategy = Literal[
    "reduction",  # rows that some best answer does without leave: theorems 1 to 3 of `reduction/dominance`
    "followers",  # joints that follow others are left out: theorem 4
    "head patterns",  # the ways to spread heads over a robot's joints are listed
    "earlier multipliers",  # rows that multipliers of held wishes rule out leave before the next wish
    "least covers",  # rings leave that no answer with so few ring parts can use
    "greedy",  # a first answer of a large program, part by part
    "components",  # joints that share no ring with others are settled for themselves
    "by cutter",  # where an answer has one cutter, the rest is settled cutter by cutter
    "relaxation",  # bounds by multipliers at all; without it only both engines prove anything
    "subgradient",  # good multipliers of a large program are climbed to before linear programs
    "boxstep",  # multipliers of later linear programs are held near good ones
    "radius formulation",  # linear programs with a stair of steps per joint, where ring parts alone count
    "relaxed answers",  # answers that a relaxation shows: taken whole, or rounded
    "improvement",  # HiGHS looks for a better answer among the rows that cost the bound least
    "neighbourhoods",  # a part of the best answer is freed while the rest stays
    "rounds",  # rows are dropped and the relaxation of the rest is solved again
    "enumeration",  # the last few answers are listed
    "branch and bound",  # what multipliers leave is split node by node
    "tie break",  # of equal answers that of the least ranks is looked for
]
#: The names of all strategies.
STRATEGIES: frozenset[Strategy] = frozenset(get_args(Strategy))


@dataclass(frozen=True)
class Tuning:
    """What the search is tuned by."""

    #: Strategies that are switched off.
    without: frozenset[Strategy] = frozenset()

    # -- sizes of programs that decide the way of a wish (one_wish, lexicographic) --
    #: Rows from which a program is large: a greedy answer first, components, nodes instead of further rounds.
    #: Below, linear programs alone take a few seconds at most.
    large_rows: int = 30_000
    #: Rows from which a bound by climbed multipliers is all: a linear program would take minutes.
    huge_rows: int = 1_000_000
    #: Rows from which one relaxation of all cutters takes longer than one of each. Not measured alone.
    mixed_rows: int = 4_000
    #: Rows from which what is left is not settled cutter by cutter. With 30,000 the material of 60 joints
    #: (seed 2, 47,139 rows) ended 28 % open in 60 s; cutter by cutter it is proven in 12 s of processor time.
    by_cutter_rows_max: int = 1_000_000
    #: Rounds of dropping rows and solving the relaxation of the rest, and the share that one must drop.
    rounds: int = 10
    round_drops: float = 0.1
    #: Rows up to which a wish is done sooner than multipliers of earlier wishes have been tried on them.
    reuse_rows: int = 100
    #: Rows up to which a relaxation breaks ties, and rows left up to which a whole search does.
    tie_rows_max: int = 30_000
    tie_searched_max: int = 1_000

    # -- least covers --
    #: Rows from which they are worth looking for: from 1,000 on six joints took a fifth longer. Rows up to
    #: which sets of joints are few enough to be compared.
    cover_rows: int = 4_000
    cover_rows_max: int = 100_000
    #: Joints up to which tries suffice: of 200 joints all were used up, in 6 s, and few rows left.
    cover_joints_max: int = 120
    #: Most sets of joints that are looked at for one table.
    cover_tries: int = 20_000

    # -- head patterns --
    #: Most patterns of one robot; beyond that they are not listed. Not measured alone.
    patterns_max: int = 600

    # -- column generation --
    #: Rows per joint that the first linear program has, by either order. Not measured alone.
    first_rows: int = 4
    #: Rows per joint that may join in one round. Not measured alone.
    joining_rows: int = 6
    #: Ring parts that may join whole in one round, or one for ten joints if that is more. Not measured alone.
    joining_parts: int = 60
    #: Most rounds, and those for a large program that may still lose rows before it is worth more.
    #: Without the box a large program took 63 rounds, with it 8.
    lp_rounds: int = 80
    lp_rounds_large: int = 3
    #: Rows from which good multipliers are first climbed to: it takes milliseconds where the linear program
    #: takes seconds, and comes within a percent or so of it.
    climb_rows: int = 30_000
    #: Turns of that climb, and the target as a share of what an answer is worth. Not measured alone.
    climb_turns: int = 300
    climb_target: float = 1.02
    #: Rows per joint to go on with where multipliers are known to begin with. Not measured alone.
    climbed_rows: int = 12
    #: Rows up to which a guided program takes part whole, in one linear program. Not measured alone.
    whole_rows: int = 60_000
    #: Rounds of a smaller program whose multipliers go where they like, before a box holds them.
    free_rounds: int = 4
    #: Width of the box over all joints, as a share of the bound. Not measured alone.
    box_width: float = 1e-3
    #: First price of leaving the box, the same with a guide that is near, and what becomes of it each time
    #: only the box holds the multipliers back. Not measured alone.
    box_price: float = 0.3
    box_price_guided: float = 0.02
    box_price_less: float = 0.25

    # -- linear programs --
    #: Weights are brought to about this size for GLOP, which works to 1e-7 absolutely.
    lp_size: float = 1e4
    #: Settings of GLOP in turn: presolving costs more than it saves here; what the primal simplex does not
    #: end, the dual one may. For stairs nothing has been taken to begin with, which suits the dual simplex:
    #: 5.5 to 9.0 times sooner than with a column per row, on programs of 27,064 to 34,073 rows.
    glop: tuple[str, ...] = (
        "use_preprocessing: false",
        "use_preprocessing: false use_dual_simplex: true",
    )
    glop_radius: tuple[str, ...] = (
        "use_preprocessing: false use_dual_simplex: true",
        "use_preprocessing: false",
    )

    # -- subgradient --
    #: Turns without a better bound before the step is shortened, and by how much. Not measured alone.
    climb_patience: int = 15
    climb_shorter: float = 0.66
    #: Share of a fresh direction in the one that is taken. Not measured alone.
    climb_fresh: float = 0.7
    #: Short climbs: step as a share of the bound, the least one, turns of each, how many. Not measured alone.
    step: float = 0.01
    step_min: float = 0.002
    step_turns: int = 60
    steps_max: int = 20

    # -- greedy --
    #: Most parts opened, and most exchanges tried. Not measured alone.
    opened_max: int = 2_000
    exchanges_max: int = 200
    #: Parts that serve this share of the most that one could serve are compared by weight.
    nearly_most: float = 0.8
    #: Parts compared for closing in one exchange. Not measured alone.
    closed_at_once: int = 6
    #: Shares of a ceiling that may be opened by prices; the first that leaves enough to serve all counts.
    begin_shares: tuple[float, ...] = (0.9, 0.75, 0.6, 0.45, 0.3, 0.0)

    # -- improvement --
    #: Rows per joint in the kernel, and how much larger it becomes where it does not help to drop rows.
    kernel_rows: int = 12
    kernel_growth: int = 4
    #: Rows beyond which it grows no more, and from which HiGHS would take minutes: then greedy looks instead.
    kernel_rows_max: int = 2_500
    kernel_rows_of_highs: int = 30_000
    #: Nodes that HiGHS may spend on it. Not measured alone.
    kernel_nodes: int = 200
    #: Rows up to which looking again costs next to nothing, even after it found nothing.
    improved_again_rows: int = 3_000

    # -- neighbourhoods --
    #: Rows left from which they are looked at: fewer are soon settled without.
    near_rows_left: int = 2_500
    #: Rows of the joints freed at first, at least and at most, and how they grow or shrink with success. With
    #: at most 3,000 rows and 100 nodes a neighbourhood of 60 joints took up to 5 s and was not better.
    near_rows: float = 400.0
    near_rows_min: float = 100.0
    near_rows_max: float = 800.0
    near_growth: float = 1.15
    #: Rows of each joint freed, one of these at a time: many joints a little, or few joints wholly.
    near_rows_each: tuple[int, ...] = (15, 40, 120)
    #: Rows of ring parts in use that a neighbourhood may have besides. Not measured alone.
    near_rows_in_use: int = 600
    #: Nodes that HiGHS may spend on one, and answers beyond real limits that it may give.
    near_nodes: int = 20
    near_tries: int = 3
    #: Neighbourhoods looked at at once: HiGHS runs outside Python, on the two cores of the bench.
    near_at_once: int = 2
    #: Neighbourhoods at most, and those in a row that may hold nothing better. Of 100 joints (seed 201) the
    #: material came within 1 % of the best after 2.4 s of processor time, where HiGHS on 30 rows of each
    #: joint took 15 s; 40 in a row in vain cost 16 s more and found nothing.
    near_steps: int = 1_000
    near_patience: int = 12
    #: One more of them for so many joints, where that is more.
    near_patience_joints: int = 8

    # -- enumeration --
    #: Most beginnings of answers kept at once; four times as many are tried. Not measured alone.
    listed_max: int = 100_000
    #: The same before a better answer is looked for, which six joints then do without; the first list has so
    #: many rows per joint, each next so many times more.
    listed_first: int = 5_000
    listed_rows: int = 2
    listed_growth: float = 1.5

    # -- branch and bound --
    #: Most nodes looked at; of few rows, which an engine would soon search; of one cutter's rows.
    nodes_max: int = 1_000
    nodes_of_few: int = 16
    nodes_of_part: int = 4
    #: Rows up to which they are few.
    nodes_few_rows: int = 2_000
    #: Nodes looked at at once: linear programs run outside Python, on the two cores of the bench.
    nodes_at_once: int = 2
    #: Turns in which a node's rows leave that its head patterns have no room for.
    room_turns: int = 3
    #: Rows more than joints beyond which, for components, linear programs are quicker than a list of answers.
    listed_more: int = 60

    # -- by cutter --
    #: Rounds of dropping rows and bounding the rest, and the share that a round must drop to be followed.
    cutter_rounds: int = 12
    cutter_round_drops: float = 0.05
    #: Rows per joint among which a better answer is looked for, first in every part, then in all of it.
    cutter_looks: tuple[int | None, ...] = (30, None)
    #: Nodes that HiGHS may spend on the first look. Not measured alone.
    cutter_nodes: int = 200
    #: Rows up to which HiGHS is not asked for the best before CP-SAT, but beside it.
    cutter_few_rows: int = 2_000
    #: Rows from which it is not asked for the best at all, but neighbourhoods are looked at once more: of 200
    #: joints it took minutes for 8,000 rows and found nothing.
    cutter_rows_of_highs: int = 6_000

    # -- by component --
    #: Most sets of cutters. Not measured alone.
    sets_max: int = 40
    #: Turns of the first climb, which starts far away: 0.9 s of the 7.4 s for 1,000 joints.
    component_turns: int = 300
    #: An answer above the bound by more than this share is first brought down by neighbourhoods.
    component_far: float = 0.03
    #: The best answer is first looked for within this share of the bound, then within so many times more.
    component_gap: float = 0.01
    component_gap_growth: int = 2
    #: That of one component within this share, and after each try within so many times more.
    component_near: float = 0.001
    component_near_growth: float = 1.5

    def uses(self, strategy: Strategy) -> bool:
        """Say whether a strategy is in use."""
        return strategy not in self.without


_in_use = Tuning()


def search_tuning() -> Tuning:
    """Return the values in use."""
    return _in_use


@contextmanager
def search_tuned(**changes: Any) -> Iterator[Tuning]:
    """Use other values inside a `with`, for tests and benches; raises TypeError for a name there is not.

    Raises ValueError if `without` names no strategy. Whatever is tuned, answers that are proven are the same.
    """
    global _in_use
    before, after = _in_use, replace(_in_use, **changes)
    unknown = after.without - STRATEGIES
    if unknown:
        raise ValueError(
            f"no strategies: {', '.join(sorted(unknown))}; there are {sorted(STRATEGIES)}"
        )
    _in_use = after
    try:
        yield after
    finally:
        _in_use = before
