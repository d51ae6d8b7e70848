"""OpenCV on the pictures of painted targets: corner refinement, template matching, optical flow, ECC alignment.

Reads picture stacks (.npy, uint8: pictures, and for each the template, the same target on the middle pixel); answers
each method's centres, null where it gave none.
"""

import json
import sys

import cv2
import numpy as np

question = json.load(sys.stdin)
ROUNDS = (cv2.TERM_CRITERIA_COUNT + cv2.TERM_CRITERIA_EPS, 100, 1e-5)


def peak(left, middle, right):
    """Top of the parabola through three neighbours, in samples from the middle one."""
    return 0.5 * (left - right) / (left - 2 * middle + right)


def refined(grey, middle, radius):
    reach = int(max(3, round(0.45 * radius)))
    point = np.array([[[middle, middle]]], np.float32)
    found = cv2.cornerSubPix(grey, point, (reach, reach), (-1, -1), ROUNDS)
    return found[0, 0].astype(float).tolist()


def matched(grey, template, middle, radius):
    half = int(radius) + 2
    pattern = np.ascontiguousarray(template[middle - half : middle + half + 1, middle - half : middle + half + 1])
    reach = half + 3
    area = np.ascontiguousarray(grey[middle - reach : middle + reach + 1, middle - reach : middle + reach + 1])
    score = cv2.matchTemplate(area, pattern, cv2.TM_CCOEFF_NORMED)
    row, column = np.unravel_index(np.argmax(score), score.shape)
    row, column = np.clip([row, column], 1, np.array(score.shape) - 2)
    dx, dy = peak(*score[row, column - 1 : column + 2]), peak(*score[row - 1 : row + 2, column])
    return [float(middle + column - 3 + dx), float(middle + row - 3 + dy)]


def flowed(grey, template, middle, radius):
    window = 2 * int(radius) + 5
    start = np.array([[[middle, middle]]], np.float32)
    found, good, _ = cv2.calcOpticalFlowPyrLK(
        template, grey, start, None, winSize=(window, window), maxLevel=1, criteria=ROUNDS
    )
    return found[0, 0].astype(float).tolist() if good[0, 0] else None


def aligned(grey, template, middle, radius):
    half = int(radius) + 2
    pattern = np.ascontiguousarray(template[middle - half : middle + half + 1, middle - half : middle + half + 1])
    warp = np.array([[1, 0, middle - half], [0, 1, middle - half]], np.float32)
    try:
        _, warp = cv2.findTransformECC(pattern, grey, warp, cv2.MOTION_TRANSLATION, ROUNDS, None, 1)
    except cv2.error:
        return None
    return [float(warp[0, 2]) + half, float(warp[1, 2]) + half]


def answers(cell):
    pictures, templates = np.load(cell["pictures"]), np.load(cell["templates"])
    middle, radius = int(cell["middle"]), cell["radius"]
    pairs = list(zip(pictures, templates))
    return {
        "cornerSubPix": [refined(g, middle, radius) for g in pictures] if cell["has_corner"] else [],
        "matchTemplate + parabola": [matched(g, t, middle, radius) for g, t in pairs],
        "PyrLK": [flowed(g, t, middle, radius) for g, t in pairs],
        "ECC": [aligned(g, t, middle, radius) for g, t in pairs],
    }


json.dump([answers(cell) for cell in question["cells"]], sys.stdout)
