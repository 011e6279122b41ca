-- Sales as the third form has them.
CREATE TABLE buyer (
    id INTEGER NOT NULL,
    uid TEXT NOT NULL,
    name TEXT NOT NULL,
    contact TEXT DEFAULT '' NOT NULL,
    since TEXT NOT NULL CONSTRAINT ck_buyer_since CHECK (since IS NULL OR since GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
    erased TEXT CONSTRAINT ck_buyer_erased CHECK (erased IS NULL OR erased GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT pk_buyer PRIMARY KEY (id),
    CONSTRAINT uq_buyer_uid UNIQUE (uid)
);

CREATE TABLE sale (
    id INTEGER NOT NULL,
    uid TEXT NOT NULL,
    build_id INTEGER NOT NULL,
    buyer_id INTEGER NOT NULL,
    day TEXT NOT NULL CONSTRAINT ck_sale_day CHECK (day IS NULL OR day GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
    price FLOAT,
    currency TEXT DEFAULT '' NOT NULL,
    parcel_id INTEGER,
    returned TEXT CONSTRAINT ck_sale_returned CHECK (returned IS NULL OR returned GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
    reason TEXT DEFAULT '' NOT NULL,
    CONSTRAINT pk_sale PRIMARY KEY (id),
    CONSTRAINT uq_sale_uid UNIQUE (uid),
    CONSTRAINT fk_sale_build_id FOREIGN KEY(build_id) REFERENCES build (id) ON DELETE RESTRICT,
    CONSTRAINT fk_sale_buyer_id FOREIGN KEY(buyer_id) REFERENCES buyer (id) ON DELETE RESTRICT,
    CONSTRAINT fk_sale_parcel_id FOREIGN KEY(parcel_id) REFERENCES parcel (id) ON DELETE SET NULL
);

CREATE TABLE feedback (
    id INTEGER NOT NULL,
    uid TEXT NOT NULL,
    build_id INTEGER NOT NULL,
    day TEXT NOT NULL CONSTRAINT ck_feedback_day CHECK (day IS NULL OR day GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
    kind TEXT NOT NULL CONSTRAINT ck_feedback_kind CHECK (kind IN ('praise', 'question', 'fault')),
    words TEXT NOT NULL,
    CONSTRAINT pk_feedback PRIMARY KEY (id),
    CONSTRAINT uq_feedback_uid UNIQUE (uid),
    CONSTRAINT fk_feedback_build_id FOREIGN KEY(build_id) REFERENCES build (id) ON DELETE CASCADE
);

CREATE TABLE stock (
    id INTEGER NOT NULL,
    uid TEXT NOT NULL,
    day TEXT NOT NULL CONSTRAINT ck_stock_day CHECK (day IS NULL OR day GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
    part TEXT NOT NULL,
    habitat TEXT DEFAULT '' NOT NULL,
    revision TEXT DEFAULT '' NOT NULL,
    change INTEGER NOT NULL,
    note TEXT DEFAULT '' NOT NULL,
    CONSTRAINT pk_stock PRIMARY KEY (id),
    CONSTRAINT uq_stock_uid UNIQUE (uid)
);
