"""Area of every feature of GeoJSON collections by GEOS, and whether it is valid.

Standard input: GeoJSON texts, one a line. Standard output: for each a list of {"areaM2", "valid"} in the order of its features; a feature of no polygon has no area.
Degrees become meters by the two radii of curvature of the WGS84 ellipsoid in the middle of the map; over 2 km an area is off by 2e-4 at most.
"""

import json
import math
import sys

from shapely.geometry import shape

A = 6378137.0
E2 = 0.0066943799901413165


def areas(text):
    shapes = [shape(f["geometry"]) for f in json.loads(text)["features"]]
    drawn = [s.bounds for s in shapes if not s.is_empty]
    if not drawn:
        return [{"areaM2": 0, "valid": True} for _ in shapes]
    lat = sum((b[1] + b[3]) / 2 for b in drawn) / len(drawn)
    s = math.sin(math.radians(lat))
    w = math.sqrt(1 - E2 * s * s)
    kx = math.radians(1) * A * math.cos(math.radians(lat)) / w
    ky = math.radians(1) * A * (1 - E2) / w**3
    return [{"areaM2": g.area * kx * ky, "valid": g.is_valid} for g in shapes]


print(json.dumps([areas(line) for line in sys.stdin if line.strip()]))
