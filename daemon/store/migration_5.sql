-- From version 4 to version 5: the plan of turns of each supply, and what became of the turns.

CREATE TABLE turn_plan (         -- the newest plan of a supply: struct stored_supply
    supply_id  INTEGER PRIMARY KEY REFERENCES supply ON DELETE CASCADE,
    day        INTEGER NOT NULL, -- its first day
    first_hour INTEGER NOT NULL, -- hours of it that had passed
    days       INTEGER NOT NULL, -- 0: there is no plan, for
    reason     INTEGER NOT NULL, -- enum turns_reason
    at         INTEGER NOT NULL, -- when it was made
    money      INTEGER NOT NULL CHECK (money IN (0, 1)), -- 1: costs are in the user's money
    loss REAL, water REAL, pumping REAL, percolation REAL, ends REAL, total REAL, -- struct turns_cost
    bound REAL,
    worth REAL,                  -- of the full yield of its fields
    proven     INTEGER NOT NULL CHECK (proven IN (0, 1)),
    change_cost REAL,            -- what people's last word made it dearer; NULL: nothing was said
    season_m3 REAL, season_used_m3 REAL, season_later_m3 REAL,
    period_m3 REAL, period_used_m3 REAL, period_from_day INTEGER, period_to_day INTEGER,
    planned_m3 REAL, period_planned_m3 REAL
) STRICT;

CREATE TABLE turn_plan_day (     -- hours of the supply on a day of the plan
    supply_id  INTEGER NOT NULL REFERENCES turn_plan ON DELETE CASCADE,
    ahead      INTEGER NOT NULL, -- days after the first
    hours_open INTEGER NOT NULL,
    hours_run  INTEGER NOT NULL,
    PRIMARY KEY (supply_id, ahead)
) STRICT, WITHOUT ROWID;

CREATE TABLE turn_path (         -- evenings of a field under the plan, mean over the courses of the weather
    supply_id    INTEGER NOT NULL REFERENCES turn_plan ON DELETE CASCADE,
    field_id     INTEGER NOT NULL REFERENCES field ON DELETE CASCADE,
    ahead        INTEGER NOT NULL,
    depletion_mm REAL    NOT NULL,
    allowed_mm   REAL    NOT NULL,
    PRIMARY KEY (supply_id, field_id, ahead)
) STRICT, WITHOUT ROWID;

CREATE TABLE turn_limit (        -- what the plan cannot meet: struct stored_limit
    supply_id INTEGER NOT NULL REFERENCES turn_plan ON DELETE CASCADE,
    position  INTEGER NOT NULL,
    field_id  INTEGER REFERENCES field ON DELETE CASCADE,
    dry_field_id INTEGER REFERENCES field ON DELETE CASCADE,
    kind      INTEGER NOT NULL,  -- enum turns_limit_kind
    day       INTEGER,
    pin_day   INTEGER, pin_hour INTEGER, pin_hours INTEGER,
    cure_day  INTEGER, cure_hour INTEGER,
    over REAL, more_hours_per_day REAL, more_flow_m3_h REAL, more_m3 REAL, dry_cost REAL,
    PRIMARY KEY (supply_id, position)
) STRICT, WITHOUT ROWID;

CREATE TABLE turn_change (       -- what the plan changed of the one before it: struct stored_change
    supply_id INTEGER NOT NULL REFERENCES turn_plan ON DELETE CASCADE,
    position  INTEGER NOT NULL,
    field_id  INTEGER NOT NULL REFERENCES field ON DELETE CASCADE,
    kind      INTEGER NOT NULL,  -- enum turn_change
    day       INTEGER, hour INTEGER, hours INTEGER,
    was_day   INTEGER, was_hour INTEGER, was_hours INTEGER,
    PRIMARY KEY (supply_id, position)
) STRICT, WITHOUT ROWID;

CREATE TABLE turn (              -- a planned turn, and what became of it: struct stored_turn. No number serves twice.
    turn_id    INTEGER PRIMARY KEY AUTOINCREMENT,
    uid        TEXT    NOT NULL UNIQUE,
    supply_id  INTEGER NOT NULL REFERENCES supply ON DELETE CASCADE,
    field_id   INTEGER NOT NULL REFERENCES field ON DELETE CASCADE,
    day        INTEGER NOT NULL, -- it begins
    hour       INTEGER NOT NULL, -- of the farm's clock
    hours      INTEGER NOT NULL, -- in which water runs
    span       INTEGER NOT NULL, -- clock hours from its begin to its end
    net_mm REAL NOT NULL, gross_mm REAL NOT NULL, volume_m3 REAL NOT NULL,
    pinned     INTEGER NOT NULL CHECK (pinned IN (0, 1)),
    state      INTEGER NOT NULL, -- enum turn_state
    was_day    INTEGER,          -- of one that is late: where it stood
    was_hour   INTEGER NOT NULL,
    sequence   INTEGER NOT NULL, -- how often its time or hours changed
    changed_at INTEGER NOT NULL,
    record_id  INTEGER REFERENCES record ON DELETE SET NULL -- the irrigation that was recorded for it
) STRICT;
CREATE INDEX turn_by_field ON turn (field_id, day);
CREATE INDEX turn_by_supply ON turn (supply_id, day);
