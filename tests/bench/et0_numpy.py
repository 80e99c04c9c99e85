"""ET0 of FAO-56 eq. 6 with NumPy, for bench_core: prints nanoseconds a day with the equation as it is
written, and with its fourth powers made of squares, which NumPy does not do by itself; then the sum of ET0.

The days are those of bench_core.c. Extraterrestrial radiation is computed once for each day of the year, as it
is there, and the arrays fit into the processor's second cache, where NumPy is at its best."""
import sys
import time

import numpy as np

DAYS = int(sys.argv[1])
ROUNDS = 60
LATITUDE, ELEVATION = 38.0, 500.0


def unrest(day, step):
    return (day * step % 1009) / 1009.0


day = np.arange(DAYS, dtype=np.int64)
day_of_year = day % 365 + 1
tmin = 5.0 + 10.0 * unrest(day, 7919)
tmax = tmin + 5.0 + 10.0 * unrest(day, 104729)
rh_max = 70.0 + 30.0 * unrest(day, 1299709)
rh_min = 20.0 + 40.0 * unrest(day, 15485863)
wind = 0.6 + 4.0 * unrest(day, 32452843)
rs = 6.0 + 12.0 * unrest(day, 49979687)


def saturation(t):
    return 0.6108 * np.exp(17.27 * t / (t + 237.3))


def extraterrestrial(j):
    angle = 2.0 * np.pi / 365.0 * j
    distance = 1.0 + 0.033 * np.cos(angle)
    declination = 0.409 * np.sin(angle - 1.39)
    phi = LATITUDE * np.pi / 180.0
    sunset = np.arccos(-np.tan(phi) * np.tan(declination))
    path = sunset * np.sin(phi) * np.sin(declination) + np.cos(phi) * np.cos(declination) * np.sin(sunset)
    return 24.0 * 60.0 / np.pi * 0.0820 * distance * path


def fourth_written(x):
    return x**4


def fourth_squares(x):
    return np.square(np.square(x))


def et0(fourth):
    ra = extraterrestrial(np.arange(1, 367))[day_of_year - 1]
    gamma = 0.665e-3 * 101.3 * ((293.0 - 0.0065 * ELEVATION) / 293.0) ** 5.26
    e_max, e_min = saturation(tmax), saturation(tmin)
    ea = (e_min * rh_max + e_max * rh_min) / 200.0
    es = (e_max + e_min) / 2.0
    tmean = (tmax + tmin) / 2.0
    delta = 4098.0 * saturation(tmean) / (tmean + 237.3) ** 2
    clearness = np.clip(rs / ((0.75 + 2e-5 * ELEVATION) * ra), 0.3, 1.0)
    rnl = 4.903e-9 * (fourth(tmax + 273.16) + fourth(tmin + 273.16)) / 2.0 * (0.34 - 0.14 * np.sqrt(ea)) * (1.35 * clearness - 0.35)
    rn = 0.77 * rs - rnl
    return (0.408 * delta * rn + gamma * 900.0 / (tmean + 273.0) * wind * (es - ea)) / (delta + gamma * (1.0 + 0.34 * wind))


def median_ns(fourth):
    times = []
    for _ in range(ROUNDS):
        began = time.process_time()
        et0(fourth)
        times.append(time.process_time() - began)
    return np.median(times) / DAYS * 1e9


print(f"{median_ns(fourth_written):.3f} {median_ns(fourth_squares):.3f} {et0(fourth_written).sum():.9f} {np.__version__}")
