-- Orders as they came in, what became of them, and the invoices of what was shipped for them.

-- Number and dealer of an order stay; what was ordered is its newest row in order_readings.
CREATE TABLE orders (
    id {identity},
    number VARCHAR(20) NOT NULL UNIQUE,
    taken DATE NOT NULL,
    dealer VARCHAR(200) NOT NULL,
    dealer_folded VARCHAR(200) NOT NULL,
    whom VARCHAR(10) NOT NULL,
    at {moment} NOT NULL,
    who TEXT NOT NULL
);
CREATE INDEX orders_dealer ON orders (dealer_folded, taken);

-- "source" is the SHA-256 of the file that was read, empty where lines were typed.
CREATE TABLE order_readings (
    id {identity},
    order_id INTEGER NOT NULL REFERENCES orders (id),
    source VARCHAR(64) NOT NULL,
    document TEXT NOT NULL,
    at {moment} NOT NULL,
    who TEXT NOT NULL
);
CREATE INDEX order_readings_order ON order_readings (order_id, id);
CREATE INDEX order_readings_source ON order_readings (source);

CREATE TABLE cancels (
    order_id INTEGER NOT NULL PRIMARY KEY REFERENCES orders (id),
    why TEXT NOT NULL,
    at {moment} NOT NULL,
    who TEXT NOT NULL
);

-- One for each parcel of an order: "slip" is the slip of its moves. A parcel that is taken back
-- takes its invoice along, and its number is not given out again.
CREATE TABLE invoices (
    id {identity},
    number VARCHAR(20) NOT NULL UNIQUE,
    order_id INTEGER NOT NULL REFERENCES orders (id),
    slip VARCHAR(200) NOT NULL UNIQUE,
    document TEXT NOT NULL,
    at {moment} NOT NULL,
    who TEXT NOT NULL
);
CREATE INDEX invoices_order ON invoices (order_id);
