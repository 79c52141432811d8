"""Maps drawn and broken with GEOS (Debian python3-shapely), and what GEOS says that they cover.

Usage: foreign.py SEED ROUNDS. Prints one JSON object: "features" (GeoJSON, degrees with 7 digits; columns "round" and "n") with their WKB in hex,
and "rounds" and "asShapefile": for each round the area of every record, of their union, and of what lies under two or more of them, in steps of 1e-7 degree
squared. Of two parts that overlap and run clockwise GDAL (3.6) writes the first into a shapefile as a hole, so that file says something else.

A ring alone is even-odd: `make_valid` of it. A polygon is its shell less its holes, a record the union of its polygons.
"""
import json
import random
import sys

from shapely.geometry import LineString, MultiPolygon, Polygon, mapping
from shapely.ops import unary_union
from shapely.validation import make_valid
from shapely import affinity, wkb

STEPS = 10**7
# Where no digits but the first can come in a run of five 0s or 9s: GDAL (3.6, `OGRFormatDouble`) takes such a run and what follows for a slip of
# rounding and writes -93.4999992 as -93.5, 8 steps away.
LON, LAT = -934_560_000, 421_350_000


def whole(ring):
    out = []
    for x, y in ring:
        p = (round(x), round(y))
        if not out or out[-1] != p:
            out.append(p)
    if out[0] == out[-1]:
        out.pop()
    return out


def box(x, y, w, h, turn=0.0):
    return whole(affinity.rotate(Polygon([(x, y), (x + w, y), (x + w, y + h), (x, y + h)]), turn).exterior.coords)


def draw(r):
    """Polygons of one record: lists of rings of whole steps, shell first; and whether they overlap."""
    x, y = r.randrange(0, 3000), r.randrange(0, 3000)
    w, h = r.randrange(200, 900), r.randrange(200, 900)
    turn = r.choice([0, 0, r.uniform(0, 90)])
    shell = box(x, y, w, h, turn)
    inner = lambda fx, fy, fw, fh: box(x + fx * w, y + fy * h, fw * w, fh * h)
    kind = r.randrange(14)
    if kind <= 2:
        return [[shell]], False
    if kind == 3:
        line = LineString([(x, y), (x + w, y + h / 3), (x + w / 2, y + h)])
        return [[whole(line.buffer(40, resolution=3).exterior.coords)]], False
    if kind == 4:
        return [[box(x, y, w, h), inner(0.2, 0.2, 0.3, 0.5), inner(0.6, 0.2, 0.3, 0.5)]], False
    if kind == 5:
        return [[shell], [box(x + 2000, y, w, h)]], False
    if kind == 6:  # two corners in the wrong order
        shell[1], shell[2] = shell[2], shell[1]
        return [[shell]], False
    if kind == 7:  # corners in any order
        points = [(x + r.randrange(0, 900), y + r.randrange(0, 900)) for _ in range(r.randrange(5, 9))]
        return [[points]], False
    if kind == 8:  # a hole across its shell
        return [[box(x, y, w, h), inner(0.5, 0.3, 0.9, 0.4)]], False
    if kind == 9:  # a hole twice
        return [[box(x, y, w, h), inner(0.2, 0.2, 0.4, 0.4), inner(0.2, 0.2, 0.4, 0.4)]], False
    if kind == 10:  # holes that cross
        return [[box(x, y, w, h), inner(0.1, 0.1, 0.5, 0.5), inner(0.4, 0.4, 0.5, 0.5)]], False
    if kind == 11:  # parts that overlap
        return [[box(x, y, w, h)], [box(x + w // 2, y + h // 3, w, h)]], True
    if kind == 12:  # a corner drawn out and back, and points on sides
        a, b = shell[0], shell[1]
        mid = (round((a[0] + b[0]) / 2), round((a[1] + b[1]) / 2))
        return [[[a, mid, b, *shell[2:3], shell[3], (shell[3][0] - 150, shell[3][1] + 70), shell[3]]]], False
    # a hole that crosses itself
    i = inner(0.2, 0.2, 0.5, 0.5)
    i[1], i[2] = i[2], i[1]
    return [[box(x, y, w, h), i]], False


def even_odd(ring):
    p = Polygon(ring)
    return p if p.is_valid else make_valid(p).buffer(0)


def ground(polygons):
    parts = []
    for shell, *holes in polygons:
        part = even_odd(shell)
        for hole in holes:
            part = part.difference(even_odd(hole))
        parts.append(part)
    return unary_union(parts)


def expected(grounds):
    twice = unary_union([a.intersection(b) for i, a in enumerate(grounds) for b in grounds[:i]])
    return {"areas": [g.area for g in grounds], "union": unary_union(grounds).area, "twice": twice.area}


def main(seed, rounds):
    features, plain, as_shapefile = [], [], []
    for k in range(rounds):
        r = random.Random(f"{seed} {k}")
        grounds, shapefile_grounds = [], []
        for n in range(r.randrange(6, 14)):
            while True:
                polygons, overlapping = draw(r)
                clockwise = r.random() < 0.3
                if clockwise:
                    polygons = [[ring[::-1] for ring in p] for p in polygons]
                g = ground(polygons)
                if all(len(ring) > 2 for p in polygons for ring in p) and g.area > 1000:
                    break
            grounds.append(g)
            shapefile_grounds.append(ground([[polygons[1][0], polygons[0][0]]]) if overlapping and clockwise else g)
            at = lambda p: ((LON + p[0]) / STEPS, (LAT + p[1]) / STEPS)
            rings = [[[at(p) for p in [*ring, ring[0]]] for ring in p] for p in polygons]
            shape = (
                Polygon(rings[0][0], rings[0][1:]) if len(rings) == 1 else MultiPolygon([(p[0], p[1:]) for p in rings])
            )
            features.append(
                {
                    "type": "Feature",
                    "properties": {"round": k, "n": n},
                    "geometry": mapping(shape),
                    "wkb": wkb.dumps(shape, hex=True),
                }
            )
        plain.append(expected(grounds))
        as_shapefile.append(expected(shapefile_grounds))
    json.dump({"features": features, "rounds": plain, "asShapefile": as_shapefile}, sys.stdout)


main(sys.argv[1], int(sys.argv[2]))
