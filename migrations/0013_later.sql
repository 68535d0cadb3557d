-- What else met a caution while it was open, JSON [{"seen":"...","numbers":{...},"check":"..."}]. It only ever grows.
ALTER TABLE caution ADD COLUMN later TEXT NOT NULL DEFAULT '[]';
