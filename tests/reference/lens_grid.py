"""OpenCV's calibration of a lens from views of a chessboard, and its reading of a lens file.

Reads the board, its corners as found elsewhere, which terms are free, the paths of the pictures and the text of a lens file;
answers with calibrateCameraExtended on those corners, on corners of its own by cornerSubPix with half-windows 11 and 5, and
with the matrices that FileStorage reads.
"""

import json
import sys

import cv2
import numpy as np

question = json.load(sys.stdin)
columns, rows = question["board"]
size = tuple(question["size"])
grid = np.zeros((columns * rows, 3), np.float32)
grid[:, :2] = np.mgrid[0:columns, 0:rows].T.reshape(-1, 2) * question["pitch_m"]
ROUNDS = (cv2.TERM_CRITERIA_COUNT + cv2.TERM_CRITERIA_EPS, 300, 1e-14)
CORNER_ROUNDS = (cv2.TERM_CRITERIA_COUNT + cv2.TERM_CRITERIA_EPS, 100, 1e-5)


def flags(free):
    fixed = {"k1": cv2.CALIB_FIX_K1, "k2": cv2.CALIB_FIX_K2, "k3": cv2.CALIB_FIX_K3, "p": cv2.CALIB_ZERO_TANGENT_DIST}
    return sum(flag for name, flag in fixed.items() if not free[name])


def calibrated(views, free):
    views = [np.array(view, np.float32).reshape(-1, 1, 2) for view in views]
    rms, camera, bend, _, _, sd, _, per_view = cv2.calibrateCameraExtended(
        [grid] * len(views), views, size, None, None, flags=flags(free), criteria=ROUNDS
    )
    k1, k2, p1, p2, k3 = bend.ravel()[:5]
    terms = [camera[0, 0], camera[1, 1], camera[0, 2], camera[1, 2], k1, k2, k3, p1, p2]
    fx, fy, cx, cy, u1, u2, v1, v2, u3 = sd.ravel()[:9]
    return {"rms": rms, "terms": terms, "sd": [fx, fy, cx, cy, u1, u2, u3, v1, v2], "views": per_view.ravel().tolist()}


def corners(path, window):
    grey = cv2.imread(path, cv2.IMREAD_GRAYSCALE)
    found, places = cv2.findChessboardCorners(grey, (columns, rows))
    if not found:
        return None
    return cv2.cornerSubPix(grey, places, (window, window), (-1, -1), CORNER_ROUNDS).reshape(-1, 2)


def own(window):
    views = [places for path in question["pictures"] if (places := corners(path, window)) is not None]
    return calibrated(views, question["free"]) | {"n_views": len(views)} if len(views) > 2 else None


def read(text):
    store = cv2.FileStorage(text, cv2.FILE_STORAGE_READ | cv2.FILE_STORAGE_MEMORY)
    return {
        "camera": store.getNode("camera_matrix").mat().ravel().tolist(),
        "bend": store.getNode("distortion_coefficients").mat().ravel().tolist(),
        "width": store.getNode("image_width").real(),
    }


answer = {"same_corners": calibrated(question["views"], question["free"])}
answer |= {f"window_{window}": own(window) for window in (11, 5)}
answer["file"] = read(question["file"])
json.dump(answer, sys.stdout, default=float)
