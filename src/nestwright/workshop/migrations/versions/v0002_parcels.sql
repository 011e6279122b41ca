-- Parcels as the second form has them.
CREATE TABLE parcel_new (
    id INTEGER NOT NULL,
    uid TEXT NOT NULL,
    direction TEXT NOT NULL CONSTRAINT ck_parcel_direction CHECK (direction IN ('in', 'out')),
    colony_id INTEGER,
    build_id INTEGER,
    sent TEXT CONSTRAINT ck_parcel_sent CHECK (sent IS NULL OR sent GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
    arrived TEXT CONSTRAINT ck_parcel_arrived CHECK (arrived IS NULL OR arrived GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
    carrier TEXT DEFAULT '' NOT NULL,
    state TEXT DEFAULT '' NOT NULL,
    note TEXT DEFAULT '' NOT NULL,
    name TEXT DEFAULT '' NOT NULL,
    route TEXT DEFAULT '' NOT NULL,
    file TEXT DEFAULT '' NOT NULL,
    box TEXT DEFAULT '' NOT NULL,
    pack TEXT DEFAULT '' NOT NULL,
    promised_hours FLOAT,
    sent_at BIGINT,
    arrived_at BIGINT,
    garden_ml FLOAT,
    garden_health TEXT DEFAULT '' NOT NULL,
    workers_alive TEXT DEFAULT '' NOT NULL,
    workers_dead TEXT DEFAULT '' NOT NULL,
    logger_id INTEGER,
    predicted TEXT DEFAULT '' NOT NULL,
    CONSTRAINT pk_parcel PRIMARY KEY (id),
    CONSTRAINT uq_parcel_uid UNIQUE (uid),
    CONSTRAINT fk_parcel_colony_id FOREIGN KEY(colony_id) REFERENCES colony (id) ON DELETE RESTRICT,
    CONSTRAINT fk_parcel_build_id FOREIGN KEY(build_id) REFERENCES build (id) ON DELETE RESTRICT,
    CONSTRAINT fk_parcel_logger_id FOREIGN KEY(logger_id) REFERENCES logger (id) ON DELETE SET NULL
);

INSERT INTO parcel_new (id, uid, direction, colony_id, build_id, sent, arrived, carrier, state, note)
SELECT id, uid, direction, colony_id, build_id, sent, arrived, carrier, state, note FROM parcel;

DROP TABLE parcel;

ALTER TABLE parcel_new RENAME TO parcel;

CREATE TABLE parcel_scan (
    id INTEGER NOT NULL,
    uid TEXT NOT NULL,
    parcel_id INTEGER NOT NULL,
    at BIGINT NOT NULL,
    place TEXT DEFAULT '' NOT NULL,
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT pk_parcel_scan PRIMARY KEY (id),
    CONSTRAINT uq_parcel_scan_uid UNIQUE (uid),
    CONSTRAINT fk_parcel_scan_parcel_id FOREIGN KEY(parcel_id) REFERENCES parcel (id) ON DELETE CASCADE
);

CREATE INDEX ix_parcel_scan_parcel_at ON parcel_scan (parcel_id, at);

UPDATE change SET "before" = json_set(
    "before", '$.name', '', '$.route', '', '$.file', '',
    '$.box', '', '$.pack', '', '$.promised_hours', NULL,
    '$.sent_at', NULL, '$.arrived_at', NULL, '$.garden_ml', NULL,
    '$.garden_health', '', '$.workers_alive', '', '$.workers_dead', '',
    '$.logger_id', NULL, '$.predicted', ''
)
WHERE of_table = 'parcel' AND json_valid("before");

UPDATE change SET "after" = json_set(
    "after", '$.name', '', '$.route', '', '$.file', '',
    '$.box', '', '$.pack', '', '$.promised_hours', NULL,
    '$.sent_at', NULL, '$.arrived_at', NULL, '$.garden_ml', NULL,
    '$.garden_health', '', '$.workers_alive', '', '$.workers_dead', '',
    '$.logger_id', NULL, '$.predicted', ''
)
WHERE of_table = 'parcel' AND json_valid("after");
