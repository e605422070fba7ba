-- What repairs of the causes asked for took: one line of a job as recorded.
-- Row: one finding of one of the causes, at the confirmation level asked for, in a case opened up to the last day.
-- Key: source, record.
-- Grain: findings; the lines of one case are one job. ended is the day it was closed, or opened where that is unknown (closed_known 0).
-- Order: vehicle, opened, source, case_id, place, record.
SELECT
    f.source,
    f.case_id,
    c.vehicle,
    c.opened,
    c.ended,
    c.closed_known,
    v.engine_family,
    f.cause,
    f.repair,
    f.labour_hours,
    f.cost,
    f.currency,
    f.price_year,
    f.payer
FROM findings_now AS f
JOIN cases_now AS c ON f.source = c.source AND f.case_id = c.case_id
LEFT JOIN vehicles AS v ON c.vehicle = v.vehicle
WHERE f.cause IN (:causes)
    AND f.confirmation >= :confirmation
    AND CAST(c.opened AS BIGINT) <= :last_day
ORDER BY c.vehicle, c.opened, f.source, f.case_id, f.place, f.record
