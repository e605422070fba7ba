-- Cases in their newest version.
-- Row: one case as last exported.
-- Key: case_no (in order of opening, end, source and case_id); source, case_id.
-- Grain: versions of a record fold into the newest (as in visits_now); where several records carry one case
--   number, the newest of them stands for the case. ended: the day it was closed, or opened where that is unknown
--   (closed_known 0).
-- case_no: a whole number for each case, by which later statements join. vehicle: its number (vehicle_numbers).
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
),
with_ends AS (
    SELECT
        source, case_id, vehicle, site, opened, engine_family, model_year, odometer_m, codes, complaint_cylinder, outcome,
        CASE WHEN closed > opened THEN closed ELSE opened END AS ended,
        CAST(CASE WHEN closed >= opened THEN 1 ELSE 0 END AS BIGINT) AS closed_known
    FROM newest_cases
)
SELECT
    CAST(ROW_NUMBER() OVER (ORDER BY c.opened, c.ended, c.source, c.case_id) AS BIGINT) AS case_no,
    c.source,
    c.case_id,
    n.vehicle,
    c.site,
    c.opened,
    c.ended,
    c.closed_known,
    c.engine_family,
    c.model_year,
    c.odometer_m,
    c.codes,
    c.complaint_cylinder,
    c.outcome
FROM with_ends AS c
JOIN vehicle_numbers AS n ON c.vehicle = n.vehicle_key
