"""An independent answer to one load case: a second-order cone programme over ring points.

Shares nothing with the program: the pressing plane comes from equilibrium at the ring points
(which brings in each ring's own stiffness by itself), friction is a free field of vectors, and
Clarabel, a general convex solver, finds the least pressure.
"""

from dataclasses import dataclass

import clarabel
import numpy as np
from scipy import sparse

UNIT_M, UNIT_N = 0.1, 100.0  # inside, lengths are in 0.1 m and forces in 100 N


def ring_points(x, y, r, points):
    """Coordinates (n, points) of evenly spaced points on every ring."""
    angle = 2.0 * np.pi * np.arange(points) / points
    return x[:, None] + r[:, None] * np.cos(angle), y[:, None] + r[:, None] * np.sin(angle)


@dataclass
class Programme:
    """What does not depend on the load: unknowns p, plane (w, b, c), a friction vector a point."""

    matrix: object
    cones: list
    cost: np.ndarray
    zeros: int  # right sides below the six of equilibrium


def programme(cups, points=48, rim_points=360, even=True):
    """The cone programme of (x, y, r, friction) in m.

    ``even``: each ring's friction is spread evenly round it, as the model has it; else every
    point carries friction by its own pressing force.
    """
    x, y, r = (np.asarray(length, float) / UNIT_M for length in cups[:3])
    mu, n = cups[3], len(x)
    at_x, at_y = (at.ravel() for at in ring_points(x, y, r, points))
    count = at_x.size
    stiff = np.repeat(r / points, points)  # proportional to circumference, shared by the points
    plane = np.stack([np.ones(count), at_x, at_y])
    area = np.pi * r**2
    pressing = np.zeros((3, 4 + 2 * count))
    pressing[:, 0] = -np.array([area.sum(), area @ x, area @ y])
    pressing[:, 1:4] = (plane * stiff) @ plane.T  # sum k (w + b x + c y) (1, x, y)
    sliding = np.zeros((3, 4 + 2 * count))
    sliding[0, 4 : 4 + count] = sliding[1, 4 + count :] = 1.0
    sliding[2, 4 : 4 + count], sliding[2, 4 + count :] = -at_y, at_x
    # every ring presses everywhere: -(w + b x + c y) <= 0
    rim_x, rim_y = (rim.ravel() for rim in ring_points(x, y, r, rim_points))
    shut = sparse.lil_matrix((rim_x.size, 4 + 2 * count))
    shut[:, 1:4] = -np.stack([np.ones(rim_x.size), rim_x, rim_y], axis=1)
    # |f| <= mu N_i / points, N_i = k_i (w + b x_i + c y_i)
    cup, line = np.repeat(np.arange(n), points), np.arange(count)
    share = mu * r[cup] / points
    cone = sparse.lil_matrix((3 * count, 4 + 2 * count))
    lever_x, lever_y = (x[cup], y[cup]) if even else (at_x, at_y)
    cone[3 * line[:, None], np.array([1, 2, 3])] = -np.stack(
        [share, share * lever_x, share * lever_y], axis=1
    )
    cone[3 * line + 1, 4 + line] = -1.0
    cone[3 * line + 2, 4 + count + line] = -1.0
    matrix = sparse.vstack([sparse.csc_matrix(np.vstack([pressing, sliding])), shut, cone]).tocsc()
    cones = [clarabel.ZeroConeT(6), clarabel.NonnegativeConeT(rim_x.size)]
    cones.extend([clarabel.SecondOrderConeT(3)] * count)
    cost = np.zeros(4 + 2 * count)
    cost[0] = 1.0
    return Programme(matrix, cones, cost, rim_x.size + 3 * count)


def balance(load, weight):
    """Right sides of equilibrium for (x, y, z, fx, fy, fz, torque), factor in, and a weight."""
    x, y, z, fx, fy, fz, torque = load
    x, y, z = x / UNIT_M, y / UNIT_M, z / UNIT_M
    fx, fy, fz, torque = fx / UNIT_N, fy / UNIT_N, fz / UNIT_N, torque / (UNIT_N * UNIT_M)
    down, down_x, down_y = weight[0] / UNIT_N, weight[1] / UNIT_M, weight[2] / UNIT_M
    pressing = [down - fz, down * down_x - fz * x + fx * z, down * down_y - fz * y + fy * z]
    return [*pressing, -fx, -fy, -(torque + x * fy - y * fx)]


def solve(built, load, weight):
    """Least p in Pa; None when there is none."""
    settings = clarabel.DefaultSettings()
    settings.verbose = False
    right = np.array(balance(load, weight) + [0.0] * built.zeros)
    none = sparse.csc_matrix((built.cost.size, built.cost.size))
    solver = clarabel.DefaultSolver(none, built.cost, built.matrix, right, built.cones, settings)
    answer = solver.solve()
    if str(answer.status) not in ("Solved", "AlmostSolved"):
        return None
    return answer.x[0] * UNIT_N / UNIT_M**2


def least_pressure(cups, load, weight, points=48):
    """Least p (Pa) for one load (x, y, z, fx, fy, fz, torque), all with the factor in."""
    return solve(programme(cups, points), load, weight)
