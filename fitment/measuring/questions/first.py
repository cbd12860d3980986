"""The questions of a first look: one axle, wheels on, level ground, nothing taken apart.

The one-page sheet and `new --first` both go through `FIRST`; what is not read is taken as typical, with its band. An
answer whose path begins with "first/" is no key of the profile: `first_profile` makes parts and readings of these.
"""

from __future__ import annotations

from fitment.measuring.questions.forms import Group, Question, SheetRow, rows
from fitment.measuring.questions.on_wheels import AXLE

LOOK = "first/"  # where an answer's path begins that is no key of the profile
NOW, WANTED = "now", "wanted"  # builds of a first look
STEERS = (("axles", ("front",)),)  # a front axle is one that steers, of the rear nobody asks
UNKNOWN = ("not known", "unknown", "nothing", "none", "nothing near")  # typed where a reading was not taken
SPOT_HOW = (
    "Where, as on a clock face seen from outside the left side: 12:00 is up, 9:00 forward. Write tread behind it if "
    "the part lies round the tread, not inboard of the tire: 4:00 tread."
)


def _one(title: str, *items: Question, how: str = "", part: str = "", steers: bool = False) -> Group:
    """A box of the sheet: a section, left out whole where its first question is skipped."""
    return Group(items=items, title=title, how=how, lead=True, part=part, when=STEERS if steers else ())


def _seen(key: str, title: str, state: str, *, steers: bool = True, more: tuple[Question, ...] = ()) -> Group:
    """The nearest part in one state: what, where, its gap to the tire."""
    at = f"{LOOK}{key}/"
    return _one(
        title,
        Question(
            at + "what", f"Nearest part {state}: what is it", "text", example="frame rail",
            how="Its name. Skip: nothing within a hand's width; then nothing is checked there.",
        ),
        Question(at + "where", "At what o'clock", "spot" , need=True, how=SPOT_HOW, example="10:30"),
        Question(
            at + "gap", "Its gap to the tire", "length", need=True, tool="tape or feeler", gives=2, between=(0, 300),
            how="The shortest way from the tire to the part.", example="22",
        ),
        *more,
        how="The nearest part, inboard of the tire or round its tread; if it lies round the tread, write tread behind "
        "the o'clock." if steers else "Look inboard of the tire. O'clock from outside: 12:00 up, 9:00 forward. Empty: "
        "nothing near.",
        part=f"first/{key}", steers=steers,
    )  # fmt: skip


MOVES = Question(
    "first/inboard/moves", "Does it turn with the wheel", "yes", default="no",
    how="yes: it is fixed to the knuckle, as the damper of a strut is. no: it stays with the body. Not sure: no.",
)  # fmt: skip

FIRST = Group(
    items=(
        Group(
            title="On it now",
            how="Wheel as cast or stamped on its back: 15x7 ET35, or 15x7 4.5 in backspacing; with 5x114.3, if known.",
            items=(
                Question("", "Which axle", "word", need=True, choices=("front", "rear"), default="front", sets="axles"),
                Group(
                    each="axle",
                    items=(
                        Question(
                            "builds/now/{axle}/wheel/spec", "Wheel: size and offset", "wheel", need=True,
                            how="Cast or stamped on its back: 15x7 ET35, or with backspacing 15x7 4.5 in backspacing. "
                            "Bolt circle and bore behind it, if known.", example="15x7 ET35 5x114.3",
                            remark="on it when it was measured",
                        ),
                        Question(
                            "builds/now/{axle}/tire/code", "Tire: the code on its sidewall", "tire", need=True,
                            example="195/65R15 91H", remark="on it when it was measured",
                        ),
                    ),
                ),
            ),
        ),
        Group(
            each="axle",
            items=(
                _one(
                    "Hub height",
                    Question(
                        AXLE + "hub_height", "Ground to the middle of the hub", "length", tool="tape",
                        gives=3, adds=True, example="302",
                        how="Straight up, tires at working pressure. Not known: skip.",
                        remark="hub centre above ground, wheels on",
                    ),
                ),
                _one(
                    "Camber",
                    Question(
                        AXLE + "suspension/camber", "Camber of the left wheel", "angle", tool="angle gauge", gives=0.3,
                        adds=True, how="Gauge upright against the rim; top leans in: negative. Not known: skip.",
                        example="-0.5", remark="negative = top leans inboard",
                    ),
                ),
                _one(
                    "Bump left",
                    Question(
                        "first/stop", "Gap of the bump stop", "length", tool="tape", gives=3, between=(0, 250),
                        how="From the rubber to what it will meet, as the vehicle stands. Not known: skip.",
                        example="45",
                    ),
                ),
                Group(
                    lead=True,
                    part="first/lip",
                    items=(
                        _one(
                            "Lip, 12:00",
                            Question(
                                "first/lip/up", "Middle of the hub to the fender lip, straight up", "length",
                                tool="tape", gives=3, between=(150, 1000),
                                how="To the lowest edge of the lip. Skip: there is no lip; then it is not checked.",
                                example="390",
                            ),
                        ),
                        _one(
                            "Lip, 10:30",
                            Question(
                                "first/lip/before", "Middle of the hub to the lip ahead, half way to the front",
                                "length", need=True, tool="tape", gives=5, between=(150, 1200), example="398",
                                how="To the edge at 10:30, half way between straight up and forward. Tape parallel to "
                                "the wheel.",
                            ),
                        ),
                        _one(
                            "Lip, 1:30",
                            Question(
                                "first/lip/behind", "Middle of the hub to the lip behind, half way to the rear",
                                "length", need=True, tool="tape", gives=5, between=(150, 1200), example="396",
                                how="To the edge at 1:30, half way between straight up and rearward. Tape parallel to "
                                "the wheel.",
                            ),
                        ),
                        _one(
                            "Lip, outboard",
                            Question(
                                "first/lip/out", "How far the lip stands outboard of the rim's edge", "length",
                                need=True, tool="straightedge, tape", gives=3, between=(-300, 300),
                                how="Straightedge upright across the rim's outer edge, up to the lip. Inboard of it: "
                                "negative.", example="12",
                            ),
                        ),
                    ),
                ),
                _seen("inboard", "Inboard, straight ahead", "inboard of the tire, wheels straight", steers=False,
                      more=(MOVES,)),
                _one(
                    "Lock angle",
                    Question(
                        "first/lock", "Full left lock: chalk line to the tread's edge, front and rear", "twice",
                        tool="chalk line, tape", gives=10, between=(0, 2500),
                        how="A chalk line on the floor along the vehicle, outboard of the left wheel. Full left lock: "
                        "from the line to the outer edge of the tread, at hub height, at its front and at its rear. "
                        "Not known: skip.", example="150, 520",
                    ),
                    how="Chalk line along the vehicle; from it to the tread's outer edge at hub height, front, rear.",
                    steers=True,
                ),
                _seen("left", "Full left lock", "at full left lock"),
                _seen("right", "Full right lock", "at full right lock"),
                _one(
                    "The same on the right?",
                    Question(
                        "first/other/same", "Is it the same on the right", "word", choices=("same", "differs"),
                        sets="sides", how="Take 5, 8 and 9 there too: same if they are within {3 mm|1/8 in}. Skip: not "
                        "looked at; then the right is not checked.",
                    ),
                    *(
                        Question(
                            f"first/other/{key}", f"RIGHT: {ask}", "length", tool="tape", gives=3, between=between,
                            how="Skip: as on the left.", example=example, when=(("sides", ("differs",)),),
                        )
                        for key, ask, between, example in (
                            ("up", "middle of the hub to the fender lip, straight up", (150, 1000), "386"),
                            ("out", "how far the lip stands outboard of the rim's edge", (-300, 300), "8"),
                            ("gap", "gap from the tire to the part inboard of it", (0, 300), "17"),
                        )
                    ),
                    how="Same: 5, 8 and 9 read within {3 mm|1/8 in} there. Else write what differs. Empty: not "
                    "looked at.",
                    part="first/other",
                ),
                _one(
                    "You want: wheel",
                    Question(
                        "builds/wanted/{axle}/wheel/spec", "Wheel that you want", "wheel",
                        how="As the seller writes it: 18x8.5 +35. Skip: the same wheel.", example="17x8 ET35 5x114.3",
                        remark="wanted",
                    ),
                ),
                _one(
                    "You want: tire",
                    Question(
                        "builds/wanted/{axle}/tire/code", "Tire that you want", "tire",
                        how="Skip: the same tire.", example="215/45R17 91W", remark="wanted",
                    ),
                ),
                _one(
                    "You want: lower by",
                    Question(
                        "first/lower", "How much lower", "length", between=(-200, 200),
                        how="Down of the body at this axle; raised: negative. Skip: as it stands.", example="30",
                    ),
                ),
            ),
        ),
    )
)  # fmt: skip


def first_rows(axle: str) -> tuple[SheetRow, ...]:
    """The questions of the page for one axle, in order: nobody turns a rear axle to its locks."""
    return tuple(row for row in rows(FIRST) if axle == "front" or row.section.when != STEERS)


FIRST_CAUTIONS = (
    "Level, firm ground. Parking brake on, in gear or park, wheels chocked, nothing jacked up. Nobody under it.",
    "Engine off to measure at full lock. No hand between tire and body while someone steers.",
    "A first look, not a release: what is not on this page is typical or not checked, and the program says so.",
)
