"""Exact posterior of a curve and its derivatives under thrice integrated noise, by dense kriging in long decimals."""

import json
import sys
from decimal import Decimal as D
from decimal import getcontext
from math import comb

getcontext().prec = 60
FACTORIAL = [D(1), D(1), D(2), D(6)]
question = json.load(sys.stdin)
marks = [[D(v) for v in mark] for mark in question["marks"]]
asked = [D(t) for t in question["asked"]]
onsets = [D(t) for t in question["onsets"]]
strength = D(question["q"])
jumps = [D(sd) ** 2 for sd in question["jump_sd"]]
START = marks[0][0]


def driven(s, a, t, b):
    """Integral of q (s-u)^(3-a) (t-u)^(3-b) / ((3-a)! (3-b)!) over u from the first mark to the earlier time."""
    m = min(s, t)
    p, r, total = 3 - a, 3 - b, D(0)
    for i in range(p + 1):
        for j in range(r + 1):
            rest = (s - m) ** (p - i) if p > i else D(1)
            rest *= (t - m) ** (r - j) if r > j else D(1)
            total += comb(p, i) * comb(r, j) * rest * (m - START) ** (i + j + 1) / (i + j + 1)
    return strength * total / (FACTORIAL[p] * FACTORIAL[r])


def slope(ahead, k, a):
    """a-th derivative of ahead^k / k!."""
    return D(0) if k < a else (ahead ** (k - a) if k > a else D(1)) / FACTORIAL[k - a]


def prior(s, a, t, b):
    """Covariance of the a-th derivative at s and the b-th at t."""
    total = driven(s, a, t, b)
    for onset in onsets:
        if s > onset and t > onset:
            total += sum(jumps[k] * slope(s - onset, k, a) * slope(t - onset, k, b) for k in range(4))
    return total


def solved(matrix, right):
    """Gaussian elimination with pivots, many right sides."""
    n = len(matrix)
    rows = [list(m) + list(r) for m, r in zip(matrix, right)]
    for c in range(n):
        pivot = max(range(c, n), key=lambda i: abs(rows[i][c]))
        rows[c], rows[pivot] = rows[pivot], rows[c]
        for i in range(c + 1, n):
            factor = rows[i][c] / rows[c][c]
            rows[i][c:] = [x - factor * y for x, y in zip(rows[i][c:], rows[c][c:])]
    answers = [None] * n
    for i in reversed(range(n)):
        row = rows[i][n:]
        for j in range(i + 1, n):
            row = [x - rows[i][j] * y for x, y in zip(row, answers[j])]
        answers[i] = [x / rows[i][i] for x in row]
    return answers


def dot(a, b):
    return sum((x * y for x, y in zip(a, b)), D(0))


def column(matrix, j):
    return [row[j] for row in matrix]


noisy = [[prior(s, 0, t, 0) + (var if i == j else 0) for j, (t, _, _) in enumerate(marks)] for i, (s, _, var) in enumerate(marks)]
cubic = [[slope(t - START, k, 0) for k in range(4)] for t, _, _ in marks]
places = [(t, a) for t in asked for a in range(4)]
links = [[prior(t, a, s, 0) for t, a in places] for s, _, _ in marks]
weighted = solved(noisy, [[y, *c, *link] for (_, y, _), c, link in zip(marks, cubic, links)])
values = [y for _, y, _ in marks]
normal = [[dot(column(cubic, i), column(weighted, 1 + j)) for j in range(4)] for i in range(4)]
level = [[dot(column(cubic, i), column(weighted, 0))] for i in range(4)]
lack = [[slope(t - START, i, a) - dot(column(cubic, i), column(weighted, 5 + p)) for p, (t, a) in enumerate(places)] for i in range(4)]
fitted = solved(normal, [l + d for l, d in zip(level, lack)])

states, covariances = [], []
for at, t in enumerate(asked):
    state, cov = [], []
    for a in range(4):
        p = 4 * at + a
        state.append(float(dot(column(weighted, 5 + p), values) + dot(column(lack, p), column(fitted, 0))))
        for b in range(4):
            r = 4 * at + b
            shrunk = prior(t, a, t, b) - dot(column(links, p), column(weighted, 5 + r))
            cov.append(float(shrunk + dot(column(lack, p), column(fitted, 1 + r))))
    states.append(state)
    covariances.append(cov)
json.dump({"states": states, "covariances": covariances}, sys.stdout)
