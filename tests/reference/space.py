"""Homographies, poses and points in space by OpenCV, from the points that are asked about."""

import json
import sys

import cv2
import numpy as np

question = json.load(sys.stdin)


def homography(task):
    matrix, _ = cv2.findHomography(np.array(task["plane"]), np.array(task["seen"]), 0)
    return (matrix / matrix[2, 2]).tolist()


def lens(task):
    fx, fy, cx, cy, k1, k2, k3, p1, p2 = task["lens"]
    return np.array([[fx, 0, cx], [0, fy, cy], [0, 0, 1.0]]), np.array([k1, k2, p1, p2, k3])


def pose(task):
    """Rotation and centre by each solver that takes such points."""
    points, seen = np.array(task["points"]), np.array(task["seen"])
    matrix, distortion = lens(task)
    solvers = {"iterative": cv2.SOLVEPNP_ITERATIVE, "sqpnp": cv2.SOLVEPNP_SQPNP}
    if task["planar"]:
        solvers["ippe"] = cv2.SOLVEPNP_IPPE
    answer = {}
    for name, flag in solvers.items():
        done, turn, shift = cv2.solvePnP(points, seen, matrix, distortion, flags=flag)
        if not done:
            raise RuntimeError(f"{name} gives no pose")
        rotation, _ = cv2.Rodrigues(turn)
        answer[name] = {"rotation": rotation.tolist(), "centre": (-rotation.T @ shift).ravel().tolist()}
    return answer


def point(task):
    """A point from two cameras, in coordinates of unit focal length."""
    projections, normal = [], []
    for view in task:
        rotation, centre = np.array(view["rotation"]), np.array(view["centre"])
        projections.append(np.column_stack([rotation, -rotation @ centre]))
        seen = np.array(view["seen"]).reshape(1, 1, 2)
        normal.append(cv2.undistortPoints(seen, *lens(view), criteria=(3, 100, 1e-14)).reshape(2, 1))
    homogeneous = cv2.triangulatePoints(*projections, *normal).ravel()
    return (homogeneous[:3] / homogeneous[3]).tolist()


json.dump(
    {
        "homographies": [homography(task) for task in question.get("homographies", [])],
        "poses": [pose(task) for task in question.get("poses", [])],
        "points": [point(task) for task in question.get("points", [])],
    },
    sys.stdout,
)
