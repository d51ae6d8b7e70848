"""Draws rigid bodies with noisy marks and finds their poses by SVD or by a general minimiser."""

import json
import sys

import numpy as np
from scipy import optimize

question = json.load(sys.stdin)
random = np.random.default_rng(question["seed"])


def turn(angle):
    return np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])


def by_svd(places, points):
    """Kabsch: rotation and shift of least squares, all points alike."""
    middle, there = places.mean(axis=0), points.mean(axis=0)
    u, _, vt = np.linalg.svd((places - middle).T @ (points - there))
    rotation = vt.T @ np.diag([1.0, np.linalg.det(vt.T @ u.T)]) @ u.T
    return [*(there - rotation @ middle), np.arctan2(rotation[1, 0], rotation[0, 0])]


def by_minimiser(places, points, covs, start):
    """Least squares on whitened residuals; covariance from the Jacobian at the solution."""
    whiteners = [np.linalg.inv(np.linalg.cholesky(cov)) for cov in covs]

    def residuals(pose):
        model = places @ turn(pose[2]).T + pose[:2]
        return np.concatenate([w @ r for w, r in zip(whiteners, points - model)])

    fit = optimize.least_squares(residuals, start, method="lm", jac="3-point", xtol=1e-15, ftol=1e-15, gtol=1e-15)
    # One more step with the exact Jacobian takes out what the differences left.
    jacobian = np.column_stack([exact_slopes(places, whiteners, fit.x, k) for k in range(3)])
    step = np.linalg.lstsq(jacobian, -residuals(fit.x), rcond=None)[0]
    return [*(fit.x + step)], np.linalg.inv(jacobian.T @ jacobian)


def exact_slopes(places, whiteners, pose, k):
    if k < 2:
        slopes = np.zeros_like(places)
        slopes[:, k] = 1.0
    else:
        slopes = places @ turn(pose[2] + np.pi / 2).T
    return -np.concatenate([w @ s for w, s in zip(whiteners, slopes)])


def drawn_body(equal):
    n = random.integers(3, 9)
    places = random.normal(0, 0.8, (n, 2))
    places -= places.mean(axis=0)
    frames, poses = [], []
    for _ in range(3):
        angle, shift = random.uniform(-3, 3), random.normal(0, 5, 2)
        covs = [np.eye(2) * 1e-8] * n
        if not equal:
            factors = random.normal(0, 1e-4, (n, 2, 2)) + np.eye(2) * 5e-5
            covs = [f @ f.T + np.eye(2) * 1e-10 for f in factors]
        noise = np.array([random.multivariate_normal([0, 0], cov) for cov in covs])
        points = places @ turn(angle).T + shift + noise
        pose, cov = by_minimiser(places, points, covs, by_svd(places, points))
        if equal:
            pose = by_svd(places, points)
        frames.append([[*p, c[0, 0], c[0, 1], c[1, 1]] for p, c in zip(points, covs)])
        poses.append([*pose, *cov.ravel()])
    return {"places": places.tolist(), "frames": frames, "poses": poses}


if question["kind"] == "spread":
    sd_m = 4e-5
    places = np.array([[-1.0, 0.3], [0.0, 0.35], [1.0, 0.3], [-1.0, -0.3], [0.0, -0.35], [1.0, -0.3]])
    seen = places @ turn(0.2).T + [3.0, 0.8]
    points = seen + random.normal(0, sd_m, (question["n_frames"], *places.shape))
    frames = [[[*p, sd_m**2, 0.0, sd_m**2] for p in frame] for frame in points]
    answer = {"places": places.tolist(), "frames": frames, "sd_m": sd_m}
else:
    answer = {"bodies": [drawn_body(question["kind"] == "round") for _ in range(question["n_bodies"])]}
json.dump(answer, sys.stdout, default=float)
