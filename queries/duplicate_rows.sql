-- Rows of a new batch that say nothing new: an earlier line of the same file, or an older batch, holds the same record in
-- the same version. Run once for each part of the digests, so that what must be remembered stays small.
-- Row: one row of the new batch that is a duplicate; `line` is where it stands.
-- Key: digest, line.
-- Grain: one per duplicate row.
-- Order: none, the rows are only counted.
WITH fresh AS (
    SELECT line, digest FROM new_visits WHERE ABS(digest % :parts) = :part
    UNION ALL
    SELECT line, digest FROM new_cases WHERE ABS(digest % :parts) = :part
    UNION ALL
    SELECT line, digest FROM new_findings WHERE ABS(digest % :parts) = :part
    UNION ALL
    SELECT line, digest FROM new_tests WHERE ABS(digest % :parts) = :part
),
firsts AS (
    SELECT digest, MIN(line) AS first_line FROM fresh GROUP BY digest
),
older AS (
    SELECT digest FROM old_visits WHERE ABS(digest % :parts) = :part AND batch <> :superseded
    UNION ALL
    SELECT digest FROM old_cases WHERE ABS(digest % :parts) = :part AND batch <> :superseded
    UNION ALL
    SELECT digest FROM old_findings WHERE ABS(digest % :parts) = :part AND batch <> :superseded
    UNION ALL
    SELECT digest FROM old_tests WHERE ABS(digest % :parts) = :part AND batch <> :superseded
),
known AS (
    SELECT DISTINCT digest, 1 AS is_known FROM older
),
judged AS (
    SELECT firsts.digest, firsts.first_line, known.is_known
    FROM firsts
    LEFT JOIN known ON firsts.digest = known.digest
)
SELECT fresh.line
FROM fresh
JOIN judged ON fresh.digest = judged.digest
WHERE judged.is_known = 1 OR fresh.line > judged.first_line
