-- Findings that count at the confirmation level asked for, with the case they belong to.
-- Row: one cause in one cylinder of one case.
-- Key: source, case_id, cylinder_key, cause.
-- Grain: findings of one cause in one cylinder of one case fold. cylinder_key: the finding's cylinder, else the
--   one the complaint names, else -1 (unknown).
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
SELECT
    f.source,
    f.case_id,
    c.vehicle,
    CAST(COALESCE(f.cylinder, c.complaint_cylinder, -1) AS BIGINT) AS cylinder_key,
    f.cause,
    c.opened,
    MAX(f.confirmation) AS confirmation,
    MIN(f.place) AS place
FROM findings_now AS f
JOIN cases_now AS c ON f.source = c.source AND f.case_id = c.case_id
WHERE f.confirmation >= :confirmation
GROUP BY f.source, f.case_id, c.vehicle, CAST(COALESCE(f.cylinder, c.complaint_cylinder, -1) AS BIGINT), f.cause, c.opened
