-- Cases whose cause was confirmed, with what their tests showed: to learn from whole cases, and to judge by them.
-- Row: one test of one case; a case has a row without a test where other cylinders alone were tested, or nothing.
-- Key: vehicle, cylinder, chain, test.
-- Grain: as test_order_steps, one row for each case instead of counts.
-- A cause without a cylinder (of the whole engine, or not written down) takes the results of all cylinders.
-- minutes: all that was noted for the test, measured or default; engine-wide or of the cylinder at fault.
WITH results AS (
    SELECT
        e.vehicle, e.cylinder, e.chain, e.cause, e.engine_family, e.position_m,
        CASE WHEN t.cylinder IS NULL OR e.cylinder IS NULL OR t.cylinder = e.cylinder THEN t.test END AS test,
        CASE WHEN t.result = 'abnormal' THEN 1 ELSE 0 END AS found,
        CASE WHEN t.result = 'abnormal' THEN t.leak_path END AS heard,
        t.minutes,
        t.place
    FROM episodes AS e
    LEFT JOIN (
        SELECT source, case_id, test, cylinder, result, leak_path, minutes, place
        FROM tests_now
        WHERE result <> 'inconclusive'
    ) AS t ON e.source = t.source AND e.case_id = t.case_id
    WHERE e.is_primary
-- each after
        AND e.opened > :after
-- end
-- each to
        AND e.opened <= :to
-- end
)
SELECT
    vehicle, cylinder, chain, cause, engine_family, position_m, test,
    MAX(found) AS abnormal,
    MIN(heard) AS leak_path,
    MAX(minutes) AS minutes,
    MIN(place) AS place
FROM results
GROUP BY vehicle, cylinder, chain, cause, engine_family, position_m, test
ORDER BY vehicle, cylinder, chain, place, test
