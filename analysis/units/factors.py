"""Factors to SI as they are defined; a test holds each against scipy.constants, which takes 0.1 s to load."""

CENTI, MILLI, KILO = 1e-2, 1e-3, 1e3
MINUTE, HOUR = 60.0, 3600.0             # [s]
INCH = 0.0254                           # [m]
FOOT = 12 * INCH                        # [m]
MILE = 1760 * 3 * FOOT                  # [m]
LITER = 1e-3                            # [m3]
GALLON_US = 231 * INCH**3               # [m3]
FLUID_OUNCE_US = GALLON_US / 128        # [m3]
GRAM, POUND = 1e-3, 7000 * 64.79891e-6  # [kg]
G = 9.80665                             # [m/s2] standard gravity
BAR, PSI = 1e5, POUND * G / (INCH * INCH)  # [Pa]
KMH, MPH = 1e3 / HOUR, MILE / HOUR      # [m/s]
DEGREE_FAHRENHEIT = 1 / 1.8             # [K]
DEGREE = 3.141592653589793 / 180        # [rad]
