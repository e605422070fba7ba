-- Cases whose cause was confirmed from a day on, with what their tests showed: to judge plans that were made before.
-- Row: one test of one case; a case without a test that counts has one row without a test.
-- Key: vehicle, cylinder, chain, test.
-- Grain: as test_order_steps, one row for each case instead of counts.
-- minutes: all that was noted for the test, measured or default; engine-wide or of the cylinder at fault.
SELECT
    e.vehicle, e.cylinder, e.chain, e.cause, e.engine_family, e.position_m,
    t.test,
    MAX(CASE WHEN t.result = 'abnormal' THEN 1 ELSE 0 END) AS abnormal,
    MIN(CASE WHEN t.result = 'abnormal' THEN t.leak_path END) AS leak_path,
    MAX(t.minutes) AS minutes,
    MIN(t.place) AS place
FROM episodes AS e
LEFT JOIN (
    SELECT source, case_id, test, cylinder, result, leak_path, minutes, place
    FROM tests_now
    WHERE result <> 'inconclusive'
) AS t ON e.source = t.source AND e.case_id = t.case_id
WHERE e.is_primary
    AND (t.cylinder IS NULL OR t.cylinder = e.cylinder)
    AND e.opened > :after
GROUP BY e.vehicle, e.cylinder, e.chain, e.cause, e.engine_family, e.position_m, t.test
ORDER BY vehicle, cylinder, chain, place, test
