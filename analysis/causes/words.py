"""Names and checks of the causes that the cans speak for."""

from __future__ import annotations

LADDER = " A second person holds the ladder; keep away from power lines."
SHUT = " Shut the water, vent, and see the gauge at zero before opening anything."

# kind -> what it may be (members that the cans cannot tell apart)
NAMES = {
    "weak head": ("a clogged head", "a worn or wrong nozzle that gives too little", "a stuck anti-drip valve"),
    "strong head": ("a worn head", "a head of another size", "a leaking head"),
    "two kinds": ("heads of two kinds on one line",),
    "line low": ("its valve is partly closed", "its feed tube is kinked", "its inlet is clogged"),
    "step": ("a kinked tube", "a crushed tube", "a half-blocked coupling", "a leak"),
    "end heads": ("the last heads are clogged by dirt at the end plug", "a kink before the last heads"),
    "wet wall": ("spray that runs down the film",),
    "drift": ("drift of the spray by moving air", "tilted heads"),
    "dry wedge": ("something in the way of the spray: a post, a bow or a hanging crop",),
    "can low": ("a can that was tipped, shaded or misread",),
    "can high": ("a can that was dripped on or misread",),
    "fall": ("the last heads get less pressure: friction, a narrow tube or heads that clog towards the end",),
}
SHORT = {
    "weak head": "a weak head", "strong head": "a strong head", "two kinds": "heads of two kinds",
    "line low": "a line that is low as a whole", "step": "a step in the line", "end heads": "weak last heads",
    "wet wall": "a wet strip along a wall", "drift": "drift or tilted heads", "dry wedge": "a dry wedge",
    "can low": "a can that reads too little", "can high": "a can that reads too much", "fall": "a fall along the line",
}
CHECKS = {
    "weak head": "Look at the head while it runs and hold a bottle under it and under its neighbour for a minute. "
                 "Then shut off, rinse its nozzle, look for a stuck valve." + LADDER,
    "strong head": "Look for a stream or a drip; hold a bottle under it and under its neighbour for a minute; compare "
                   "the nozzle's colour or size." + LADDER,
    "two kinds": "Walk along the line and compare colour and size of the nozzles; a bottle under one of each." + LADDER,
    "line low": "Look at its valve and follow its feed tube for a kink; read a gauge at its first head and at the "
                "other line's; then open its inlet." + SHUT,
    "step": "Follow the tube there for a kink, a flat place, a drip or a wet spot; read a gauge on both sides of it; "
            "then open the coupling." + SHUT,
    "end heads": "Look at the last heads while they run; open the end plug and flush until the water is clear; then "
                 "clean the nozzles." + SHUT + LADDER,
    "wet wall": "Look at the film while it runs: drops that run down end at this strip. Measure from the wall to the "
                "first head's reach.",
    "drift": "Hold a strip of film or smoke in the spray with the sides as they were; look along the heads for tilted "
             "ones; repeat with the sides closed.",
    "dry wedge": "Stand there while it runs and look towards the nearest head: what does the spray hit?",
    "can low": "Read the can again; look for a tilt, a leaf over it or spilled water; repeat with a second can beside "
               "it.",
    "can high": "Read the can again; look up for a drip from the frame, film or tube; repeat with a second can beside "
                "it.",
}
# Size at which the effect is as large as may just be let go.
HALF = {"weak head": 0.3, "strong head": 0.25, "two kinds": 0.2, "line low": 0.08, "step": 0.12, "end heads": 0.2,
        "wet wall": 0.25, "drift": 0.12, "dry wedge": 0.25, "can low": 0.25, "can high": 0.25, "fall": 0.08}
# What each acts on.
ACTS = {"weak head": "heads", "strong head": "heads", "two kinds": "heads", "end heads": "heads",
        "line low": "pressure", "step": "pressure", "fall": "pressure", "wet wall": "pattern", "drift": "pattern",
        "dry wedge": "pattern", "can low": "readings", "can high": "readings"}
