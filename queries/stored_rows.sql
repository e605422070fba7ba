-- How many rows history is made from.
-- Row: the whole store.
-- Key: none, one row.
-- Grain: rows of visits, cases and findings.
WITH counts AS (
    SELECT COUNT(*) AS stored FROM visits
    UNION ALL
    SELECT COUNT(*) AS stored FROM cases
    UNION ALL
    SELECT COUNT(*) AS stored FROM findings
)
SELECT SUM(stored) AS stored_rows
FROM counts
ORDER BY stored_rows
