-- How many rows the store holds, how many records they are, and how many of these were edited between exports.
-- Row: one table.
-- Key: target.
-- Grain: all rows of the store; a record is edited when its versions differ in content (digest).
WITH all_rows AS (
    SELECT 'cases' AS target, source, record, digest, digest - digest % 4294967296 AS key_digest FROM cases
    UNION ALL
    SELECT 'findings' AS target, source, record, digest, digest - digest % 4294967296 AS key_digest FROM findings
    UNION ALL
    SELECT 'visits' AS target, source, record, digest, digest - digest % 4294967296 AS key_digest FROM visits
),
stored AS (
    SELECT target, COUNT(*) AS rows_stored
    FROM all_rows
    GROUP BY target
),
repeated AS (
    SELECT a.target, a.source, a.record, COUNT(*) AS versions, MIN(a.digest) AS least, MAX(a.digest) AS greatest
    FROM all_rows AS a
    JOIN repeated_records AS r ON a.key_digest = r.key_digest
    GROUP BY a.target, a.source, a.record
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
