-- Cases without a finding at the confirmation level asked for: no fault found, not reproduced, declined, parts fitted only.
-- Row: one case.
-- Key: source, case_id.
-- Grain: as placed_cases, without those that count. They are no failure and no proof of health.
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
WITH counting AS (
    SELECT DISTINCT case_no, 1 AS counted
    FROM failures
    WHERE confirmation >= :confirmation
        AND vehicle >= :first_vehicle AND vehicle < :end_vehicle
)
SELECT
    p.vehicle, p.site, p.opened, p.engine_family, p.model_year, p.position_m, p.codes,
    p.complaint_cylinder AS cylinder, p.outcome, p.source, p.case_id
FROM placed_cases AS p
LEFT JOIN counting AS f ON p.case_no = f.case_no
WHERE f.counted IS NULL
    AND p.vehicle >= :first_vehicle AND p.vehicle < :end_vehicle
