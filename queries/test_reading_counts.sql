-- How many engines have readings of each test, to choose the tests worth showing.
-- Row: one test of one engine family.
-- Key: engine_family, test.
-- Grain: as test_readings, without regard to health; readings of unknown cylinder or family are left out.
SELECT
    v.engine_family,
    t.test,
    COUNT(DISTINCT c.vehicle) AS engines
FROM tests_now AS t
JOIN cases_now AS c ON t.source = c.source AND t.case_id = c.case_id
JOIN vehicles AS v ON c.vehicle = v.vehicle
WHERE t.reading IS NOT NULL
    AND t.cylinder IS NOT NULL
    AND v.engine_family IS NOT NULL
-- each families
    AND v.engine_family IN (:families)
-- end
-- each sites
    AND c.site IN (:sites)
-- end
GROUP BY v.engine_family, t.test
ORDER BY engine_family, test
