-- Visits in their newest version.
-- Row: one visit as last exported.
-- Key: none (source and record, which are left out).
-- Grain: versions of a record fold into the newest: all rows but those of superseded_visits.
-- vehicle: its number (vehicle_numbers).
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
WITH superseded AS (
    SELECT batch, line, digest, 1 AS is_superseded
    FROM superseded_visits
)
SELECT
    n.vehicle,
    v.site,
    v.date,
    v.odometer_m,
    v.engine_family,
    v.model_year,
    v.engine_replaced
FROM visits AS v
LEFT JOIN superseded AS s ON v.batch = s.batch AND v.line = s.line AND v.digest = s.digest
JOIN vehicle_numbers AS n ON v.vehicle = n.vehicle_key
WHERE s.is_superseded IS NULL
