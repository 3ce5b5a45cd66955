"""Seconds that Clipper2 (pyclipr) takes to offset lobed levels with islands inwards until nothing is left, on one thread."""
import time
import numpy as np
import pyclipr as pc

STEP, ARC, UNITS = 2.4, 0.005, 100000


def level(k):
    t = 2 * np.pi * np.arange(4096) / 4096
    r = 64 * (1 + 0.1 * np.cos(7 * t)) * (1 - k / 44) ** 0.25 + 0.3 * np.sin(61 * t + k)
    outer = np.stack([r * np.cos(t), r * np.sin(t)], 1)
    t = 2 * np.pi * np.arange(256) / 256
    r = 3 + 0.5 * np.cos(3 * t + k)
    middles = 2 * np.pi * np.arange(5) / 5 + 0.1 * k
    islands = [np.stack([16 * np.cos(a) + r * np.cos(t), 16 * np.sin(a) + r * np.sin(t)], 1) for a in middles]
    clip = pc.Clipper()
    clip.scaleFactor = UNITS
    clip.addPath(outer, pc.Subject, False)
    clip.addPaths(islands, pc.Clip, False)
    return clip.execute(pc.Difference, pc.FillRule.NonZero)


levels = [level(k) for k in range(44)]
best = []
for _ in range(3):
    begun = time.perf_counter()
    for left in levels:
        while len(left):
            off = pc.ClipperOffset()
            off.scaleFactor = UNITS
            off.arcTolerance = ARC * UNITS
            off.addPaths([np.asarray(r)[:, :2] for r in left], pc.JoinType.Round, pc.EndType.Polygon)
            left = [pc.simplifyPath(np.asarray(r), ARC / 2 * UNITS, UNITS) for r in off.execute(-STEP)]
    best.append(time.perf_counter() - begun)
print(sorted(best)[1])
