-- Row security hides every row from a step that names no yard.
SELECT set_config('leground.yard', '*', true);
UPDATE plan SET takes = TRUE WHERE body LIKE '%"amount":%' OR body LIKE '%"product":%';
