-- From version 3 to version 4: when supplies run and what their water costs, how fields take their turns, and people's
-- word on turns.

ALTER TABLE supply ADD COLUMN season_from_day INTEGER;         -- days of allotment_m3; NULL: as the plantings stand
ALTER TABLE supply ADD COLUMN season_to_day   INTEGER;
ALTER TABLE supply ADD COLUMN users           INTEGER NOT NULL DEFAULT 0; -- turns on at once; 0: as its flow serves
ALTER TABLE supply ADD COLUMN water_price     REAL;            -- of 1 m3, in the user's money; NULL: the farm's
ALTER TABLE supply ADD COLUMN hour_price      REAL;            -- of an hour that it runs; NULL: none

CREATE TABLE supply_window (     -- when it may run; without a row: at all hours
    supply_id  INTEGER NOT NULL REFERENCES supply ON DELETE CASCADE,
    position   INTEGER NOT NULL,
    weekdays   INTEGER NOT NULL, -- bit 0 Monday .. bit 6 Sunday; 0: by every_d
    every_d    INTEGER NOT NULL, -- once in so many days; 0: by weekdays
    first_day  INTEGER,          -- with every_d: a day on which it opens
    from_hour  INTEGER NOT NULL, -- of the farm's clock
    hours      INTEGER NOT NULL, -- also past midnight
    PRIMARY KEY (supply_id, position)
) STRICT, WITHOUT ROWID;

CREATE TABLE supply_closure (    -- days on which it does not run, both in it
    supply_id INTEGER NOT NULL REFERENCES supply ON DELETE CASCADE,
    position  INTEGER NOT NULL,
    from_day  INTEGER NOT NULL,
    to_day    INTEGER NOT NULL,
    PRIMARY KEY (supply_id, position)
) STRICT, WITHOUT ROWID;

CREATE TABLE supply_allotment (  -- what may be drawn in a part of the season, both days in it
    supply_id INTEGER NOT NULL REFERENCES supply ON DELETE CASCADE,
    position  INTEGER NOT NULL,
    from_day  INTEGER NOT NULL,
    to_day    INTEGER NOT NULL,
    volume_m3 REAL    NOT NULL,
    PRIMARY KEY (supply_id, position)
) STRICT, WITHOUT ROWID;

ALTER TABLE field ADD COLUMN setup_h    INTEGER NOT NULL DEFAULT 0; -- before each turn
ALTER TABLE field ADD COLUMN shortest_h INTEGER NOT NULL DEFAULT 0; -- of a turn; 0: no such limit
ALTER TABLE field ADD COLUMN longest_h  INTEGER NOT NULL DEFAULT 0;
ALTER TABLE field ADD COLUMN may_pause  INTEGER NOT NULL DEFAULT 0; -- 1: a turn may stop while its supply is closed

CREATE TABLE turn_mark (         -- people's word on the turns of a field
    turn_mark_id INTEGER PRIMARY KEY,
    field_id INTEGER NOT NULL REFERENCES field ON DELETE CASCADE,
    kind     INTEGER NOT NULL,   -- enum turn_mark_kind
    day      INTEGER NOT NULL,   -- it begins
    hour     INTEGER NOT NULL,
    hours    INTEGER NOT NULL,
    why      TEXT    NOT NULL,   -- '' not said
    at       INTEGER,            -- when it was said; NULL: it came with a farm file
    who      TEXT    NOT NULL DEFAULT ''
) STRICT;
CREATE INDEX turn_mark_by_field ON turn_mark (field_id, day);
