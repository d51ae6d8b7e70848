"""Matches texture patches with OpenCV: ECC, pyramidal Lucas-Kanade, template matching; or measures their speed."""

import json
import sys
import time

import cv2
import numpy as np

cv2.setNumThreads(1)
question = json.load(sys.stdin)
side, patch = question["side"], question["patch"]
pictures = np.fromfile(question["pictures"], np.uint8).reshape(-1, 2, side, side)
first = np.array(question["first"])
guesses = np.array(question["guesses"])
middle = np.floor(first + 0.5).astype(int)
half = patch // 2
corner = middle - half
ROUNDS = (cv2.TERM_CRITERIA_COUNT + cv2.TERM_CRITERIA_EPS, 50, 1e-6)
# ECC stops by the change of its correlation: 1e-4 is the coarser of its usual settings.
FAST_ROUNDS = (cv2.TERM_CRITERIA_COUNT + cv2.TERM_CRITERIA_EPS, 50, 1e-4)
FLOW_ROUNDS = (cv2.TERM_CRITERIA_COUNT + cv2.TERM_CRITERIA_EPS, 50, 1e-4)


def template(start):
    return np.ascontiguousarray(start[corner[1] : corner[1] + patch, corner[0] : corner[0] + patch])


def start_warp(guess, cut=(0, 0)):
    """Place of a template pixel in a frame cut off at `cut`, from the guess."""
    shape = guess[2:].reshape(2, 2)
    shift = guess[:2] - shape @ (first - corner) - cut
    return np.hstack([shape, shift[:, None]]).astype(np.float32)


def by_ecc(pattern, frame, guess):
    try:
        _, warp = cv2.findTransformECC(pattern, frame, start_warp(guess), cv2.MOTION_AFFINE, ROUNDS, None, 1)
    except cv2.error:
        return None
    return (warp[:, :2] @ (first - corner) + warp[:, 2]).astype(float).tolist()


def fast_ecc(pattern, frame, guess):
    """ECC in no more of the frame than the search needs."""
    reach = half + 7
    cut = np.floor(guess[:2] + 0.5).astype(int) - reach
    piece = np.ascontiguousarray(frame[cut[1] : cut[1] + 2 * reach + 1, cut[0] : cut[0] + 2 * reach + 1])
    return cv2.findTransformECC(pattern, piece, start_warp(guess, cut), cv2.MOTION_AFFINE, FAST_ROUNDS, None, 1)


def by_flow(start, frame, guess):
    there = guess[:2].astype(np.float32).reshape(1, 1, 2).copy()
    here = first.astype(np.float32).reshape(1, 1, 2)
    found, state, _ = cv2.calcOpticalFlowPyrLK(
        start, frame, here, there, winSize=(patch, patch), maxLevel=1, criteria=FLOW_ROUNDS, flags=cv2.OPTFLOW_USE_INITIAL_FLOW
    )
    return found[0, 0].astype(float).tolist() if state[0, 0] else None


def peak(left, centre, right):
    """Top of the parabola through three neighbours, in samples from the middle one."""
    return 0.5 * (left - right) / (left - 2 * centre + right)


def by_template(pattern, frame):
    reach = 4
    x0, y0 = corner - reach
    score = cv2.matchTemplate(frame[y0 : y0 + patch + 2 * reach, x0 : x0 + patch + 2 * reach], pattern, cv2.TM_CCOEFF_NORMED)
    row, column = np.unravel_index(np.argmax(score), score.shape)
    row, column = np.clip([row, column], 1, np.array(score.shape) - 2)
    dx, dy = peak(*score[row, column - 1 : column + 2]), peak(*score[row - 1 : row + 2, column])
    return [float(first[0] + column - reach + dx), float(first[1] + row - reach + dy)]


if question.get("speed"):
    # One template for all frames, as in the following of a patch; only the search is timed. The least time of each frame
    # counts, so that other work on the machine does not.
    pattern, times = template(pictures[0, 0]), np.full(len(pictures), np.inf)
    for _ in range(question["speed"]):
        for k, ((_, frame), guess) in enumerate(zip(pictures, guesses)):
            begun = time.perf_counter()
            fast_ecc(pattern, frame, guess)
            times[k] = min(times[k], time.perf_counter() - begun)
    json.dump({"ecc_points_per_s": len(pictures) / times.sum()}, sys.stdout)
else:
    answer = {"ECC": [], "PyrLK": [], "matchTemplate": []}
    for (start, frame), guess in zip(pictures, guesses):
        pattern = template(start)
        answer["ECC"].append(by_ecc(pattern, frame, guess))
        answer["PyrLK"].append(by_flow(start, frame, guess))
        answer["matchTemplate"].append(by_template(pattern, frame))
    json.dump(answer, sys.stdout)
