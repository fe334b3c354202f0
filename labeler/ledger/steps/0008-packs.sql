-- Assorted packs: from which lots the jigs in a lot of packs came.
CREATE TABLE contents (
    id {identity},
    lot_id INTEGER NOT NULL REFERENCES lots (id),
    part_id INTEGER NOT NULL REFERENCES lots (id),
    count INTEGER NOT NULL CHECK (count > 0)
);
CREATE INDEX contents_lot ON contents (lot_id);
CREATE INDEX contents_part ON contents (part_id);
