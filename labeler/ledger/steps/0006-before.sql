-- What was there before the ledger: codes that hang in the shops, and stock that was counted.

-- Other names of a lot, such as the code that its maker gave it then. "folded" is the name as names
-- are compared. One name may stand for several lots.
CREATE TABLE other_names (
    lot_id INTEGER NOT NULL REFERENCES lots (id),
    folded VARCHAR(200) NOT NULL,
    name VARCHAR(200) NOT NULL,
    PRIMARY KEY (lot_id, folded)
);
CREATE INDEX other_names_folded ON other_names (folded, lot_id);

-- Whether a lot is stock that was counted: nobody knows any more what went into it.
ALTER TABLE lots ADD COLUMN untraced INTEGER DEFAULT 0 NOT NULL;
