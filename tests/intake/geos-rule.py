"""Areas of polygons with invalid rings by GEOS (through shapely): one JSON list of rings a line in, one JSON object a line out.

`rule` is the product's rule said in GEOS' words: every ring alone by make_valid (even-odd); rings that do not cross are ground and hole in turn;
of those that cross the first is ground and the others holes. `valid` is make_valid of the whole polygon.
"""
import json
import sys

from shapely.geometry import Polygon
from shapely.ops import unary_union
from shapely.validation import make_valid


def crosses(a, b):
    """The interiors meet and neither holds the other."""
    return a.intersection(b).area > 0 and a.difference(b).area > 0 and b.difference(a).area > 0


def rule(rings):
    cells = []
    for ring in rings:
        cell = make_valid(Polygon(ring))
        if not any(cell.symmetric_difference(c).area == 0 for c in cells):
            cells.append(cell)
    n = len(cells)
    # Filled: what lies in an island of a ring that crosses itself lies in the ring.
    over = [[i != k and cells[i].intersection(cells[k]).area >= cells[k].area * (1 - 1e-12) and cells[i].area > cells[k].area for k in range(n)] for i in range(n)]
    cross = [[i != k and crosses(cells[i], cells[k]) for k in range(n)] for i in range(n)]
    ground = [(i == 0) if any(cross[i]) else sum(over[k][i] for k in range(n)) % 2 == 0 for i in range(n)]
    holes = [[] for _ in range(n)]
    for h in range(n):
        if ground[h]:
            continue
        around = [i for i in range(n) if ground[i] and over[i][h]]
        if around:
            holes[min(around, key=lambda i: cells[i].area)].append(cells[h])
        elif cross[h][0] and ground[0]:
            holes[0].append(cells[h])
        else:
            ground[h] = True
    return unary_union([cells[i].difference(unary_union(holes[i])) if holes[i] else cells[i] for i in range(n) if ground[i]]).area


for line in sys.stdin:
    rings = json.loads(line)
    print(json.dumps({"rule": rule(rings), "valid": make_valid(Polygon(rings[0], rings[1:])).area}), flush=True)
