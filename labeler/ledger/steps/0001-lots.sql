-- The ledger as it was first made. Never edit this file once it has shipped: a change to the
-- ledger is a new file beside it. {identity}, {moment} and {bytes} are the words of the database
-- at hand.

-- Products as they were when a lot was made of them; the same product is kept once.
CREATE TABLE snapshots (
    fingerprint VARCHAR(64) NOT NULL PRIMARY KEY,
    sku VARCHAR(40) NOT NULL,
    name TEXT NOT NULL,
    gtin VARCHAR(14),
    product TEXT NOT NULL
);
CREATE INDEX snapshots_gtin ON snapshots (gtin);

-- The last number given out on each day; numbers of a day have no gap.
CREATE TABLE days (
    made DATE NOT NULL PRIMARY KEY,
    last_number INTEGER NOT NULL
);

CREATE TABLE lots (
    id {identity},
    code VARCHAR(20) NOT NULL UNIQUE,
    made DATE NOT NULL,
    number INTEGER NOT NULL,
    sku VARCHAR(40) NOT NULL,
    count INTEGER NOT NULL CHECK (count > 0),
    snapshot VARCHAR(64) NOT NULL REFERENCES snapshots (fingerprint),
    catalog VARCHAR(64) NOT NULL,
    note TEXT NOT NULL,
    opened_at {moment} NOT NULL,
    opened_by TEXT NOT NULL,
    UNIQUE (made, number)
);
CREATE INDEX lots_sku ON lots (sku, made, number);

-- The suppliers' lots that went in. "folded" is the supplier's lot without case, spaces, dashes.
CREATE TABLE materials (
    lot_id INTEGER NOT NULL REFERENCES lots (id),
    kind VARCHAR(100) NOT NULL,
    supplier_lot VARCHAR(200) NOT NULL,
    folded VARCHAR(200) NOT NULL,
    PRIMARY KEY (lot_id, kind, supplier_lot)
);
CREATE INDEX materials_folded ON materials (folded, lot_id);

CREATE TABLE voids (
    lot_id INTEGER NOT NULL PRIMARY KEY REFERENCES lots (id),
    why TEXT NOT NULL,
    at {moment} NOT NULL,
    who TEXT NOT NULL
);

CREATE TABLE weighings (
    id {identity},
    lot_id INTEGER NOT NULL REFERENCES lots (id),
    label VARCHAR(40) NOT NULL,
    readings TEXT NOT NULL,
    verdict VARCHAR(12) NOT NULL,
    report TEXT NOT NULL,
    at {moment} NOT NULL,
    who TEXT NOT NULL
);
CREATE INDEX weighings_lot ON weighings (lot_id);

-- Files as they were when something was printed with them; the same content is kept once.
CREATE TABLE files (
    fingerprint VARCHAR(64) NOT NULL PRIMARY KEY,
    data {bytes} NOT NULL
);

-- A layout and all files it was made of: path to fingerprint.
CREATE TABLE layouts (
    fingerprint VARCHAR(64) NOT NULL PRIMARY KEY,
    name VARCHAR(100) NOT NULL,
    files TEXT NOT NULL
);

CREATE TABLE runs (
    id {identity},
    stock VARCHAR(100) NOT NULL,
    printer VARCHAR(100) NOT NULL,
    catalog VARCHAR(64) NOT NULL,
    fonts VARCHAR(64) NOT NULL,
    pdf VARCHAR(64) NOT NULL,
    sheets INTEGER NOT NULL,
    findings TEXT NOT NULL,
    overrides TEXT NOT NULL,
    at {moment} NOT NULL,
    who TEXT NOT NULL
);

-- What a run printed: one row for each product, lot and layout in it.
CREATE TABLE printed (
    id {identity},
    run_id INTEGER NOT NULL REFERENCES runs (id),
    kind VARCHAR(20) NOT NULL,
    sku VARCHAR(40) NOT NULL,
    lot_id INTEGER REFERENCES lots (id),
    layout VARCHAR(64) NOT NULL REFERENCES layouts (fingerprint),
    count INTEGER NOT NULL CHECK (count > 0),
    cells TEXT NOT NULL
);
CREATE INDEX printed_lot ON printed (lot_id);
CREATE INDEX printed_run ON printed (run_id);
CREATE INDEX printed_sku ON printed (sku);

-- The started sheet of each stock, as it lies in a drawer; the newest row holds.
CREATE TABLE open_sheets (
    id {identity},
    drawer VARCHAR(100) NOT NULL,
    stock VARCHAR(100) NOT NULL,
    cells INTEGER NOT NULL,
    used TEXT NOT NULL,
    run_id INTEGER REFERENCES runs (id),
    at {moment} NOT NULL,
    who TEXT NOT NULL
);
CREATE INDEX open_sheets_stock ON open_sheets (drawer, stock, id);

-- Pieces that came and went: shipped, returned, scrapped, found. "change" is what they do to the
-- number on hand; what went together has one slip.
CREATE TABLE moves (
    id {identity},
    lot_id INTEGER NOT NULL REFERENCES lots (id),
    kind VARCHAR(10) NOT NULL,
    dealer VARCHAR(200) NOT NULL,
    dealer_folded VARCHAR(200) NOT NULL,
    count INTEGER NOT NULL CHECK (count > 0),
    change INTEGER NOT NULL,
    moved DATE NOT NULL,
    slip VARCHAR(200) NOT NULL,
    note TEXT NOT NULL,
    at {moment} NOT NULL,
    who TEXT NOT NULL
);
CREATE INDEX moves_lot ON moves (lot_id);
CREATE INDEX moves_slip ON moves (slip);
CREATE INDEX moves_dealer ON moves (dealer_folded, lot_id);

-- Requests already carried out, so that asking again changes nothing.
CREATE TABLE requests (
    kind VARCHAR(20) NOT NULL,
    key VARCHAR(200) NOT NULL,
    ask VARCHAR(64) NOT NULL,
    answer TEXT NOT NULL,
    PRIMARY KEY (kind, key)
);

CREATE TABLE journal (
    id {identity},
    at {moment} NOT NULL,
    who TEXT NOT NULL,
    what VARCHAR(20) NOT NULL,
    lot_id INTEGER REFERENCES lots (id),
    detail TEXT NOT NULL
);
CREATE INDEX journal_lot ON journal (lot_id);
