-- Whether a horse may be eaten one day, as its passport says: not, may; empty: not known.
ALTER TABLE horse ADD COLUMN food TEXT NOT NULL DEFAULT '';
