"""Drawing of the firebox: a section along it, with the way of the flames.

What the model knows stands to scale: the plate, its gap, the crown, bores and openings (each as
one slot across the firebox). Where the tubes sit, and what is not stated, is a sketch.
"""

from models.shapes import Area, Design, Dimension, Line, Shape, Text, box, smooth


def firebox_heat(design: Design) -> list[Shape]:
    """Section along the firebox: how the flames go round the deflector to the tubes."""
    length, height = design["deflector_length"], design["firebox_height"]
    gap, width, bore = design["deflector_gap"], design["firebox_width"], design["tube_bore"]
    plate = height - gap
    turn = max(8.0, 1.5 * gap)  # room to turn round the plate's free edge
    front = turn + length
    tubes_at = front + 7.0
    shelf = height - 2.6 * bore  # floor of the room before the tubes
    several = not design["tube_count"] < 1.5
    tubes = [height - 0.65 * bore, *([height - 1.9 * bore] if several else [])]
    cut = tubes_at + min(45.0, design["tube_length"])
    base = -7.0
    inlet, bypass = design["air_inlet_area"] / width, design["bypass_area"] / width
    middle = 0.5 * (turn + front)
    shapes: list[Shape] = [
        Line(((0.0, base), (0.0, height), (tubes_at, height)), "part"),
        Line(((0.0, base), (middle - 0.5 * inlet, base)), "sketch"),
        Line(((middle + 0.5 * inlet, base), (front, base), (front, plate)), "sketch"),
        Line(((front, shelf), (tubes_at - bypass, shelf)), "sketch"),
        Line(((tubes_at, shelf), (tubes_at, height)), "sketch"),
        Area(box((turn, plate - 1.0), (front, plate)), "hot plate"),
    ]
    for axis in tubes:
        shapes += [
            Line(((tubes_at, axis + side), (cut, axis + side)), "part")
            for side in (-0.5 * bore, 0.5 * bore)
        ]
    for share in (0.25, 0.5, 0.75):
        x = turn + share * length
        shapes.append(Area(box((x - 2.4, -5.0), (x + 2.4, 0.0)), "sketch"))
    # Nested bends: what rises farthest from the free edge hugs the plate.
    for share, start, tube in zip(
        (0.25, 0.5, 0.75),
        (turn + 0.82 * length, turn + 0.5 * length, turn + 0.18 * length),
        (tubes[0], tubes[0], tubes[-1]),
        strict=True,
    ):
        under, over = plate - 2.0 - 12.0 * share, plate + share * gap
        rise = (
            (start, 1.0),
            (start, 0.5 * under),
            (start, under - 4.0),
            (start - 0.3 * (start - turn), under),
            (turn + 1.0, under + 1.0),
            ((1.0 - share) * turn, plate - 0.5),
            (turn + 1.0, over),
            (front, over),
            (0.5 * (front + tubes_at), over + 0.4 * (tube - over)),
            (tubes_at + 3.0, tube),
            (tubes_at + 12.0, tube),
        )
        shapes.append(Line(smooth(rise), "hot gas"))
    slot = tubes_at - 0.5 * bypass
    past = ((slot, shelf - 8.0), (slot, shelf + 2.0), (tubes_at + 8.0, tubes[-1] - 0.2 * bore))
    return [
        *shapes,
        Line(((middle, base - 8.0), (middle, base + 4.0)), "air"),
        Line(smooth(past), "air"),
        Text((middle - 0.5 * inlet, base), "air inlet", "air_inlet_area"),
        Text((tubes_at - bypass, shelf), "air past the flames", "bypass_area"),
        Text((turn + 0.25 * length - 2.4, -3.0), "burners"),
        Text((turn + 0.6 * length, plate - 0.5), "deflector plate", "deflector_temperature"),
        Text((cut - 8.0, tubes[0] + 0.5 * bore), "fire tubes, cut short", "tube_bore"),
        Text((cut - 2.0, tubes[-1]), "gas to the smokebox", "smokebox_temperature"),
        Dimension((turn + 0.8 * length, plate), (turn + 0.8 * length, height), "deflector_gap"),
        Dimension((turn, base - 11.0), (front, base - 11.0), "deflector_length"),
        Dimension((-4.0, 0.0), (-4.0, height), "firebox_height"),
    ]
