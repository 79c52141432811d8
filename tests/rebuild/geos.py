"""Reads pairs of GeoJSON maps and prints what GEOS says of them, as JSON.

Standard input: [{"before": path, "after": path, "reachM": meters}]. Degrees are scaled to meters at the middle of the map by the two radii of
curvature of the WGS84 ellipsoid: plane areas are good to about 1e-4, ratios of areas far better.
"""

import json
import math
import sys

import shapely
from shapely.affinity import affine_transform
from shapely.geometry import shape
from shapely.ops import unary_union

A = 6378137.0
E2 = 0.0066943799901413165


def polygons(path, scale=None):
    with open(path, encoding="utf-8") as f:
        features = json.load(f)["features"]
    shapes = [shape(x["geometry"]) for x in features]
    if scale is None:
        west, south, east, north = shapes[0].bounds
        lon, lat = west, south
        s = math.sin(math.radians(lat))
        w = math.sqrt(1 - E2 * s * s)
        scale = (lon, lat, math.radians(1) * A * math.cos(math.radians(lat)) / w, math.radians(1) * A * (1 - E2) / w**3)
    lon, lat, kx, ky = scale
    return [affine_transform(g, [kx, 0, 0, ky, -lon * kx, -lat * ky]) for g in shapes], scale


def facts(pair):
    before, scale = polygons(pair["before"])
    after, _ = polygons(pair["after"], scale)
    was = unary_union(before)
    is_ = unary_union(after)
    reach = pair["reachM"]
    return {
        "invalid": sum(not g.is_valid for g in after),
        "sumM2": sum(g.area for g in after),
        "unionM2": is_.area,
        "beforeSumM2": sum(g.area for g in before),
        "beforeUnionM2": was.area,
        # Ground of the one farther from the other than `reachM`.
        "outsideM2": is_.difference(was.buffer(reach, resolution=2)).area,
        "missingM2": was.difference(is_.buffer(reach, resolution=2)).area,
    }


if __name__ == "__main__":
    print(json.dumps([facts(p) for p in json.load(sys.stdin)]))
