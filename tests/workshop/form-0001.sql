BEGIN TRANSACTION;
CREATE TABLE alarm (
    id INTEGER NOT NULL,
    "key" TEXT NOT NULL,
    kind TEXT NOT NULL,
    colony_id INTEGER,
    build_id INTEGER,
    logger_id INTEGER,
    message TEXT NOT NULL,
    value FLOAT,
    raised BIGINT NOT NULL,
    seen BIGINT NOT NULL,
    ended BIGINT,
    acknowledged BIGINT,
    snoozed BIGINT,
    sent BIGINT,
    CONSTRAINT pk_alarm PRIMARY KEY (id),
    CONSTRAINT fk_alarm_colony_id FOREIGN KEY(colony_id) REFERENCES colony (id) ON DELETE CASCADE,
    CONSTRAINT fk_alarm_build_id FOREIGN KEY(build_id) REFERENCES build (id) ON DELETE CASCADE,
    CONSTRAINT fk_alarm_logger_id FOREIGN KEY(logger_id) REFERENCES logger (id) ON DELETE CASCADE
);
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0001');
CREATE TABLE bell (
    id INTEGER NOT NULL,
    colony_id INTEGER NOT NULL,
    day TEXT NOT NULL CONSTRAINT ck_bell_day CHECK (day IS NULL OR day GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
    kind TEXT NOT NULL CONSTRAINT ck_bell_kind CHECK (kind IN ('bell', 'chamber')),
    name TEXT DEFAULT '' NOT NULL,
    usable_ml FLOAT,
    diameter_mm FLOAT,
    height_mm FLOAT,
    CONSTRAINT pk_bell PRIMARY KEY (id),
    CONSTRAINT fk_bell_colony_id FOREIGN KEY(colony_id) REFERENCES colony (id) ON DELETE CASCADE
);
CREATE TABLE brood (
    id INTEGER NOT NULL,
    visit_id INTEGER NOT NULL,
    stage TEXT NOT NULL CONSTRAINT ck_brood_stage CHECK (stage IN ('eggs', 'larvae', 'pupae')),
    seen BOOLEAN NOT NULL,
    CONSTRAINT pk_brood PRIMARY KEY (id),
    CONSTRAINT uq_brood_visit_id UNIQUE (visit_id, stage),
    CONSTRAINT fk_brood_visit_id FOREIGN KEY(visit_id) REFERENCES visit (id) ON DELETE CASCADE
);
INSERT INTO "brood" VALUES(1,1,'eggs',1);
CREATE TABLE build (
    id INTEGER NOT NULL,
    serial TEXT NOT NULL,
    habitat TEXT NOT NULL,
    revision TEXT DEFAULT '' NOT NULL,
    made TEXT CONSTRAINT ck_build_made CHECK (made IS NULL OR made GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
    stands TEXT DEFAULT '' NOT NULL,
    ended TEXT CONSTRAINT ck_build_ended CHECK (ended IS NULL OR ended GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT pk_build PRIMARY KEY (id),
    CONSTRAINT uq_build_serial UNIQUE (serial)
);
CREATE TABLE calibration (
    id INTEGER NOT NULL,
    channel_id INTEGER NOT NULL,
    at BIGINT NOT NULL,
    document TEXT NOT NULL,
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT pk_calibration PRIMARY KEY (id),
    CONSTRAINT fk_calibration_channel_id FOREIGN KEY(channel_id) REFERENCES channel (id) ON DELETE CASCADE
);
CREATE TABLE change (
    id INTEGER NOT NULL,
    step INTEGER NOT NULL,
    at BIGINT NOT NULL,
    act TEXT NOT NULL,
    of_table TEXT NOT NULL,
    "row" INTEGER NOT NULL,
    "before" TEXT DEFAULT '' NOT NULL,
    "after" TEXT DEFAULT '' NOT NULL,
    undoes INTEGER,
    CONSTRAINT pk_change PRIMARY KEY (id)
);
INSERT INTO "change" VALUES(1,1,1709989200000,'colony Moss','colony',1,'','{"id": 1, "name": "Moss", "species": "Acromyrmex echinatior", "origin": "", "start": "2024-03-01", "queen": "laying", "arrival_garden_ml": null, "arrival_garden_error_pct": null, "arrival_workers": "", "arrival_brood": "", "leaves": "free", "climate": "", "chamber_ml": 900.0, "opening_mm": null, "lid_mm": null, "headroom_mm": null, "making_days": null, "chamber_days": null, "ended": null, "end_reason": "", "note": ""}',NULL);
INSERT INTO "change" VALUES(2,2,1709989200000,'colony Fern','colony',2,'','{"id": 2, "name": "Fern", "species": "Acromyrmex echinatior", "origin": "", "start": "2024-03-01", "queen": "laying", "arrival_garden_ml": null, "arrival_garden_error_pct": null, "arrival_workers": "", "arrival_brood": "", "leaves": "free", "climate": "", "chamber_ml": 900.0, "opening_mm": null, "lid_mm": null, "headroom_mm": null, "making_days": null, "chamber_days": null, "ended": null, "end_reason": "", "note": "it''s two\nlines"}',NULL);
INSERT INTO "change" VALUES(3,3,1709989200000,'visit of Fern','visit',1,'','{"id": 1, "uid": "u1", "colony_id": 2, "day": "2024-03-10", "at": null, "written": 1795632721722, "garden_ml": 40.0, "fill_pct": null, "garden_error_pct": null, "health": "white", "leaves_taken": null, "leaves_taken_unit": null, "waste_g": null, "note": ""}',NULL);
INSERT INTO "change" VALUES(4,3,1709989200000,'visit of Fern','count',1,'','{"id": 1, "visit_id": 1, "what": "workers", "kind": "band", "low": 50.0, "high": 80.0}',NULL);
INSERT INTO "change" VALUES(5,3,1709989200000,'visit of Fern','brood',1,'','{"id": 1, "visit_id": 1, "stage": "eggs", "seen": true}',NULL);
INSERT INTO "change" VALUES(6,3,1709989200000,'visit of Fern','feeding',1,'','{"id": 1, "visit_id": 1, "plant": "bramble", "amount": 3.0, "unit": "g"}',NULL);
INSERT INTO "change" VALUES(7,3,1709989200000,'visit of Fern','event',1,'','{"id": 1, "uid": "u1-0", "colony_id": 2, "visit_id": 1, "day": "2024-03-10", "what": "garden added", "amount": "5 mL", "plant": "", "other_id": 1, "note": ""}',NULL);
INSERT INTO "change" VALUES(8,3,1709989200000,'visit of Fern','event',2,'','{"id": 2, "uid": "u1-0-other", "colony_id": 1, "visit_id": null, "day": "2024-03-10", "what": "garden taken", "amount": "5 mL", "plant": "", "other_id": 2, "note": ""}',NULL);
INSERT INTO "change" VALUES(9,4,1709989200000,'logger','logger',1,'','{"id": 1, "name": "L", "mapping": "x=1", "note": ""}',NULL);
INSERT INTO "change" VALUES(10,4,1709989200000,'logger','channel',1,'','{"id": 1, "logger_id": 1, "name": "t", "quantity": "temperature", "unit": "degC", "wanted_error": null}',NULL);
CREATE TABLE channel (
    id INTEGER NOT NULL,
    logger_id INTEGER NOT NULL,
    name TEXT NOT NULL,
    quantity TEXT NOT NULL,
    unit TEXT DEFAULT '' NOT NULL,
    wanted_error FLOAT,
    CONSTRAINT pk_channel PRIMARY KEY (id),
    CONSTRAINT uq_channel_logger_id UNIQUE (logger_id, name),
    CONSTRAINT fk_channel_logger_id FOREIGN KEY(logger_id) REFERENCES logger (id) ON DELETE CASCADE
);
INSERT INTO "channel" VALUES(1,1,'t','temperature','degC',NULL);
CREATE TABLE colony (
    id INTEGER NOT NULL,
    name TEXT NOT NULL,
    species TEXT NOT NULL,
    origin TEXT DEFAULT '' NOT NULL,
    start TEXT NOT NULL CONSTRAINT ck_colony_start CHECK (start IS NULL OR start GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
    queen TEXT NOT NULL CONSTRAINT ck_colony_queen CHECK (queen IN ('laying', 'unknown', 'none')),
    arrival_garden_ml FLOAT,
    arrival_garden_error_pct FLOAT,
    arrival_workers TEXT DEFAULT '' NOT NULL,
    arrival_brood TEXT DEFAULT '' NOT NULL,
    leaves TEXT NOT NULL CONSTRAINT ck_colony_leaves CHECK (leaves IN ('free', 'recorded')),
    climate TEXT DEFAULT '' NOT NULL,
    chamber_ml FLOAT,
    opening_mm FLOAT,
    lid_mm FLOAT,
    headroom_mm FLOAT,
    making_days FLOAT,
    chamber_days FLOAT,
    ended TEXT CONSTRAINT ck_colony_ended CHECK (ended IS NULL OR ended GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
    end_reason TEXT DEFAULT '' NOT NULL,
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT pk_colony PRIMARY KEY (id),
    CONSTRAINT uq_colony_name UNIQUE (name)
);
INSERT INTO "colony" VALUES(1,'Moss','Acromyrmex echinatior','','2024-03-01','laying',NULL,NULL,'','','free','',900.0,NULL,NULL,NULL,NULL,NULL,NULL,'','');
INSERT INTO "colony" VALUES(2,'Fern','Acromyrmex echinatior','','2024-03-01','laying',NULL,NULL,'','','free','',900.0,NULL,NULL,NULL,NULL,NULL,NULL,'','it''s two
lines');
CREATE TABLE count (
    id INTEGER NOT NULL,
    visit_id INTEGER NOT NULL,
    what TEXT NOT NULL,
    kind TEXT NOT NULL CONSTRAINT ck_count_kind CHECK (kind IN ('exact', 'guess', 'band')),
    low FLOAT NOT NULL,
    high FLOAT NOT NULL,
    CONSTRAINT pk_count PRIMARY KEY (id),
    CONSTRAINT uq_count_visit_id UNIQUE (visit_id, what),
    CONSTRAINT fk_count_visit_id FOREIGN KEY(visit_id) REFERENCES visit (id) ON DELETE CASCADE
);
INSERT INTO "count" VALUES(1,1,'workers','band',50.0,80.0);
CREATE TABLE event (
    id INTEGER NOT NULL,
    uid TEXT NOT NULL,
    colony_id INTEGER NOT NULL,
    visit_id INTEGER,
    day TEXT NOT NULL CONSTRAINT ck_event_day CHECK (day IS NULL OR day GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
    what TEXT NOT NULL,
    amount TEXT DEFAULT '' NOT NULL,
    plant TEXT DEFAULT '' NOT NULL,
    other_id INTEGER,
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT pk_event PRIMARY KEY (id),
    CONSTRAINT uq_event_uid UNIQUE (uid),
    CONSTRAINT fk_event_colony_id FOREIGN KEY(colony_id) REFERENCES colony (id) ON DELETE CASCADE,
    CONSTRAINT fk_event_visit_id FOREIGN KEY(visit_id) REFERENCES visit (id) ON DELETE CASCADE,
    CONSTRAINT fk_event_other_id FOREIGN KEY(other_id) REFERENCES colony (id) ON DELETE RESTRICT
);
INSERT INTO "event" VALUES(1,'u1-0',2,1,'2024-03-10','garden added','5 mL','',1,'');
INSERT INTO "event" VALUES(2,'u1-0-other',1,NULL,'2024-03-10','garden taken','5 mL','',2,'');
CREATE TABLE feeding (
    id INTEGER NOT NULL,
    visit_id INTEGER NOT NULL,
    plant TEXT DEFAULT '' NOT NULL,
    amount FLOAT NOT NULL,
    unit TEXT NOT NULL CONSTRAINT ck_feeding_unit CHECK (unit IN ('g', 'cm2')),
    CONSTRAINT pk_feeding PRIMARY KEY (id),
    CONSTRAINT fk_feeding_visit_id FOREIGN KEY(visit_id) REFERENCES visit (id) ON DELETE CASCADE
);
INSERT INTO "feeding" VALUES(1,1,'bramble',3.0,'g');
CREATE TABLE logger (
    id INTEGER NOT NULL,
    name TEXT NOT NULL,
    mapping TEXT DEFAULT '' NOT NULL,
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT pk_logger PRIMARY KEY (id),
    CONSTRAINT uq_logger_name UNIQUE (name)
);
INSERT INTO "logger" VALUES(1,'L','x=1','');
CREATE TABLE measured (
    id INTEGER NOT NULL,
    build_id INTEGER NOT NULL,
    what TEXT NOT NULL,
    value TEXT NOT NULL,
    day TEXT CONSTRAINT ck_measured_day CHECK (day IS NULL OR day GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT pk_measured PRIMARY KEY (id),
    CONSTRAINT fk_measured_build_id FOREIGN KEY(build_id) REFERENCES build (id) ON DELETE CASCADE
);
CREATE TABLE parcel (
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
    CONSTRAINT pk_parcel PRIMARY KEY (id),
    CONSTRAINT uq_parcel_uid UNIQUE (uid),
    CONSTRAINT fk_parcel_colony_id FOREIGN KEY(colony_id) REFERENCES colony (id) ON DELETE RESTRICT,
    CONSTRAINT fk_parcel_build_id FOREIGN KEY(build_id) REFERENCES build (id) ON DELETE RESTRICT
);
CREATE TABLE photo (
    id INTEGER NOT NULL,
    uid TEXT NOT NULL,
    colony_id INTEGER,
    build_id INTEGER,
    visit_id INTEGER,
    file TEXT NOT NULL,
    sha256 TEXT NOT NULL,
    taken BIGINT,
    width INTEGER,
    height INTEGER,
    measured TEXT DEFAULT '' NOT NULL,
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT pk_photo PRIMARY KEY (id),
    CONSTRAINT uq_photo_uid UNIQUE (uid),
    CONSTRAINT fk_photo_colony_id FOREIGN KEY(colony_id) REFERENCES colony (id) ON DELETE RESTRICT,
    CONSTRAINT fk_photo_build_id FOREIGN KEY(build_id) REFERENCES build (id) ON DELETE RESTRICT,
    CONSTRAINT fk_photo_visit_id FOREIGN KEY(visit_id) REFERENCES visit (id) ON DELETE SET NULL,
    CONSTRAINT uq_photo_file UNIQUE (file)
);
CREATE TABLE placement (
    id INTEGER NOT NULL,
    logger_id INTEGER NOT NULL,
    build_id INTEGER,
    colony_id INTEGER,
    chamber TEXT DEFAULT '' NOT NULL,
    since BIGINT NOT NULL,
    until BIGINT,
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT pk_placement PRIMARY KEY (id),
    CONSTRAINT fk_placement_logger_id FOREIGN KEY(logger_id) REFERENCES logger (id) ON DELETE CASCADE,
    CONSTRAINT fk_placement_build_id FOREIGN KEY(build_id) REFERENCES build (id) ON DELETE RESTRICT,
    CONSTRAINT fk_placement_colony_id FOREIGN KEY(colony_id) REFERENCES colony (id) ON DELETE RESTRICT
);
CREATE TABLE quality (
    id INTEGER NOT NULL,
    build_id INTEGER NOT NULL,
    what TEXT NOT NULL,
    passed BOOLEAN,
    value TEXT DEFAULT '' NOT NULL,
    day TEXT CONSTRAINT ck_quality_day CHECK (day IS NULL OR day GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT pk_quality PRIMARY KEY (id),
    CONSTRAINT fk_quality_build_id FOREIGN KEY(build_id) REFERENCES build (id) ON DELETE CASCADE
);
CREATE TABLE reading (
    channel_id INTEGER NOT NULL,
    at BIGINT NOT NULL,
    value FLOAT NOT NULL,
    CONSTRAINT pk_reading PRIMARY KEY (channel_id, at),
    CONSTRAINT fk_reading_channel_id FOREIGN KEY(channel_id) REFERENCES channel (id) ON DELETE CASCADE
)
 WITHOUT ROWID;
INSERT INTO "reading" VALUES(1,0,20.0);
INSERT INTO "reading" VALUES(1,600000,20.25);
INSERT INTO "reading" VALUES(1,1200000,20.5);
INSERT INTO "reading" VALUES(1,1800000,20.75);
INSERT INTO "reading" VALUES(1,2400000,21.0);
CREATE TABLE rollup (
    channel_id INTEGER NOT NULL,
    hour INTEGER NOT NULL,
    n INTEGER NOT NULL,
    low FLOAT NOT NULL,
    high FLOAT NOT NULL,
    total FLOAT NOT NULL,
    CONSTRAINT pk_rollup PRIMARY KEY (channel_id, hour),
    CONSTRAINT fk_rollup_channel_id FOREIGN KEY(channel_id) REFERENCES channel (id) ON DELETE CASCADE
)
 WITHOUT ROWID;
INSERT INTO "rollup" VALUES(1,0,5,20.0,21.0,102.5);
CREATE TABLE stay (
    id INTEGER NOT NULL,
    colony_id INTEGER NOT NULL,
    build_id INTEGER NOT NULL,
    day TEXT NOT NULL CONSTRAINT ck_stay_day CHECK (day IS NULL OR day GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT pk_stay PRIMARY KEY (id),
    CONSTRAINT uq_stay_colony_id UNIQUE (colony_id, day),
    CONSTRAINT fk_stay_colony_id FOREIGN KEY(colony_id) REFERENCES colony (id) ON DELETE CASCADE,
    CONSTRAINT fk_stay_build_id FOREIGN KEY(build_id) REFERENCES build (id) ON DELETE RESTRICT
);
CREATE TABLE visit (
    id INTEGER NOT NULL,
    uid TEXT NOT NULL,
    colony_id INTEGER NOT NULL,
    day TEXT NOT NULL CONSTRAINT ck_visit_day CHECK (day IS NULL OR day GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
    at BIGINT,
    written BIGINT NOT NULL,
    garden_ml FLOAT,
    fill_pct FLOAT,
    garden_error_pct FLOAT,
    health TEXT DEFAULT '' NOT NULL,
    leaves_taken FLOAT,
    leaves_taken_unit TEXT CONSTRAINT ck_visit_leaves_taken_unit CHECK (leaves_taken_unit IN ('g', 'cm2')),
    waste_g FLOAT,
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT pk_visit PRIMARY KEY (id),
    CONSTRAINT uq_visit_uid UNIQUE (uid),
    CONSTRAINT fk_visit_colony_id FOREIGN KEY(colony_id) REFERENCES colony (id) ON DELETE CASCADE
);
INSERT INTO "visit" VALUES(1,'u1',2,'2024-03-10',NULL,1709989200000,40.0,NULL,NULL,'white',NULL,NULL,NULL,'');
CREATE TABLE workshop (
    "key" TEXT NOT NULL,
    value TEXT DEFAULT '' NOT NULL,
    CONSTRAINT pk_workshop PRIMARY KEY ("key")
);
INSERT INTO "workshop" VALUES('zone','Europe/Lisbon');
INSERT INTO "workshop" VALUES('form','1');
CREATE INDEX ix_change_step ON change (step);
CREATE INDEX ix_alarm_key ON alarm ("key");
CREATE INDEX ix_visit_colony_day ON visit (colony_id, day);
CREATE INDEX ix_event_colony_day ON event (colony_id, day);
COMMIT;
