"""Two worlds that share no paper, ink, curve, chart or seed: one to tune the diagnosis on, one to judge it by."""

from __future__ import annotations

from demo.simulator.charts import Plan
from demo.simulator.inks import Chemistry
from demo.simulator.papers import FAMILIES, Family
from demo.simulator.rooms import World
from demo.simulator.sheets import SheetNoise

TWELFTHS = (2.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 60.0, 70.0, 75.0, 80.0, 85.0, 90.0, 95.0, 100.0)
TENTHS = (3.0, 7.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0, 80.0, 90.0, 97.0, 100.0)

FITTING = World(
    name="fitting",
    seed=70_101,
    families=FAMILIES,
    chemistry=Chemistry("wavelength", ("beer-lambert",), stray_nm=3.0, stray_height=0.04, trapping=(0.85, 1.0)),
    curves=("parabola",),
    plans=(
        Plan(TWELFTHS, (0, 10, 20, 40, 70, 100), (0, 20, 40, 60), (0, 20, 40, 70, 100), (80,), (20, 40, 70, 100),
             6, 30, True, False),
        Plan(TWELFTHS, (0, 20, 40, 55, 70, 100), (0, 20, 40, 60), (0, 40, 100), (80, 100), (25, 50, 100),
             4, 24, True, True),
        Plan(TWELFTHS, (0, 10, 30, 50, 75, 100), (0, 15, 35, 60), (0, 40, 100), (80,), (30, 60, 100),
             5, 33, False, True),
    ),
)  # fmt: skip

# fmt: off
OTHER_FAMILIES = (
    Family("baryta", (0.88, 0.92), (0.02, 0.05), (0.02, 0.06), (0.001, 0.004), (1.02, 1.14), (0.03, 0.08),
           (1.25, 1.5), (0.4, 1.2), (440.0, 452.0)),
    Family("lustre-photo", (0.88, 0.93), (0.00, 0.03), (0.07, 0.16), (0.003, 0.007), (0.96, 1.06), (0.06, 0.11),
           (1.3, 1.55), (0.4, 1.2), (430.0, 442.0)),
    Family("newsprint-proof", (0.66, 0.74), (0.10, 0.16), (0.00, 0.00), (0.015, 0.030), (0.70, 0.80), (0.16, 0.21),
           (2.8, 3.4), (0.4, 1.2)),
    Family("washi", (0.80, 0.87), (0.07, 0.14), (0.00, 0.00), (0.018, 0.030), (0.68, 0.80), (0.15, 0.20),
           (2.7, 3.3), (0.4, 1.2)),
    Family("polyester-textile", (0.82, 0.89), (0.01, 0.04), (0.08, 0.18), (0.012, 0.022), (0.74, 0.86), (0.10, 0.16),
           (2.6, 3.0), (0.4, 1.2), (430.0, 450.0)),
    Family("polypropylene-film", (0.85, 0.91), (0.00, 0.03), (0.00, 0.04), (0.004, 0.010), (0.90, 1.02), (0.04, 0.09),
           (1.2, 1.4), (0.4, 1.2)),
    Family("wallpaper", (0.82, 0.88), (0.02, 0.06), (0.03, 0.08), (0.008, 0.018), (0.78, 0.92), (0.11, 0.17),
           (2.5, 2.9), (0.4, 1.2)),
)
# fmt: on

HELD_OUT = World(
    name="held-out",
    seed=90_907,
    families=OTHER_FAMILIES,
    chemistry=Chemistry(
        "energy",
        ("kubelka-munk", "beer-lambert"),
        stray_nm=5.0,
        stray_height=0.06,
        trapping=(0.80, 0.98),
        displaced_nm=6.0,
        stepped_yellow=True,
    ),
    curves=("exposure",),
    plans=(
        Plan(TENTHS, (0, 15, 35, 55, 80, 100), (0, 15, 45), (0, 35, 65, 100), (30, 70, 90), (15, 45, 75, 100),
             8, 27, True, False),
        Plan(TENTHS, (0, 22, 44, 62, 80, 100), (0, 10, 30, 55), (0, 50, 100), (75, 100), (33, 66, 100),
             3, 36, True, True),
        Plan(TENTHS, (0, 12, 26, 48, 72, 100), (0, 25, 50, 75), (0, 45, 90), (90,), (20, 55, 100),
             5, 21, False, True),
    ),
    technologies=("aqueous dye", "aqueous pigment", "latex", "solvent", "uv"),
    noise=SheetNoise(field=0.55, inks=0.2),
)  # fmt: skip

WORLDS = {world.name: world for world in (FITTING, HELD_OUT)}
