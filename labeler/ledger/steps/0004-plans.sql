-- What is to be printed: its cells are taken before its file is made, so that no other run takes
-- them at the same instant. "part" is the file in the making, which its maker holds to the end.
CREATE TABLE plans (
    id {identity},
    bench VARCHAR(100) NOT NULL,
    file TEXT NOT NULL,
    part TEXT NOT NULL,
    at {moment} NOT NULL,
    who TEXT NOT NULL
);

-- What became of a plan and of its run: "printed" or "trial" once it is on record, "named" once
-- its file has its name, "given back" or "taken back" for good. A run without any was printed.
CREATE TABLE run_states (
    id {identity},
    plan_id INTEGER REFERENCES plans (id),
    run_id INTEGER REFERENCES runs (id),
    state VARCHAR(10) NOT NULL,
    why TEXT NOT NULL,
    at {moment} NOT NULL,
    who TEXT NOT NULL
);
CREATE INDEX run_states_plan ON run_states (plan_id);
CREATE INDEX run_states_run ON run_states (run_id);

-- Cells of a sheet are taken plan by plan and counted together: "first_id" is the row with which
-- the sheet was begun, empty in that row itself and in rows from before there were plans.
ALTER TABLE open_sheets ADD COLUMN plan_id INTEGER REFERENCES plans (id);
ALTER TABLE open_sheets ADD COLUMN first_id INTEGER REFERENCES open_sheets (id);
