"""Preferred sizes for things one chooses freely, such as measuring pins.

>>> [size for size in PREFERRED_MM if 1.0 <= size < 2.0]
[1.0, 1.1, 1.2, 1.4, 1.5, 1.6, 1.8]
"""

PREFERRED_MM: tuple[float, ...] = (
    *(0.05, 0.06, 0.08, 0.10, 0.12, 0.16, 0.20, 0.25, 0.30, 0.40, 0.50, 0.60, 0.70, 0.80, 0.90),
    *(1.0, 1.1, 1.2, 1.4, 1.5, 1.6, 1.8, 2.0, 2.2, 2.5, 2.8, 3.0, 3.5, 4.0, 4.5, 5.0, 5.5, 6.0),
    *(6.5, 7.0, 8.0, 9.0, 10.0, 11.0, 12.0, 14.0, 16.0, 18.0, 20.0, 22.0, 25.0, 28.0, 30.0, 32.0),
    *(35.0, 40.0, 45.0, 50.0, 60.0, 80.0, 100.0, 120.0, 140.0, 160.0, 180.0, 200.0, 250.0, 300.0),
)
"""Preferred sizes in mm, ascending: University of Plymouth, Standardisation and Preferred Sizes."""
