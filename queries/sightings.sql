-- When and where a vehicle was seen, with or without trouble: visits and cases together.
-- Row: one vehicle on one day at one odometer (or at none).
-- Key: vehicle, date, odometer_m.
-- Grain: visits and openings of cases fold when all three agree. engine_replaced: 1 when a visit says so,
--   or a finding of a case has a repair that replaces the engine.
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
WITH replacing AS (
    SELECT DISTINCT source, case_id, 1 AS engine_replaced
    FROM findings_now
    WHERE repair IN (:replacing_repairs)
),
all_seen AS (
    SELECT
        vehicle,
        date,
        odometer_m,
        site,
        CASE WHEN engine_replaced THEN 1 ELSE 0 END AS engine_replaced
    FROM visits_now
    UNION ALL
    SELECT
        c.vehicle,
        c.opened AS date,
        c.odometer_m,
        c.site,
        COALESCE(r.engine_replaced, 0) AS engine_replaced
    FROM cases_now AS c
    LEFT JOIN replacing AS r ON c.source = r.source AND c.case_id = r.case_id
)
SELECT
    vehicle,
    date,
    odometer_m,
    MIN(site) AS site,
    CAST(MAX(engine_replaced) AS BIGINT) AS engine_replaced
FROM all_seen
GROUP BY vehicle, date, odometer_m
