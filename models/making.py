"""What a new study suggests of how each dimension is made, and what each result must keep.

All of it is common practice with no source, or judgement, and a new study says so: a builder who
has measured says better. Keys are those of a study; lengths are in mm.
"""

from __future__ import annotations

Statement = tuple[tuple[str, object], ...]
"""Keys of a study's statement of a spread and their values."""

PRACTICE = "suggested: common practice, no source"
JUDGED = "suggested: judgement, no source"


def _process(name: str, basis: str = PRACTICE) -> Statement:
    return ("process", name), ("basis", basis)


def _about(half: str, shape: str = "", basis: str = JUDGED) -> Statement:
    return ("plus_minus", half), *((("shape", shape),) if shape else ()), ("basis", basis)


def _share(percent: str) -> Statement:
    return ("lognormal", percent), ("basis", JUDGED)


_WICKS: Statement = (("group", "wicks"),)  # alike, so they are reported as one


def _each(name: str, count: int, statement: Statement) -> dict[str, Statement]:
    return {f"{name}_{place}": statement for place in range(1, count + 1)}


_SAWN = _process("sawn_and_filed_to_a_scribed_line")
_SOLDERED = _process("silver_soldered_angle_by_eye")
_TUBE_BORE = _process("bought_copper_tube_bore", "suggested: bought copper tube (ASTM B251)")
_TUBE_WALL = _process("bought_copper_tube_wall", "suggested: bought copper tube (ASTM B251)")
_FOLDED = _process("hand_folded_plate_position")

MAKING: dict[str, Statement] = {
    # sump, breather, tank, valve
    "outlet_height": _process("hole_punched_on_height_gauge_lines"),
    "breather_height": _SAWN,
    "breather_bore": _TUBE_BORE,
    "breather_wall": _TUBE_WALL,
    "breather_scarf": (
        ("between", ("0 deg", "4 deg")),
        ("basis", "suggested: mouth filed square by eye; judgement, no source"),
    ),
    "sump_free_area": _share("5 %"),
    "reach": _about("0.8 mm", "normal"),
    "outlet_reach": _about("0.5 mm", "normal"),
    "lateral": _about("0.5 mm", "normal"),
    "tank_volume": _share("3 %"),
    "tank_floor_area": _share("2 %"),
    "tank_head_full": _about("1.5 mm"),
    "needle_turns": _process("needle_valve_set_by_turns"),
    "thread_pitch": _process("tapped_thread_pitch"),
    "needle_angle": _process("needle_taper_by_top_slide"),
    "seat_bore": _process("drilled_1_to_3_mm", "suggested: drilled from the tailstock"),
    "feed_tube_bore": _about("0.08 mm"),
    "feed_tube_length": _about("1 mm"),
    # fuel pipe
    "outlet_tilt": _SOLDERED,
    **dict.fromkeys(("run_1", "drop", "slope_1", "run_2", "rise", "slope_2", "run_3"), _SAWN),
    **_each("piece", 8, _SAWN),
    **_each("bend_radius", 7, _process("bend_radius_of_a_former")),
    **_each("joint_error", 7, _SOLDERED),
    **_each("bend_error", 4, _process("bent_by_hand_over_a_former")),
    "bend_radius": _process("bend_radius_of_a_former"),
    "pipe_ovality": _process("ovality_of_a_hand_bend"),
    "pipe_bore": _TUBE_BORE,
    "pipe_wall": _TUBE_WALL,
    "obstacle_height": _about("0.5 mm", "normal"),
    "obstacle_position": _about("0.5 mm", "normal"),
    "obstacle_diameter": _about("0.3 mm"),
    "dip_room": _about("0.5 mm", "normal"),
    # burner
    "burner_height": _process("silver_soldered_position"),
    "burner_tilt": _SOLDERED,
    "manifold_roll": _SOLDERED,
    "wick_pitch": (*_process("hole_centre_punched_by_eye"), *_WICKS),
    **_each("wick_lip_error", 6, (*_process("silver_soldered_position"), *_WICKS)),
    "wick_lip_height": _process("filed_to_a_height_gauge_line"),
    "wick_bore": _TUBE_BORE,
    "wick_tube_wall": _TUBE_WALL,
    "wick_length": _about("1 mm"),
    "wick_protrusion": _process("wick_trimmed_with_scissors"),
    "packing_fraction": _process("wick_packed_by_strand_count"),
    "burner_position": _about("0.5 mm", "normal"),
    "burner_offset": _about("0.5 mm", "normal"),
    "burner_yaw": _SOLDERED,
    # firebox and behind it
    "firebox_length": _FOLDED,
    "firebox_width": _FOLDED,
    "firebox_height": _about("0.5 mm"),
    "frame_spacing": _about("0.3 mm"),
    "deflector_gap": _FOLDED,
    "deflector_length": _process("sheared_to_a_line"),
    "air_inlet_area": _share("5 %"),
    "bypass_area": _share("20 %"),
    "tube_bore": _TUBE_BORE,
    "tube_length": _about("0.5 mm"),
    "jet_bore": _process("jet_drilled_with_a_pin_vice"),
    "piston_bore": _process("reamed_by_hand", "suggested: reamed by hand"),
    "piston_stroke": _about("0.1 mm"),
}
"""By input, how it is usually made."""

USUAL = (
    "pipe_ovality",
    "least_bend_ratio",
    "packing_fraction",
    "fibre_radius",
    "leak_length",
    "seat_wear",
    "land_length",
    "burner_end",
    "boiler_heat_capacity",
    "steam_raised",
)
"""Inputs of which a builder takes the usual value: no dimension of an engine."""

NOUGHT = (
    *(f"piece_{place}" for place in range(2, 9)),
    *(f"{name}_{place}" for place in range(1, 8) for name in ("turn_up", "turn_aside")),
    *(f"bend_radius_{place}" for place in range(1, 8)),
)
"""Inputs that are nought where there is no such thing, whatever a model takes by default."""

SIZED = (
    "burn_rate",
    "weighed_burn_rate",
    "stated_draught",
    "tank_air_volume",
    "tank_head",
    "water_volume",
    "fuel_volume",
    "steam_pressure",
    "revolutions",
)
"""Conditions whose size is the engine's, so that a builder must see them."""

WITH = {"bracket_distance": "bracket_slack", "manifold_roll": "manifold"}
"""Inputs that mean nothing while another is nought."""

COUNTED = {f"wick_lip_error_{place}": ("wick_count", place) for place in range(1, 7)}
"""Inputs of which there are as many as another says: that other, and the place of each."""

LIMITS: dict[str, tuple[str, str, str]] = {
    "obstacle_clearance": ("at_least", "0.4 mm", "what moves must not saw through the pipe"),
    "air_lock_clears": ("at_least", "1", "air shut in while it fills stops the feed"),
    "room_left": ("at_least", "0 mm", "the dip must go in between what holds the pipe"),
    "bend_spare": ("at_least", "0", "a tighter bend than the hand can make kinks the tube"),
    "flood_margin": ("at_least", "0 mm", "fuel over a wick lip burns outside the firebox"),
    "flood_margin_all": ("at_least", "0 mm", "fuel over a wick lip burns outside the firebox"),
    "run_flood_margin": ("at_least", "0 mm", "fuel over a wick lip burns outside the firebox"),
    "surge_margin": ("at_least", "0 mm", "fuel driven over a wick lip burns outside the firebox"),
    "starve_margin": ("at_least", "0 mm", "a pipe that draws air lets the fire go out"),
    "starve_margin_all": ("at_least", "0 mm", "a pipe that draws air lets a wick go out"),
    "run_starve_margin": ("at_least", "0 mm", "a pipe that draws air lets the fire go out"),
    "feed_ratio": ("at_least", "1.3", "under it the wicks outrun the valve"),
    "wick_supply_ratio": ("at_least", "1", "a wick that lifts less than it burns chars"),
    "vapour_margin": ("at_least", "0 K", "fuel that boils in the pipe stops the feed"),
    "wall_clearance": ("at_least", "0 mm", "the wick tubes must go into the firebox"),
    "frame_clearance": ("at_least", "0 mm", "the wick tubes must go between the frames"),
    "steam_balance": ("at_least", "0 g/min", "an engine that uses more steam than it makes stops"),
    "lowest_pressure": ("at_least", "0.5 bar", "below it the engine will hardly run"),
}
"""By result, the limit that usually holds: its key, its value, and why."""

INSTEAD = {
    "flood_margin": ("flood_margin_all", "run_flood_margin"),
    "starve_margin": ("starve_margin_all", "run_starve_margin"),
}
"""Limits that are left out where a study has one of these results, which say more."""
