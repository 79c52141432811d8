"""Open strips of maps, measured by closing with GEOS; what is measured, and why so, is told in closing.ts.

Standard input: [{"map": path, "widthM": meters, "noiseM": meters, "boundary": path or null}]. Standard output: a list in the same order.
Degrees become meters by the two radii of curvature of the WGS84 ellipsoid in the middle of the map; over 2 km a width is off by 1e-4 at most.
"""

import json
import math
import sys

from shapely.errors import TopologicalError
from shapely.geometry import MultiPolygon, Polygon, box, mapping, shape
from shapely.geometry.base import JOIN_STYLE
from shapely.ops import clip_by_rect, transform, unary_union
from shapely.validation import make_valid

A = 6378137.0
E2 = 0.0066943799901413165
MITRE_LIMIT = 1.5
ARC_STEPS = 16
SLIM = 1.5
MOUTH = 0.28
MICROMETER = 1e-6


def without_slips(g):
    """The polygons of a record whose rings have an area: a display may write one of two points."""
    if g is None or g["type"] not in ("Polygon", "MultiPolygon"):
        return {"type": "MultiPolygon", "coordinates": []}
    polygons = [g["coordinates"]] if g["type"] == "Polygon" else g["coordinates"]
    rings = ([r for r in p if len({tuple(xy) for xy in r}) > 2] if p and len({tuple(xy) for xy in p[0]}) > 2 else [] for p in polygons)
    return {"type": "MultiPolygon", "coordinates": [p for p in rings if p]}


def features(path):
    with open(path, encoding="utf-8") as f:
        return [shape(without_slips(x["geometry"])) for x in json.load(f)["features"]]


def solid(g):
    """What has an area in a record, by GEOS's make_valid where its rings cross or touch themselves; empty for one of a line or a point."""
    return g if g.is_valid else area_only(make_valid(g))


def plane_of(shapes):
    """From degrees to meters and back, about the middle of the map; longitudes are taken near that of the first point."""
    lon0 = shapes[0].bounds[0]
    near = lambda x: (x - lon0 + 180) % 360 - 180
    bounds = [g.bounds for g in shapes]
    lon = lon0 + (min(near(b[0]) for b in bounds) + max(near(b[2]) for b in bounds)) / 2
    lat = (min(b[1] for b in bounds) + max(b[3] for b in bounds)) / 2
    s = math.sin(math.radians(lat))
    w = math.sqrt(1 - E2 * s * s)
    kx = math.radians(1) * A * math.cos(math.radians(lat)) / w
    ky = math.radians(1) * A * (1 - E2) / w**3
    there = lambda x, y, z=None: (((x - lon + 180) % 360 - 180) * kx, (y - lat) * ky)
    back = lambda x, y: (x / kx + lon, y / ky + lat)
    return (lambda g: transform(lambda x, y, z=None: zip(*[there(a, b) for a, b in zip(x, y)]), g)), (
        lambda g: transform(lambda x, y: zip(*[back(a, b) for a, b in zip(x, y)]), g)
    )


def polygons(g):
    """The polygons of anything, without the lines and points that differences leave."""
    if isinstance(g, Polygon):
        return [] if g.is_empty else [g]
    return [p for part in getattr(g, "geoms", []) for p in polygons(part)]


def area_only(g):
    return MultiPolygon(polygons(g))


def overlay(op, a, b):
    """`a.intersection(b)` or another operation. Edges that nearly coincide may break GEOS's overlay: then both are drawn a micrometer larger, and valid."""
    try:
        return getattr(a, op)(b)
    except (TopologicalError, ValueError):
        return getattr(solid(a.buffer(MICROMETER)), op)(solid(b.buffer(MICROMETER)))


def open_share(p, filled, slack):
    """Part of the way around a piece that is no edge of covered ground: where closing stopped."""
    x0, y0, x1, y1 = p.bounds
    window = (x0 - 1, y0 - 1, x1 + 1, y1 + 1)
    try:
        near = clip_by_rect(filled, *window)
    except ValueError:
        # It may leave a ring of three points.
        near = overlay("intersection", filled, box(*window))
    beside = near.buffer(slack)
    return 1 - p.boundary.intersection(beside).length / p.length


def closed(g, r):
    """Closed by plain closing, and with corners as they are."""
    plain = g.buffer(r, resolution=ARC_STEPS).buffer(-r, resolution=ARC_STEPS)
    mitre = {"join_style": JOIN_STYLE.mitre, "mitre_limit": MITRE_LIMIT}
    return plain, overlay("intersection", plain, g.buffer(r, **mitre).buffer(-r, **mitre))


def pieces_of(shut, filled, holes, width, noise):
    """What closing shut, in strips and pockets and in corners: (area, length, mean width, kind, polygon) each."""
    ground = overlay("difference", shut, filled)
    if noise > 0:
        ground = ground.buffer(-noise / 2).buffer(noise / 2 * 1.02).intersection(ground)
    slack = noise + 0.001
    found, corners = [], []
    for p in polygons(ground):
        half = p.length / 2
        mean = (half - math.sqrt(max(half**2 - 4 * p.area, 0))) / 2
        long = half - mean >= max(width, 3 * mean)
        # A pocket is most of a hole in what is covered.
        x0, y0, x1, y1 = p.bounds
        enclosed = not long and any(
            p.area > 0.5 * area
            and p.area < 1.01 * area
            and a >= x0 - slack and b >= y0 - slack and c <= x1 + slack and d <= y1 + slack
            for area, (a, b, c, d) in holes
        )
        kind = "pocket" if enclosed else "strip" if half - mean >= SLIM * mean and open_share(p, filled, slack) <= MOUTH else "corner"
        (corners if kind == "corner" else found).append((p.area, half - mean, mean, kind, p))
    found.sort(key=lambda f: -f[0])
    return found, corners


def measure(job):
    records = features(job["map"])
    shapes = [g for g in records if not g.is_empty]
    if not shapes:
        raise SystemExit(f"{job['map']}: no record has an area")
    to_plane, to_degrees = plane_of(shapes)
    width, noise = job["widthM"], job["noiseM"]
    parts = [solid(to_plane(g)) for g in shapes]
    parts = [g for g in parts if g.area > 0]
    covered = area_only(unary_union(parts))
    filled = covered
    if job.get("boundary"):
        field = unary_union([solid(to_plane(g)) for g in features(job["boundary"]) if not g.is_empty])
        x0, y0, x1, y1 = covered.union(field).bounds
        filled = covered.union(box(x0 - 2 * width, y0 - 2 * width, x1 + 2 * width, y1 + 2 * width).difference(field))
    shut = filled.buffer(noise / 2, resolution=ARC_STEPS).buffer(-noise / 2, resolution=ARC_STEPS) if noise > 0 else filled
    holes = [(Polygon(r).area, r.bounds) for p in polygons(shut) for r in p.interiors]
    plain, sharp = closed(filled, width / 2)
    found, corners = pieces_of(sharp, filled, holes, width, noise)
    kept, _ = pieces_of(plain, filled, holes, width, noise)
    about = lambda f: {"areaM2": f[0], "lengthM": f[1], "widthM": f[2], "kind": f[3], "geometry": mapping(to_degrees(f[4]))}
    return {
        "records": len(records),
        "leftOut": len(records) - len(parts),
        "coveredM2": covered.area,
        "stripsM2": sum(f[0] for f in found if f[3] == "strip"),
        "pocketsM2": sum(f[0] for f in found if f[3] == "pocket"),
        "droppedM2": sum(c[0] for c in corners),
        "plainM2": sum(f[0] for f in kept),
        "corners": [about(f) for f in corners],
        "pieces": [about(f) for f in found],
    }


if __name__ == "__main__":
    print(json.dumps([measure(job) for job in json.load(sys.stdin)]))
