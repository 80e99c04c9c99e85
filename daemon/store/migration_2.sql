-- From version 1 to version 2: who may see and change the book, and what people are told.

CREATE TABLE device (            -- a phone, computer or program that holds a token; a revoked one stays in the list
    device_id  INTEGER PRIMARY KEY,
    name       TEXT    NOT NULL, -- whose it is: stands beside each change made with it
    role       INTEGER NOT NULL CHECK (role IN (1, 2, 3)), -- enum access_role
    token_hash BLOB    NOT NULL UNIQUE, -- BLAKE2b of the token, which itself is nowhere
    paired_at  INTEGER NOT NULL,
    seen_at    INTEGER NOT NULL, -- to the hour
    revoked_at INTEGER           -- NULL: it may come in
) STRICT;

CREATE TABLE invitation (        -- a one-time link
    invitation_id INTEGER PRIMARY KEY,
    name      TEXT    NOT NULL,
    role      INTEGER NOT NULL CHECK (role IN (1, 2, 3)),
    code_hash BLOB    NOT NULL UNIQUE,
    made_at   INTEGER NOT NULL,
    until_at  INTEGER NOT NULL,  -- not taken from then on
    device_id INTEGER REFERENCES device -- what was paired with it; NULL: not used yet
) STRICT;

CREATE TABLE message (           -- one matter told to one person, at most once
    person   TEXT    NOT NULL,
    matter   TEXT    NOT NULL,   -- "digest 2026-07-14", "call 2026-07-14 North water_today"
    made_at  INTEGER NOT NULL,
    due_at   INTEGER NOT NULL,   -- not sent before: quiet hours, or the next try
    stale_at INTEGER NOT NULL,   -- of no use from then on
    subject  TEXT    NOT NULL,
    body     TEXT    NOT NULL,
    data     TEXT    NOT NULL,   -- JSON, for a webhook
    tries    INTEGER NOT NULL DEFAULT 0,
    state    INTEGER NOT NULL DEFAULT 0, -- enum message_state
    trouble  TEXT    NOT NULL DEFAULT '', -- why the last try failed
    PRIMARY KEY (person, matter)
) STRICT, WITHOUT ROWID;
CREATE INDEX message_by_due ON message (due_at) WHERE state = 0;

CREATE TABLE told (              -- the call of a field that a person knows of
    person   TEXT    NOT NULL,
    field_id INTEGER NOT NULL REFERENCES field ON DELETE CASCADE,
    day      INTEGER NOT NULL,
    kind     INTEGER NOT NULL,   -- enum call_kind
    PRIMARY KEY (person, field_id)
) STRICT, WITHOUT ROWID;
