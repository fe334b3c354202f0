-- Held lots; suppliers' lots noted by mistake; samples that grow; moves taken back, and to whom
-- else than a dealer.

-- Lots held and released; of a lot the newest row holds.
CREATE TABLE holds (
    id {identity},
    lot_id INTEGER NOT NULL REFERENCES lots (id),
    held INTEGER NOT NULL,
    why TEXT NOT NULL,
    at {moment} NOT NULL,
    who TEXT NOT NULL
);
CREATE INDEX holds_lot ON holds (lot_id, id);

-- Suppliers' lots struck out, or noted once more after that; of each the newest row holds.
CREATE TABLE strikes (
    id {identity},
    lot_id INTEGER NOT NULL REFERENCES lots (id),
    kind VARCHAR(100) NOT NULL,
    supplier_lot VARCHAR(200) NOT NULL,
    struck INTEGER NOT NULL,
    at {moment} NOT NULL,
    who TEXT NOT NULL
);
CREATE INDEX strikes_lot ON strikes (lot_id, kind, supplier_lot);

-- A row adds its readings to the sample that the lot's last row with "begins" began, and reports
-- on all of it. Each row of before stands for a sample of its own.
ALTER TABLE weighings ADD COLUMN begins INTEGER DEFAULT 1 NOT NULL;
ALTER TABLE weighings ADD COLUMN closed INTEGER DEFAULT 0 NOT NULL;
ALTER TABLE weighings ADD COLUMN why TEXT DEFAULT '' NOT NULL;

-- Who got it: a dealer, a customer or a fair. "takes_back" names a move that was a mistake.
ALTER TABLE moves ADD COLUMN whom VARCHAR(10) DEFAULT 'dealer' NOT NULL;
ALTER TABLE moves ADD COLUMN takes_back INTEGER REFERENCES moves (id);
CREATE INDEX moves_takes_back ON moves (takes_back)
