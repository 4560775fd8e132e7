"""Work that goes wrong on purpose: the title of a study says how."""

import ctypes
import json
import os
import time

from ringset import load_study, solve
from ringset.api.contract.questions import Options
from ringset.api.workers.tasks import checked_result_bytes
from ringset.api.workers.tasks import perform_task as truly
from ringset.api.workers.worker import Found, Tell


def perform(kind: str, document: bytes, options: Options, tell: Tell) -> Found:
    """Do what the title says; else what is asked."""
    if options.get("changes", {}).get("target.angle_target_arcsec") == 66.6:
        os.abort()  # one row of a sweep
    word, _, number = json.loads(document).get("title", "").partition(" ")
    match word:
        case "sleep":
            time.sleep(float(number))
        case "talk":  # progress for a while
            for step in range(int(number)):
                tell("progress", {"stage": "talk", "best": float(step)})
                tell("point", {"cell": step})
                time.sleep(0.05)
        case "hog":  # holds the interpreter lock and looks at nothing
            ctypes.PyDLL(None).sleep(int(float(number)))
        case "abort":
            os.abort()
        case "leave":
            os._exit(3)
        case "eat":
            grown = []
            while True:
                grown.append(bytearray(50_000_000))
                time.sleep(0.01)
        case "burst":
            bytearray(200_000_000_000)
        case "raise":
            raise ValueError("on purpose")
        case "nan":
            answer = solve(load_study(document))
            assert answer.totals is not None
            totals = answer.totals.model_copy(update={"material_kg": float("nan")})
            return (
                "proven",
                True,
                checked_result_bytes(answer.model_copy(update={"totals": totals})),
            )
    return truly(kind, document, options, tell)
