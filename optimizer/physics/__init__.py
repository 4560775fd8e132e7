"""Pure physics of target rings: functions on numbers or numpy arrays. Nothing here knows a study or a solver.

The ring itself:

- `geometry`: diameters, section area, mass and inertia of whole columns of rings
- `tooth_profile`: the true tooth of one ring, as exact curves and as a polyline
- `inspection`: spans over teeth and dimensions over pins
- `machining`: deeper cutters, jaw force, blanks
- `rim_bending`: stiffness of the rim in the jaws and on an oval seat
- `curved_beam`: the same of a thick rim, with shear and hoop force
- `interference_fit`, `rotating_ring`, `face_bolting`: a ring pressed on a hub, turning, held by screws

What a head reads of it:

- `air_gap`: what temperature and a press fit leave of the gap
- `tooth_field`: decay of the tooth field over the gap
- `head_averaging`: what the mean over several heads cancels
- `pitch_spectrum`: the spectrum of pitch errors that is assumed, and the shares that follow
- `budget`: the angle error of one ring on one joint, term by term
- `resolution`: bits, counts, noise and tooth rate
- `toolpoint`: the error at the tool
- `simulated_signal`, `ring_form`: the simulation that checks the budget

What the electronics ask: `latency`, `serial_line`, `battery_backup` and `vernier`.

For all of them: `limit_rule`, the one rule by which a limit counts as met; `arguments`, checks of what a
function is given; `quantity`, the types.

Unless a docstring says otherwise, arguments broadcast as numpy arrays do, and a function that is given
numbers returns a number. Units stand in the names. A ValueError names the argument, what was given and
what is allowed; a range without an error is the caller's to keep. "Worked out here" marks what follows from
the stated assumptions without a source; "from memory" a source that was not at hand.
"""
