-- What the cases of vehicles with readings say of their cylinders.
-- Row: one finding of a case, or the case itself where it has none.
-- Key: source, case_id, place.
-- Grain: every case of every vehicle of the families asked for that has a reading of the tests asked for, whatever the period, so
--   that a cylinder accused soon after is not taken for a good one. cylinder: of the finding; complaint_cylinder: of the case.
WITH tested AS (
    SELECT DISTINCT c.vehicle
    FROM tests_now AS t
    JOIN cases_now AS c ON t.source = c.source AND t.case_id = c.case_id
    JOIN vehicles AS v ON c.vehicle = v.vehicle
    WHERE t.reading IS NOT NULL
        AND t.test IN (:tests)
        AND v.engine_family IN (:families)
)
SELECT
    c.vehicle,
    c.opened,
    c.source,
    c.case_id,
    c.complaint_cylinder,
    f.place,
    f.cause,
    f.cylinder,
    f.confirmation
FROM cases_now AS c
JOIN tested AS t ON c.vehicle = t.vehicle
LEFT JOIN findings_now AS f ON c.source = f.source AND c.case_id = f.case_id
ORDER BY vehicle, opened, source, case_id, place, cause, cylinder
