-- How many rows the store holds, how many records they are, and how many of these were edited between exports.
-- Row: one table.
-- Key: target.
-- Grain: all rows of the store; a record is edited when its versions differ in content (digest).
WITH all_rows AS (
    SELECT 'cases' AS target, source, record, digest FROM cases
    UNION ALL
    SELECT 'findings' AS target, source, record, digest FROM findings
    UNION ALL
    SELECT 'visits' AS target, source, record, digest FROM visits
),
records AS (
    SELECT target, source, record, COUNT(*) AS versions, MIN(digest) AS least, MAX(digest) AS greatest
    FROM all_rows
    GROUP BY target, source, record
)
SELECT
    target,
    SUM(versions) AS rows_stored,
    COUNT(*) AS records,
    SUM(CASE WHEN least < greatest THEN 1 ELSE 0 END) AS edited
FROM records
GROUP BY target
ORDER BY target
