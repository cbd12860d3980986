"""What a person types at `fitment new` to copy bundled vehicles, in the order of the printed sheets.

Written by hand from profiles/wagon.yaml, coupe.yaml and pickup.yaml: answers are separated by bars, line ends part them
too; _ is Enter, which skips or takes what is offered.
"""

from __future__ import annotations

LIP = "3 | _ | yes | yes | _ | 3 | 8 | _ | _"  # radius, gap, change any: smooth, cover, tolerance ...

WAGON_VEHICLE = """
Long-roof wagon, lowered on donor arms (invented) | Invented for demonstration; no such vehicle exists.
2740 | passenger_car | _ | both | as_bought | typed | _
"""
WAGON_FRONT = f"""
no | 980 | 200 | 15x6 ET35 5x114.3 CB70.6 | 205/70R15 96H | 322 | 428
parked = 60 | cruise = 35 | raised = 0 | done | raised | tape | -0.5 +- 0.1 | 0.05 | yes | 36 | 31 | no
no | yes | _ | no | _ | _ | _ | _ | _ | _ | no
1572 +- 2 | 5x114.3 | M14x1.5 | 42 | _ | _ | 70.5 | 8 | yes | 84.0 | 6
yes | 300 | 84.2 | 7 | _ | 9.5 | -62, 150 | -36, 150 | done
yes | -95, 105 | -95, 172 | -24, 172 | -16, 162 | -16, 105 | done | _ | 140, 215
-70 | 80 | -70, 1.0 | 50, 1.0 | 80, 0.6 | done | 80, 3.2, -2.42 | -70, -2.8, 1.18 | done
7, 682, -133 | -14, 622, 205
fender lip | edge | body | hub_face
-400, 84, 30 | -345, 92, 235 | -190, 98, 378 | 0, 100, 428 | 190, 98, 378 | 345, 92, 235 | 385, 86, 60 | done | {LIP}
inner fender | panel | body | _
-420 560 60; -420 640 110; -420 810 110
-300 545 330; -300 640 385; -300 815 400
0 540 430; 0 640 480; 0 820 500
300 545 330; 300 640 385; 300 815 400
420 560 60; 420 640 110; 420 810 110 | done | _ | _ | yes | _ | 4 | _ | _ | _
upper ball joint | ball | knuckle | _ | -14, 622, 205 | 22 | _ | yes | 2 | _ | _ | _
tie rod end | ball | knuckle | _ | 132, 668, -84 | 18 | _ | yes | 2 | _ | _ | _
damper | rod | _ | _ | -10, 480, 420 | body | -4, 520, 40 | body | 32 | _ | yes | 3 | _ | _ | _
frame horn | edge | body | _ | 230, 440, 70 | 400, 440, 70 | done | 6 | 196 mm | tire | yes | _ | _ | 3 | _ | _ | _
sway bar bend | rod | body | _ | 300, 360, -60 | _ | 205, 470, -75 | _ | 12 | _ | yes | 5 | _ | _ | _
_ | crossmember | _ | 60, 0, -140 +- 3 | _ | no
"""
WAGON_REAR = f"""
yes | 3.73 | 1010 | 200 | 15x6 ET35 5x114.3 CB70.6 | 205/70R15 96H | 322 | _
parked = 60 | cruise = 35 | raised = 0 | done | raised | tape | -0.2 | 0.05 | no | no
no | no | no
1560 +- 2 | 5x114.3 | M14x1.5 | 40 | _ | _ | 70.5 | 8 | no
no | no
-80 | 85 | 80, -0.8, -0.68 | -80, 0.8, 0.28 | done
quarter lip | edge | body | hub_face
-395, 80, 20 | -350, 88, 200 | -200, 92, 345 | 0, 94, 398 | 200, 92, 345 | 350, 88, 200 | 395, 80, 20 | done | {LIP}
wheelhouse | panel | body | _
-420 600 60; -420 800 90
-240 598 378; -240 805 400
-120 597 452; -120 808 475
0 596 478; 0 810 500
120 597 452; 120 808 475
240 598 378; 240 805 400
420 600 60; 420 800 90 | done | _ | _ | yes | _ | 4 | _ | _ | _
spring perch | ball | knuckle | _ | 40, 560, -40 | 45 | _ | yes | 3 | _ | _ | _
damper | rod | _ | _ | -90, 500, 420 | body | -120, 560, -60 | knuckle | 28 | _ | yes | 3 | _ | _ | _
frame rail | edge | body | _ | -300, 520, 90 | 300, 520, 90 | done | 8 | 58 mm | tire | yes | _ | _ | 3 | _ | _ | _
_ | spring perch | knuckle | 40, 560, -95 | exhaust | _ | -300, 200, -120 | _ | no
"""
LOOKED_AT = "yes | usual | no | _ | _ | _ | _ | _ | _"  # what is known of the tire: its shoulder, and no rib
PAD_13 = "yes | _ | _ | _ | _ | _ | _ | _ | 13 | _ | _ | _ | _"  # what is known of the wheel: its pad is 13 mm thick
MEASURED_WHEEL = (
    "yes | _ | _ | 436 | _ | _ | -1, 80 | -13, 150 | -13, 188 | -6, 216 | done | 152 | 13 | 15 | cone | 690 | 11.8"
)
WAGON_BIG_BRAKE = f"""
big_brake | 19x8.5 ET38 5x114.3 CB70.6 | 235/40R19 96W XL | cruise | {MEASURED_WHEEL}
yes | _ | _ | _ | _ | _ | _ | 8, 9.5 | 11.2 | no | hub, brake
19x8.5 ET38 5x114.3 CB70.6 | 235/40R19 96W XL | cruise | {MEASURED_WHEEL}
yes | _ | _ | _ | _ | _ | _ | 8, 9.5 | 11.2 | no | hub
changed | _ | _ | _ | _ | M14x1.5 | cone | _ | _ | no
changed | yes | 355 | _ | _ | _ | 11.5 | -62, 177.5 | -34, 177.5 | done
yes | -100, 118 | -100, 198 | -24, 198 | -11, 186 | -11, 118 | done | _ | _
changed | _ | _ | _ | _ | M14x1.5 | cone | _ | _ | no
"""
WAGON_BUILDS = f"""
wanted | 20x10 ET30 5x114.3 CB70.6 | 275/40R20 106W XL | cruise | no | no | no | _
20x10 ET25 5x114.3 CB70.6 | 305/35R20 107Y XL | cruise | no | no | no | _
chosen | 19x8.5 ET38 5x114.3 CB73.1 | 235/40R19 96W XL | cruise | {PAD_13} | {LOOKED_AT} | no | _
19x8.5 ET40 5x114.3 CB73.1 | 245/40R19 98W XL | cruise | {PAD_13} | {LOOKED_AT} | no | _
{WAGON_BIG_BRAKE}
done
"""

COUPE_VEHICLE = """
Two-door coupe on struts (invented) | Invented for demonstration; no such vehicle exists. | 2650
passenger_car | _ | both | stock | typed | un
"""
COUPE_RIGHT = "yes | -0.9 +- 0.1 | _ | 392 | _ | strut tube | 17"
COUPE_FRONT = f"""
no | 860 | 230 | 17x7.5 ET45 5x114.3 CB68.4 | 225/45R17 94W XL | 303 | _
stock = 0 | lowered = 30 | done | stock | strut | -0.6 +- 0.1 | 0.05 | yes | 36 | 31 | no
no | no | no
1496 +- 2 | 5x114.3 | M14x1.25 | 34 | _ | _ | 68.4 | 7 | no
yes | 324 | 70.5 | 7 | _ | 8.8 | -62, 162 | -32, 162 | done
yes | -96, 108 | -96, 184 | -18, 184 | -10, 172 | -10, 108 | done | _ | 150, 215
-75 | 85 | -75, 1.0 | 60, 1.0 | 85, 0.75 | done
180, 355, -105 | -160, 350, -112 | 8, 690, -118 | -28, 520, 545 | -8, 548, 150 | -115, 318, -60 | -122, 664, -66
yes | 95 | 90
lower eccentric bushings | lower_inner_front, lower_inner_rear | eccentric | 5 | _ | _ | done
fender lip | edge | _ | hub_face
-375, 84, 20 | -335, 90, 190 | -190, 96, 342 | 0, 98, 394 | 190, 96, 342 | 335, 90, 190 | 375, 84, 20 | done | {LIP}
inner fender | panel | _ | _
-400 540 40; -400 640 80; -400 780 90
-290 530 290; -290 640 330; -290 785 345
-140 525 400; -140 640 430; -140 790 440
0 520 430; 0 640 458; 0 790 468
140 525 400; 140 640 430; 140 790 440
290 530 290; 290 640 330; 290 785 345
400 540 40; 400 640 80; 400 780 90 | done | _ | _ | yes | _ | 4 | _ | _ | _
strut tube | rod | knuckle | _ | -7, 550, 125 | _ | -16, 534, 330 | _ | 26 | _ | yes | 2 | _ | _ | _
spring seat | ball | knuckle | _ | -21, 530, 400 | 52 | _ | yes | 3 | _ | _ | _
tie rod | rod | _ | _ | -115, 318, -60 | rack | -122, 664, -66 | knuckle | 9 | _ | yes | 3 | _ | _ | _
_ | crossmember | _ | 30, 0, -135 | lower arm | lower_arm | 0, 560, -140 | _
{COUPE_RIGHT}
"""
COUPE_REAR = f"""
yes | 3.9 | 820 | 230 | 17x7.5 ET45 5x114.3 CB68.4 | 225/45R17 94W XL | 303 | _
stock = 0 | lowered = 30 | done | stock | five_link | -1.0 | 0.1 | no | no
no | no | no
1504 +- 2 | 5x114.3 | M14x1.25 | 34 | _ | _ | 68.4 | 7 | no
no | no
-80 | 85
140, 420, 150 | 40, 655, 165 | -160, 440, 140 | -45, 650, 160
330, 390, -95 | 45, 690, -120 | -140, 330, -110 | -60, 700, -125 | -215, 363, -60 | -185, 690, -65 | _
quarter lip | edge | _ | hub_face
-370, 80, 10 | -325, 86, 190 | -185, 90, 318 | 0, 92, 368 | 185, 90, 318 | 325, 86, 190 | 370, 80, 10 | done | {LIP}
upper front link | rod | upper_front | _ | 140, 420, 150 | _ | 40, 655, 165 | _ | 14 | _ | yes | 3 | _ | _ | _
lower front link | rod | lower_front | _ | 330, 390, -95 | _ | 45, 690, -120 | _ | 16 | _ | yes | 3 | _ | _ | _
damper | rod | _ | _ | -60, 480, 430 | body | -75, 560, -113 | lower_rear | 26 | _ | yes | 3 | _ | _ | _
_ | subframe | _ | -120, 0, -120 | silencer | _ | -520, 420, -100 | _ | no
"""
COUPE_BUILDS = f"""
track_day | 18x8.5 ET44 5x114.3 CB68.4 | 235/40R18 95Y XL | lowered | no | {LOOKED_AT} | no | _
18x9.5 ET38 5x114.3 CB68.4 | 265/35R18 97Y XL | lowered | no | {LOOKED_AT} | no | _
fast_road | 18x8.5 ET51 5x114.3 CB68.4 | 235/40R18 95Y XL | lowered | no | {LOOKED_AT} | no | _
18x9.5 ET38 5x114.3 CB68.4 | 265/35R18 97Y XL | lowered | no | {LOOKED_AT} | no | _
stance | 19x9.5 ET22 5x114.3 CB73.1 | 255/35R19 96Y XL | lowered | no | no | no | _
19x10.5 ET22 5x114.3 CB73.1 | 285/30R19 98Y XL | lowered | no | no | no | _
done
"""

PICKUP_VEHICLE = """
Short-bed pickup, donor arms and six-lug hubs (invented) | Invented for demonstration; no such vehicle exists. | 2990
light_truck | _ | both | factory | typed | _
no | 1320 | 160 | 16x7 ET6 5x127 CB78.1 | 235/70R16 106H | 352 | _
lowered = 75 | factory = 0 | done | factory | double_wishbone | 0.2 | 0.05 | yes | 34 | 30 | no
no | no | no
1640 +- 2 | 5x127 | 1/2-20 | 38 | _ | _ | 78.1 | 9 | no
yes | 300 | 78.3 | 7 | _ | 10.5 | -60, 150 | -32, 150 | done
yes | -92, 100 | -92, 174 | -20, 174 | -14, 166 | -14, 100 | done | _ | 150, 220
-60 | 120 | -60, 1 | 70, 1 | 120, 0.7 | done
150, 330, -112 | -190, 325, -120 | 4, 715, -150 | 95, 428, 172 | -125, 423, 160 | -22, 655, 190
-150, 375, -61 | -148, 700, -78 | _
fender lip | edge | body | hub_face
clock 4, radius 458, out 128 | clock 32, radius 482, out 134 | clock 62, radius 503, out 138
clock 90, radius 512, out 140 | clock 118, radius 503, out 138 | clock 148, radius 482, out 134
clock 176, radius 458, out 128 | done | 4 | _ | yes | yes | _ | 3 | 8 | _ | _
inner fender | panel | body | _
-475, 545, 60; -475, 660, 130; -475, 900, 150
-345, 530, 375; -345, 660, 440; -345, 905, 452
-165, 520, 500; -165, 660, 535; -165, 910, 545
0, 515, 545; 0, 660, 568; 0, 910, 575
165, 520, 500; 165, 660, 535; 165, 910, 545
345, 530, 375; 345, 660, 440; 345, 905, 452
475, 545, 60; 475, 660, 130; 475, 900, 150 | done | _ | _ | yes | _ | 4 | _ | _ | _
upper ball joint | ball | knuckle | _ | -22, 655, 190 | 24 | _ | yes | 2 | _ | _ | _
tie rod end | ball | knuckle | _ | -148, 700, -78 | 20 | _ | yes | 2 | _ | _ | _
coil and damper | rod | _ | _ | -10, 455, 420 | body | 0, 520, -95 | lower_arm | 58 | _ | yes | 4 | _ | _ | _
frame rail | edge | body | _ | -430, 400, 60 | 430, 400, 60 | done | 10 | 10 1/4 in | tire | yes | _ | _ | 3 | _ | _ | _
_ | skid plate | _ | 150, 0, -140 | _ | no
yes | 3.55 | 1180 | 160 | 16x7 ET6 5x127 CB78.1 | 235/70R16 106H | 352 | _
lowered = 75 | factory = 0 | done | factory | solid_axle | _ | _ | no | no
no | no | no
1655 +- 2 | 5x127 | 1/2-20 | 40 | _ | _ | 78.1 | 10 | no
no | no
-80 | 110
-180, 430, 40 | -180, -470, 5 | yes | 610, 545, -18 | 0, 545, -46 | no
bed side lip | edge | body | hub_face
-430, 112, 40 | -370, 118, 270 | -210, 122, 420 | 0, 124, 468 | 210, 122, 420 | 370, 118, 270 | 430, 112, 40 | done
4 | _ | yes | yes | _ | 3 | 8 | _ | _
bed wheelhouse | panel | body | _
-460, 560, 40; -460, 560, 480
0, 556, 40; 0, 556, 560
460, 560, 40; 460, 560, 480 | done | _ | _ | yes | behind | 4 | _ | _ | _
leaf spring | rod | axle | _ | -300, 545, -40 | _ | 300, 545, -30 | _ | 38 | _ | yes | 4 | _ | _ | _
damper | rod | _ | _ | -140, 450, 380 | body | -110, 520, -70 | axle | 30 | _ | yes | 3 | _ | _ | _
_ | differential | axle | 20, 0, -118 | spring bolts | axle | 0, 545, -112 | _
yes | _ | _ | _ | 132 | bed wheelhouse | 135
"""
PAD_15 = "yes | _ | _ | _ | _ | _ | _ | _ | 15"  # what is known of the wheel begins so
DONOR_ARMS = """
another | 1722 +- 2 | 6x139.7 | M14x1.5 | 45 | _ | _ | 78.0 | 9 | yes | 92.0 | 6
another | yes | 345 | 92.1 | 8 | _ | 13.0 | -66, 172.5 | -34, 172.5 | done
yes | -104, 118 | -104, 198 | -24, 198 | -16, 188 | -16, 118 | done | _ | 150, 220
another | double_wishbone | -0.4 | 0.05 | _ | no | -60 | 120 | -60, 1 | 70, 1 | 120, 0.7 | done
165, 335, -115 | -205, 330, -123 | 4, 752, -160 | 105, 420, 190 | -140, 415, 176 | -24, 692, 215
-152, 356, -67 | -150, 738, -86
upper ball joint position | upper_ball | settings | 0, 6, 12 | -6, 0, 6
lower eccentric bushings | lower_inner_front, lower_inner_rear | eccentric | 6 | 15 | _ | done | _
upper ball joint | no | _ | _ | -24, 692, 215 | _ | no
tie rod end | no | _ | _ | -150, 738, -86 | _ | no | done
"""
DONOR_HUB_BEHIND = """
another | 1700 +- 2 | 6x139.7 | M14x1.5 | 45 | _ | _ | 78.0 | 9 | yes | 92.0 | 6
"""
PICKUP_BUILDS = f"""
swapped | 20x9 ET30 6x139.7 CB78.1 | 275/45R20 110W XL | lowered | {PAD_15} | _ | _ | _ | _
{LOOKED_AT} | no | hub, brake, arms
20x9 ET42 6x139.7 CB78.1 | 275/40R20 106W XL | lowered | {PAD_15} | _ | _ | _ | _ | {LOOKED_AT} | no | hub
{DONOR_ARMS}{DONOR_HUB_BEHIND}
wide | 20x10 ET25 6x139.7 CB78.1 | 305/45R20 112W XL | lowered | no | no | no | swapped | _
20x12 ET44 6x139.7 CB78.1 | 335/35R20 110W XL | lowered | no | no | no | swapped | _
parts_bin | 20x9 ET30 6x139.7 CB106.1 | 275/45R20 110W XL | lowered | {PAD_15} | _ | cone | 1050 | 16.5
yes | _ | _ | _ | _ | _ | _ | _ | 17.5 | no | swapped | hub, brake, drive
20x9 ET50 6x139.7 CB78.1 | 275/40R20 106W XL | lowered | {PAD_15} | _ | cone | 1050 | 16.5
yes | _ | _ | _ | _ | _ | _ | _ | 15.5 | yes | 32 | 78.2 | 78.0 | 6 | _
yes | 6x139.7 | 5x127 | M14x1.5 | 38 | M14x1.5 | cone | 12 | _ | _
changed | _ | _ | _ | _ | M14x1.5 | ball | _ | _ | no
changed | yes | _ | 94.0 | _ | _ | _ | _ | no
yes | _ | _ | _
done
"""

WAGON = WAGON_VEHICLE + WAGON_FRONT + WAGON_REAR + WAGON_BUILDS
PICKUP = PICKUP_VEHICLE + PICKUP_BUILDS
COUPE = COUPE_VEHICLE + COUPE_FRONT + COUPE_REAR + COUPE_BUILDS


def typed(script: str) -> list[str]:
    """The answers of a script, one for each question."""
    parts = [part.strip() for line in script.strip().split("\n") for part in line.split("|")]
    return ["" if part == "_" else part for part in parts if part]
