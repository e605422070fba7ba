-- What the tests showed in cases whose cause was confirmed, counted for the order of tests.
-- Row: one result of one test under one cause, by family, cylinder and site.
-- Key: cause, engine_family, cylinder, site, test, abnormal, leak_path.
-- Grain: readings of one test in one case fold; abnormal if the cylinder at fault (or the engine) was called abnormal at
--   least once; a cause without a cylinder takes the results of all; a test counts for its own case only. Inconclusive readings do not count.
-- sure: those whose cause was seen or measured. timed, hundredths: cases with measured minutes, and their sum in 1/100 min.
-- places: sum of the step numbers, for the order in which a site tests.
WITH results AS (
    SELECT
        e.cause, e.confirmation, e.engine_family, e.cylinder, e.site, e.source, e.case_id,
        t.test,
        MAX(CASE WHEN t.result = 'abnormal' THEN 1 ELSE 0 END) AS abnormal,
        MIN(CASE WHEN t.result = 'abnormal' THEN t.leak_path END) AS leak_path,
        MAX(CASE WHEN t.minutes_from = 'measured' THEN t.minutes END) AS minutes,
        MIN(t.place) AS place
    FROM episodes AS e
    JOIN tests_now AS t ON e.source = t.source AND e.case_id = t.case_id
    WHERE e.is_primary
        AND t.result <> 'inconclusive'
        AND (t.cylinder IS NULL OR e.cylinder IS NULL OR t.cylinder = e.cylinder)
-- each to
        AND e.opened <= :to
-- end
    GROUP BY e.cause, e.confirmation, e.engine_family, e.cylinder, e.site, e.source, e.case_id, t.test
)
SELECT
    cause, engine_family, cylinder, site, test, abnormal, leak_path,
    COUNT(*) AS cases,
    SUM(CASE WHEN confirmation >= 2 THEN 1 ELSE 0 END) AS sure,
    COUNT(minutes) AS timed,
    COALESCE(SUM(CAST(FLOOR(minutes * 100 + 0.5) AS BIGINT)), 0) AS hundredths,
    SUM(place) AS places
FROM results
GROUP BY cause, engine_family, cylinder, site, test, abnormal, leak_path
ORDER BY cause, engine_family, cylinder, site, test, abnormal, leak_path
