-- Version 2: a value in `state` may be packed (rows.py). Nothing to change in what is there; an
-- older shipkeeper must not read it.
SELECT 1;
