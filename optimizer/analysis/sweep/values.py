"""Values of a path as people write them: `60:70:0.5`, or `hob,wire`, or `[1],[1,2]`, or all mixed.

A range start:stop:step holds its stop if a step falls on it. It is counted in decimal, so 60.1 is the
60.1 that a study would hold and not 60.00000000000001. Everything else is JSON if it looks like JSON,
and plain text if not; text with a comma or a colon stands in double quotes.
"""

from __future__ import annotations

import json
import re
from decimal import Context, Decimal, DecimalException, Inexact, InvalidOperation, Overflow
from typing import Any

from ringset.errors import Fault, StudyError

#: Most values of one path.
VALUES_MAX = 100_000

_NUMBER = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)(e[+-]?[0-9]{1,3})?", re.IGNORECASE)
_WORDS = {"null": None, "true": True, "false": False}
#: Refuses to round: a sum that does not fit is a fault, not another number.
_EXACT = Context(prec=60, traps=[Inexact, InvalidOperation, Overflow])


def parse_sweep_values(where: str, text: str, most: int = VALUES_MAX) -> list[Any]:
    """Return the values in `text`, as JSON holds them, in the order given.

    Raises StudyError, with `where` as the path of the fault, for an empty list or piece, a range that
    is none or never ends, JSON that is none, and more than `most` values.
    """
    values: list[Any] = []
    for piece in _pieces(where, text):
        if ":" in piece and piece[0] not in '"[{':
            values += _range(where, piece, most - len(values))
        else:
            values.append(parse_sweep_value(where, piece))
        if len(values) > most:
            raise StudyError([Fault(where, "more values", f"at most {most}")])
    return values


def parse_sweep_value(where: str, text: str) -> Any:
    """Return one value: a number, null, true, false, JSON in brackets or quotes, or plain text."""
    text = text.strip()
    if not text:
        raise StudyError([Fault(where, "an empty value", "a value, such as 60 or null")])
    if text in _WORDS:
        return _WORDS[text]
    if _NUMBER.fullmatch(text):
        return _json_number(where, Decimal(text))
    if text[0] in '"[{':
        try:
            return json.loads(text)
        except ValueError as error:
            raise StudyError([Fault(where, text, f"JSON ({error})")]) from None
    return text


def _pieces(where: str, text: str) -> list[str]:
    """Split at the commas outside quotes and brackets."""
    pieces, place = [], 0
    while True:
        start = place
        while text[place : place + 1].isspace():
            place += 1
        if text[place : place + 1] in ('"', "[", "{"):
            try:
                _, place = json.JSONDecoder().raw_decode(text, place)
            except ValueError as error:
                raise StudyError([Fault(where, text[start:], f"JSON ({error})")]) from None
        comma = text.find(",", place)
        place = len(text) if comma < 0 else comma
        pieces.append(text[start:place].strip())
        if not pieces[-1]:
            given = "an empty value"
            raise StudyError([Fault(where, given, "values: start:stop:step, or a comma list")])
        if comma < 0:
            return pieces
        place += 1


def _range(where: str, piece: str, most: int) -> list[Any]:
    fault = Fault(where, piece, "start:stop:step, three numbers with a step that leads to stop")
    ends = [end.strip() for end in piece.split(":")]
    if len(ends) != 3 or not all(_NUMBER.fullmatch(end) for end in ends):
        raise StudyError([fault])
    start, stop, step = (Decimal(end) for end in ends)
    if step == 0 or (stop - start) * step < 0:
        raise StudyError([fault])
    try:
        last = int(_EXACT.divide_int(_EXACT.subtract(stop, start), step))
        if last >= most:
            raise StudyError([Fault(where, f"{piece} ({last + 1} values)", f"at most {most}")])
        numbers = [
            _EXACT.add(start, _EXACT.multiply(Decimal(n), step)) for n in range(int(last) + 1)
        ]
    except DecimalException:
        allowed = "numbers near enough to each other to count exactly"
        raise StudyError([Fault(where, piece, allowed)]) from None
    return [_json_number(where, number) for number in numbers]


def _json_number(where: str, number: Decimal) -> int | float:
    """Return the whole number, or the float that a JSON text of the number would give."""
    if number == number.to_integral_value() and abs(number) < 2**53:
        return int(number)
    value = float(number)
    if value in (float("inf"), float("-inf")):
        raise StudyError([Fault(where, str(number), "a number below 1e308")])
    return value
