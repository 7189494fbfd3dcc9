"""Evenfall: reads a catch-can test of an irrigated floor.

Conventions of the whole package
--------------------------------
Places are measured from one corner: stand at the inlet end wall and look along the zone;
x [m] runs across from the left edge, y [m] along from the inlet end wall.
Arrays of cans have shape (..., n); leading axes are a batch of tests.
Maps have shape (rows along y, columns along x).
Quantities in a record are SI (`units.py`); depths are [mm], rates [mm/h].
CU, DU, CV and statistical uniformity are percents; parts of a mean are fractions [1].
"""

__version__ = "0.1.0"
