-- Every name that a lot may be asked for by: suppliers' lots, dealers, SKUs; each once, so that
-- the nearest to a mistyped one is found without a look at every lot. "folded" is the name as
-- names are compared, "backwards" the same from its end: a slip in one half of a name leaves the
-- other half as it is. {bytewise} keeps both in the order of their letters' numbers, whatever
-- language the server speaks.
CREATE TABLE names (
    folded VARCHAR(200){bytewise} NOT NULL PRIMARY KEY,
    backwards VARCHAR(200){bytewise} NOT NULL,
    name VARCHAR(200) NOT NULL
);
CREATE INDEX names_backwards ON names (backwards);
