-- Readings of tests on cylinders as they were found: gauges, meters and scopes, not odometers (those are `readings`).
-- Row: one cylinder in one test of one case.
-- Key: source, case_id, test, cylinder, unit.
-- Grain: repeated steps of one case fold into the first by place, since a later one may follow the repair; an unknown cylinder
--   is a row of its own. engine_family and model_year are the vehicle's.
WITH found AS (
    SELECT DISTINCT ON (source, case_id, test, cylinder, unit) *
    FROM tests_now
    WHERE reading IS NOT NULL
        AND test IN (:tests)
    ORDER BY source, case_id, test, cylinder, unit, place, record
)
SELECT
    v.engine_family,
    f.test,
    c.vehicle,
    c.site,
    c.opened,
    f.source,
    f.case_id,
    f.cylinder,
    f.unit,
    f.reading,
    f.leak_path
FROM found AS f
JOIN cases_now AS c ON f.source = c.source AND f.case_id = c.case_id
JOIN vehicles AS v ON c.vehicle = v.vehicle
WHERE v.engine_family IN (:families)
-- each sites
    AND c.site IN (:sites)
-- end
-- each model_years
    AND v.model_year IN (:model_years)
-- end
-- each from
    AND c.opened >= :from
-- end
-- each to
    AND c.opened <= :to
-- end
ORDER BY engine_family, test, vehicle, opened, source, case_id, cylinder, unit
