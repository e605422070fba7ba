-- Cases in their newest version.
-- Row: one case as last exported.
-- Key: source, case_id.
-- Grain: versions of a record fold into the newest (as in visits_now); where several records carry one case
--   number, the newest of them stands for the case. ended: the day it was closed, or opened where that is unknown
--   (closed_known 0).
-- vehicle: its number (vehicle_numbers).
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
WITH newest_records AS (
    SELECT DISTINCT ON (source, record) *
    FROM cases
    ORDER BY source, record, export_date DESC NULLS LAST, batch DESC, line DESC, digest DESC
),
newest_cases AS (
    SELECT DISTINCT ON (source, case_id) *
    FROM newest_records
    ORDER BY source, case_id, export_date DESC NULLS LAST, batch DESC, line DESC, digest DESC
)
SELECT
    c.source,
    c.case_id,
    n.vehicle,
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
FROM newest_cases AS c
JOIN vehicle_numbers AS n ON c.vehicle = n.vehicle_key
