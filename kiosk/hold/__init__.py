"""The holding model: what a router cutter does to a part, and the vacuum that holds it.

Everything inside is bare SI: m, N, Pa, s, kg, rad; vacuum is Pa *below local atmosphere*, larger
is stronger.  Grid frame: x right, y away from the operator, z up from the seal plane z = 0.
PURE: no clock, file, socket, thread or logging; numpy only.  Theory: docs/holding-model.md.
"""
