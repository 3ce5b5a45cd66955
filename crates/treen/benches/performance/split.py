"""Seconds that manifold3d takes to split a bowl of a million triangles into resin and wood by an upright prism."""
import time
import manifold3d as m3
import numpy as np

SECTORS, RINGS = 1120, 437

angle = 2 * np.pi * np.arange(SECTORS) / SECTORS
s = np.arange(1, RINGS + 1)[:, None] / RINGS
rim = 64 * (1 + 0.1 * np.cos(7 * angle))[None, :]
z = np.where(s < 1, -40 * (1 - s**4) + 0.5 * np.sin(20 * np.pi * s) * np.sin(np.pi * s), 0) + 0 * rim
rings = np.stack([s * rim * np.cos(angle), s * rim * np.sin(angle), z], 2).reshape(-1, 3)
vertices = np.concatenate([[[0, 0, -40]], rings, [[0, 0, 0]]])
j = np.arange(SECTORS)
on = (j + 1) % SECTORS
triangles = [np.stack([0 * j, 1 + on, 1 + j], 1)]
for ring in range(RINGS - 1):
    a, b = 1 + ring * SECTORS, 1 + (ring + 1) * SECTORS
    triangles += [np.stack([a + j, b + on, b + j], 1), np.stack([a + j, a + on, b + on], 1)]
last = 1 + (RINGS - 1) * SECTORS
triangles.append(np.stack([0 * j + len(vertices) - 1, last + j, last + on], 1))
hollow = m3.Manifold(m3.Mesh64(vertices.astype(np.float64), np.concatenate(triangles).astype(np.uint64)))
assert hollow.status() == m3.Error.NoError and hollow.volume() > 0

x = np.linspace(-95, 95, 401)
y = 15 * np.sin(2 * np.pi * x / 60)
plan = np.concatenate([np.stack([x, y - 10], 1), np.stack([x, y + 10], 1)[::-1]])
river = m3.CrossSection([plan]).extrude(65).translate([0, 0, -60])
block = m3.Manifold.cube([180, 180, 50], True).translate([0, 0, -25])

taken = []
for _ in range(3):
    begun = time.process_time()
    bowl = block - hollow
    resin, wood = (bowl ^ river).volume(), (bowl - river).volume()
    taken.append(time.process_time() - begun)
    assert abs(resin - 100498.999) < 2e-3 and abs(wood - 1174643.406) < 2e-3, (resin, wood)
print(sorted(taken)[1])
