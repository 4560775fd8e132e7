"""Pure physics of target rings: functions on numbers or numpy arrays.

Nothing here knows a study or a solver. `geometry` holds sizes, areas, mass and inertia; `field` the
decay of the tooth field over the gap; `gap` what is left of the gap; `heads` what several heads cancel;
`rim` the stiffness of the ring; `fits` a ring pressed on a hub, `spinning` a rotating one, `bolting` one
held by screws; `inspection` spans and pins, `making` cutter depth, blanks and jaw force; `budget` the
angle error of one ring on one joint; `readout` bits, counts and tooth rate; `toolpoint` the error at the
tool; `lag`, `backup`, `serial_line` and `vernier` what the electronics ask; `signal` and `ringform` the
simulation that checks the budget; `limits` the one rule by which a limit counts as met; `given` checks
of arguments.
"""
