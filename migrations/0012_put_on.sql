-- What is put on a horse goes out of a bottle or a mix, when the tick that says so is kept. Rows are only ever added:
-- one that gives back what was taken names the row that took it.
ALTER TABLE store_act ADD COLUMN product_id TEXT NOT NULL DEFAULT ''; -- of what was put on; empty: none of Stores
ALTER TABLE store_act ADD COLUMN horse_id TEXT NOT NULL DEFAULT '';   -- that it was put on
ALTER TABLE store_act ADD COLUMN item TEXT NOT NULL DEFAULT '';       -- round and task of day that were ticked
ALTER TABLE store_act ADD COLUMN of_act TEXT NOT NULL DEFAULT '';     -- what is given back
CREATE INDEX store_act_item ON store_act (yard_id, day) WHERE item <> '';
CREATE INDEX store_act_given_back ON store_act (yard_id, of_act) WHERE of_act <> '';
DROP INDEX store_act_used;
CREATE INDEX store_act_used ON store_act (yard_id, at) WHERE kind IN ('used', 'put-on');
-- Whether a tick of one of its steps takes something out of Stores: a save asks whether a horse has any such plan.
ALTER TABLE plan ADD COLUMN takes BOOLEAN NOT NULL DEFAULT FALSE;
UPDATE plan SET takes = TRUE WHERE body LIKE '%"amount":%' OR body LIKE '%"product":%';
CREATE INDEX plan_takes ON plan (yard_id, horse_id) WHERE takes;
