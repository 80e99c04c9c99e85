-- From version 2 to version 3: days keep their hours, and ET0 may be summed from them.

ALTER TABLE weather ADD COLUMN hours BLOB; -- all 24 hours of an observed day (weather_hours.c); NULL: they are not all there
ALTER TABLE station ADD COLUMN hourly_et0 INTEGER NOT NULL DEFAULT 1; -- 0: ET0 is of the day even where its hours are there
ALTER TABLE ledger ADD COLUMN et0_from_hours INTEGER NOT NULL DEFAULT 0; -- 1: et0_mm is the sum of 24 hours, eq. 53
