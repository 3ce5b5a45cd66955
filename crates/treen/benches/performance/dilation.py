"""Seconds that a general-purpose library takes to dilate the rippled bowl, on one thread, scaled up from its middle rows."""
import sys
import time
import numpy as np

library, kind = sys.argv[1:3]
radius, pitch, rows = float(sys.argv[3]), float(sys.argv[4]), int(sys.argv[5])
line = np.arange(-90, 90 + pitch / 2, pitch)
n = len(line)
k = int(radius / pitch + 1e-9)
low = max(0, (n - rows) // 2)
high = min(n, low + rows)
y, x = np.meshgrid(line[max(0, low - k):min(n, high + k)], line, indexing="ij")
s = np.hypot(x, y) / (64 * (1 + 0.1 * np.cos(7 * np.arctan2(y, x))))
bowl = np.where(s < 1, -40 * (1 - s**4) + 0.5 * np.sin(20 * np.pi * s) * np.sin(np.pi * s), 0).astype(np.float32)
o = np.arange(-k, k + 1) * pitch
d = np.hypot(o[None, :], o[:, None])
foot = d <= radius + 1e-9
d = np.minimum(d, radius)
if kind == "ball":
    rise = radius - np.sqrt(radius**2 - d**2)
elif kind == "bull":
    u = np.maximum(d - radius + 2, 0)
    rise = 2 - np.sqrt(np.maximum(4 - u**2, 0))
elif kind == "cone":
    rise = d / np.tan(np.pi / 6)
else:
    rise = 0 * d

if library == "opencv":
    import cv2
    cv2.setNumThreads(1)
    mask = foot.astype(np.uint8)
    run = lambda: cv2.dilate(bowl, mask, borderType=cv2.BORDER_CONSTANT, borderValue=-1e9)
else:
    from scipy import ndimage
    drop = np.where(foot, -rise, 0).astype(np.float32)
    run = lambda: ndimage.grey_dilation(bowl, footprint=foot, structure=drop, mode="constant", cval=-1e9)
best = []
for _ in range(3):
    begun = time.perf_counter()
    run()
    best.append(time.perf_counter() - begun)
print(sorted(best)[1] * n / bowl.shape[0])
