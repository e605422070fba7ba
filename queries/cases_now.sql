-- Cases in their newest version.
-- Row: one case as last exported.
-- Key: source, case_id.
-- Grain: versions of a record fold into the newest: all rows but those of superseded_rows and doubled_cases. ended: the day it was
--   closed, or opened where that is unknown (closed_known 0).
-- vehicle: its number (vehicle_numbers).
-- Order: vehicle, within each slice of rows: who reads some vehicles passes over the rest of the file.
WITH superseded AS (
    SELECT batch, line, digest, 1 AS is_superseded
    FROM superseded_rows
    WHERE target = 'cases'
    UNION ALL
    SELECT batch, line, digest, 1 AS is_superseded
    FROM doubled_cases
)
SELECT
    n.vehicle,
    c.source,
    c.case_id,
    c.site,
    c.opened,
    CASE WHEN c.closed > c.opened THEN c.closed ELSE c.opened END AS ended,
    CAST(CASE WHEN c.closed >= c.opened THEN 1 ELSE 0 END AS BIGINT) AS closed_known,
    c.engine_family,
    c.model_year,
    c.odometer_m,
    c.codes,
    c.complaint_cylinder,
    c.outcome
FROM cases AS c
LEFT JOIN superseded AS s ON c.batch = s.batch AND c.line = s.line AND c.digest = s.digest
JOIN vehicle_numbers AS n ON c.vehicle = n.vehicle_key
WHERE s.is_superseded IS NULL
    AND (c.batch > :first_batch OR (c.batch = :first_batch AND c.line >= :first_line))
    AND (c.batch < :end_batch OR (c.batch = :end_batch AND c.line < :end_line))
ORDER BY n.vehicle
