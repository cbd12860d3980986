"""One axle of a profile: steering, travel, adjusters, and the parts above together."""

from typing import Annotated, Any, ClassVar, Self

from pydantic import (
    Field,
    model_validator,
)

from fitment.errors import shown
from fitment.profile.schema.assumed import or_typical, with_axis, with_links
from fitment.profile.schema.base import HUB_FACE_AT, PLACE, Before, Label, Name, Part, Travel, optional
from fitment.profile.schema.hub_and_brake import BrakePart, HubPart
from fitment.profile.schema.obstacles import (
    CARRIER_DOC,
    CARRIERS,
    BallPart,
    Carrier,
    EdgePart,
    PanelPart,
    RingPart,
    RodPart,
)
from fitment.profile.schema.scans import ScanPart
from fitment.profile.schema.service import OR_USUAL, ServicePart
from fitment.profile.schema.suspension import (
    SolidAxleSuspensionPart,
    StrutSuspensionPart,
    Suspension,
    TapeSuspensionPart,
)
from fitment.profile.values import (
    Angle,
    AngleRule,
    ClockPoint,
    Length,
    LengthRule,
    ListRule,
    NumberRule,
    Point,
    Problem,
    RefusedError,
    Rule,
    TextRule,
    YesRule,
    read_each,
    read_list,
    refused,
    unknown_word,
)
from fitment.profile.yaml_core import At

Obstacle = Annotated[EdgePart | RodPart | BallPart | PanelPart | RingPart | ScanPart, Field(discriminator="shape")]
MOST_PARTS = 500  # of an axle
_Settings = ListRule(LengthRule(-60, 60, "setting"), "[-6, 0, 6]")


def _one_or_more(given: Any) -> Any:
    return [given] if isinstance(given, str) else given


class AdjusterPart(Part):
    name: Label = Field(description="a name of its own")
    moves: Annotated[
        tuple[Name, ...], Field(min_length=1), Before(_one_or_more, {"type": "string", "minLength": 1})
    ] = Field(description="the suspension point it moves, or a list of them")
    out: Annotated[tuple[Length, ...], _Settings] = Field((), description="outward settings [mm]")
    forward: Annotated[tuple[Length, ...], _Settings] = Field((), description="forward settings [mm]")
    eccentric: Annotated[Length | None, LengthRule(0.2, 30, "eccentric")] = optional(
        "radius of the eccentric's circle [mm]"
    )
    step: Annotated[Angle | None, AngleRule(0.5, 180)] = optional(
        "smallest turn of the eccentric [deg]; any turn if not given"
    )
    now: Annotated[tuple[Angle, ...], ListRule(AngleRule(-360, 360), "[90, 90]")] = Field(
        (), description="how each eccentric is set, 0 = outboard, 90 = up [deg], if known"
    )
    length: Annotated[tuple[Length, ...], _Settings] = Field(
        (), description="least and most by which a link of a five_link can be made longer than measured [mm]"
    )

    @model_validator(mode="after")
    def _sound(self) -> Self:
        if not self.moves:
            raise refused("moves names no point; name at least one.", "moves")
        if self.length and (self.eccentric is not None or self.out or self.forward):
            raise refused("`length` stands alone in an adjuster; put the other keys in a second adjuster.", "length")
        if self.length and not (len(self.length) == 2 and self.length[0].value < self.length[1].value):
            raise refused("give the least and the most by which the link gets longer, such as [-6, 8].", "length")
        if self.eccentric is None and not self.out and not self.forward and not self.length:
            raise refused("an adjuster needs `out` and/or `forward` settings, `eccentric`, or `length`; give one.")
        if self.eccentric is not None and (self.out or self.forward):
            raise refused(
                "remove `out` and `forward`: this adjuster has an `eccentric`, which turns. Put them in a second one.",
                "eccentric",
            )
        if self.eccentric is None and (self.step or self.now):
            raise refused("`step` and `now` belong to an eccentric; give `eccentric`, or remove them.")
        if self.now and len(self.now) != len(self.moves):
            raise refused(f"{len(self.now)} angles for {len(self.moves)} points; give one for each.", "now")
        return self


# axle ----------------------------------------------------------------------------------------------------------


class SteeringPart(Part):
    lock_left: Annotated[Angle, AngleRule(1, 75), or_typical("steering.lock_left")] = Field(
        description="steer of the left wheel at the left lock, reference travel [deg], positive"
    )
    lock_right: Annotated[Angle, AngleRule(1, 75), or_typical("steering.lock_right")] = Field(
        description="steer of the left wheel at the right lock, reference travel [deg], positive"
    )


class TravelPart(Part):
    droop: Annotated[Length, LengthRule(-500, 0, "droop"), or_typical("travel.droop")] = Field(
        description="lowest travel of the wheel [mm], 0 or negative"
    )
    bump: Annotated[Length, LengthRule(0, 500, "bump"), or_typical("travel.bump")] = Field(
        description="highest travel of the wheel [mm], 0 or positive"
    )

    @model_validator(mode="after")
    def _sound(self) -> Self:
        if self.bump.value <= self.droop.value:
            raise refused("droop and bump are both 0; give the travel that the wheel has.")
        return self


class SteerLimitRule(Rule):
    """[[travel, share], ...] with rising travels and shares from 0 to 1."""

    def read(self, given: Any) -> tuple[tuple[Length, float], ...]:
        pairs: tuple[tuple[Length, float], ...] = read_list(
            given, self._pair, least=1, form="[[travel, share], ...] such as [[-80, 1.0], [90, 0.6]]"
        )
        for index in range(1, len(pairs)):
            if pairs[index][0].value <= pairs[index - 1][0].value:
                raise refused("the travels of steer_limit must rise; put the pairs in order.", index)
        return pairs

    @staticmethod
    def _pair(given: Any) -> tuple[Length, float]:
        if not isinstance(given, list) or len(given) != 2:
            raise refused(f"{shown(given)} where [travel, share] is expected, such as [90, 0.6].")
        share = given[1]
        if isinstance(share, bool) or not isinstance(share, int | float) or not 0 <= share <= 1:
            raise refused(f"{shown(share)} is not a share of the lock angle (0 to 1); 60 % is 0.6.", 1)
        return Travel.read(given[0]), float(share)

    def schema(self) -> dict[str, Any]:
        share = {"type": "number", "minimum": 0, "maximum": 1}
        pair = {"type": "array", "prefixItems": [Travel.schema(), share], "minItems": 2, "maxItems": 2}
        return {"type": "array", "items": pair, "minItems": 1}


class RideHeightsRule(Rule):
    """{name: travel}; the names are the user's own."""

    def read(self, given: Any) -> dict[str, Length]:
        if not isinstance(given, dict):
            raise refused(f"{shown(given)} stands where a map is expected; write {{parked: 70, cruise: 35}}.")
        name = TextRule(60, label=True)
        return dict(read_each((entry[0], lambda pair: (name.read(pair[0]), Travel.read(pair[1])), entry)
                              for entry in given.items()))  # fmt: skip

    def schema(self) -> dict[str, Any]:
        return {"type": "object", "additionalProperties": Travel.schema()}


OF_BOTH_SIDES = ("driven", "final_drive", "axle_load", "top_speed", "steering", "steer_limit", "right")


class LowPointPart(Part):
    name: Label = Field(description="a name of its own, used in every report")
    fixed_to: Carrier = optional(f"{CARRIER_DOC}; body if not given")
    at: Annotated[Point, PLACE] = Field(description="the lowest place of the part, body frame [x, y, z] [mm]")


class RightRule(Rule):
    """What differs on the right: a map, whose keys are checked where it is laid over the axle."""

    def read(self, given: Any) -> dict[str, Any]:
        if not isinstance(given, dict):
            raise refused(f"{shown(given)} stands where a map is expected; write {{key: value}} of what differs there.")
        problems = [
            Problem((key,), f"{key} is of the whole axle; it cannot differ on the right.")
            for key in given
            if key in OF_BOTH_SIDES
        ]
        if problems:
            raise RefusedError(*problems)
        return given

    def schema(self) -> dict[str, Any]:
        return {"type": "object"}


BELONGS = {
    key: f' "{key}" belongs to {section}; write {section}: {{{key}: ...}}.'
    for section, parts in (
        ("suspension", (TapeSuspensionPart, StrutSuspensionPart, SolidAxleSuspensionPart)),
        ("steering", (SteeringPart,)), ("travel", (TravelPart,)), ("hub", (HubPart,)), ("brake", (BrakePart,)),
    )
    for part in parts
    for key in tuple(part.keys())
}  # fmt: skip
"""What to say of a key that stands beside the map which it belongs to"""


class AxlePart(Part):
    hints: ClassVar[dict[str, str]] = {
        key: f' "{key}" belongs to a build, such as builds: {{stock: {{front: {{{key}: ...}}}}}}.'
        for key in ("wheel", "tire", "spacer", "ride")
    } | BELONGS
    driven: Annotated[bool, YesRule()] = Field(False, description="whether this axle is driven")
    final_drive: Annotated[float | None, NumberRule(1, 12, "turns")] = optional(
        "turns of the drive shaft for one of the wheel, such as 3.73"
    )
    axle_load: Annotated[float | None, NumberRule(50, 15000, "kg")] = optional("load on the whole axle [kg]")
    top_speed: Annotated[float | None, NumberRule(20, 500, "km/h")] = optional("top speed of the vehicle [km/h]")
    hub_face_width: Annotated[Length, LengthRule(900, 2600)] = Field(
        description="hub face to hub face at the reference pose, both sides [mm]"
    )
    hub_face_at: Annotated[Point | None, HUB_FACE_AT] = optional(
        "centre of the hub face at the reference pose, body frame; [0, hub_face_width / 2, 0]"
    )
    hub_height: Annotated[Length, LengthRule(150, 900)] = Field(
        description="hub centre above ground at the reference pose [mm]"
    )
    suspension: Suspension = Field(description="how the wheel moves")
    steering: SteeringPart | None = optional("locks of the left wheel, if the axle steers")
    travel: TravelPart = Field(description="ends of travel: {droop: -80, bump: 90} [mm]")
    ride_heights: Annotated[dict[str, Length], RideHeightsRule()] = Field(
        {}, description="travel at rest, by name [mm]"
    )
    steer_limit: Annotated[tuple[tuple[Length, float], ...], SteerLimitRule()] = Field(
        (), description="share of the lock angle usable at a travel, 1 = to the stop: [[travel [mm], share 0..1], ...]"
    )
    hub: HubPart | None = optional("what the wheel bolts to")
    brake: BrakePart | None = optional("rotor and caliper")
    obstacles: tuple[Obstacle, ...] = Field((), max_length=MOST_PARTS, description="parts that a wheel could meet")
    adjusters: tuple[AdjusterPart, ...] = Field((), description="what can be set on the suspension")
    low_points: tuple[LowPointPart, ...] = Field((), description="what hangs lowest, checked against the ground")
    service: Annotated[ServicePart | None, OR_USUAL] = optional(
        "what is counted in service beside the ideal solid; `usual` for all of it but chains"
    )
    right: Annotated[dict[str, Any] | None, RightRule()] = optional(
        "what differs on the right side, seen in a mirror (y outboard): keys of the axle, laid over it as a build's are"
    )

    @model_validator(mode="before")
    @classmethod
    def _steers_about_something(cls, data: Any) -> Any:
        return with_links(with_axis(data))

    @model_validator(mode="after")
    def _sound(self) -> Self:
        problems = [
            *_repeated([obstacle.name for obstacle in self.obstacles], "obstacles"),
            *_repeated([adjuster.name for adjuster in self.adjusters], "adjusters"),
            *_repeated([low_point.name for low_point in self.low_points], "low_points"),
            *self._wrong_carriers(),
            *self._wrong_adjusters(),
        ]
        if isinstance(self.hub_face_at, ClockPoint):
            problems.append(Problem(("hub_face_at",), "a clock point counts from the hub face; write [x, y, z]."))
        if self.steer_limit and self.steering is None:
            problems.append(Problem(("steer_limit",), "steer_limit without steering; give steering: {lock_left: ...}."))
        if problems:
            raise RefusedError(*problems)
        return self

    def _wrong_carriers(self) -> list[Problem]:
        kind = self.suspension.kind
        allowed = CARRIERS[kind]
        named: list[tuple[At, str | None]] = [
            (("obstacles", index, *at), carrier)
            for index, obstacle in enumerate(self.obstacles)
            for at, carrier in obstacle.carriers_at()
        ]
        named += [(("low_points", index, "fixed_to"), low.fixed_to) for index, low in enumerate(self.low_points)]
        return [
            Problem(at, f'"{word}" does not exist in a suspension of kind {kind}.{unknown_word(word, allowed)}')
            for at, word in named
            if word and word not in allowed
        ]

    def _wrong_adjusters(self) -> list[Problem]:
        names = self.suspension.point_names()
        if self.suspension.kind == "tape":
            return []  # without points there is nothing to adjust: a caution, see resolve
        return [
            Problem(
                ("adjusters", index, "moves"),
                f'"{name}" is not a point of this suspension.{unknown_word(name, names)}',
            )
            for index, adjuster in enumerate(self.adjusters)
            for name in adjuster.moves
            if name not in names
        ] or [
            Problem(("adjusters", index), why)
            for index, adjuster in enumerate(self.adjusters)
            if (why := _cannot_set(adjuster, self.suspension.kind, [other.moves for other in self.adjusters[:index]]))
        ]


TOE = ("toe_body", "toe_knuckle")


def _cannot_set(adjuster: AdjusterPart, kind: str, before: list[tuple[str, ...]]) -> str:
    """Why an adjuster cannot work on a kind of suspension, or nothing; before : what earlier ones move."""
    moves, five = adjuster.moves, kind == "five_link"
    wrong = (
        (
            bool(adjuster.length) and not five,
            "`length` sets a link of a five_link; on other suspensions give `out`, `forward` or `eccentric`.",
        ),
        (
            bool(adjuster.length) and not (len(moves) == 1 and moves[0].endswith("_knuckle")),
            "a link whose length is set is named by its one end on the knuckle, such as toe_knuckle.",
        ),
        (
            five and bool(adjuster.out or adjuster.forward),
            "five links are set by an `eccentric` at an end on the body, or by a link's `length`.",
        ),
        (
            five and adjuster.eccentric is not None and not all(name.endswith("_body") for name in moves),
            "an eccentric of a five_link sits at an end on the body, such as lower_rear_body.",
        ),
        (
            five and len(moves) > 1 and "toe_body" in moves,
            "toe_body needs an adjuster of its own: toe is re-set with it.",
        ),
        (
            moves[0] in TOE and any(points[0] in TOE for points in before),
            "toe is re-set with one adjuster; keep the one that is used for it.",
        ),
    )
    return next((why for is_wrong, why in wrong if is_wrong), "")


def _repeated(names: list[str], key: str) -> list[Problem]:
    return [
        Problem((key, index, "name"), f'the name "{name}" is used twice; names tell parts apart, change one.')
        for index, name in enumerate(names)
        if name in names[:index]
    ]
