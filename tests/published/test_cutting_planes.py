"""The small checker of proofs, held against examples of the format's own documentation and tests.

Sources: README and tests/integration_tests of github.com/StephanGocht/VeriPB (commit 01b7b50), and the
migration guide of VeriPB 3.0.2, where `pol 42 3 * 43 + s 2 d` is explained word by word. The constraints and
what they come to are theirs; the frame is that of version 3.0.
"""

from __future__ import annotations

import pytest

from tests.support.cutting_planes import Checker, check_proof
from tests.support.pseudo_boolean import Inequality, ProofRefused, read_inequalities, read_opb

#: miniProof_polishnotation_1: five constraints, and lines with what they come to.
MINI = """* #variable= 4 #constraint= 5
1 x1 +1 x2 >= 1 ;
1 x2 +1 x3 >= 1 ;
1 x1 +1 x3 +1 x4 >= 1 ;
1 x1 +1 x3 -1 x4 >= 0 ;
-1 x1 -1 x2 -1 x3 >= -1 ;
"""
MINI_LINES = [
    ("3 1 * 4 1 * + s", "1 x1 +1 x3 >= 1"),
    ("1 2 + 6 +", "2 x1 +2 x2 +2 x3 >= 3"),
    ("1 2 + 6 + 2 d", "1 x1 1 x2 1 x3 >= 2"),
    ("5 2 * 8 2 * +", ">= 2"),
]
#: Formula, line, and what the line comes to.
EXAMPLES = [
    ("1 x1 1 x2 1 x3 >= 1 ; 1 x1 -1 x2 >= 1 ;", "1 1 * 2 1 * +", "2 x1 1 x3 >= 2"),
    ("1 x1 1 x2 1 x3 >= 1 ; 1 x1 -1 x2 >= 1 ;", "1 1 * 2 1 * + 42 d", "1 x1 1 x3 >= 1"),
    ("1 x1 1 x2 1 x3 >= 1 ; 1 x1 -1 x2 >= 0 ;", "1 1 * 2 1 * +", "2 x1 1 x3 >= 1"),
    ("1 x1 1 x2 1 x3 >= 1 ; 1 x1 -1 x2 >= 0 ;", "1 1 * 2 1 * + s", "1 x1 1 x3 >= 1"),
    ("10 x1 -1 x3 +5 ~x2 >= 12 ;", "1 x1 w", "5 ~x2 1 ~x3 >= 3"),
    ("10 x1 -1 x3 +5 ~x2 >= 12 ;", "1 x1 w x3 w", "5 ~x2 >= 2"),
    ("10 x1 -1 x3 +5 ~x2 >= 3 ;", "1 x1 w x2 w", "-1 x3 >= -12"),
    ("1 x1 1 x2 1 x3 >= 1 ;", "~x1", "1 ~x1 >= 0"),
    ("1 x1 >= 0 ;", "1 s", ">= 0"),
    ("1 ~x1 >= 1 ; 1 x1 1 x2 >= 1 ; 1 ~x2 >= 1 ;", "-1 -2 +", "1 x1 >= 1"),
]


def only(text: str) -> Inequality:
    (found,) = read_inequalities(text)
    return found


@pytest.mark.parametrize(("formula", "line", "wanted"), EXAMPLES)
def test_a_line_comes_to_what_is_printed(formula: str, line: str, wanted: str) -> None:
    checker = Checker(read_opb(formula))
    checker.pol(line.split())
    assert checker.known[checker.last] == only(wanted)


def test_the_printed_proof_ends_in_its_contradiction() -> None:
    checker = Checker(read_opb(MINI))
    for line, wanted in MINI_LINES:
        checker.pol(line.split())
        assert checker.known[checker.last] == only(wanted)
    lines = "".join(f"pol {line} ;\n" for line, _ in MINI_LINES)
    assert check_proof(MINI, proof(5, lines, 9)) == 8
    with pytest.raises(ProofRefused, match="no contradiction"):
        check_proof(MINI, proof(5, lines, 8))


def proof(given: int, lines: str, last: int) -> str:
    """Return the frame of a proof in version 3.0 around some lines."""
    end = f"output NONE;\nconclusion UNSAT : {last};\nend pseudo-Boolean proof;\n"
    return f"pseudo-Boolean proof version 3.0\nf {given};\n{lines}{end}"


def test_an_equation_counts_as_two_constraints() -> None:
    """The README's example: 1 x3 1 x4 = 1 is loaded as its two halves."""
    found = read_opb("* #variable= 3 #constraint= 1\n1 x1 2 x2 >= 1 ;\n1 x3 1 x4  = 1 ;\n")
    assert found == [
        only("1 x1 2 x2 >= 1"), only("1 x3 1 x4 >= 1"), only("-1 x3 -1 x4 >= -1")
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "same"),
    [
        ("2 x1 1 ~x2 -1 ~x3 >= 2", "2 x1 -1 x2 1 x3 >= 2"),
        ("-2 x1 -1 ~x2 1 ~x3 >= -2", "2 ~x1 1 x2 1 ~x3 >= 1"),
    ],
)
def test_literals_of_both_signs_say_the_same(text: str, same: str) -> None:
    assert only(text) == only(same)


RUP = "1 x1 1 x2 1 x3 >= 1 ; -1 x3 1 x4 >= 1 ; -1 x4 -1 x3 >= 1 ;"


def test_unit_propagation_finds_the_printed_conflicts() -> None:
    checker = Checker(read_opb(RUP))
    checker.rup(only("1 x1 1 x2 >= 1"))
    checker.rup(only(">= 1"))
    large = "1 x1 +1 x2 +1 x3 >= 1 ; 1 x1 +1 x2 +10000000000000000000 ~x3 >= 1 ;"
    checker = Checker(read_opb(large))
    checker.rup(only("10000000000000000000 x1 +10000000000000000000 x2 >= 10000000000000000000"))


@pytest.mark.parametrize(
    ("formula", "lines"),
    [
        ("1 x1 1 x2 1 x3 >= 1 ; 1 ~x3 1 x4 >= 1 ; 1 ~x4 1 ~x3 >= 1 ;",
         "del id 1 2 3;\nrup 1 x1 1 x2 >= 1;\n"),
        ("1 x4 1 x3 >= 1 ; 1 x4 1 ~x3 >= 1 ; 1 ~x4 1 x3 >= 1 ;",
         "rup 1 x4 >= 1;\nrup 1 x4 1 x3 >= 2;\nrup 1 x1 1 x2 >= 1;\n"),
        ("1 x1 1 x2 >= 1 ; 1 x1 1 ~x2 >= 1 ;", "pol 1 -1 *;\n"),
        ("1 x1 2 x2 1 x3 >= 1 ;", ""),
        ("1 x1 1 x2 >= 1 ;", "pol 1 5 +;\n"),
        ("1 x1 1 x2 >= 1 ;", "pol 1 1;\n"),
        ("1 x1 1 x2 >= 1 ;", "a >= 1;\n"),
        ("1 x1 1 x2 >= 1 ;", "red >= 1 : x1 -> 0;\n"),
    ],
)  # fmt: skip
def test_what_shows_nothing_is_refused(formula: str, lines: str) -> None:
    given = len(read_opb(formula))
    with pytest.raises(ProofRefused):
        check_proof(formula, proof(given, lines, 1))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("version 3.0", "version 1.0"),
        ("f 5", "f 4"),
        ("output NONE;\n", ""),
        ("UNSAT : 9", "SAT : 9"),
        ("end pseudo-Boolean proof;\n", ""),
        ("end pseudo-Boolean proof;\n", "end pseudo-Boolean proof;\nrup >= 1;\n"),
        ("output NONE;\n", "output NONE;\nrup >= 1;\n"),
    ],
)
def test_a_broken_frame_is_refused(old: str, new: str) -> None:
    lines = "".join(f"pol {line} ;\n" for line, _ in MINI_LINES)
    good = proof(5, lines, 9)
    assert old in good
    with pytest.raises(ProofRefused):
        check_proof(MINI, good.replace(old, new))
