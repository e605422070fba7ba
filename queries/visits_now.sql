-- Visits in their newest version.
-- Row: one visit as last exported.
-- Key: none (source and record, which are left out).
-- Grain: versions of a record fold into the newest: all rows but those of superseded_rows.
-- vehicle: its number (vehicle_numbers).
-- Order: vehicle, within each slice of rows: who reads some vehicles passes over the rest of the file.
WITH superseded AS (
    SELECT batch, line, digest, 1 AS is_superseded
    FROM superseded_rows
    WHERE target = 'visits'
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
    AND (v.batch > :first_batch OR (v.batch = :first_batch AND v.line >= :first_line))
    AND (v.batch < :end_batch OR (v.batch = :end_batch AND v.line < :end_line))
ORDER BY n.vehicle
