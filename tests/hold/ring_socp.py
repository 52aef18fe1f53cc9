"""An independent answer to one load case: a second-order cone programme over ring points.

Shares nothing with the program: the pressing plane comes from equilibrium at the ring points
(which brings in each ring's own stiffness by itself), friction is a free field of vectors, and
Clarabel, a general convex solver, finds the least pressure.
"""

import clarabel
import numpy as np
from scipy import sparse


def ring_points(x, y, r, points):
    """Coordinates (n, points) of evenly spaced points on every ring."""
    angle = 2.0 * np.pi * np.arange(points) / points
    return x[:, None] + r[:, None] * np.cos(angle), y[:, None] + r[:, None] * np.sin(angle)


def least_pressure(cups, load, weight, points=48):
    """Least p (Pa) for one load (x, y, z, fx, fy, fz, torque), all with the factor in.

    Unknowns: p, the plane (w, b, c), and a friction vector at every ring point.  None when the
    programme has no solution.  Lengths in units of 0.1 m, forces in units of 100 N inside.
    """
    unit, force = 0.1, 100.0
    x, y, r, mu = cups
    x, y, r = x / unit, y / unit, r / unit
    lx, ly, lz, fx, fy, fz, torque = load
    lx, ly, lz = lx / unit, ly / unit, lz / unit
    fx, fy, fz, torque = fx / force, fy / force, fz / force, torque / (force * unit)
    w_n, w_x, w_y = weight[0] / force, weight[1] / unit, weight[2] / unit
    px, py = ring_points(x, y, r, points)
    n = x.size
    area = np.pi * r**2
    stiff = np.repeat(r / points, points)  # proportional to circumference, shared by the points
    flat_x, flat_y = px.ravel(), py.ravel()
    count = flat_x.size
    plane = np.stack([np.ones(count), flat_x, flat_y])
    size = 4 + 2 * count
    rows, right = [], []

    def row(entries):
        vector = np.zeros(size)
        for index, value in entries:
            vector[index] = value
        return vector

    fields = (slice(4, 4 + count), slice(4 + count, size))
    # pressing equilibrium: sum k (w + b x + c y) (1, x, y) = p sum A (1, x, y) + loads
    pressing = [
        w_n - fz,
        w_n * w_x - fz * lx + fx * lz,
        w_n * w_y - fz * ly + fy * lz,
    ]
    suction = [area.sum(), (area * x).sum(), (area * y).sum()]
    for i in range(3):
        sums = (stiff * plane[i]) @ plane.T
        rows.append(row([(0, -suction[i]), (1, sums[0]), (2, sums[1]), (3, sums[2])]))
        right.append(pressing[i])
    rows.append(row([(fields[0], 1.0)]))
    right.append(-fx)
    rows.append(row([(fields[1], 1.0)]))
    right.append(-fy)
    rows.append(row([(fields[0], -flat_y), (fields[1], flat_x)]))
    right.append(-(torque + lx * fy - ly * fx))
    blocks = [sparse.csc_matrix(np.array(rows))]
    cones = [clarabel.ZeroConeT(6)]
    # every ring presses everywhere, looked at 360 points: -(w + b x + c y) <= 0
    rim_x, rim_y = (rim.ravel() for rim in ring_points(x, y, r, 360))
    rim = -np.stack([np.ones(rim_x.size), rim_x, rim_y], axis=1)
    sides = (sparse.csc_matrix((rim_x.size, 1)), sparse.csc_matrix((rim_x.size, 2 * count)))
    blocks.append(sparse.hstack([sides[0], sparse.csc_matrix(rim), sides[1]]))
    right.extend([0.0] * rim_x.size)
    cones.append(clarabel.NonnegativeConeT(rim_x.size))
    # |f| <= mu N_i / points, N_i = k_i (w + b x_i + c y_i)
    cup = np.repeat(np.arange(n), points)
    share = mu * r[cup] / points
    top = sparse.csc_matrix(np.stack([share, share * x[cup], share * y[cup]], axis=1))
    lines = np.arange(count)
    cone_rows = sparse.lil_matrix((3 * count, size))
    cone_rows[3 * lines[:, None], np.array([1, 2, 3])] = -top.toarray()
    cone_rows[3 * lines + 1, 4 + lines] = -1.0
    cone_rows[3 * lines + 2, 4 + count + lines] = -1.0
    blocks.append(cone_rows.tocsc())
    right.extend([0.0] * (3 * count))
    cones.extend([clarabel.SecondOrderConeT(3)] * count)
    matrix = sparse.vstack(blocks).tocsc()
    cost = np.zeros(size)
    cost[0] = 1.0
    settings = clarabel.DefaultSettings()
    settings.verbose = False
    solver = clarabel.DefaultSolver(
        sparse.csc_matrix((size, size)), cost, matrix, np.array(right), cones, settings
    )
    answer = solver.solve()
    if str(answer.status) not in ("Solved", "AlmostSolved"):
        return None
    return answer.x[0] * force / unit**2
