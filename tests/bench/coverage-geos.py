"""GEOS beside the coverage engine, through Debian's python3-shapely. Reads lines `read FILE`, `union`, `passes`; answers JSON lines.

FILE: little-endian int32: passes, then records of each pass, then eight coordinates a record (four corners).
Times cover the GEOS call alone, not the building of the geometries.
"""
import ctypes
import json
import struct
import sys
import time

from shapely import wkb
from shapely.geos import lgeos

capi = ctypes.CDLL("libgeos_c.so.1")
capi.GEOSCoverageUnion_r.restype = ctypes.c_void_p
capi.GEOSCoverageUnion_r.argtypes = [ctypes.c_void_p, ctypes.c_void_p]
capi.GEOSUnaryUnion_r.restype = ctypes.c_void_p
capi.GEOSUnaryUnion_r.argtypes = [ctypes.c_void_p, ctypes.c_void_p]
capi.GEOSGeom_createCollection_r.restype = ctypes.c_void_p
capi.GEOSGeom_createCollection_r.argtypes = [ctypes.c_void_p, ctypes.c_int, ctypes.c_void_p, ctypes.c_uint]
capi.GEOSArea_r.argtypes = [ctypes.c_void_p, ctypes.c_void_p, ctypes.POINTER(ctypes.c_double)]
capi.GEOSGeom_destroy_r.argtypes = [ctypes.c_void_p, ctypes.c_void_p]
handle = lgeos.geos_handle


def multipolygon(xy, first, count):
    parts = [struct.pack("<BII", 1, 6, count)]
    head = struct.pack("<BIII", 1, 3, 1, 5)
    pack = struct.Struct("<10d").pack
    for i in range(first, first + count):
        c = xy[8 * i : 8 * i + 8]
        parts.append(head)
        parts.append(pack(*c, c[0], c[1]))
    return wkb.loads(b"".join(parts))


def area(geom):
    out = ctypes.c_double()
    capi.GEOSArea_r(handle, geom, ctypes.byref(out))
    return out.value


state = {}
for line in sys.stdin:
    words = line.split()
    answer = {}
    try:
        if words[0] == "read":
            with open(words[1], "rb") as f:
                data = f.read()
            passes = struct.unpack_from("<i", data, 0)[0]
            sizes = struct.unpack_from("<%di" % passes, data, 4)
            total = sum(sizes)
            xy = struct.unpack_from("<%di" % (8 * total), data, 4 + 4 * passes)
            state.clear()
            state["all"] = multipolygon(xy, 0, total)
            state["passes"] = []
            at = 0
            for size in sizes:
                if size:
                    state["passes"].append(multipolygon(xy, at, size))
                at += size
            answer = {"records": total}
        elif words[0] == "union":
            start = time.perf_counter()
            out = capi.GEOSUnaryUnion_r(handle, state["all"]._geom)
            answer = {"ms": 1000 * (time.perf_counter() - start)}
            if not out:
                raise RuntimeError("unary_union failed")
            answer["area"] = area(out)
            capi.GEOSGeom_destroy_r(handle, out)
        elif words[0] == "passes":
            start = time.perf_counter()
            strips = []
            failed = 0
            for one in state["passes"]:
                strip = capi.GEOSCoverageUnion_r(handle, one._geom)
                if not strip:
                    failed += 1
                    strip = capi.GEOSUnaryUnion_r(handle, one._geom)
                strips.append(strip)
            array = (ctypes.c_void_p * len(strips))(*strips)
            collection = capi.GEOSGeom_createCollection_r(handle, 7, array, len(strips))
            out = capi.GEOSUnaryUnion_r(handle, collection)
            answer = {"ms": 1000 * (time.perf_counter() - start), "failed": failed}
            if not out:
                raise RuntimeError("union of the passes failed")
            answer["area"] = area(out)
            capi.GEOSGeom_destroy_r(handle, out)
            capi.GEOSGeom_destroy_r(handle, collection)
    except Exception as problem:  # the bench shows failures, it does not stop at them
        answer["error"] = str(problem)
    print(json.dumps(answer), flush=True)
