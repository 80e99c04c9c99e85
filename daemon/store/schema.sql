-- waterturn's database, version 1. One farm for each file. Missing numbers are NULL, never zero.
-- `day` is a day number: days since 1970-01-01; the views at the end show dates. `at` is seconds since 1970-01-01 UTC.
-- Units stand in the column names: mm, m, m2, m3, c (degrees Celsius), kpa, pct, h, d (days). Shares are 0..1.

-- The farm book -------------------------------------------------------------------------------------------------
CREATE TABLE farm (
    farm_id   INTEGER PRIMARY KEY CHECK (farm_id = 1),
    name      TEXT    NOT NULL,
    us_units  INTEGER NOT NULL CHECK (us_units IN (0, 1)), -- 1: people here read inches, acres, gallons
    time_zone TEXT    NOT NULL,                            -- IANA name; '' the machine's own
    call_rule INTEGER NOT NULL,                            -- enum call_rule: 0 by the allowed depletion, 1 by expected cost
    water_price REAL                                       -- of 1 m3 as delivered, in the user's money; NULL: not given
) STRICT;

CREATE TABLE station (
    station_id         INTEGER PRIMARY KEY,
    name               TEXT    NOT NULL UNIQUE,
    latitude_deg       REAL    NOT NULL,
    longitude_deg      REAL,
    elevation_m        REAL    NOT NULL,
    wind_height_m      REAL    NOT NULL,
    coastal            INTEGER NOT NULL CHECK (coastal IN (0, 1)),
    krs                REAL,          -- FAO-56 eq. 50; NULL: by coastal
    angstrom_as        REAL NOT NULL, -- eq. 35
    angstrom_bs        REAL NOT NULL,
    aridity_c          REAL NOT NULL, -- taken from tmin when it stands in for the dew point
    wind_default_m_s   REAL NOT NULL,
    lapse_c_km         REAL NOT NULL  -- how much colder it is 1 km higher up, for values of neighbours
) STRICT;

CREATE TABLE station_neighbour (     -- stations whose measurements fill gaps, in this order
    station_id   INTEGER NOT NULL REFERENCES station ON DELETE CASCADE,
    position     INTEGER NOT NULL,
    neighbour_id INTEGER NOT NULL REFERENCES station (station_id) ON DELETE CASCADE,
    PRIMARY KEY (station_id, position)
) STRICT, WITHOUT ROWID;

CREATE TABLE source (
    source_id  INTEGER PRIMARY KEY,
    name       TEXT    NOT NULL UNIQUE,
    station_id INTEGER NOT NULL REFERENCES station,
    position   INTEGER NOT NULL,      -- order of preference within the station
    layout     TEXT    NOT NULL,
    address    TEXT    NOT NULL,
    kind       INTEGER NOT NULL CHECK (kind IN (0, 1)), -- 0 observed, 1 forecast
    since_day  INTEGER,               -- ask for days from here on; NULL: what the plantings need
    interval_s REAL,                  -- between two requests to its host; NULL: the program's own
    tried_at   INTEGER,               -- last try to download
    taken_at   INTEGER,               -- last download that was read and kept (or found unchanged)
    retry_at   INTEGER,               -- the server asked not to be tried again before this instant
    trouble    TEXT    NOT NULL DEFAULT '', -- why the last try failed; '' it did not
    -- the copy that is there, as the server named it, for conditional requests
    copy_address TEXT, copy_layout TEXT, copy_etag TEXT, copy_modified TEXT
) STRICT;

CREATE TABLE soil (
    soil_id             INTEGER PRIMARY KEY,
    name                TEXT    NOT NULL UNIQUE,
    texture             TEXT    NOT NULL,
    layer_count         INTEGER NOT NULL CHECK (layer_count BETWEEN 1 AND 8),
    rew_mm              REAL    NOT NULL,
    tew_mm              REAL    NOT NULL,
    evaporation_depth_m REAL    NOT NULL,
    curve_number        REAL,         -- NULL: runoff is not computed
    intake_mm_h         REAL
) STRICT;

CREATE TABLE soil_layer (
    soil_id              INTEGER NOT NULL REFERENCES soil ON DELETE CASCADE,
    position             INTEGER NOT NULL,
    bottom_m             REAL    NOT NULL,
    field_capacity_m3_m3 REAL    NOT NULL,
    wilting_point_m3_m3  REAL    NOT NULL,
    PRIMARY KEY (soil_id, position)
) STRICT, WITHOUT ROWID;

CREATE TABLE supply (
    supply_id     INTEGER PRIMARY KEY,
    name          TEXT    NOT NULL UNIQUE,
    flow_m3_h     REAL,
    hours_per_day REAL,
    allotment_m3  REAL                -- for the season; NULL: none
) STRICT;

CREATE TABLE field (
    field_id        INTEGER PRIMARY KEY,
    name            TEXT    NOT NULL UNIQUE,
    station_id      INTEGER NOT NULL REFERENCES station,
    soil_id         INTEGER NOT NULL REFERENCES soil,
    supply_id       INTEGER REFERENCES supply,
    position        INTEGER NOT NULL, -- order of the farm file
    system          INTEGER NOT NULL, -- enum system_kind
    efficiency      REAL    NOT NULL,
    area_m2         REAL    NOT NULL,
    flow_m3_h       REAL,
    hours_per_day   REAL,
    net_min_mm      REAL,
    net_max_mm      REAL,
    wetted_fraction REAL    NOT NULL,
    under_canopy    INTEGER NOT NULL CHECK (under_canopy IN (0, 1))
) STRICT;

CREATE TABLE planting (
    planting_id        INTEGER PRIMARY KEY,
    field_id           INTEGER NOT NULL REFERENCES field ON DELETE CASCADE,
    planting_day       INTEGER NOT NULL,
    start_day          INTEGER NOT NULL, -- first day of the balance
    dirty_day          INTEGER,          -- the ledger is to be computed anew from here; NULL: it stands
    crop_name          TEXT    NOT NULL,
    region             TEXT    NOT NULL,
    method             INTEGER NOT NULL, -- enum coefficient_method
    stage_day_1        INTEGER, -- observed first day of development, mid-season, late season, and the end
    stage_day_2        INTEGER,
    stage_day_3        INTEGER,
    stage_day_4        INTEGER,
    start_depletion    REAL NOT NULL,
    water_table_m      REAL,
    capillary_max_mm   REAL,
    ece_ds_m           REAL,
    yield_value        REAL,             -- of the full yield of 1 ha, in the user's money; NULL: not given
    -- the crop: FAO-56 chapters 6 to 8, per planting, so that a season keeps what it was computed with
    reference          INTEGER NOT NULL, -- enum reference_kind
    clock              INTEGER NOT NULL, -- enum crop_clock
    stage_1_d REAL, stage_2_d REAL, stage_3_d REAL, stage_4_d REAL,
    stage_1_cd REAL, stage_2_cd REAL, stage_3_cd REAL, stage_4_cd REAL, -- degree-days
    base_c REAL, ceiling_c REAL,
    kc_ini REAL, kc_mid REAL, kc_end REAL,
    kcb_ini REAL, kcb_mid REAL, kcb_end REAL,
    height_ini_m REAL, height_max_m REAL,
    root_ini_m REAL, root_max_m REAL,
    depletion_fraction REAL,
    depletion_fixed    INTEGER NOT NULL,
    allowed_1 REAL, allowed_2 REAL, allowed_3 REAL, allowed_4 REAL, -- share of TAW by stage; NULL: p
    ky_season REAL,
    ky_1 REAL, ky_2 REAL, ky_3 REAL, ky_4 REAL,
    salt_threshold_ds_m REAL, salt_slope_pct REAL,
    forage             INTEGER NOT NULL,
    cut_1_d REAL, cut_2_d REAL, cut_3_d REAL, cut_4_d REAL,
    cut_height_m REAL,
    UNIQUE (field_id, planting_day)
) STRICT;

CREATE TABLE record (            -- only grows: a record is corrected by a new one that stands in its place
    record_id    INTEGER PRIMARY KEY,
    field_id     INTEGER NOT NULL REFERENCES field,
    day          INTEGER NOT NULL,
    kind         INTEGER NOT NULL,  -- enum record_kind
    amount       REAL,              -- irrigation: gross mm; rain: mm; reading: m3 m-3; cover: 0..1; harvest: the user's unit
    sd           REAL,
    stage        INTEGER NOT NULL,
    note         TEXT    NOT NULL,
    at           INTEGER,           -- when it was entered; NULL: it came with a farm file
    who          TEXT    NOT NULL DEFAULT '', -- '' not known
    withdrawn_at INTEGER,           -- when it was replaced or taken back; NULL: it holds
    replaced_by  INTEGER REFERENCES record
) STRICT;
CREATE INDEX record_by_field ON record (field_id, day);
CREATE INDEX record_by_successor ON record (replaced_by) WHERE replaced_by IS NOT NULL;

CREATE TABLE trial (
    trial_id INTEGER PRIMARY KEY,
    name     TEXT NOT NULL UNIQUE
) STRICT;

CREATE TABLE treatment (
    trial_id INTEGER NOT NULL REFERENCES trial ON DELETE CASCADE,
    position INTEGER NOT NULL,
    name     TEXT    NOT NULL,
    field_id INTEGER NOT NULL REFERENCES field,
    PRIMARY KEY (trial_id, position)
) STRICT, WITHOUT ROWID;

-- The weather ---------------------------------------------------------------------------------------------------
CREATE TABLE fetch (             -- a download that was read whole and kept
    fetch_id  INTEGER PRIMARY KEY,
    source_id INTEGER NOT NULL REFERENCES source ON DELETE CASCADE,
    at        INTEGER NOT NULL,
    day       INTEGER NOT NULL,  -- the morning it was taken for; of a forecast: the day of issue
    start_day INTEGER,           -- the days that were asked for; NULL: whatever the file has
    end_day   INTEGER,
    address   TEXT    NOT NULL,  -- with {key} in place of a key
    layout    TEXT    NOT NULL,
    size      INTEGER NOT NULL,
    sha256    TEXT    NOT NULL,  -- of the bytes as they came
    wind_height_m REAL,          -- at which the service states its wind; NULL: the station's own anemometer
    confirmed_day INTEGER NOT NULL -- newest morning on which the source still said the same
) STRICT;
CREATE INDEX fetch_by_source ON fetch (source_id, fetch_id);

-- A day as reported by one download; the newest download of a source holds. An observed day counts once a download
-- that has it was taken, or confirmed, on a later day: before that it had not ended.
CREATE TABLE weather (
    station_id   INTEGER NOT NULL REFERENCES station ON DELETE CASCADE,
    day          INTEGER NOT NULL,
    source_id    INTEGER NOT NULL REFERENCES source ON DELETE CASCADE,
    fetch_id     INTEGER NOT NULL REFERENCES fetch ON DELETE CASCADE,
    tmax_c REAL, tmin_c REAL, tmean_c REAL, tdew_c REAL, tdry_c REAL, twet_c REAL,
    rh_max_pct REAL, rh_min_pct REAL, rh_mean_pct REAL,
    ea_kpa REAL, pressure_kpa REAL, wind_m_s REAL, rs_mj_m2 REAL, sun_h REAL, rain_mm REAL,
    PRIMARY KEY (station_id, day, source_id, fetch_id)
) STRICT, WITHOUT ROWID;

CREATE TABLE finding (           -- what is odd about a day as its source reports it now (FAO-56 Annex 5)
    source_id INTEGER NOT NULL REFERENCES source ON DELETE CASCADE,
    day       INTEGER NOT NULL,
    kind      INTEGER NOT NULL,  -- enum weather_finding_kind
    element   INTEGER NOT NULL,  -- enum weather_element
    found     REAL,
    held      REAL,              -- what it was held against
    suspect   INTEGER NOT NULL CHECK (suspect IN (0, 1)), -- 1: the value is not used
    PRIMARY KEY (source_id, day, kind, element)
) STRICT, WITHOUT ROWID;

-- What the mornings left ----------------------------------------------------------------------------------------
CREATE TABLE ledger (            -- struct ledger_row: always equal to a fresh replay of all that stands above
    planting_id INTEGER NOT NULL REFERENCES planting ON DELETE CASCADE,
    day         INTEGER NOT NULL,
    stage INTEGER NOT NULL,
    days_in_season REAL,
    et0_mm REAL, kc REAL, kcb REAL, ke REAL, ks REAL, kr REAL,
    etc_mm REAL, eta_mm REAL, evaporation_mm REAL, transpiration_mm REAL,
    rain_mm REAL, runoff_mm REAL, irrigation_gross_mm REAL, irrigation_net_mm REAL,
    capillary_mm REAL, percolation_mm REAL, new_soil_mm REAL, reading_shift_mm REAL,
    unmet_mm REAL, excess_start_mm REAL, excess_mm REAL,
    root_m REAL, taw_mm REAL, p REAL, raw_mm REAL, allowed_mm REAL,
    depletion_start_mm REAL, depletion_mm REAL, surface_depletion_mm REAL,
    wetted_fraction REAL, exposed_wetted_fraction REAL, below_depletion_mm REAL,
    height_m REAL, cover REAL,
    origin_temperature INTEGER, origin_humidity INTEGER, origin_radiation INTEGER, -- enum weather_origin
    origin_wind INTEGER, origin_rain INTEGER,
    rule_humidity INTEGER, rule_radiation INTEGER, rule_wind INTEGER,             -- enum weather_rule
    PRIMARY KEY (planting_id, day)
) STRICT, WITHOUT ROWID;

CREATE TABLE call (              -- the call of each morning for each field
    field_id        INTEGER NOT NULL REFERENCES field ON DELETE CASCADE,
    day             INTEGER NOT NULL,
    planting_id     INTEGER REFERENCES planting ON DELETE SET NULL,
    kind            INTEGER NOT NULL, -- enum call_kind
    reason          INTEGER NOT NULL, -- enum call_reason
    start_by_day    INTEGER,
    dry_day         INTEGER,
    depletion_mm REAL, allowed_mm REAL, taw_mm REAL, rain_expected_mm REAL,
    net_mm REAL, gross_mm REAL, volume_m3 REAL, hours REAL, run_days REAL, limited INTEGER,
    by_cost INTEGER,                  -- 1: by expected cost; 0: by the allowed depletion
    dry_chance REAL, cover_chance REAL, lost_chance REAL, lost_mm REAL, spared_mm REAL, -- struct call
    weather_until_day   INTEGER,      -- last day with observed weather that went in
    forecast_issued_day INTEGER,
    PRIMARY KEY (field_id, day)
) STRICT, WITHOUT ROWID;

CREATE TABLE outlook (           -- what the outlook of each call said of the days ahead: struct call_outlook
    field_id INTEGER NOT NULL REFERENCES field ON DELETE CASCADE,
    day      INTEGER NOT NULL,   -- of the call
    ahead    INTEGER NOT NULL,   -- days after it
    chance   REAL    NOT NULL,   -- that by that evening it was dry, without a turn
    p10_mm REAL NOT NULL, p50_mm REAL NOT NULL, p90_mm REAL NOT NULL, -- lines of the evening's depletion
    rain_mm  REAL    NOT NULL,   -- the mean
    PRIMARY KEY (field_id, day, ahead)
) STRICT, WITHOUT ROWID;

CREATE TABLE correction (        -- whether a station's forecasts are corrected by their errors so far; no row: they are
    station_id INTEGER PRIMARY KEY REFERENCES station ON DELETE CASCADE,
    applied    INTEGER NOT NULL CHECK (applied IN (0, 1))
) STRICT;

CREATE TABLE ahead (             -- the days ahead of the newest call, no irrigation on any of them
    planting_id INTEGER NOT NULL REFERENCES planting ON DELETE CASCADE,
    day         INTEGER NOT NULL,
    stage INTEGER NOT NULL, et0_mm REAL, etc_mm REAL, eta_mm REAL, rain_mm REAL, ks REAL,
    taw_mm REAL, raw_mm REAL, allowed_mm REAL, depletion_start_mm REAL, depletion_mm REAL,
    PRIMARY KEY (planting_id, day)
) STRICT, WITHOUT ROWID;

CREATE TABLE morning (           -- a morning that was run to its end
    day INTEGER PRIMARY KEY,
    at  INTEGER NOT NULL
) STRICT;

-- What came through the page's forms ---------------------------------------------------------------------------
CREATE TABLE entry (             -- a form that was taken; the same form sent again finds its row and changes nothing
    entry_id  INTEGER PRIMARY KEY,
    token     TEXT    NOT NULL UNIQUE, -- random, made with the form
    at        INTEGER NOT NULL,
    who       TEXT    NOT NULL DEFAULT '',
    act       INTEGER NOT NULL,        -- enum entry_act
    field_id  INTEGER REFERENCES field ON DELETE CASCADE,
    record_id INTEGER REFERENCES record ON DELETE CASCADE,
    -- the field's call as it stood before, as in table call; day NULL: there was none
    day INTEGER, kind INTEGER, reason INTEGER, start_by_day INTEGER, dry_day INTEGER,
    depletion_mm REAL, allowed_mm REAL, taw_mm REAL, rain_expected_mm REAL,
    net_mm REAL, gross_mm REAL, volume_m3 REAL, hours REAL, run_days REAL, limited INTEGER, by_cost INTEGER,
    dry_chance REAL, cover_chance REAL, lost_chance REAL, lost_mm REAL, spared_mm REAL
) STRICT;
CREATE INDEX entry_by_field ON entry (field_id, entry_id);

CREATE TABLE secret (            -- keys of this database; never exported
    name  TEXT PRIMARY KEY,
    value BLOB NOT NULL
) STRICT, WITHOUT ROWID;

-- For people with a database browser
CREATE VIEW ledger_dated AS
    SELECT field.name AS field, date(ledger.day * 86400, 'unixepoch') AS date, ledger.*
    FROM ledger JOIN planting USING (planting_id) JOIN field USING (field_id);
CREATE VIEW call_dated AS
    SELECT field.name AS field, date(call.day * 86400, 'unixepoch') AS date, call.* FROM call JOIN field USING (field_id);
