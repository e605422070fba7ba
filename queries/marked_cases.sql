-- Cases with what their findings say of the vehicle: whether anything failed, and whether its engine or the vehicle itself went.
-- Row: one case.
-- Key: none (source and case_id, which are left out).
-- Grain: as cases_now; findings fold. has_finding: 1 with a finding of any level. replaces_engine, retires: 1 with a repair that
--   replaces the engine, or ends the vehicle's life.
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
WITH marks AS (
    SELECT
        source,
        case_id,
        MAX(CASE WHEN confirmation >= 0 THEN 1 ELSE 0 END) AS has_finding,
        MAX(CASE WHEN repair IN (:replacing_repairs) THEN 1 ELSE 0 END) AS replaces_engine,
        MAX(CASE WHEN repair IN (:retiring_repairs) THEN 1 ELSE 0 END) AS retires
    FROM findings_now
    WHERE vehicle >= :first_vehicle AND vehicle < :end_vehicle
    GROUP BY source, case_id
)
SELECT
    c.vehicle, c.opened, c.ended, c.odometer_m, c.site, c.engine_family, c.model_year,
    CAST(COALESCE(m.has_finding, 0) AS BIGINT) AS has_finding,
    CAST(COALESCE(m.replaces_engine, 0) AS BIGINT) AS replaces_engine,
    CAST(COALESCE(m.retires, 0) AS BIGINT) AS retires
FROM cases_now AS c
LEFT JOIN marks AS m ON c.source = m.source AND c.case_id = m.case_id
WHERE c.vehicle >= :first_vehicle AND c.vehicle < :end_vehicle
