"""Finds the centres of rendered targets by half-turn symmetry, and by centroid or edge model."""

import json
import sys

import numpy as np
from scipy import ndimage, optimize, special

question = json.load(sys.stdin)
grey = np.array(question["grey"]).reshape(-1, question["width"])
background = grey[0, 0]
GAUSS = [(-np.sqrt(0.15), 5 / 18), (0.0, 8 / 18), (np.sqrt(0.15), 5 / 18)]
worst_residual = 0.0


def cut(near, reach):
    x, y = (int(v) for v in near)
    return grey[y - reach : y + reach + 1, x - reach : x + reach + 1], x - reach, y - reach


def by_symmetry(near, radius):
    """The picture minus its own half-turn about the centre, quintic spline, least squares.

    Light smoothing first: it moves no centre and leaves less of what sampling has folded back.
    """
    reach = int(radius) + 5
    patch, x0, y0 = cut(near, reach + 12)
    patch = ndimage.gaussian_filter(patch, 1.0, mode="nearest", truncate=8)
    spline = ndimage.spline_filter(patch, order=5, mode="mirror")
    dy, dx = np.mgrid[-reach : reach + 1, -reach : reach + 1]
    half = ((dy > 0) | ((dy == 0) & (dx > 0))) & (np.hypot(dx, dy) <= radius + 4)
    dx, dy = dx[half], dy[half]

    def level(x, y):
        return ndimage.map_coordinates(spline, [y, x], order=5, mode="mirror", prefilter=False)

    def difference(c):
        return level(c[0] + dx, c[1] + dy) - level(c[0] - dx, c[1] - dy)

    start = [near[0] - x0, near[1] - y0]
    found = optimize.least_squares(difference, start, method="lm", xtol=1e-12, ftol=1e-14)
    return [found.x[0] + x0, found.x[1] + y0]


def by_centroid(near, radius):
    """Centroid of what differs from the even background."""
    patch, x0, y0 = cut(near, int(radius) + 8)
    mass = patch - background
    y, x = np.mgrid[: patch.shape[0], : patch.shape[1]]
    return [x0 + (mass * x).sum() / mass.sum(), y0 + (mass * y).sum() / mass.sum()]


def by_edges(near, radius):
    """Two crossing blurred edges: erf(u) erf(v), averaged over each pixel; centre, turn, blur, level, height."""
    global worst_residual
    patch, x0, y0 = cut(near, int(radius))
    y, x = np.mgrid[: patch.shape[0], : patch.shape[1]]
    inner = np.hypot(x + x0 - near[0], y + y0 - near[1]) <= 0.55 * radius
    x, y, seen = x[inner] + x0, y[inner] + y0, patch[inner]
    height = 0.5 * (seen.max() - seen.min())

    def model(p):
        cx, cy, turn, blur, level, h = p
        cos, sin = np.cos(turn), np.sin(turn)
        total = 0.0
        for ox, wx in GAUSS:
            for oy, wy in GAUSS:
                u, v = x + ox - cx, y + oy - cy
                edges = special.erf((u * cos + v * sin) / blur) * special.erf((v * cos - u * sin) / blur)
                total = total + wx * wy * edges
        return level + h * total

    fits = [
        optimize.least_squares(lambda p: model(p) - seen, [*near, turn, 1.0, seen.mean(), height], method="lm", x_scale=[1, 1, 1, 1, height, height])
        for turn in np.radians([-67.5, -22.5, 22.5, 67.5])
    ]
    best = min(fits, key=lambda fit: fit.cost)
    worst_residual = max(worst_residual, np.sqrt(np.mean(best.fun**2)) / (2 * height))
    return best.x[:2].tolist()


symmetry, second = [], []
for target in question["targets"]:
    near, radius = target["near"], target["radius"]
    symmetry.append(by_symmetry(near, radius))
    second.append((by_edges if target["kind"] == "quadrant" else by_centroid)(near, radius))
json.dump({"symmetry": symmetry, "second": second, "edge_model_residual": worst_residual}, sys.stdout)
