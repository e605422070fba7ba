-- What became of the test steps.
-- Row: the whole store, one row.
-- Key: none.
-- Grain: steps as in tests_now. without_case: steps whose case is not in the store; they count nowhere.
-- Order: none, a single row.
SELECT
    COUNT(*) AS steps,
    SUM(CASE WHEN t.reading IS NOT NULL THEN 1 ELSE 0 END) AS with_reading,
    SUM(CASE WHEN c.known IS NULL THEN 1 ELSE 0 END) AS without_case
FROM tests_now AS t
LEFT JOIN (SELECT source, case_id, 1 AS known FROM cases_now) AS c ON t.source = c.source AND t.case_id = c.case_id
