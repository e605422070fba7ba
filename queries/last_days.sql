-- The data cut-off: the last day on which any vehicle was seen.
-- Row: the one cut-off.
-- Key: none.
-- Grain: all vehicles; without any the day is unknown.
-- Order: none, there is one row.
SELECT MAX(CAST(last_seen AS BIGINT)) AS end_day
FROM vehicles
