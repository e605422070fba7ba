-- How many rows the store holds, how many records they are, and how many of these were edited between exports.
-- Row: one table.
-- Key: target.
-- Grain: all rows of the store; a record is edited when its versions differ in content (digest).
WITH all_rows AS (
    SELECT 'cases' AS target, digest FROM cases
    UNION ALL
    SELECT 'findings' AS target, digest FROM findings
    UNION ALL
    SELECT 'visits' AS target, digest FROM visits
),
stored AS (
    SELECT target, COUNT(*) AS rows_stored
    FROM all_rows
    GROUP BY target
),
repeated AS (
    SELECT target, source, record, COUNT(*) AS versions, MIN(digest) AS least, MAX(digest) AS greatest
    FROM repeated_versions
    GROUP BY target, source, record
),
folded AS (
    SELECT
        target,
        SUM(versions) - COUNT(*) AS rows_folded,
        SUM(CASE WHEN least < greatest THEN 1 ELSE 0 END) AS edited
    FROM repeated
    GROUP BY target
)
SELECT
    s.target,
    s.rows_stored,
    s.rows_stored - COALESCE(f.rows_folded, 0) AS records,
    COALESCE(f.edited, 0) AS edited
FROM stored AS s
LEFT JOIN folded AS f ON s.target = f.target
ORDER BY s.target
