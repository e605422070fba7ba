-- Findings of every level with the case they belong to.
-- Row: one cause in one cylinder of one case at one confirmation level.
-- Key: case_no, cylinder_key, cause, confirmation.
-- Grain: findings of one cause in one cylinder of one case fold by level. cylinder_key: the finding's cylinder, else the
--   one the complaint names, else -1 (unknown).
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
SELECT
    c.vehicle,
    c.case_no,
    CAST(COALESCE(f.cylinder, c.complaint_cylinder, -1) AS BIGINT) AS cylinder_key,
    f.cause,
    f.confirmation,
    MIN(f.place) AS place
FROM findings_now AS f
JOIN placed_cases AS c ON f.source = c.source AND f.case_id = c.case_id
WHERE f.confirmation >= 0
    AND f.vehicle >= :first_vehicle AND f.vehicle < :end_vehicle
    AND c.vehicle >= :first_vehicle AND c.vehicle < :end_vehicle
GROUP BY c.vehicle, c.case_no, CAST(COALESCE(f.cylinder, c.complaint_cylinder, -1) AS BIGINT), f.cause, f.confirmation
